"""The one unit registry of sayso, and the written and spoken names of units.

Every pint quantity in sayso comes from `UNITS`: pint refuses to mix registries.

pint reads two trade spellings wrongly, so `parse_unit` must be used and not the registry itself:
"Nm" (pint: a textile unit, number metric) and "mil" (pint: an angle; shops: a millimetre or a thousandth
of an inch).
"""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final, TypeAlias

import pint
from platformdirs import user_cache_path

from sayso.trade.limits import TradeError


def _registry() -> pint.UnitRegistry[Any]:
    """pint's own definitions. Reading them takes a sixth of a second of every start, so pint keeps them read;
    where that cannot be (no place to write), they are read each time."""
    kept = user_cache_path("sayso", appauthor=False) / "units"
    for _ in range(2):
        try:
            return pint.UnitRegistry(cache_folder=kept)
        except Exception:  # whatever a spoilt cache raises
            # A program that was killed while it wrote left a file cut short (seen): without this every start
            # from then on would pay for it.
            shutil.rmtree(kept, ignore_errors=True)
    return pint.UnitRegistry()


UNITS: Final[pint.UnitRegistry[Any]] = _registry()
# Torque units get a name of their own, so that a torque is shown as 80 lbf_ft and not as an energy.
UNITS.define("pound_foot = force_pound * foot = lbf_ft = lb_ft")
UNITS.define("pound_inch = force_pound * inch = lbf_in = lb_in = in_lb = in_lbf")
UNITS.define("ounce_inch = force_ounce * inch = ozf_in = oz_in = in_oz")
UNITS.define("newton_centimetre = newton * centimeter = N_cm")
UNITS.define("kilogram_force_metre = force_kilogram * meter = kgf_m")
UNITS.define("kilogram_force_centimetre = force_kilogram * centimeter = kgf_cm")

Quantity: TypeAlias = pint.Quantity[Any]
Unit: TypeAlias = pint.Unit


class UnknownUnitError(TradeError):
    """A unit that neither the trade names below nor pint know."""


@dataclass(frozen=True)
class NamedUnit:
    """A unit of the workshop: pint expression, symbol to show, words to say (first two) and to hear (all)."""

    expression: str
    symbol: str
    singular: str
    plural: str
    also_heard: tuple[str, ...] = ()


