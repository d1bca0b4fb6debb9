"""May the words heard so far be a whole answer, and could more follow? Asked while somebody is speaking."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from sayso import answers
from sayso.answers.answer import Completeness
from sayso.dialogue import asked
from sayso.dialogue.control_words import match
from sayso.dialogue.effects import Listen
from sayso.dialogue.state import Awaiting, State


def completeness_for(state: State, listen: Listen) -> Callable[[Sequence[str]], Completeness]:
    """The judge for the question that `state` has open: its own kind of answer, or any phrase of `listen`."""
    of_question = _of_question(state)
    among_phrases = _phrases(listen.phrases)
    if of_question is None:
        return among_phrases

    def judge(words: Sequence[str]) -> Completeness:
        answer = of_question(tuple(words))
        # The grammar of a number is made of single words, so being a phrase makes no answer of them: only
        # a control word is whole beside the answer. The beginning of any phrase may go on ("how" ... "far").
        control = _is_control(state, words)
        return Completeness(answer.complete or control, answer.can_grow or among_phrases(words).can_grow)

    return judge


def _of_question(state: State) -> Callable[[Sequence[str]], Completeness] | None:
    ask = asked.open_ask(state)
    if ask is None:
        return None
    judges = {
        Awaiting.ANSWER: answers.completeness,
        Awaiting.DEVIATION: answers.completeness,
        Awaiting.PREDICT: answers.completeness,
        Awaiting.CONFIRM: answers.confirmation_completeness,
    }
    found = judges.get(state.awaiting) if state.aside is None else answers.completeness
    if found is None:
        return None
    return partial(found, ask, wrench=state.wrench, witnesses=state.witnesses)


def _is_control(state: State, words: Sequence[str]) -> bool:
    return match(words, state.settings.control_words) is not None


def _phrases(phrases: Sequence[str]) -> Callable[[Sequence[str]], Completeness]:
    whole = {tuple(phrase.lower().split()) for phrase in phrases}
    beginnings = {words[:n] for words in whole for n in range(1, len(words))}

    def judge(words: Sequence[str]) -> Completeness:
        said = tuple(words)
        return Completeness(said in whole, said in beginnings)

    return judge
