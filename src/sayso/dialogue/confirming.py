"""The reply to a read-back: only a yes, or the same value once more, makes a value an answer."""

from __future__ import annotations

from sayso import answers
from sayso.answers.answer import Answer
from sayso.dialogue import accepting, asked, asking, controls, reading_back
from sayso.dialogue.heard import Spoken
from sayso.dialogue.turn import Turn


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
    if not spoken.sure(turn.state.threshold) or (repeated and not _said_apart(turn, spoken, value)):
        asking.no_match(turn)
        return
    accepting.accept(turn, value, pending.confidence, confirmed="repeat" if repeated else "yes")


def _said_apart(turn: Turn, spoken: Spoken, first: Answer) -> bool:
    """The same words may be misheard the same way twice: where a confusion is known they prove nothing."""
    if spoken.typed:
        return True
    return spoken.words != first.said or not answers.confusable(turn.state.step.ask, first)
