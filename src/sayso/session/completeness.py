"""May the words heard so far be a whole answer, and could more follow? Asked while somebody is speaking."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from sayso import answers
from sayso.answers.answer import Completeness
from sayso.dialogue.effects import Listen
from sayso.dialogue.state import Awaiting, State


def completeness_for(state: State, listen: Listen) -> Callable[[Sequence[str]], Completeness]:
    """The judge for the question that `state` has open: its own kind of answer, or any phrase of `listen`."""
    among_phrases = _phrases(listen.phrases)
    asks_value = state.awaiting in (Awaiting.ANSWER, Awaiting.DEVIATION) and state.aside is None
    if not asks_value or not state.at_step:
        return among_phrases
    ask, wrench, witnesses = state.step.ask, state.wrench, state.witnesses

    def judge(words: Sequence[str]) -> Completeness:
        phrase = among_phrases(words)
        value = answers.completeness(ask, tuple(words), wrench=wrench, witnesses=witnesses)
        # A control word is whole whatever the question; 'seven' is whole only when the question says so,
        # since the grammar of numbers is made of single words.
        spoken = phrase if len(words) > 0 and _is_control(state, words) else Completeness(False, False)
        return Completeness(value.complete or spoken.complete, value.can_grow or spoken.can_grow)

    return judge


def _is_control(state: State, words: Sequence[str]) -> bool:
    from sayso.dialogue.control_words import match

    return match(words, state.settings.control_words) is not None


def _phrases(phrases: Sequence[str]) -> Callable[[Sequence[str]], Completeness]:
    whole = {tuple(phrase.lower().split()) for phrase in phrases}
    beginnings = {words[:n] for words in whole for n in range(1, len(words))}

    def judge(words: Sequence[str]) -> Completeness:
        said = tuple(words)
        return Completeness(said in whole, said in beginnings)

    return judge
