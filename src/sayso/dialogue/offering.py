"""A guess at an answer that the ear turned down: asked about, worth nothing without a yes, soon dropped.

It stands in place of "say that again", so a shop full of talk hears no more of sayso than before.
"""

from __future__ import annotations

from sayso.answers.answer import Answer
from sayso.dialogue import asked, asking, prompts, reading_back
from sayso.dialogue.state import Awaiting, Pending, State
from sayso.dialogue.turn import Turn


def begin(turn: Turn, offers: tuple[tuple[str, ...], ...]) -> bool:
    """Asks whether the first legal one of `offers` was said; False when there is none to ask about."""
    state = turn.state
    if not asking.may_offer(state) or state.speaking or state.cut:
        return False  # who had not heard the question was not answering it
    if state.tries.no_match >= asking.NOT_UNDERSTOOD or state.tries.spelling:
        return False
    answer = _legal(state, offers)
    if answer is None or answer.value in state.tries.rejected:
        return False
    asking.count_no_match(turn)
    turn.update(awaiting=Awaiting.CONFIRM, pending=Pending(answer, 0.0, offered=True))
    turn.say(prompts.read_back_text(turn.state), "read_back")
    return True


def lapse(turn: Turn) -> None:
    """Nobody answered the guess: the question is open again, as if it had not been made."""
    state = turn.state
    if state.awaiting is Awaiting.CONFIRM and state.pending is not None and state.pending.offered:
        turn.update(pending=None, awaiting=reading_back.asked_before(state))


def _legal(state: State, offers: tuple[tuple[str, ...], ...]) -> Answer | None:
    for words in offers:
        result = asked.understood(state, state.step.ask, words)
        if isinstance(result, Answer):
            return result
    return None
