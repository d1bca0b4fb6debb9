"""Going back, taking an answer back, changing one, and settling work done on an abandoned branch."""

from __future__ import annotations

from sayso import answers
from sayso.dialogue import asking, reading_back, reasons, standing, way, wording
from sayso.dialogue.heard import Spoken
from sayso.dialogue.state import Awaiting, State
from sayso.dialogue.turn import Turn


def back(turn: Turn) -> None:
    """To the step told before; its answer stands until another is given."""
    state = turn.state
    if state.at <= 0:
        turn.say("This is the first step.", "reply")
        asking.ask_again(turn)
        return
    turn.update(at=state.at - 1)
    turn.say(f"Back to {wording.place_in_job(turn.state)}.", "reply")
    way.come_back_to(turn)


def keep_and_go_on(turn: Turn) -> None:
    """'keep it' at a step that was answered before."""
    way.go_on(turn, turn.state.at)


def undo(turn: Turn) -> None:
    """Take the last accepted answer back and ask for it again; a value being read back is simply dropped."""
    state = turn.state
    if state.awaiting is Awaiting.CONFIRM:
        reading_back.reject(turn)
        return
    if state.awaiting is Awaiting.DEVIATION:
        # It is this value that is meant, and not the answer before; what was confirmed stays in the record.
        turn.say("The value stays recorded as out of limits.", "reply")
        asking.ask_again(turn)
        return
    accepted = state.standing
    if not accepted:
        turn.say("There is no answer to take back.", "reply")
        asking.ask_again(turn)
        return
    index = accepted.first
    turn.update(accepted=accepted.rest)
    _take_back(turn, index)
    turn.update(at=index)
    way.come_back_to(turn)


def change(turn: Turn, name: str) -> None:
    """'change pins': to the step that asked for it; the answer stands until another is given.

    The value in "change pins to six" is asked for there, and read back like every other.
    """
    state = turn.state
    index = _index_of(state, name)
    if index is None:
        index = _index_of(state, name.rpartition(" to ")[0])
    if index is None:
        turn.say(f"There is no answer called {name}.", "reply")
        asking.ask_again(turn)
        return
    turn.update(at=index)
    way.come_back_to(turn)


def _index_of(state: State, name: str) -> int | None:
    index = next((state.given_at[n] for n in state.recent if matches(n, name) and n in state.given_at), None)
    if index is None:
        index = next((at for n, at in sorted(state.given_at.items()) if matches(n, name)), None)
    if index is None:  # 'change pressure' for line_pressure, where no other answer could be meant
        meant = [at for n, at in state.given_at.items() if matches_in_part(n, name)]
        index = meant[0] if len(meant) == 1 else None
    return index


def matches(answer_name: str, spoken: str) -> bool:
    return wording.spoken_name(answer_name) == spoken.lower()


def matches_in_part(answer_name: str, spoken: str) -> bool:
    """Whole words of the name, one after the other: 'pressure' of line_pressure, and not 'press'."""
    return bool(spoken.strip()) and f" {spoken.lower()} " in f" {wording.spoken_name(answer_name)} "


def heard_while_settling(turn: Turn, spoken: Spoken) -> bool:
    """'undone' or 'keep it' for the step of the abandoned branch that is asked about."""
    state = turn.state
    if not spoken.sure(state.threshold):
        return False
    visit = state.to_settle[-1]
    if spoken.bare in asking.UNDONE:
        turn.record("undone", step=visit.step, how="undone")
        turn.say("Undone.", "echo")
        way.settled(turn)
        return True
    if spoken.bare in asking.KEEP:
        turn.update(awaiting=Awaiting.KEEP_REASON)
        asking.ask_again(turn)
        return True
    return False


def heard_reason_to_keep(turn: Turn, spoken: Spoken) -> bool:
    state = turn.state
    reason = reasons.reason_in(spoken, reasons.KEEP_REASONS, state)
    if reason is None or not spoken.sure(state.threshold):
        return False
    turn.record("undone", step=state.to_settle[-1].step, how="kept", reason=reason)
    turn.say(f"Kept, {reason}.", "echo")
    way.settled(turn)
    return True


def _take_back(turn: Turn, index: int) -> None:
    state = turn.state
    visit = state.trail[index]
    step = state.procedure.step(visit.step)
    name = step.ask.name
    was = visit.answer.as_json() if visit.answer is not None else {"skipped": visit.skipped}
    turn.record("answer_undone", step=visit.step, visit=index, name=name, was=was)
    said = answers.echo(step.ask, visit.answer) if visit.answer is not None else "skipped."
    turn.say(f"Taken back: {said}", "echo")
    turn.update_visit(index, answer=None, skipped="", begun=visit.begun)
    standing.recollect(turn)
