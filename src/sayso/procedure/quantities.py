"""Quantities as a procedure writes them: '9 N.m', 'within 10 %', 'wait 5 min'."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sayso.trade.units import Unit

NEWTON_METRE = "N.m"


class QuantityError(ValueError):
    """A quantity that cannot be used; `write` says what to write instead."""

    def __init__(self, what: str, write: str) -> None:
        super().__init__(what)
        self.what = what
        self.write = write


@dataclass(frozen=True, slots=True)
class Torque:
    """A target with its limits, all in newton metres, and the unit that the procedure states."""

    target: float
    low: float
    high: float
    unit: str


@lru_cache(maxsize=4096)
def torque(target: str, within: str) -> Torque:
    """A torque and its tolerance. Raises QuantityError, whose first word says which of the two is wrong."""
    from sayso.trade.units import UNITS, parse_unit, same_kind

    number, unit_text = _split("target", target, "write it as '9 N.m', '80 lbf.in' or '25 lbf.ft'")
    if not unit_text:
        raise QuantityError(f"target {target!r} has no unit", f"write '{target} N.m' or '{target} lbf.ft'")
    unit = _unit("target", unit_text)
    if not same_kind(unit, UNITS.Unit("newton * meter")):
        raise QuantityError(
            f"target {target!r} is no torque ({unit_text} is a unit of another kind)",
            "write N.m, lbf.ft or lbf.in",
        )
    if number <= 0:
        raise QuantityError(f"target {target!r} is not above zero", "write the torque to reach")
    newton_metres = float(UNITS.Quantity(number, unit).m_as("newton * meter"))
    tolerance, tolerance_unit = _split("within", within, "write it as '10 %' or '0.5 N.m'")
    if tolerance <= 0:
        raise QuantityError(f"within {within!r} is not above zero", "write the tolerance, as '10 %'")
    if tolerance_unit in ("%", "percent", "per cent"):
        if tolerance >= 100:
            raise QuantityError(
                f"within {within!r} allows no torque at all to be wrong", "write less than 100 %"
            )
        allowed = newton_metres * tolerance / 100
    elif not tolerance_unit:
        raise QuantityError(f"within {within!r} has no unit", f"write '{within} %' or '{within} {unit_text}'")
    else:
        parsed = _unit("within", tolerance_unit)
        if not same_kind(parsed, UNITS.Unit("newton * meter")):
            raise QuantityError(
                f"within {within!r} is neither a torque nor a percentage", "write '10 %' or '0.5 N.m'"
            )
        allowed = float(UNITS.Quantity(tolerance, parsed).m_as("newton * meter"))
        if allowed >= newton_metres:
            raise QuantityError(
                f"within {within!r} is as much as the target itself", "write a smaller tolerance"
            )
    stated = {"pound_foot": "lbf.ft", "pound_inch": "lbf.in"}.get(str(unit))
    if stated is None:
        stated = NEWTON_METRE if unit == parse_unit(NEWTON_METRE) else unit_text
    return Torque(newton_metres, newton_metres - allowed, newton_metres + allowed, stated)


@lru_cache(maxsize=4096)
def seconds(text: str) -> float:
    """A time ('5 min', '30 s') in seconds. Raises QuantityError."""
    from sayso.trade.units import UNITS, same_kind

    number, unit_text = _split("time", text, "write it as '30 s' or '5 min'")
    if not unit_text:
        raise QuantityError(f"time {text!r} has no unit", f"write '{text} s' or '{text} min'")
    try:
        unit = _unit("time", unit_text)
    except QuantityError as error:
        raise QuantityError(error.what, "write it as '30 s', '5 min' or '1 h'") from error
    if not same_kind(unit, UNITS.Unit("second")):
        raise QuantityError(f"time {text!r} is no time", "write it as '30 s' or '5 min'")
    if not number > 0:
        raise QuantityError(f"time {text!r} is not above zero", "write how long to wait, or remove it")
    value = float(UNITS.Quantity(number, unit).m_as("second"))
    if value > 7 * 24 * 3600:
        raise QuantityError(f"time {text!r} is more than a week", "write a shorter wait")
    return value


@lru_cache(maxsize=1024)
def known_unit(text: str) -> str:
    """`text` itself when it is a unit that can be used for a measure. Raises QuantityError."""
    _unit("unit", text)
    return text


def _split(name: str, text: str, write: str) -> tuple[float, str]:
    digits = text.strip()
    end = 0
    while end < len(digits) and (digits[end].isdigit() or digits[end] in "+-."):
        end += 1
    try:
        number = float(digits[:end])
    except ValueError:
        raise QuantityError(f"{name} {text!r} does not start with a number", write) from None
    unit = digits[end:].strip()
    if unit.startswith(","):
        raise QuantityError(f"{name} {text!r} has a comma", _without_comma(digits[:end], unit))
    return number, unit


def _without_comma(whole: str, behind: str) -> str:
    """A thousand in one shop and one in another: which it is nobody but the writer knows."""
    parts = re.match(r",(\d+)", behind)
    if parts is None:
        return "write a point: 2.5"
    with_point = f"{whole}.{parts[1]}"
    may_be_thousand = len(parts[1]) == 3 and whole.lstrip("+-").isdigit() and whole.lstrip("+-0")
    return f"write {whole}{parts[1]} or {with_point}" if may_be_thousand else f"write a point: {with_point}"


def _unit(name: str, text: str) -> Unit:
    from sayso.trade.units import UnknownUnitError, parse_unit

    try:
        return parse_unit(text)
    except UnknownUnitError as error:
        what, _, write = str(error).partition(": ")
        # 'Volt', 'v'; never 'mv' or 'MOhm', where the letters' size says how much it is
        other = text.upper() if len(text) == 1 else text.lower() if text.istitle() else ""
        if other and _is_unit(other):
            write = f"write '{other}'"
        raise QuantityError(f"{name}: {what}", write or "write a unit such as N.m, V, mm, s, %") from error


def _is_unit(text: str) -> bool:
    from sayso.trade.units import UnknownUnitError, parse_unit

    try:
        parse_unit(text)
    except UnknownUnitError:
        return False
    return True
