"""A number with or without a spoken unit -> what it is in the unit that was asked for."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from math import inf

from sayso.answers.number_words import readings, repeated
from sayso.answers.words import is_typed, lowered, speakable, split_words, without_fillers
from sayso.trade.units import (
    SPOKEN_UNITS,
    UNITS,
    Unit,
    UnknownUnitError,
    parse_unit,
    quantity,
    same_kind,
)

#: Words that say a unit loosely; which one is meant follows from the unit of the question.
LOOSE_UNITS: dict[str, tuple[str, ...]] = {
    "degree": ("degree", "degree_Celsius", "degree_Fahrenheit"),
    "degrees": ("degree", "degree_Celsius", "degree_Fahrenheit"),
    "celsius": ("degree_Celsius",),
    "fahrenheit": ("degree_Fahrenheit",),
    "pound": ("pound", "force_pound"),
    "pounds": ("pound", "force_pound"),
    "newton": ("newton",),
    "newtons": ("newton",),
    "k": ("kiloohm",),
    "meg": ("megaohm",),
    "k p h": ("kilometer / hour",),
    "m p h": ("mile_per_hour",),
    "psi": ("pound_force_per_square_inch",),
    "mils": (),
}

_THOUSANDS = re.compile(r"^[+-]?[1-9]\d{0,2}(,\d{3})+$")


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
    typed = is_typed(words)
    candidates = typed_candidates(words) if typed else _spoken_candidates(words, loose or {})
    found = _measured(candidates, unit, loose or {})
    if not found.legal and not typed:
        in_two = _in_two_units(words, unit)
        found = Reading(in_two, (), found.wrong_units)
    legal_now = tuple(dict.fromkeys(m for m in found.legal if legal(m.value)))
    illegal = tuple(dict.fromkeys(m for m in found.legal if not legal(m.value)))
    if not legal_now and not typed:
        twice = _measured(_spoken_candidates(words, loose or {}, twice=True), unit, loose or {})
        legal_now = tuple(dict.fromkeys(m for m in twice.legal if legal(m.value)))
        illegal = illegal or tuple(twice.legal)
    return Reading(legal_now, illegal, () if found.legal else found.wrong_units)


@lru_cache(maxsize=256)
def spoken_unit_phrases(unit: str, loose: tuple[str, ...] = (), *, farthest: float = inf) -> tuple[str, ...]:
    """The words for `unit` and for every other unit of its kind, its own first.

    `farthest` leaves out units so much larger or smaller that nobody says them here (1000: kilometres at a
    question in millimetres): each word of a grammar is one more that can be misheard.
    """
    asked = _unit(unit)
    if asked is None:
        return loose
    own, others = [], []
    for phrase, expressions in _unit_words().items():
        kinds = [UNITS.Unit(expression) for expression in expressions]
        if any(kind == asked for kind in kinds):
            own.append(phrase)
        elif any(_same_kind(kind, asked) and _ratio(kind, asked) <= farthest for kind in kinds):
            others.append(phrase)
    return tuple(map(speakable, dict.fromkeys((*own, *loose, *others))))


def _ratio(first: Unit, second: Unit) -> float:
    """How many times one unit is as large as the other, 1 or more; temperature scales count as 1."""
    if first.dimensionality == "[temperature]":
        return 1.0
    many = float(quantity(1.0, first).m_as(second))
    return max(many, 1.0 / many) * (1.0 - 1e-9)


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
        " ".join(tail) in _unit_words() or " ".join(tail) in loose for tail in _behind_the_number(words)
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


def convert(value: float, from_unit: str, to_unit: str) -> float:
    """`value` in another unit of the same kind; twelve significant digits, so that no noise is recorded."""
    first, second = _unit(from_unit), _unit(to_unit)
    if first == second or first is None or second is None:
        return value
    return float(f"{quantity(value, first).m_as(second):.12g}")


def same_unit(first: str, second: str) -> bool:
    return first == second or (_unit(first) is not None and _unit(first) == _unit(second))


@lru_cache(maxsize=256)
def _unit(text: str) -> Unit | None:
    try:
        return parse_unit(text)
    except UnknownUnitError:
        return None


@lru_cache(maxsize=1)
def _unit_words() -> dict[str, tuple[str, ...]]:
    table = {phrase: (expression,) for phrase, expression in SPOKEN_UNITS.items()}
    return {**table, **{phrase: means for phrase, means in LOOSE_UNITS.items() if means}}


def _same_kind(first: Unit, second: Unit) -> bool:
    """Same dimension; angles, percentages and plain numbers are all dimensionless, yet not of one kind."""
    if not same_kind(first, second):
        return False
    return not first.dimensionless or _family(first) == _family(second)


def _family(unit: Unit) -> str:
    text = str(unit)
    return "angle" if any(word in text for word in ("degree", "radian", "turn", "arc")) else "share"


def _spoken_candidates(
    words: Sequence[str], loose: dict[str, str], *, twice: bool = False
) -> list[tuple[Decimal, str]]:
    said = without_fillers(lowered(words))
    read = repeated if twice else readings
    found = [(value, "") for value in read(said)]
    for cut in range(1, len(said)):
        phrase = " ".join(said[cut:])
        if phrase in loose or phrase in _unit_words():
            found += [(value, phrase) for value in read(_of_a(said[:cut]))]
    if twice:
        # "fifteen volts, one five volts"
        for cut in range(1, len(said)):
            first = _spoken_candidates(said[:cut], loose)
            second = _spoken_candidates(said[cut:], loose)
            found += [both for both in second if both in first or (both[0], "") in first]
    return found


#: Units that are said with a smaller one behind them, and how many of the smaller make one.
_IN_TWO: dict[str, tuple[str, int]] = {
    "hour": ("minute", 60), "hours": ("minute", 60), "minute": ("second", 60), "minutes": ("second", 60),
    "foot": ("inch", 12), "feet": ("inch", 12),
}  # fmt: skip


def _in_two_units(words: Sequence[str], unit: str) -> tuple[Measured, ...]:
    """ "two minutes thirty seconds", "five feet and two inches": kept as said in the smaller unit."""
    said = without_fillers(lowered(words))
    asked = _unit(unit)
    found = []
    for place in range(1, len(said) - 2):
        smaller, many = _IN_TWO.get(said[place], ("", 0))
        rest = said[place + 2 :] if said[place + 1] == "and" else said[place + 1 :]
        if not smaller or _unit_words().get(rest[-1]) != (smaller,) or asked is None:
            continue
        if not _same_kind(UNITS.Unit(smaller), asked):
            continue
        for first in readings(said[:place]):
            for second in readings(rest[:-1]):
                if first == int(first) and first > 0 and 0 <= second < many:
                    number = float(first * many + second)
                    value = convert(number, smaller, unit)
                    found.append(Measured(value, number, _symbol(UNITS.Unit(smaller))))
    return tuple(dict.fromkeys(found))


def _of_a(words: tuple[str, ...]) -> tuple[str, ...]:
    """ "half a (volt)", "three quarters of an (inch)"."""
    if words and words[-1] in ("a", "an") and len(words) > 1:
        words = words[:-1]
        if words[-1] == "of" and len(words) > 1:
            words = words[:-1]
    return words


def typed_numbers(token: str) -> tuple[Decimal, ...]:
    """ "9.5", "9,5" -> 9.5; "1,200" may be 1200 or 1.2: both are given. Not a number: ()."""
    if not re.fullmatch(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)|[+-]?\d{1,3}(,\d{3})+", token) or not token.isascii():
        return ()
    found = []
    if token.count(",") <= 1:
        found.append(Decimal(token.replace(",", ".").rstrip(".")))
    if _THOUSANDS.match(token):
        found.append(Decimal(token.replace(",", "")))
    return tuple(found)


def typed_candidates(words: Sequence[str]) -> list[tuple[Decimal, str]]:
    text = " ".join(split_words(words))
    match = re.match(r"^([+-]?[\d.,]*\d[.,]?)\s*(.*)$", text)
    if match is None:
        return []
    return [(value, match.group(2)) for value in typed_numbers(match.group(1))]


def _measured(candidates: list[tuple[Decimal, str]], unit: str, loose: dict[str, str]) -> Reading:
    asked = _unit(unit)
    found: list[Measured] = []
    wrong: list[str] = []
    for number, said in candidates:
        plain = float(number)
        if not said:
            found.append(Measured(plain, plain, ""))
            continue
        meant = _meant(said, asked, loose)
        if meant is None or asked is None:
            wrong.append(said)
        elif meant == asked:
            found.append(Measured(plain, plain, unit))
        else:
            value = float(f"{quantity(plain, meant).m_as(asked):.12g}")
            found.append(Measured(value, plain, _symbol(meant)))
    return Reading(tuple(found), (), tuple(wrong))


def _meant(said: str, asked: Unit | None, loose: dict[str, str]) -> Unit | None:
    if asked is None:
        return None
    if said in loose:
        options = [_unit(loose[said])]
    elif said in _unit_words():
        options = [UNITS.Unit(expression) for expression in _unit_words()[said]]
    else:
        options = [_unit(said)]
    same = [option for option in options if option is not None and _same_kind(option, asked)]
    return asked if asked in same else same[0] if same else None


#: Symbols that the record keeps for units that people wrote in another way.
_SYMBOLS = {
    "newton * meter": "N.m",
    "pound_foot": "lbf.ft",
    "pound_inch": "lbf.in",
    "degree_Celsius": "degC",
    "degree_Fahrenheit": "degF",
    "degree": "deg",
}


@lru_cache(maxsize=1)
def _symbol_table() -> dict[Unit, str]:
    return {UNITS.Unit(expression): symbol for expression, symbol in _SYMBOLS.items()}


def _symbol(unit: Unit) -> str:
    """A plain-text symbol that `parse_unit` reads back as the same unit."""
    return _symbol_table().get(unit) or f"{unit:~C}".replace("**", "^") if unit else ""
