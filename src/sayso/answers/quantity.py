"""A number with or without a spoken unit -> what it is in the unit that was asked for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

import pint

from sayso.answers.below_zero import sign_in_front
from sayso.answers.number_words import NUMBER_WORDS, PLUS_WORD, readings, repeated
from sayso.answers.typed_in_two import typed_in_two
from sayso.answers.typed_numbers import typed_quantities
from sayso.answers.typed_resistance import typed_resistance
from sayso.answers.unit_words import (
    convert,
    converted,
    known_unit,
    of_one_kind,
    spoken_unit_phrases,
    symbol,
    unit_meant,
    unit_words,
)
from sayso.answers.words import is_typed, lowered, split_words, without_fillers
from sayso.trade.units import UNITS


@dataclass(frozen=True, slots=True)
class Measured:
    """`value` in the unit asked for; `number` and `unit` as they were said ('' when no unit was said)."""

    value: float
    number: float
    unit: str


@dataclass(frozen=True, slots=True)
class Reading:
    """What words may mean: values that can be, values that cannot, and units of another kind."""

    legal: tuple[Measured, ...] = ()
    illegal: tuple[Measured, ...] = ()
    wrong_units: tuple[str, ...] = ()


def read_quantity(
    words: Sequence[str],
    unit: str,
    legal: Callable[[float], bool],
    *,
    loose: dict[str, str] | None = None,
) -> Reading:
    """Every quantity that `words` name, in `unit`.

    `loose` adds words that mean a unit for this question only ("newtons" for newton metres at a wrench).
    Numbers said twice ("fifteen, one five") count only when nothing else is legal.
    """
    words = sign_in_front(words, unit)
    typed = is_typed(words)
    if typed:
        candidates = typed_resistance(words, unit) or typed_quantities(words)
    else:
        candidates = _spoken_candidates(words, loose or {})
    found = _measured(candidates, unit, loose or {})
    if not found.legal and not typed and (written := _with_written_unit(words, unit)):
        found = _measured(written, unit, {})
    if not found.legal:
        in_two = _typed_in_two_units(words, unit) if typed else _in_two_units(words, unit)
        found = Reading(in_two, (), found.wrong_units)
    legal_now = tuple(dict.fromkeys(m for m in found.legal if legal(m.value)))
    illegal = tuple(dict.fromkeys(m for m in found.legal if not legal(m.value)))
    if not legal_now and not typed:
        twice = _measured(_spoken_candidates(words, loose or {}, twice=True), unit, loose or {})
        legal_now = tuple(dict.fromkeys(m for m in twice.legal if legal(m.value)))
        illegal = illegal or tuple(twice.legal)
    return Reading(legal_now, illegal, () if found.legal else found.wrong_units)


def unit_can_grow(words: Sequence[str], unit: str, loose: tuple[str, ...] = ()) -> bool:
    """True when all behind the number begins a longer unit of this kind ("newton" of "newton metres")."""
    phrases = [tuple(phrase.split()) for phrase in spoken_unit_phrases(unit, loose)]
    return any(
        len(phrase) > len(tail) and phrase[: len(tail)] == tail
        for tail in _behind_the_number(words)
        for phrase in phrases
    )


def ends_in_unit(words: Sequence[str], loose: Sequence[str] = ()) -> bool:
    return any(
        " ".join(tail) in unit_words() or " ".join(tail) in loose for tail in _behind_the_number(words)
    )


def takes_a_smaller_unit(words: Sequence[str]) -> bool:
    """ "two minutes" may go on with "thirty seconds"."""
    return bool(words) and words[-1] in _IN_TWO and bool(readings(words[:-1]))


def _behind_the_number(words: Sequence[str]) -> list[tuple[str, ...]]:
    said = tuple(words)
    return [
        said[cut:]
        for cut in range(1, len(said))
        if readings(_of_a(said[:cut])) or repeated(_of_a(said[:cut]))
    ]


def _spoken_candidates(
    words: Sequence[str], loose: dict[str, str], *, twice: bool = False
) -> list[tuple[Decimal, str]]:
    said = _per_once(without_fillers(lowered(words)))
    read = repeated if twice else readings
    found = [(value, "") for value in read(said)]
    for cut in range(1, len(said)):
        phrase = " ".join(said[cut:])
        if phrase in loose or phrase in unit_words():
            found += [(value, phrase) for value in read(_of_a(said[:cut]))]
    if twice and PLUS_WORD not in said[1:]:
        # "fifteen volts, one five volts"
        for cut in range(1, len(said)):
            first = _spoken_candidates(said[:cut], loose)
            second = _spoken_candidates(said[cut:], loose)
            found += [both for both in second if both in first or (both[0], "") in first]
    return found


def _with_written_unit(words: Sequence[str], unit: str) -> list[tuple[Decimal, str]]:
    """ "Two and a half mm", "two hundred kPa": a number in words, the sign of its unit, as people type it.
    Nobody says "mm", so no grammar has it; a sign of another kind is left for the refusal to name."""
    *said, sign = split_words(words) or ("",)
    if sign.lower() in NUMBER_WORDS or unit_meant(sign, known_unit(unit), {}) is None:
        return []
    return [(value, sign) for value in readings(without_fillers(lowered(said)))]


def _per_once(words: tuple[str, ...]) -> tuple[str, ...]:
    """ "five percent per, per hour": said twice it is one "per" all the same."""
    return tuple(word for at, word in enumerate(words) if word != "per" or words[at - 1 : at] != ("per",))


#: Units that are said with a smaller one behind them, and how many of the smaller make one.
_IN_TWO: dict[str, tuple[str, int]] = {
    "hour": ("minute", 60), "hours": ("minute", 60), "minute": ("second", 60), "minutes": ("second", 60),
    "foot": ("inch", 12), "feet": ("inch", 12),
}  # fmt: skip


def _in_two_units(words: Sequence[str], unit: str) -> tuple[Measured, ...]:
    """ "two minutes thirty seconds", "five feet and two inches", "ten foot six": kept in the smaller unit."""
    said = without_fillers(lowered(words))
    asked = known_unit(unit)
    found = []
    for place in range(1, len(said) - 1):
        smaller, many = _IN_TWO.get(said[place], ("", 0))
        if not smaller or asked is None or not of_one_kind(UNITS.Unit(smaller), asked):
            continue
        rest = said[place + 2 :] if said[place + 1] == "and" else said[place + 1 :]
        if rest and unit_words().get(rest[-1]) == (smaller,):
            rest = rest[:-1]
        elif said[place + 1] == "and":  # "ten feet and six" of what? "Ten foot six" are inches
            continue
        for first in readings(said[:place]):
            for second in readings(rest):
                if first == int(first) and first > 0 and 0 <= second < many:
                    number = float(first * many + second)
                    value = convert(number, smaller, unit)
                    found.append(Measured(value, number, symbol(UNITS.Unit(smaller))))
    return tuple(dict.fromkeys(found))


def _typed_in_two_units(words: Sequence[str], unit: str) -> tuple[Measured, ...]:
    found, asked = typed_in_two(words), known_unit(unit)
    if found is None or asked is None or not of_one_kind(UNITS.Unit(found[1]), asked):
        return ()
    number, smaller = found
    return (Measured(convert(number, smaller, unit), number, symbol(UNITS.Unit(smaller))),)


def _of_a(words: tuple[str, ...]) -> tuple[str, ...]:
    """ "half a (volt)", "three quarters of an (inch)"."""
    if words and words[-1] in ("a", "an") and len(words) > 1:
        words = words[:-1]
        if words[-1] == "of" and len(words) > 1:
            words = words[:-1]
    return words


def _measured(candidates: list[tuple[Decimal, str]], unit: str, loose: dict[str, str]) -> Reading:
    asked = known_unit(unit)
    found: list[Measured] = []
    wrong: list[str] = []
    for number, said in candidates:
        plain = float(number)
        if not said:
            found.append(Measured(plain, plain, ""))
            continue
        meant = unit_meant(said, asked, loose)
        if meant is None or asked is None:
            wrong.append(said)
        elif meant == asked:
            found.append(Measured(plain, plain, unit))
        else:
            try:
                found.append(Measured(converted(plain, meant, asked), plain, symbol(meant)))
            except pint.PintError:  # a temperature difference where a temperature is asked for
                wrong.append(said)
    return Reading(tuple(found), (), tuple(wrong))
