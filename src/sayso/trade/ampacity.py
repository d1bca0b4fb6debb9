"""Ampacity of copper conductors by the NEC's building-wire table, with its temperature correction.

A public yardstick and no more: the table is for not more than three loaded conductors in raceway, cable or
earth at 30 °C. Vehicle wiring, battery links and local codes have their own rules, and those come first.
"""

from __future__ import annotations

import math
from typing import Final

from sayso.trade.limits import Limits, magnitude_within, not_in_table
from sayso.trade.units import Quantity, quantity
from sayso.trade.wire_gauge import gauge_number

EDITION: Final = "NEC (NFPA 70) 2023, Table 310.16, copper (second hand: wiresizes.com)"

# Amperes in the columns 60, 75 and 90 °C.
_COLUMNS: Final = (60, 75, 90)
_COPPER: Final[dict[str, tuple[int, int, int]]] = {
    "14": (15, 20, 25), "12": (20, 25, 30), "10": (30, 35, 40), "8": (40, 50, 55), "6": (55, 65, 75),
    "4": (70, 85, 95), "3": (85, 100, 115), "2": (95, 115, 130), "1": (110, 130, 145), "1/0": (125, 150, 170),
    "2/0": (145, 175, 195), "3/0": (165, 200, 225), "4/0": (195, 230, 260),
}  # fmt: skip

_TABLE_AMBIENT: Final = 30.0


def table_ampacity(gauge: str | int, insulation: Quantity) -> Quantity:
    """Ampacity at 30 °C around the cable, in ampere.

    Source: NEC (NFPA 70) 2023 Table 310.16, copper (second hand: wiresizes.com; older editions differ for
        3 and 1 AWG at 90 °C).
    Range: 14 to 4/0, insulation 60, 75 or 90 °C. 240.4(D) limits the fuse of 14, 12 and 10 further.
    """
    column = round(magnitude_within(insulation, Limits("insulation", "degC", 0.0, 300.0, "60, 75 or 90 °C")))
    if column not in _COLUMNS:
        raise not_in_table("insulation temperature", f"{column} °C", _COLUMNS, "read the print on the cable")
    number = gauge_number(gauge)
    for name, amps in _COPPER.items():
        if gauge_number(name) == number:
            return quantity(amps[_COLUMNS.index(column)], "A")
    raise not_in_table("ampacity gauge", gauge, _COPPER, "ask an electrician for other sizes")


def ambient_factor(insulation: Quantity, ambient: Quantity) -> float:
    """Correction for another temperature around the cable, sqrt((Tc - Ta) / (Tc - 30 °C)).

    Source: NEC 310.15(B) equation (from memory); its table of factors second hand (wiresizes.com).
    Range: insulation 60 to 90 °C, ambient -20 °C to 5 °C below the insulation's temperature.
    """
    limit = magnitude_within(insulation, Limits("insulation", "degC", 60.0, 90.0, "60, 75 or 90 °C"))
    around = magnitude_within(
        ambient,
        Limits(
            "ambient",
            "degC",
            -20.0,
            limit - 5.0,
            "give the air temperature, below the insulation's",
        ),
    )
    return math.sqrt((limit - around) / (limit - _TABLE_AMBIENT))


def ampacity(gauge: str | int, insulation: Quantity, ambient: Quantity) -> Quantity:
    """Ampacity corrected for the temperature around the cable, in ampere.

    Source: `table_ampacity` times `ambient_factor`.
    Range: as those.
    """
    return quantity(table_ampacity(gauge, insulation).m_as("A") * ambient_factor(insulation, ambient), "A")
