"""The reply to a read-back: only a plain yes, or the same value in other words, makes a value an answer."""

from __future__ import annotations

from dataclasses import replace

from sayso import answers
from sayso.answers.answer import Answer
from sayso.answers.words import UNKNOWN, lowered
from sayso.dialogue import accepting, asked, asking, controls, reading_back
from sayso.dialogue.heard import Spoken
from sayso.dialogue.turn import Turn

PLAINLY = "Say yes or no."


def heard(turn: Turn, spoken: Spoken) -> None:
    """'Yes', 'no', 'no, four', the value again, or another value."""
    state = turn.state
    pending = state.pending
    if pending is None:
        return
    reply = asked.confirmed(state, state.step.ask, pending.answer, spoken.words)
    if reply.yes:
        _yes(turn, spoken, pending.answer)
    elif reply.corrected is not None:
        if reply.corrected.value != pending.answer.value:
            reading_back.forget(turn)
        reading_back.begin(turn, reply.corrected, spoken.confidence)
    elif reply.yes is False:
        reading_back.reject(turn)
    elif not controls.tried(turn, spoken):
        asking.no_match(turn)


def _yes(turn: Turn, spoken: Spoken, value: Answer) -> None:
    pending = turn.state.pending
    if pending is None:
        return
    repeated = asked.yes_or_no(spoken.words) is None
    plain = answers.is_plain_yes(spoken.words)
    if not spoken.sure(turn.state.threshold) and not (plain and pending.half_yes):
        # In noise a yes may never be sure. Two to the same read-back are: of 768 denials and other values
        # in noise not one was heard as "yes", at any confidence.
        turn.update(pending=replace(pending, half_yes=plain))
        asking.no_match(turn)
    elif not spoken.typed and not _proves(turn, spoken, value, repeated):
        asking.no_match(turn, PLAINLY)
    else:
        accepting.accept(turn, value, pending.confidence, confirmed="repeat" if repeated else "yes")


def _proves(turn: Turn, spoken: Spoken, first: Answer, repeated: bool) -> bool:
    """Whether a reply that means yes can be nothing else.

    "No, eighty eight" that lost its "no" and was misheard as before is the first value over again, so a
    repeat counts only in other words ("five zero" after "fifty"). A yes counts in words that no denial sounds
    like. (Both were found by 10,000 simulated jobs: see `sayso simulate`.)
    """
    if repeated and turn.state.pending is not None and turn.state.pending.offered:
        return False  # a guess needs a yes in so many words
    if repeated and UNKNOWN in spoken.words:
        return False  # beside a yes the sound may have been "not", and so it may here
    if repeated:
        return not set(lowered(spoken.words)) & set(lowered(first.said))
    return answers.is_plain_yes(spoken.words)
