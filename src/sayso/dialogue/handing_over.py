"""A job in other hands: from here on it is another person's, and what went before stays whose it was."""

from __future__ import annotations

from sayso.dialogue import asked
from sayso.dialogue.state import Awaiting
from sayso.dialogue.turn import Turn

#: Where the step was told, or is just being told; a WARNING is heard by whoever works at it now.
_AT_THE_STEP = (Awaiting.PREDICT, Awaiting.CAUTION, Awaiting.WAIT, Awaiting.ANSWER)


def take_over(turn: Turn, person: str) -> bool:
    """False when the job stays with the person in hand."""
    state = turn.state
    if not person or asked.same_person(person, state.person):
        return False
    # who comes back has the name of before: one person, one spelling in the record
    known = next((name for name in state.people if asked.same_person(person, name)), "")
    now = known or person
    step = state.visit.step if state.at_step else ""
    turn.record("person_changed", **{"step": step, "from": state.person, "to": now})
    turn.update(person=now, people=state.people if known else (*state.people, now))
    _forget_what_was_half_said(turn)
    _cautions_anew(turn)
    return True


def _forget_what_was_half_said(turn: Turn) -> None:
    """A value that waits for a yes, or for what to do about it, was read by the one who left: the other
    cannot vouch for it, and is asked anew. (One outside its limits is on record by then, and stays.) The code
    of a witness waits for its yes too, and may be the very person's who takes over."""
    if turn.state.awaiting in (Awaiting.CONFIRM, Awaiting.DEVIATION):
        turn.update(awaiting=Awaiting.ANSWER, deviation=None)
    turn.update(aside=None, pending=None, not_met="", note_closing=False, first_guess=None)
    turn.update(efforts=())  # how it went so far says nothing of the detail that the other one wants


def _cautions_anew(turn: Turn) -> None:
    """'Understood' to a WARNING was one person's word for themselves; the next one gives it anew."""
    state = turn.state
    if not state.at_step or state.awaiting not in _AT_THE_STEP:
        return
    dealt_with = state.step.cautions[: state.visit.cautions]
    first = next((n for n, caution in enumerate(dealt_with) if caution.level.needs_acknowledgement), None)
    if first is not None:
        turn.update_visit(state.at, cautions=first)
        turn.update(awaiting=Awaiting.CAUTION, predicting="")
