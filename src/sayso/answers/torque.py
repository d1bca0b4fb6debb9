"""A torque, asked and answered in the unit of the wrench in hand and kept in newton metres."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from math import ceil, floor

from sayso.answers import spoken
from sayso.answers.answer import Answer, Completeness, NotUnderstood
from sayso.answers.around_numbers import bare_of_all
from sayso.answers.measure import (
    not_one,
    number_and_unit_phrases,
    number_confusable,
    quantity_completeness,
)
from sayso.answers.number_grammar import MOST_PHRASES
from sayso.answers.quantity import Measured, read_quantity
from sayso.answers.unit_words import convert, same_unit, spoken_unit_phrases
from sayso.answers.words import lowered, sentence, without_fillers
from sayso.procedure.model import AskTorque

NEWTON_METRES = "N.m"
#: Units of the wrenches on the wall; their words are in every torque grammar.
WRENCH_UNITS = (NEWTON_METRES, "lbf.ft", "lbf.in")

#: "25 25 24 26", "25, but one 20": one value stands for all, so it is the worst (common practice, no source)
_NUMBERS = re.compile(r"\d+(?:[.,]\d+)?", re.ASCII)

#: A click wrench shows no number: these words say that it reached the torque it was set to. The target
#: is then recorded, with these words beside it, and always read back.
AT_TORQUE = ("at torque", "on torque", "on the mark", "clicked", "it clicked", "torqued to spec")

#: Nothing holds any more, and no wrench shows a number for that: nothing was reached. It is always read back,
#: and outside its limits. (Not "no torque": "no" begins a correction.)
KEEPS_TURNING = ("it keeps turning", "keeps turning", "thread is stripped", "stripped")

#: What can be at all, as a share of the target: beyond it the number or the unit was misheard. A foot
#: pound is 1.36 N.m and an inch pound 0.113 N.m, so an inch pound never passes for a newton metre.
_LEAST, _MOST = 0.25, 4.0


def loose_units(wrench: str) -> dict[str, str]:
    """Short words for the wrench's own unit: "newtons" at a newton metre wrench, "pounds" at the others."""
    if same_unit(wrench, NEWTON_METRES):
        return {"newtons": wrench, "newton": wrench}
    if same_unit(wrench, "lbf.ft") or same_unit(wrench, "lbf.in"):
        return {"pounds": wrench, "pound": wrench}
    return {}


@lru_cache(maxsize=256)
def phrases(ask: AskTorque, wrench: str) -> tuple[str, ...]:
    low = floor(convert(ask.low, NEWTON_METRES, wrench) * 0.7)
    high = ceil(convert(ask.high, NEWTON_METRES, wrench) * 1.4) + 1
    others = [u for u in WRENCH_UNITS if not same_unit(u, wrench)]
    units = (
        *spoken_unit_phrases(wrench, tuple(loose_units(wrench)), farthest=1.0),
        *(phrase for other in others for phrase in spoken_unit_phrases(other, farthest=1.0)),
    )
    without_number = (*AT_TORQUE, *KEEPS_TURNING)
    return (
        *without_number,
        *number_and_unit_phrases(low, high, units, minus=False)[: MOST_PHRASES - len(without_number)],
    )


def understand(ask: AskTorque, words: Sequence[str], wrench: str) -> Answer | NotUnderstood:
    found = _understand(ask, words, wrench)
    if isinstance(found, Answer):
        return found
    said = without_fillers(lowered(words))
    bare = bare_of_all(said)
    if bare == said:
        return found
    of_all = _understand(ask, bare, wrench)
    return replace(of_all, said=tuple(words)) if isinstance(of_all, Answer) else found


def _understand(ask: AskTorque, words: Sequence[str], wrench: str) -> Answer | NotUnderstood:
    if _is_one_of(AT_TORQUE, words):
        return _without_number(ask, words, wrench, float(ask.target))
    if _is_one_of(KEEPS_TURNING, words):
        return _without_number(ask, words, wrench, 0.0)

    def legal(value: float) -> bool:
        newton_metres = convert(value, wrench, NEWTON_METRES)
        return ask.target * _LEAST <= newton_metres <= ask.target * _MOST

    read = read_quantity(words, wrench, legal, loose=loose_units(wrench))
    found = tuple(_answer(ask, measured, words, wrench) for measured in read.legal)
    if len(found) == 1:
        return found[0]
    wanted = f"a torque near {target(ask, wrench)}"
    if ask.fasteners > 1 and len(_NUMBERS.findall(" ".join(words))) > 1:
        wanted = f"one torque for all {ask.fasteners} fasteners: the one farthest from {target(ask, wrench)}"
    return not_one(
        found,
        read,
        words,
        wanted,
        spoken.unit(wrench),
        wrench,
        legal_hint=_unit_hint(ask, read.illegal, wrench),
    )


