"""The machine on the bench of a simulated job: what each question's true answer is, drawn from a seed."""

from __future__ import annotations

from collections.abc import Mapping
from random import Random

import regex

from sayso import answers
from sayso.answers import spoken
from sayso.answers.answer import Answer
from sayso.answers.number_words import decimal_words
from sayso.answers.torque import AT_TORQUE, in_wrench_unit
from sayso.procedure.expecting import expected_value
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
    Step,
)

Witnesses = tuple[tuple[str, str], ...]

#: How often a machine is not as it should be (a 'no', a reading out of limits). Chosen, so that jobs branch.
FAULT = 0.04
#: How often the wrench only clicks and shows no number. Chosen.
CLICKS = 0.15
NOTHING_KNOWN: Mapping[str, bool | int | float | str] = {}
_SERIAL_CHARACTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"


class TruthError(RuntimeError):
    """No answer that sayso understands could be made for a question."""


def true_answer(
    step: Step,
    rng: Random,
    *,
    wrench: str = "N.m",
    witnesses: Witnesses = (),
    sound: bool = False,
    known: Mapping[str, bool | int | float | str] = NOTHING_KNOWN,
) -> Answer:
    """A true answer to the question of `step`, as sayso understands its plainest wording.

    `sound`: work was put right, so the value is inside its limits. `known`: true answers of steps
    before, from which the value that the procedure expects is worked out.
    """
    ask = step.ask
    expected = expected_value(step, known) if sound or rng.random() >= FAULT else None
    for _ in range(50):
        words = _plain_words(step, rng, wrench, witnesses, sound, expected)
        expected = None  # an expected value that is no legal answer is not tried again
        found = answers.understand(ask, words, wrench=wrench, witnesses=witnesses)
        if isinstance(found, Answer) and (found.within or not sound):
            return found
    raise TruthError(f"{step.place}: no true answer could be made for the step '{step.id}'")


def _plain_words(
    step: Step, rng: Random, wrench: str, witnesses: Witnesses, sound: bool, expected: float | None
) -> tuple[str, ...]:
    ask: Ask = step.ask
    usual = [case.when for case in step.then.cases if not case.is_condition]
    match ask:
        case AskYesNo():
            return ("no",) if rng.random() < FAULT else ("yes",)
        case AskChoice():
            fault = rng.random() < 5 * FAULT
            return (rng.choice(ask.options).value if fault else ask.options[0].value,)
        case AskCount():
            if usual and rng.random() >= FAULT:
                return (rng.choice(usual),)
            if expected is not None:
                return (str(round(expected)),)
            return spoken_words(spoken.number(rng.randint(ask.low, ask.high)))
        case AskMeasure():
            near = rng.uniform(0.99, 1.01)
            number = _reading(ask, rng, sound) if expected is None else round(expected * near, 1)
            return (*decimal_words(spoken.exact(number)), *spoken_words(spoken.unit(ask.unit, number)))
        case AskTorque():
            return _torque(ask, rng, wrench, sound)
        case AskSerial():
            prefix = rng.choice(usual) if usual and rng.random() >= FAULT else ""
            return (_serial(ask.pattern, prefix, rng),)
        case AskTime():
            return (f"{rng.randint(6, 17):02}:{rng.randint(0, 59):02}",)
        case AskWitness():
            return (rng.choice(ask.codes or witnesses)[0],)
        case _:
            return ("done",) if ask.kind == "done" else ("nothing", "unusual")


def spoken_words(text: str) -> tuple[str, ...]:
    return tuple(text.lower().replace(",", "").split())


def _reading(ask: AskMeasure, rng: Random, sound: bool) -> float:
    """Inside the limits most times; about as many digits as an instrument of that range shows."""
    limits_low = [v for v in (ask.above, ask.at_least) if v is not None]
    limits_high = [v for v in (ask.below, ask.at_most) if v is not None]
    widest = max([10.0, *(2 * abs(v) for v in (*limits_low, *limits_high))])
    low = ask.low if ask.low is not None else min([0.0, *limits_low])
    high = ask.high if ask.high is not None else widest
    if sound or rng.random() >= FAULT:
        low, high = max([low, *limits_low]), min([high, *limits_high])
    span = high - low
    places = 2 if span <= 5 else 1 if span <= 100 else 0
    return round(rng.uniform(low, high), places if rng.random() < 0.8 else max(0, places - 1))


def _torque(ask: AskTorque, rng: Random, wrench: str, sound: bool) -> tuple[str, ...]:
    if rng.random() < CLICKS:
        return tuple(rng.choice(AT_TORQUE[:4]).split())
    _, low, high = in_wrench_unit(ask, wrench)
    if not sound and rng.random() < FAULT / 3:
        low, high = low * 0.7, high * 1.3
    number = round(rng.uniform(low, high), 1 if high < 60 else 0)
    if number > 20 and rng.random() < 0.6:
        number = float(round(number))
    return (*decimal_words(spoken.exact(number)), *spoken_words(spoken.unit(wrench, number)))


def _serial(pattern: str | None, prefix: str, rng: Random) -> str:
    compiled = regex.compile(pattern or "[A-Z]{2}[0-9]{6}")
    text = prefix
    for _ in range(40):
        if compiled.fullmatch(text) and rng.random() < 0.5:
            return text
        following = [c for c in _SERIAL_CHARACTERS if compiled.fullmatch(text + c, partial=True)]
        if not following:
            following = [c for c in "-/. " if compiled.fullmatch(text + c, partial=True)]
        if not following:
            return text
        text += rng.choice(following)
    return text