# Symbols: SI Brochure style for SI units, NIST SP 811 style for the others (from memory).
# American spellings are listed because a recogniser's lexicon has one spelling only.
NAMED_UNITS: Final[tuple[NamedUnit, ...]] = (
    # torque
    NamedUnit("newton * meter", "N·m", "newton metre", "newton metres",
              ("newton meter", "newton meters")),
    NamedUnit("centinewton * meter", "cN·m", "centinewton metre", "centinewton metres",
              ("centinewton meter", "centinewton meters")),
    # what small screwdrivers are marked with; the same size as the one before
    NamedUnit("newton_centimetre", "N·cm", "newton centimetre", "newton centimetres",
              ("newton centimeter", "newton centimeters")),
    NamedUnit("pound_foot", "lbf·ft", "foot pound", "foot pounds",
              ("pound foot", "pounds feet", "pound feet", "foot pound force")),
    NamedUnit("pound_inch", "lbf·in", "inch pound", "inch pounds", ("pound inch", "pound inches")),
    NamedUnit("ounce_inch", "ozf·in", "inch ounce", "inch ounces", ("ounce inch", "ounce inches")),
    NamedUnit("kilogram_force_metre", "kgf·m", "kilogram force metre", "kilogram force metres",
              ("kilogram meter", "kilogram meters", "kilogram metre", "kilogram metres")),
    NamedUnit("kilogram_force_centimetre", "kgf·cm", "kilogram force centimetre",
              "kilogram force centimetres",
              ("kilogram centimeter", "kilogram centimeters", "kilogram centimetre", "kilogram centimetres")),
    # electrical
    NamedUnit("volt", "V", "volt", "volts"),
    NamedUnit("millivolt", "mV", "millivolt", "millivolts", ("milli volt", "milli volts")),
    NamedUnit("ampere", "A", "amp", "amps", ("ampere", "amperes")),
    NamedUnit("milliampere", "mA", "milliamp", "milliamps", ("milli amp", "milli amps")),
    NamedUnit("ohm", "Ω", "ohm", "ohms"),
    NamedUnit("milliohm", "mΩ", "milliohm", "milliohms", ("milli ohm", "milli ohms")),
    NamedUnit("kiloohm", "kΩ", "kilohm", "kilohms", ("kilo ohm", "kilo ohms")),
    NamedUnit("megaohm", "MΩ", "megohm", "megohms", ("mega ohm", "mega ohms", "meg ohm", "meg ohms")),
    NamedUnit("watt", "W", "watt", "watts"),
    NamedUnit("kilowatt", "kW", "kilowatt", "kilowatts"),
    NamedUnit("ampere_hour", "A·h", "amp hour", "amp hours", ("ampere hour", "ampere hours")),
    NamedUnit("milliampere_hour", "mA·h", "milliamp hour", "milliamp hours",
              ("milli amp hour", "milli amp hours", "milliampere hour", "milliampere hours")),
    NamedUnit("watt_hour", "W·h", "watt hour", "watt hours"),
    NamedUnit("kilowatt_hour", "kW·h", "kilowatt hour", "kilowatt hours"),
    NamedUnit("farad", "F", "farad", "farads"),
    NamedUnit("microfarad", "µF", "microfarad", "microfarads", ("micro farad", "micro farads")),
    NamedUnit("hertz", "Hz", "hertz", "hertz"),
    # length, area, angle
    # The micron is the micrometre: its own name and sign were given up in 1967 (CGPM 13, resolution 7; from
    # memory) and are said all the same.
    NamedUnit("micrometer", "µm", "micrometre", "micrometres",
              ("micrometer", "micrometers", "micron", "microns")),
    NamedUnit("millimeter", "mm", "millimetre", "millimetres", ("millimeter", "millimeters")),
    NamedUnit("centimeter", "cm", "centimetre", "centimetres", ("centimeter", "centimeters")),
    NamedUnit("meter", "m", "metre", "metres", ("meter", "meters")),
    NamedUnit("kilometer", "km", "kilometre", "kilometres", ("kilometer", "kilometers")),
    NamedUnit("inch", "in", "inch", "inches"),
    NamedUnit("thou", "thou", "thou", "thou", ("thousandth", "thousandths")),
    NamedUnit("foot", "ft", "foot", "feet"),
    NamedUnit("mile", "mi", "mile", "miles"),
    NamedUnit("millimeter ** 2", "mm²", "square millimetre", "square millimetres",
              ("square millimeter", "square millimeters")),
    NamedUnit("degree", "°", "degree", "degrees"),
    # mass, force, pressure
    NamedUnit("gram", "g", "gram", "grams"),
    NamedUnit("kilogram", "kg", "kilogram", "kilograms", ("kilo", "kilos")),
    NamedUnit("pound", "lb", "pound", "pounds"),
    NamedUnit("kilonewton", "kN", "kilonewton", "kilonewtons"),
    NamedUnit("bar", "bar", "bar", "bar", ("bars",)),
    NamedUnit("kilopascal", "kPa", "kilopascal", "kilopascals"),
    NamedUnit("pound_force_per_square_inch", "psi", "P S I", "P S I",
              ("pound per square inch", "pounds per square inch")),
    # time, speed, temperature, share
    NamedUnit("second", "s", "second", "seconds"),
    NamedUnit("minute", "min", "minute", "minutes"),
    NamedUnit("hour", "h", "hour", "hours"),
    NamedUnit("kilometer / hour", "km/h", "kilometre per hour", "kilometres per hour",
              ("kilometer per hour", "kilometers per hour", "kilometers an hour", "kilometres an hour")),
    NamedUnit("mile_per_hour", "mph", "mile per hour", "miles per hour", ("miles an hour",)),
    NamedUnit("revolutions_per_minute", "r/min", "revolution per minute", "revolutions per minute",
              ("revs", "r p m", "revs per minute", "revs a minute")),
    # Celsius is what was called centigrade until 1948 (CGPM 9; from memory).
    NamedUnit("degree_Celsius", "°C", "degree Celsius", "degrees Celsius",
              ("degree centigrade", "degrees centigrade")),
    NamedUnit("degree_Fahrenheit", "°F", "degree Fahrenheit", "degrees Fahrenheit"),
    NamedUnit("liter", "L", "litre", "litres", ("liter", "liters")),
    NamedUnit("percent", "%", "percent", "percent", ("per cent",)),
)  # fmt: skip

SPOKEN_UNITS: Final[dict[str, str]] = {
    words.lower(): named.expression
    for named in NAMED_UNITS
    for words in (named.singular, named.plural, *named.also_heard)
}
"""Spoken words (lower case) -> pint expression; the words a grammar may list for a measured answer."""

