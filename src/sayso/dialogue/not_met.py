"""A value that stays outside its limits where the step may not be skipped: handed over, never passed.

The technician says why it is not met. Where the procedure lets a second person decide (`not_met: lead hand`)
that person's code lets work go on: the value is recorded as it is, outside its limits, with who and why, and
stays an open point until it is put right or signed off. Everywhere else the job holds for the lead.
"""

from __future__ import annotations

from dataclasses import replace

from sayso import answers
from sayso.answers.answer import Answer
from sayso.dialogue import accepting, asked, asking, holding, reasons
from sayso.dialogue.heard import Spoken
from sayso.dialogue.state import Aside, Pending
from sayso.dialogue.turn import Turn


def begin(turn: Turn) -> None:
    """'not met', said to a value that was confirmed to be outside its limits."""
    turn.update(aside=Aside.NOT_MET_REASON)
    asking.ask_again(turn)


def heard_reason(turn: Turn, spoken: Spoken) -> bool:
    if spoken.bare in reasons.STAY_WITH_IT:
        _measured_again(turn)
        return True
    reason = reasons.reason_in(spoken, reasons.NOT_MET_REASONS, turn.state)
    if reason is None or not spoken.sure(turn.state.threshold):
        return False
    turn.update(not_met=reason)
    if asked.may_be_let_stand(turn.state):
        turn.update(aside=Aside.NOT_MET_CODE)
        asking.ask_again(turn)
    else:
        _hold(turn)
    return True


def heard_code(turn: Turn, spoken: Spoken) -> bool:
    """A code and nothing else: anybody could say a name."""
    state = turn.state
    if spoken.bare in reasons.STAY_WITH_IT:
        _measured_again(turn)
        return True
    if not asked.is_code(spoken.words):
        return False
    found = asked.understood(state, asked.second_person(state), spoken.words)
    if not isinstance(found, Answer):
        _wrong_code(turn)
    elif asked.has_worked(state, str(found.value)):
        turn.say(asked.not_a_second_person(state, "It", str(found.value)), "no_match")
        turn.record("no_match", step=state.visit.step, context="the code of the person at work", count=0)
    else:
        turn.update(aside=Aside.NOT_MET_CONFIRM, pending=Pending(found, spoken.confidence))
        asking.ask_again(turn)
    return True


def heard_confirmation(turn: Turn, spoken: Spoken) -> bool:
    """Only a plain yes lets it stand, two unsure ones count as one (as at any read-back)."""
    state = turn.state
    pending = state.pending
    if pending is None:
        return False
    if asked.yes_or_no(spoken.words) is False:
        turn.update(aside=Aside.NOT_MET_CODE, pending=None)
        asking.ask_again(turn)
        return True
    if not answers.is_plain_yes(spoken.words):
        return False
    if not spoken.sure(state.threshold) and not pending.half_yes:
        turn.update(pending=replace(pending, half_yes=True))
        return False
    accepting.let_stand(turn, str(pending.answer.value))
    return True


def _measured_again(turn: Turn) -> None:
    turn.update(aside=None, pending=None, not_met="")
    asking.ask_again(turn)


def _wrong_code(turn: Turn) -> None:
    wrong = asking.count_wrong_code(turn, "wrong code")
    if wrong is not None:
        turn.say(f"{wrong} wrong codes.", "alert")
        _hold(turn)
    else:
        turn.say("I do not know that code. Once more, or say no.", "no_match")


def _hold(turn: Turn) -> None:
    """Nobody here may let it stand: the point waits for the lead, with its reason in the record."""
    accepting.record_not_met(turn, released_by="")
    why = f"Not met, {turn.state.not_met}. Call the lead."
    turn.update(aside=None, pending=None, not_met="")
    holding.hold(turn, why)
