"""A witness at a hold point: a second person's spoken code, or a name from the list."""

from __future__ import annotations

from collections.abc import Sequence

from sayso.answers.answer import Answer, Completeness, NotUnderstood
from sayso.answers.number_grammar import cover
from sayso.answers.number_words import TEENS, TENS, UNITS, cardinal, digit_words
from sayso.answers.serial import digits_that_may_be
from sayso.answers.words import (
    UNKNOWN,
    either,
    is_typed,
    lowered,
    sentence,
    speakable,
    split_words,
    without_fillers,
)
from sayso.procedure.model import AskWitness

People = Sequence[tuple[str, str]]


def phrases(ask: AskWitness, witnesses: People) -> tuple[str, ...]:
    """Names, codes digit by digit and in twos, and all digits, so that a wrong code is heard as one."""
    people = _people(ask, witnesses)
    names = [text for _, name in people for text in (speakable(name), *speakable(name).split())]
    codes = [" ".join(digit_words(code)) for code, _ in people if code.isdigit()]
    paired = [
        " ".join(
            word for two in (code[i : i + 2] for i in range(0, len(code), 2)) for word in _two_digits(two)
        )
        for code, _ in people
        if code.isdigit() and len(code) % 2 == 0
    ]
    return (
        *dict.fromkeys(names),
        *cover((*codes, *paired, *UNITS, "oh", "double", "triple", *TEENS, *TENS), 200),
    )


def understand(ask: AskWitness, words: Sequence[str], witnesses: People) -> Answer | NotUnderstood:
    people = _people(ask, witnesses)
    if not people:
        return NotUnderstood("no_match", sentence(f"No {ask.role} is listed for this job"))
    said = without_fillers(lowered(words))
    by_name = _named(people, said)
    if by_name:
        found = tuple(Answer("witness", name, said=tuple(words)) for name in by_name)
        if len(found) == 1:
            return found[0]
        return NotUnderstood("ambiguous", sentence(f"{either(by_name)}? Say the code"), found)
    typed = "".join(split_words(words))
    heard = {typed} if is_typed(words) else digits_that_may_be(without_fillers(said))
    matches = list(dict.fromkeys(name for code, name in people if code in heard))
    # The words said are kept by the event; the answer keeps the name only, a code is never repeated aloud.
    if len(matches) == 1:
        return Answer("witness", matches[0], said=tuple(words))
    if matches:
        found = tuple(Answer("witness", name, said=tuple(words)) for name in matches)
        return NotUnderstood("ambiguous", sentence(f"{either(matches)}? Say the name"), found)
    if any(text and code.startswith(text) for text in heard for code, _ in people):
        return NotUnderstood("incomplete", "")
    if heard:
        return NotUnderstood("no_match", "I do not know that code.")
    return NotUnderstood("no_match", choices(ask, witnesses))


def completeness(ask: AskWitness, words: Sequence[str], witnesses: People) -> Completeness:
    """A code can grow while a longer one begins with it; a first name while the list has its surname."""
    complete = isinstance(understand(ask, words, witnesses), Answer)
    people = _people(ask, witnesses)
    said = lowered(words)
    heard = digits_that_may_be(without_fillers(said))
    code_grows = any(code.startswith(text) and code != text for text in heard for code, _ in people)
    name_grows = any(speakable(name).startswith(" ".join(said) + " ") for _, name in people)
    return Completeness(complete, code_grows or name_grows or not said)


def spoken_value(ask: AskWitness, answer: Answer) -> str:
    return f"{ask.role} {answer.value}"


def choices(ask: AskWitness, witnesses: People = ()) -> str:
    return f"The {ask.role} can say a name or a code."


def confusable(ask: AskWitness, answer: Answer) -> bool:
    return UNKNOWN in answer.said


def _people(ask: AskWitness, witnesses: People) -> People:
    return ask.codes or tuple(witnesses)


def _named(people: People, said: tuple[str, ...]) -> list[str]:
    """People whose whole name was said; else those of whom one part of the name was said and nothing else. An
    initial is none: a letter is soon heard in a noise."""
    text = speakable(" ".join(said))  # typed it may have its accents
    whole = [name for _, name in people if text and f" {speakable(name)} " in f" {text} "]
    if whole:
        return list(dict.fromkeys(whole))
    bare = without_fillers(text.split())
    one_part = set(bare) if len(bare) == 1 and len(bare[0]) > 1 else set()
    return list(dict.fromkeys(name for _, name in people if one_part & set(speakable(name).split())))


def _two_digits(two: str) -> tuple[str, ...]:
    return cardinal(int(two)) if two[0] != "0" else digit_words(two)
