"""How a trade function refuses a value: what is wrong, the range, and what to do instead."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import pint

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sayso.trade.units import Quantity


class TradeError(ValueError):
    """A trade calculation that cannot be done with the values given."""


class OutOfRangeError(TradeError):
    """A value lies outside the range for which the calculation or table is published."""


class WrongUnitError(TradeError):
    """A value has a unit of another kind (volts where a length is needed)."""


class NotInTableError(TradeError):
    """A size, grade or class that the published table does not list."""


NO_UPPER_LIMIT: Final = math.inf


@dataclass(frozen=True)
class Limits:
    """The range of one input, in `unit`; both ends are allowed. `advice` says what to do outside it."""

    name: str
    unit: str
    low: float
    high: float
    advice: str


def magnitude_within(value: Quantity, limits: Limits) -> float:
    """Return `value` as a plain number in `limits.unit`.

    Raises WrongUnitError when the unit is of another kind, OutOfRangeError outside the limits (or for
    not-a-number).
    """
    try:
        number = float(value.m_as(limits.unit))
    except (pint.DimensionalityError, AttributeError) as error:
        raise WrongUnitError(
            f"{limits.name}: {value} is not a value in {_symbol(limits.unit)}; "
            f"give it in {_symbol(limits.unit)} or a unit of the same kind"
        ) from error
    return number_within(number, limits)


def number_within(number: float, limits: Limits) -> float:
    """Return `number` when it lies within `limits`, else raise OutOfRangeError."""
    if limits.low <= number <= limits.high:
        return number
    unit = _shown(limits.unit)
    if math.isinf(limits.high):
        allowed = f"{limits.low:g}{unit} or more"
    else:
        allowed = f"{limits.low:g} to {limits.high:g}{unit}"
    raise OutOfRangeError(f"{limits.name} of {number:g}{unit} is out of range ({allowed}): {limits.advice}")


def count_within(number: float, name: str, low: int, high: int, advice: str) -> int:
    """Return `number` as a whole count within `low` to `high`, else raise OutOfRangeError."""
    if not math.isfinite(number) or number != int(number) or not low <= number <= high:
        raise OutOfRangeError(
            f"{name} of {number:g} is out of range (a whole number, {low} to {high}): {advice}"
        )
    return int(number)


def not_in_table(what: str, given: object, listed: Iterable[object], advice: str) -> NotInTableError:
    """The error for a table without the wanted row; it lists the rows that exist."""
    rows = ", ".join(str(row) for row in listed)
    return NotInTableError(f"{what} {given!s} is not in the table (it lists {rows}): {advice}")


_SYMBOLS: Final = {
    "percent": "%",
    "degC": "°C",
    "degree": "°",
    "ampere_hour": "A·h",
    "watt_hour": "W·h",
    "hour": "h",
    "farad": "F",
    "inch": "in",
    "revolutions_per_minute": "r/min",
}


def _shown(unit: str) -> str:
    """A unit as it is put behind a number in an error: with a space, as a symbol."""
    return f" {_symbol(unit)}" if unit else ""


def _symbol(unit: str) -> str:
    return _SYMBOLS.get(unit, unit.replace("**2", "²").replace("*", "·"))