# Written forms that pint would not read, or would read as something else. Compared without case, spaces,
# dots, dashes and underscores, so "ft-lb", "ft.lbf" and "FT LBS" are one entry.
_WRITTEN: Final[dict[str, str]] = {
    **dict.fromkeys(
        ["lbfft", "lbft", "ftlb", "ftlbf", "ftlbs", "lbsft", "footpound", "footpounds"], "pound_foot"
    ),
    **dict.fromkeys(
        ["lbfin", "lbin", "inlb", "inlbf", "inlbs", "lbsin", "inchpound", "inchpounds"], "pound_inch"
    ),
    **dict.fromkeys(["ozfin", "ozin", "inoz", "inozf"], "ounce_inch"),
    **dict.fromkeys(["kgfm", "kgm", "mkg", "mkgf"], "kilogram_force_metre"),
    **dict.fromkeys(["kgfcm", "kgcm", "cmkg"], "kilogram_force_centimetre"),
    "r/min": "revolutions_per_minute",
}
# Written forms where the case tells units apart: Nm is a torque, nm a nanometre, mNm not MNm.
_WRITTEN_EXACTLY: Final[dict[str, str]] = {
    "Nm": "newton * meter",
    "NM": "newton * meter",
    "mNm": "millinewton * meter",
    "cNm": "centinewton * meter",
    "Ncm": "newton_centimetre",
    "kNm": "kilonewton * meter",
    "Ah": "ampere_hour",
    "AH": "ampere_hour",
    "mAh": "milliampere_hour",
    "Wh": "watt_hour",
    "kWh": "kilowatt_hour",
}
# Words that mean two things in two shops; reading either would be a guess.
_AMBIGUOUS: Final[dict[str, str]] = {
    "mil": "some shops mean a millimetre and some a thousandth of an inch: write mm or thou",
    "mils": "some shops mean millimetres and some thousandths of an inch: write mm or thou",
}
#: "V DC", "VDC", "volts dc": what meters and drawings print for volts. (NIST SP 811, 7.4, keeps such letters
#: off a unit; from memory.) Not "VAC": at a question for a battery's volts the meter is set wrongly.
_DIRECT: Final = re.compile(r"([mk]?[VA]|(?:milli|kilo)?(?:volts?|amps?))[\s_-]*[dD]\.?[cC]\.?")
#: pint takes "%//h" for %/h and refuses "% per per h": a slip is told as one, not guessed at.
_PER_TWICE: Final = re.compile(r"\s*(?:/|\bper\b)(?:\s*(?:/|\bper\b))+\s*", re.IGNORECASE)
_PER_NOTHING: Final = re.compile(r"(?:/|per\b)\s*(?=\w)", re.IGNORECASE)
_SEPARATORS: Final = re.compile(r"[\s.\-_·*⋅]+")
_NUMBER_THEN_UNIT: Final = re.compile(
    r"^\s*([+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?)(?![\d.,])\s*(.*?)\s*$", re.DOTALL
)


@lru_cache(maxsize=512)
def parse_unit(text: str) -> Unit:
    """The unit that a procedure or a technician wrote: "N.m", "Nm", "ft-lb", "lbf_in", "mΩ", "km/h", "%".

    Raises UnknownUnitError with what to write. An empty text is the unit of a plain number.
    """
    written = text.strip()
    if direct := _DIRECT.fullmatch(written):
        written = direct[1]
    if written.lower() in _AMBIGUOUS:
        raise UnknownUnitError(f"unit {text!r} is not clear: {_AMBIGUOUS[written.lower()]}")
    if _PER_TWICE.search(written):
        once = _PER_TWICE.sub("/", written)
        raise UnknownUnitError(f"unit {text!r} says 'per' twice: write it once, such as {once}")
    if _PER_NOTHING.match(written):
        raise UnknownUnitError(
            f"unit {text!r} says 'per' of nothing: write 1{_PER_NOTHING.sub('/', written)}"
        )
    key = _SEPARATORS.sub("", written)
    expression = _WRITTEN_EXACTLY.get(key) or _WRITTEN.get(key.lower())
    if expression:
        return UNITS.Unit(expression)
    spoken = SPOKEN_UNITS.get(" ".join(written.lower().split()))
    if spoken and " " in written:
        return UNITS.Unit(spoken)
    try:
        return UNITS.parse_units(written)
    except Exception as error:  # pint raises many kinds here, tokenizer errors among them
        raise UnknownUnitError(
            f"unit {text!r} is not known: write a unit such as N.m, lbf.ft, lbf.in, V, A, ohm, mm, kg, s, %"
        ) from error


