"""The questions of a step as `sayso.answers` sees them, with the job's wrench and witnesses filled in."""

from __future__ import annotations

import unicodedata
from functools import lru_cache

from sayso import answers
from sayso.answers.answer import Answer, NotUnderstood
from sayso.answers.confirmation import Confirmation
from sayso.answers.number_words import TEENS, TENS, UNITS
from sayso.dialogue import control_words, predictions
from sayso.dialogue.state import Aside, Awaiting, State
from sayso.procedure.model import Ask, AskChoice, AskDone, AskSerial, AskWitness, AskYesNo

_YES_NO = AskYesNo("yes_no")
_DONE = AskDone("done")
_DIGIT_WORDS = frozenset((*UNITS, *TEENS, *TENS, "oh", "double", "triple"))

#: Before a correction these are no slip of the tongue: what follows is no answer.
_NEVER_LOST = frozenset({"stop", "hold"})

Witnesses = tuple[tuple[str, str], ...]


def open_ask(state: State) -> Ask | None:
    """The question that words are an answer to now: the step's, or the one asked before it is told."""
    if not state.at_step or state.on_hold:
        return None
    if state.aside is not None:
        return second_person(state) if state.aside is Aside.NOT_MET_CODE else None
    if state.awaiting is Awaiting.PREDICT:
        question = predictions.open_question(state)
        return None if question is None else predictions.ask_of(question, state.step, state.wrench)
    return state.step.ask


@lru_cache(maxsize=1024)
def answer_phrases(ask: Ask, wrench: str = "N.m", witnesses: Witnesses = ()) -> tuple[str, ...]:
    return tuple(answers.phrases(ask, wrench=wrench, witnesses=witnesses))


def phrases_of(state: State, ask: Ask) -> tuple[str, ...]:
    return answer_phrases(ask, state.wrench, state.witnesses)


def confirmation_phrases_of(state: State, ask: Ask) -> tuple[str, ...]:
    return _confirmation_phrases(ask, state.wrench, state.witnesses)


@lru_cache(maxsize=1024)
def _confirmation_phrases(ask: Ask, wrench: str, witnesses: Witnesses) -> tuple[str, ...]:
    return tuple(answers.confirmation_phrases(ask, wrench=wrench, witnesses=witnesses))


def understood(state: State, ask: Ask, words: tuple[str, ...]) -> Answer | NotUnderstood:
    """What the words mean; a correction in the same breath ("twelve, no, thirteen") counts as corrected."""
    if isinstance(ask, AskSerial) and _is_order(state, words):
        return NotUnderstood("no_match", answers.choices(ask))
    for said in _as_corrected(ask, words):
        result = answers.understand(ask, said, wrench=state.wrench, witnesses=state.witnesses)
        if isinstance(result, Answer):
            return result
    return result


def _as_corrected(ask: Ask, words: tuple[str, ...]) -> tuple[tuple[str, ...], ...]:
    """How the words may be taken, best first.

    A step that is done and a yes have no correction: "no done" and "no correct" are what is left of "not
    done" and "not correct". An option may have the correction in its own name ("no leak")."""
    if isinstance(ask, AskDone | AskYesNo):
        return (words,)
    corrected = answers.split_correction(words)
    if _NEVER_LOST.intersection(words[: len(words) - len(corrected)]):  # "stop, no, five"
        return (words,)
    both = (words, corrected) if isinstance(ask, AskChoice) else (corrected, words)
    return tuple(dict.fromkeys(both))


def _is_order(state: State, words: tuple[str, ...]) -> bool:
    """ "Stop", "hold", a pedal's "done": where a pattern takes any four letters they would be a serial.
    A plate that is marked so is told letter by letter."""
    return means_done(words) or control_words.match(words, state.settings.control_words) is not None


def confirmed(state: State, ask: Ask, read_back: Answer, words: tuple[str, ...]) -> Confirmation:
    if isinstance(ask, AskSerial) and _is_order(state, words):
        return Confirmation()
    return answers.confirm(ask, read_back, words, wrench=state.wrench, witnesses=state.witnesses)


def second_person(state: State) -> AskWitness:
    """Who may let a value outside its limits stand: the people whose codes this job knows, from its start or
    from the hold points of its procedure. They are those who may sign it off later."""
    known = dict.fromkeys(state.witnesses)
    for step in state.procedure.steps:
        if isinstance(step.ask, AskWitness):
            known |= dict.fromkeys(step.ask.codes)
    return AskWitness("not_met", state.step.not_met or "second person", tuple(known))


def may_be_let_stand(state: State) -> bool:
    """The procedure allows it at this step, and there is somebody who could do it."""
    people = second_person(state).codes if state.step.not_met else ()
    return any(not has_worked(state, name) for _, name in people)


def has_worked(state: State, name: str) -> bool:
    """On this job, so far: nobody is the second person to work that was partly their own."""
    return any(same_person(name, person) for person in state.people)


def one_name(person: str) -> str:
    """'Ann  Lee' and 'ann lee' are one, and so are 'R. Tarn' and 'R Tarn': a dot makes no second person.

    NFKC (Unicode Standard Annex 15): a letter with its accent typed apart, or of full width, is the same.
    """
    return " ".join(unicodedata.normalize("NFKC", person).casefold().replace(".", " ").split())


def same_person(name: str, person: str) -> bool:
    return person != "" and one_name(name) == one_name(person)


def not_a_second_person(state: State, who: str, name: str) -> str:
    """Why not, said to somebody who handed the job over and may think the rule is for the other one only."""
    why = "" if same_person(name, state.person) else ", who has not worked on this job"
    return f"{who} must be a second person{why}."


def is_code(words: tuple[str, ...]) -> bool:
    """Digits and nothing else: a witness code that was tried, not talk."""
    return bool(words) and all(word.isdigit() or word in _DIGIT_WORDS for word in words)


def yes_or_no(words: tuple[str, ...]) -> bool | None:
    """True for yes, False for no, None for anything else."""
    return answers.yes_or_no(words)


def means_done(words: tuple[str, ...]) -> bool:
    return isinstance(answers.understand(_DONE, words), Answer)


def yes_no_phrases() -> tuple[str, ...]:
    return answer_phrases(_YES_NO)


def done_phrases() -> tuple[str, ...]:
    return answer_phrases(_DONE)
