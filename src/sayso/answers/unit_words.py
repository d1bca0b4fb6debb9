"""Units as words: which phrase says which unit, and what a unit means for the unit of the question."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import inf

from sayso.answers.words import speakable
from sayso.trade.units import (
    SPOKEN_UNITS,
    UNITS,
    Unit,
    UnknownUnitError,
    parse_unit,
    quantity,
    same_kind,
    ways_to_say,
)

#: Words that say a unit loosely; which one is meant follows from the unit of the question.
LOOSE_UNITS: dict[str, tuple[str, ...]] = {
    "degree": ("degree", "degree_Celsius", "degree_Fahrenheit"),
    "degrees": ("degree", "degree_Celsius", "degree_Fahrenheit"),
    "celsius": ("degree_Celsius",),
    "centigrade": ("degree_Celsius",),
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

#: Said of itself only: a question in millimetres or amp hours has enough words that can be misheard. Typed
#: they are taken there too.
_HEARD_WHERE_ASKED = ("micrometer", "milliampere_hour")


@lru_cache(maxsize=256)
def spoken_unit_phrases(unit: str, loose: tuple[str, ...] = (), *, farthest: float = inf) -> tuple[str, ...]:
    """The words for `unit` and for every other unit of its kind, its own first.

    `farthest` leaves out units so much larger or smaller that nobody says them here (1000: kilometres at a
    question in millimetres): each word of a grammar is one more that can be misheard.
    """
    asked = known_unit(unit)
    if asked is None:
        return loose
    own, others = [], []
    for phrase, expressions in unit_words().items():
        kinds = [UNITS.Unit(expression) for expression in expressions]
        if any(kind == asked for kind in kinds):
            own.append(phrase)
        elif expressions[0] in _HEARD_WHERE_ASKED:
            continue
        elif any(of_one_kind(kind, asked) and _ratio(kind, asked) <= farthest for kind in kinds):
            others.append(phrase)
    return tuple(map(speakable, dict.fromkeys((*own, *own_words(unit), *loose, *others))))


def _ratio(first: Unit, second: Unit) -> float:
    """How many times one unit is as large as the other, 1 or more; temperature scales count as 1."""
    if first.dimensionality == "[temperature]":
        return 1.0
    many = float(quantity(1.0, first).m_as(second))
    return max(many, 1.0 / many) * (1.0 - 1e-9)


def convert(value: float, from_unit: str, to_unit: str) -> float:
    """`value` in another unit of the same kind; twelve significant digits, so that no noise is recorded."""
    first, second = known_unit(from_unit), known_unit(to_unit)
    if first == second or first is None or second is None:
        return value
    return converted(value, first, second)


def converted(value: float, first: Unit, second: Unit) -> float:
    """As `convert`, for units that are known. Raises pint's errors for units of another kind."""
    return float(f"{quantity(value, first).m_as(second):.12g}")


def same_unit(first: str, second: str) -> bool:
    return first == second or (known_unit(first) is not None and known_unit(first) == known_unit(second))


@lru_cache(maxsize=256)
def known_unit(text: str) -> Unit | None:
    """The unit of a text, None when nobody knows it."""
    try:
        return parse_unit(text)
    except UnknownUnitError:
        return None


@lru_cache(maxsize=1)
def unit_words() -> dict[str, tuple[str, ...]]:
    """Spoken phrase -> the pint expressions that it may mean."""
    table = {phrase: (expression,) for phrase, expression in SPOKEN_UNITS.items()}
    return {**table, **{phrase: means for phrase, means in LOOSE_UNITS.items() if means}}


@lru_cache(maxsize=256)
def own_words(unit: str) -> dict[str, str]:
    """The words for a unit that has no name in the table ("percent per hour" for %/h): only the question that
    asks in it hears them."""
    asked = known_unit(unit)
    if not unit or asked is None:
        return {}
    return {way.lower(): unit for way in ways_to_say(asked) if way and way.lower() not in unit_words()}


def of_one_kind(first: Unit, second: Unit) -> bool:
    """Same dimension; angles, percentages and plain numbers are all dimensionless, yet not of one kind."""
    if not same_kind(first, second):
        return False
    return not first.dimensionless or _family(first) == _family(second)


def _family(unit: Unit) -> str:
    text = str(unit)
    return "angle" if any(word in text for word in ("degree", "radian", "turn", "arc")) else "share"


def unit_meant(said: str, asked: Unit | None, loose: dict[str, str]) -> Unit | None:
    """The unit that spoken or typed words mean beside the unit asked for; None for one of another kind."""
    if asked is None:
        return None
    if said in loose:
        options = [known_unit(loose[said])]
    elif said in unit_words():
        options = [UNITS.Unit(expression) for expression in unit_words()[said]]
    else:
        options = [known_unit(said)]
    same = _of_kind(options, asked) or _of_kind(_as_typed(said, asked, loose), asked)
    return asked if asked in same else same[0] if same else None


def _of_kind(options: Sequence[Unit | None], asked: Unit) -> list[Unit]:
    return [option for option in options if option is not None and of_one_kind(option, asked)]


#: What stands on a keyboard for a unit, where its kind is asked for; elsewhere F is farad and C coulomb.
_KEYED = {
    "f": "degree_Fahrenheit", "deg f": "degree_Fahrenheit", "c": "degree_Celsius", "deg c": "degree_Celsius",
    "degrees f": "degree_Fahrenheit", "degrees c": "degree_Celsius",
    '"': "inch", "″": "inch", "''": "inch", "nm": "newton * meter",
    "kpa": "kilopascal", "r": "ohm",
    "inch lbs": "pound_inch", "inch lb": "pound_inch", "in pounds": "pound_inch",
    "foot lbs": "pound_foot", "foot lb": "pound_foot", "ft pounds": "pound_foot",
    "vdc": "volt", "v dc": "volt", "volt dc": "volt", "volts dc": "volt",
}  # fmt: skip

#: Typed for a word that says a unit loosely, see LOOSE_UNITS and the wrench's own.
_LOOSELY_TYPED = {"deg": "degrees", "°": "degrees", "lb": "pounds", "lbs": "pounds"}


def _as_typed(said: str, asked: Unit, loose: dict[str, str]) -> list[Unit | None]:
    """ "48 Volts", "64 newton-metres", "48 v", "70 F": only tried when the text as it stands is no unit of
    the kind asked for, so that mV and MV stay what they are."""
    plain = " ".join(said.lower().replace("-", " ").split())
    plain = _LOOSELY_TYPED.get(plain, plain)
    own = [asked] if plain == symbol(asked).lower() else []
    if plain in loose:
        return [*own, known_unit(loose[plain])]
    keyed = (_KEYED[plain],) if plain in _KEYED else ()
    return [*own, *(UNITS.Unit(expression) for expression in (*unit_words().get(plain, ()), *keyed))]


#: Symbols that the record keeps for units that people wrote in another way.
_SYMBOLS = {
    "newton * meter": "N.m",
    "pound_foot": "lbf.ft",
    "pound_inch": "lbf.in",
    "degree_Celsius": "degC",
    "degree_Fahrenheit": "degF",
    "degree": "deg",
    "thou": "thou",
    "micron": "um",
    "milliampere_hour": "mAh",
}


@lru_cache(maxsize=1)
def _symbol_table() -> dict[Unit, str]:
    return {UNITS.Unit(expression): symbol for expression, symbol in _SYMBOLS.items()}


def symbol(unit: Unit) -> str:
    """A plain-text symbol that `parse_unit` reads back as the same unit."""
    return _symbol_table().get(unit) or f"{unit:~C}".replace("**", "^") if unit else ""
