""" "No, five" as the first words at a question: most likely the answer before is meant, which was just taken.

What is meant cannot be known, so nothing is changed: sayso says which question the value would answer, and
how the answer before is taken back. Without that two values would be wrong, and both confirmed.
"""

from __future__ import annotations

from sayso import answers
from sayso.answers.answer import Answer
from sayso.dialogue import asked, wording
from sayso.dialogue.heard import Spoken
from sayso.dialogue.state import State, Tries
from sayso.procedure.model import AskDone, AskNote, AskWitness

#: Their answers have no value that "no, five" could put right.
_NO_VALUE = (AskDone, AskNote, AskWitness)


def name_of_answer_before(state: State, spoken: Spoken) -> str:
    """What the answer before is called, when these words may correct it; '' when they may not."""
    if state.tries != Tries() or state.deviation is not None:
        return ""
    accepted = state.standing if answers.begins_with_correction(spoken.words) else None
    if not accepted or accepted.first == state.at:
        return ""
    visit = state.trail[accepted.first]
    ask = state.procedure.step(visit.step).ask
    if visit.answer is None or isinstance(ask, _NO_VALUE):
        return ""
    meant = asked.understood(state, ask, spoken.words)
    return wording.spoken_name(ask.name) if isinstance(meant, Answer) else ""


def which_is_asked(state: State, before: str) -> str:
    """Before the read-back of what would be the answer to the open question."""
    return f"For {wording.spoken_name(state.step.ask.name)}. If you mean {before}, say no, then undo."


def way_back(before: str) -> str:
    """Where the words are no answer to the open question."""
    return f"If you mean {before}, say undo."
