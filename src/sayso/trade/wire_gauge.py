"""American wire gauge: the geometry behind the numbers."""

from __future__ import annotations

import math

from sayso.trade.limits import Limits, OutOfRangeError, magnitude_within, not_in_table
from sayso.trade.units import Quantity, quantity


def gauge_number(gauge: str | int) -> int:
    """The number n of a gauge: "2/0" -> -1, "4/0" -> -3, "1/0" or 0 -> 0, "4", "4 AWG" -> 4.

    Source: ASTM B258 (second hand: the foreword of NBS Handbook 100 names it; formula from memory).
    Range: 4/0 to 40; else NotInTableError.
    """
    text = str(gauge).upper().replace("AWG", "").replace(" ", "")
    text = {"0": "1/0", "00": "2/0", "000": "3/0", "0000": "4/0"}.get(text, text)
    zeros, slash, rest = text.partition("/")
    if slash and rest == "0" and zeros in {"1", "2", "3", "4"}:
        return 1 - int(zeros)
    if text.isdigit() and 1 <= int(text) <= 40:
        return int(text)
    raise not_in_table(
        "wire gauge", gauge, ["4/0", "3/0", "2/0", "1/0", "1 to 40"], "read the print on the cable"
    )


def gauge_diameter(gauge: str | int) -> Quantity:
    """Diameter of the solid wire, d = 0.127 mm · 92^((36 - n)/39).

    Source: ASTM B258 (from memory; table of diameters second hand: cirris.com).
    Range: 4/0 to 40.
    """
    return quantity(0.127 * 92.0 ** ((36 - gauge_number(gauge)) / 39.0), "mm")


def gauge_area(gauge: str | int) -> Quantity:
    """Copper area, pi/4 · d². A stranded cable of the same gauge has the same copper area.

    Source: geometry of `gauge_diameter`.
    Range: 4/0 to 40.
    """
    return quantity(math.pi / 4.0 * gauge_diameter(gauge).m_as("mm") ** 2, "mm**2")


def gauge_at_least(area: Quantity) -> str:
    """The thinnest gauge with at least this copper area.

    Source: geometry of `gauge_diameter`.
    Range: up to 107.2 mm² (4/0); above that OutOfRangeError.
    """
    wanted = magnitude_within(area, Limits("copper area", "mm**2", 0.0, 1e6, "check the number and the unit"))
    for name in reversed(("4/0", "3/0", "2/0", "1/0", *(str(number) for number in range(1, 41)))):
        if gauge_area(name).m_as("mm**2") >= wanted * (1.0 - 1e-9):
            return name
    raise OutOfRangeError(
        f"{wanted:.4g} mm² is more copper than 4/0 (107.2 mm²) has: use two cables or a kcmil size"
    )
