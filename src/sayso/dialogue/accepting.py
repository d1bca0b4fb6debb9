"""An answer is taken: recorded once, said back in a word or two, and the job goes on in the same breath."""

from __future__ import annotations

from typing import Any

from sayso import answers
from sayso.answers.answer import Answer
from sayso.dialogue import asking, guidance, prompts, standing, way
from sayso.dialogue.state import Awaiting
from sayso.dialogue.turn import Turn
from sayso.procedure.model import Ask, AskDone, AskMeasure, AskTorque, AskWitness


def accept(turn: Turn, answer: Answer, confidence: float, *, confirmed: str = "") -> None:
    """`confirmed` tells how a read-back was answered: 'yes', 'repeat', or '' when none was needed."""
    state = turn.state
    step = state.step
    turn.update(pending=None)
    if not answer.within:
        turn.record("deviation", **_data(turn, answer, confidence, confirmed))
        if not step.out_of_limits:
            turn.update(
                deviation=answer,
                deviation_confidence=confidence,
                deviation_confirmed=confirmed,
                awaiting=Awaiting.DEVIATION,
                problem="out of limits",
            )
            asking.enter_question(turn)
            turn.say("Recorded as out of limits.", "echo")
            turn.say(prompts.deviation_question(turn.state), "question")
            return
    _record(turn, answer, confidence, confirmed)
    _keep(turn, answer)
    if not (state.quiet and isinstance(step.ask, AskDone)):
        turn.say(_echo(step.ask, answer, confirmed), "echo")
    guidance.step_done(turn)
    way.go_on(turn, turn.state.at)


def let_stand(turn: Turn, released_by: str) -> None:
    """A second person lets work go on although the limits are not met. The value is recorded as it was
    confirmed, outside its limits."""
    state = turn.state
    answer = state.deviation
    assert answer is not None
    assert not answer.within
    record_not_met(turn, released_by=released_by)
    turn.update(pending=None, aside=None, not_met="")
    _record(turn, answer, state.deviation_confidence, state.deviation_confirmed)
    _keep(turn, answer)
    turn.say("Recorded as not met. It stays an open point.", "echo")
    guidance.step_done(turn)
    way.go_on(turn, turn.state.at)


def record_not_met(turn: Turn, *, released_by: str) -> None:
    """`released_by` '': handed over to the lead, and nobody let it stand."""
    state = turn.state
    answer = state.deviation
    assert answer is not None
    turn.record(
        "not_met",
        **_data(turn, answer, state.deviation_confidence, state.deviation_confirmed),
        reason=state.not_met,
        released_by=released_by,
        role=state.step.not_met if released_by else "",
    )


def _echo(ask: Ask, answer: Answer, confirmed: str) -> str:
    if not answer.within:
        return "Recorded as out of limits."
    return "Confirmed." if confirmed else answers.echo(ask, answer)


def _record(turn: Turn, answer: Answer, confidence: float, confirmed: str) -> None:
    state = turn.state
    visit = state.visit
    data = _data(turn, answer, confidence, confirmed)
    if not visit.finished:
        turn.record("answer", **data)
    elif visit.answer is None or visit.answer.value != answer.value:
        before = visit.answer.as_json() if visit.answer is not None else {"skipped": visit.skipped}
        turn.record("answer_changed", **data, before=before)
    else:
        return  # the same value again: it stands recorded
    if isinstance(state.step.ask, AskWitness):
        turn.record("witness", step=visit.step, role=state.step.ask.role, name=answer.value)


def _keep(turn: Turn, answer: Answer) -> None:
    index = turn.state.at
    turn.update_visit(index, answer=answer, skipped="")
    turn.update(accepted=turn.state.accepted.cons(index), deviation=None)
    standing.give(turn, index)


def _data(turn: Turn, answer: Answer, confidence: float, confirmed: str) -> dict[str, Any]:
    state = turn.state
    ask = state.step.ask
    return {
        "step": state.visit.step,
        "visit": state.at,
        "name": ask.name,
        **answer.as_json(),
        "confidence": confidence,
        "confirmed": confirmed,
        "critical": ask.read_back,
        **limits(ask),
    }


def limits(ask: Ask) -> dict[str, Any]:
    """What the value was to be, beside the value: a record must be readable without the procedure."""
    if isinstance(ask, AskTorque):
        return {"target": ask.target, "low": ask.low, "high": ask.high, "fasteners": ask.fasteners}
    if isinstance(ask, AskMeasure):
        bounds = {"below": ask.below, "above": ask.above, "at_least": ask.at_least, "at_most": ask.at_most}
        return {name: bound for name, bound in bounds.items() if bound is not None}
    return {}