def completeness(ask: AskTorque, words: Sequence[str], wrench: str) -> Completeness:
    answer = understand(ask, words, wrench)
    if said_without_number(words):
        return Completeness(True, False)
    return quantity_completeness(isinstance(answer, Answer), words, wrench, tuple(loose_units(wrench)))


def target(ask: AskTorque, wrench: str) -> str:
    """The target as it is said: "eighty inch pounds"."""
    value, _, _ = in_wrench_unit(ask, wrench)
    return spoken.quantity(value, wrench)


def target_and_limits(ask: AskTorque, wrench: str) -> str:
    """ "eighty inch pounds, from seventy two to eighty seven"."""
    value, low, high = in_wrench_unit(ask, wrench)
    return f"{spoken.quantity(value, wrench)}, from {spoken.number(low)} to {spoken.number(high)}"


def in_wrench_unit(ask: AskTorque, wrench: str) -> tuple[float, float, float]:
    """Target, lower and upper limit in the wrench's unit, as said: limits are rounded inwards, never out."""
    exact = convert(ask.target, NEWTON_METRES, wrench)
    low, high = convert(ask.low, NEWTON_METRES, wrench), convert(ask.high, NEWTON_METRES, wrench)
    return (
        spoken.rounded(exact, low, high),
        spoken.limit_inwards(low, exact, upwards=True),
        spoken.limit_inwards(high, exact, upwards=False),
    )


def within(ask: AskTorque, newton_metres: float) -> bool:
    """Both limits included; a billionth is allowed for the conversion from the wrench's unit."""
    slack = 1e-9 * max(abs(ask.high), 1.0)
    return ask.low - slack <= newton_metres <= ask.high + slack


def spoken_value(ask: AskTorque, answer: Answer, *, careful: bool = True) -> str:
    if answer.said_value is not None and answer.said_unit:
        value = spoken.quantity(answer.said_value, answer.said_unit, careful=careful)
    else:
        value = spoken.quantity(float(answer.value), answer.unit or NEWTON_METRES, careful=careful)
    if _is_one_of(KEEPS_TURNING, answer.said):
        return f"it keeps turning, {value}"
    return f"at torque, {value}" if _is_one_of(AT_TORQUE, answer.said) else value


def deviation(ask: AskTorque, answer: Answer, wrench: str = "") -> str:
    if answer.within:
        return ""
    unit = wrench or answer.said_unit or NEWTON_METRES
    _, low, high = in_wrench_unit(ask, unit)
    if float(answer.value) > ask.target:
        return f"above the limit of {spoken.quantity(high, unit)}"
    return f"below the limit of {spoken.quantity(low, unit)}"


def choices(ask: AskTorque, wrench: str) -> str:
    return (
        f"You can say the torque you reached, such as {target(ask, wrench)}, at torque, or it keeps turning."
    )


def confusable(ask: AskTorque, answer: Answer) -> bool:
    return said_without_number(answer.said) or number_confusable(answer)


def said_without_number(words: Sequence[str]) -> bool:
    """Whether the wrench was not read: "clicked", "it keeps turning" (target or zero)."""
    return _is_one_of((*AT_TORQUE, *KEEPS_TURNING), words)


def _is_one_of(phrases: Sequence[str], words: Sequence[str]) -> bool:
    said = lowered(words)
    return bool({" ".join(said), " ".join(without_fillers(said))} & set(phrases))


def _without_number(ask: AskTorque, words: Sequence[str], wrench: str, value: float) -> Answer:
    """The target or nothing, as a wrench in this unit would show it."""
    met = within(ask, value)
    if same_unit(wrench, NEWTON_METRES):
        return Answer("torque", value, NEWTON_METRES, tuple(words), within=met)
    shown = in_wrench_unit(ask, wrench)[0] if value else 0.0
    return Answer("torque", value, NEWTON_METRES, tuple(words), shown, wrench, met)


def _answer(ask: AskTorque, measured: Measured, words: Sequence[str], wrench: str) -> Answer:
    unit = measured.unit or wrench
    if same_unit(unit, NEWTON_METRES):
        value = measured.number
        return Answer("torque", value, NEWTON_METRES, tuple(words), within=within(ask, value))
    value = convert(measured.number, unit, NEWTON_METRES)
    return Answer("torque", value, NEWTON_METRES, tuple(words), measured.number, unit, within(ask, value))


def _unit_hint(ask: AskTorque, illegal: Sequence[Measured], wrench: str) -> str:
    """ "80" at a newton metre wrench when 80 inch pounds would be on target: ask, never guess."""
    for measured in illegal:
        if measured.unit:
            continue
        for unit in (NEWTON_METRES, "lbf.ft", "lbf.in"):
            if not same_unit(unit, wrench) and within(ask, convert(measured.number, unit, NEWTON_METRES)):
                return " " + sentence(f"If it is {spoken.quantity(measured.number, unit)}, say the unit")
    return ""
