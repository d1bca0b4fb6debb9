"""How a technician may say a value: in full, digit by digit, with or without unit, letters by either name."""

from __future__ import annotations

from random import Random

from sayso import answers
from sayso.answers import spoken
from sayso.answers.answer import Answer
from sayso.answers.choice import option_phrases
from sayso.answers.number_words import UNITS, decimal_words, digit_words, ways
from sayso.answers.phonetic_alphabet import ALPHABET
from sayso.answers.torque import AT_TORQUE
from sayso.procedure.model import (
    Ask,
    AskChoice,
    AskCount,
    AskMeasure,
    AskSerial,
    AskTime,
    AskTorque,
    AskWitness,
    AskYesNo,
)

Words = tuple[str, ...]
Witnesses = tuple[tuple[str, str], ...]

YES = ("yes", "yes", "yes", "correct", "that's right", "right", "affirmative", "yeah")
NO = ("no", "no", "no", "negative", "wrong", "nope", "that's wrong")
DONE = ("done", "done", "done", "finished", "all done", "that's done", "ready", "check")


def said(
    ask: Ask,
    truth: Answer,
    rng: Random,
    *,
    wrench: str = "N.m",
    witnesses: Witnesses = (),
    spelled: bool = False,
) -> Words:
    """Words that mean `truth` at this question. `spelled`: digit by digit, letters by the alphabet.

    A wording that sayso would not read as `truth` is never used: the plainest one is given instead.
    """
    for _ in range(4):
        words = _way(ask, truth, rng, wrench, witnesses, spelled)
        found = answers.understand(ask, words, wrench=wrench, witnesses=witnesses)
        if isinstance(found, Answer) and same(found, truth):
            return words
    return truth.said


def same(first: Answer, second: Answer) -> bool:
    """The same value; numbers to the last digit that is spoken."""
    if isinstance(first.value, float) and isinstance(second.value, float):
        return abs(first.value - second.value) <= 1e-6 * max(1.0, abs(second.value))
    return first.value == second.value


def typed(ask: Ask, truth: Answer, witnesses: Witnesses = ()) -> str:
    """The value on the keys."""
    match ask:
        case AskYesNo():
            return "yes" if truth.value else "no"
        case AskCount():
            return str(truth.value)
        case AskTorque() if " ".join(truth.said) in AT_TORQUE:
            return " ".join(truth.said)
        case AskMeasure() | AskTorque():
            number = truth.said_value if truth.said_value is not None else float(truth.value)
            return f"{spoken.exact(number):f} {truth.said_unit or truth.unit}".strip()
        case AskWitness():
            return next(code for code, name in ask.codes or witnesses if name == truth.value)
        case _:
            return "done" if ask.kind == "done" else str(truth.value)


def _way(ask: Ask, truth: Answer, rng: Random, wrench: str, witnesses: Witnesses, spelled: bool) -> Words:
    match ask:
        case AskYesNo():
            return tuple(rng.choice(YES if truth.value else NO).split())
        case AskChoice():
            phrases = next(option_phrases(o) for o in ask.options if o.value == truth.value)
            return tuple(rng.choice(phrases).split())
        case AskCount():
            return _whole(int(truth.value), rng, spelled)
        case AskMeasure():
            return _quantity(float(truth.value), ask.unit, rng, spelled)
        case AskTorque():
            if " ".join(truth.said) in AT_TORQUE:
                return tuple(rng.choice(AT_TORQUE[:4]).split())
            number = truth.said_value if truth.said_value is not None else float(truth.value)
            return _quantity(number, truth.said_unit or truth.unit, rng, spelled)
        case AskSerial():
            by_alphabet = spelled or rng.random() < 0.5
            return tuple(w for c in str(truth.value) for w in _character(c, by_alphabet))
        case AskTime():
            return tuple(spoken.clock(str(truth.value)).split())
        case AskWitness():
            code = next(code for code, name in ask.codes or witnesses if name == truth.value)
            return tuple(digit_words(code)) if code.isdigit() else truth.said
        case _:
            return tuple(rng.choice(DONE).split()) if ask.kind == "done" else truth.said


def _whole(value: int, rng: Random, spelled: bool) -> Words:
    listed = ways(value)
    if spelled:
        return tuple(digit_words(str(value))) if value >= 10 else listed[0]
    return listed[0] if rng.random() < 0.7 else rng.choice(listed)


def _quantity(number: float, unit: str, rng: Random, spelled: bool) -> Words:
    exact = spoken.exact(number)
    words = decimal_words(exact)
    if spelled or rng.random() < 0.15:
        whole, _, decimals = format(abs(exact).normalize(), "f").partition(".")
        words = (
            *(("minus",) if exact < 0 else ()),
            *digit_words(whole),
            *(("point", *digit_words(decimals)) if decimals else ()),
        )
    with_unit = rng.random() < 0.6
    return (*words, *(spoken.unit(unit, number).lower().split() if with_unit else ()))


def _character(character: str, by_alphabet: bool) -> Words:
    if character.isdigit():
        return (UNITS[int(character)],)
    if character in spoken.MARKS:
        return (spoken.MARKS[character],)
    return (ALPHABET[character] if by_alphabet else character.lower(),)