def parse_quantity(text: str) -> Quantity:
    """A number and a unit in one text: "9 N.m", "12.5 V", "80 ft-lb". A bare number is dimensionless.

    A comma is refused: "1,000" is a thousand in one shop and one in another. Raises UnknownUnitError.
    """
    match = _NUMBER_THEN_UNIT.match(text)
    if match is None:
        raise UnknownUnitError(
            f"{text!r} is not a number and a unit: write it like 9 N.m or 12.5 V (no comma)"
        )
    number, unit = match.groups()
    return quantity(float(number), parse_unit(unit))


def quantity(number: float, unit: str | Unit) -> Quantity:
    """A quantity from a number and a unit; unit texts go through `parse_unit`."""
    return UNITS.Quantity(float(number), parse_unit(unit) if isinstance(unit, str) else unit)


def unit_from_words(words: str) -> Unit:
    """The unit that was spoken: "foot pounds" -> lbf·ft. Raises UnknownUnitError."""
    expression = SPOKEN_UNITS.get(" ".join(words.lower().split()))
    if expression is None:
        raise UnknownUnitError(f"no unit is spoken as {words!r}: see SPOKEN_UNITS for the words that are")
    return UNITS.Unit(expression)


def words_for_unit(unit: Unit, magnitude: float = 2.0) -> str:
    """How to say `unit` behind `magnitude` ("one newton metre", "nine newton metres")."""
    singular, plural, *_ = ways_to_say(unit)
    return singular if magnitude == 1 else plural


@lru_cache(maxsize=256)
def ways_to_say(unit: Unit) -> tuple[str, ...]:
    """All words for `unit`: behind one, behind more than one, and what else is heard as it.

    A unit without a name of its own is said by its parts: "%/h" is "percent per hour", "1/h" "per hour".
    """
    named = _named(unit)
    if named is not None:
        return (named.singular, named.plural, *named.also_heard)
    over, *under = str(unit).split(" / ")
    of_what = "".join(f" per {_ways_of_part(part)[0]}" for part in under)
    found = [f"{top}{of_what}".strip() for top in _ways_of_part(over)]
    if len(under) == 1 and under[0] in _SAID_WITH_A:
        found += [f"{top} {_SAID_WITH_A[under[0]]}".strip() for top in _ways_of_part(over)]
    return tuple(found)


#: "five volts a minute"
_SAID_WITH_A: Final = {"second": "a second", "minute": "a minute", "hour": "an hour"}


def _ways_of_part(part: str) -> tuple[str, ...]:
    """ "liter", "newton * meter", "second ** 2", or "1", of which nothing is said."""
    if part in ("1", "dimensionless"):
        return ("", "")
    if (named := _BY_UNIT.get(UNITS.Unit(part))) is not None:
        return (named.singular, named.plural, *named.also_heard)
    *before, last = part.split(" * ")
    leading = "".join(f"{_ways_of_factor(factor)[0]} " for factor in before)
    return tuple(f"{leading}{way}" for way in _ways_of_factor(last))


def _ways_of_factor(factor: str) -> tuple[str, ...]:
    base, _, power = factor.partition(" ** ")
    base = base.removeprefix("delta_")  # a difference of temperatures is said as a temperature
    named = _BY_UNIT.get(UNITS.Unit(base))
    plain = base.replace("_", " ")
    ways: tuple[str, ...] = (plain, plain if plain[-1] in "sxz" else f"{plain}s")
    if named is not None:
        ways = (named.singular, named.plural, *named.also_heard)
    if not power:
        return ways
    if same_kind(UNITS.Unit(base), UNITS.Unit("meter")) and power in ("2", "3"):
        return tuple(f"{'square' if power == '2' else 'cubic'} {way}" for way in ways)
    to_the = {"2": "squared", "3": "cubed"}.get(power, f"to the {power}")
    return tuple(f"{way} {to_the}" for way in ways)


def symbol_for_unit(unit: Unit) -> str:
    """How to show `unit`: "N·m", "lbf·ft", "°C"."""
    named = _named(unit)
    return named.symbol if named is not None else f"{unit:~P}"


def same_kind(first: Unit, second: Unit) -> bool:
    """True when a value in `first` can be converted to `second` (both torques, both lengths)."""
    return bool(UNITS.Quantity(1.0, first).is_compatible_with(second))


def _named(unit: Unit) -> NamedUnit | None:
    return _BY_UNIT.get(unit)


_BY_UNIT: Final[dict[Unit, NamedUnit]] = {UNITS.Unit(named.expression): named for named in NAMED_UNITS}
