"""Skipping a step: only where the step allows it, and only with a reason that is recorded."""

from __future__ import annotations

from sayso.dialogue import asking, reasons, standing, waiting, way, wording
from sayso.dialogue.heard import Spoken
from sayso.dialogue.state import Aside
from sayso.dialogue.turn import Turn
from sayso.procedure.model import AskWitness


def begin(turn: Turn) -> None:
    state = turn.state
    step = state.step
    if isinstance(step.ask, AskWitness):
        turn.say(f"A hold point cannot be skipped. The {step.ask.role} has to see it.", "reply")
    elif not step.may_skip:
        turn.say(
            "This step cannot be skipped: the procedure does not allow it. You can hold or call the lead.",
            "reply",
        )
    else:
        turn.update(aside=Aside.SKIP_REASON)
        asking.ask_again(turn)
        return
    asking.ask_again(turn)


def heard_reason(turn: Turn, spoken: Spoken) -> bool:
    state = turn.state
    if spoken.bare in reasons.NOT_SKIPPED:
        turn.update(aside=None)
        asking.ask_again(turn, "Not skipped.")
        return True
    reason = reasons.reason_in(spoken, reasons.SKIP_REASONS, state)
    if reason is None or not spoken.sure(state.threshold):
        return False
    step = state.step
    turn.update(aside=None, pending=None, deviation=None)
    turn.record("skipped", step=step.id, visit=state.at, name=step.ask.name, reason=reason, said=spoken.text)
    before = state.visit.answer
    turn.update_visit(state.at, answer=None, skipped=reason)
    if before is not None:
        standing.recollect(turn)
    turn.update(accepted=turn.state.accepted.cons(state.at))
    if step.wait_s > 0:
        turn.cancel_timer(waiting.timer_name(step.id, state.at))
    turn.say(f"Skipped {wording.short_name(step)}, {reason}.", "echo")
    way.go_on(turn, state.at)
    return True
