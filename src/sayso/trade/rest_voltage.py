"""State of charge from the voltage of a rested battery, only where a table is published.

Rested: no load, no charge for hours (8, better 24, rvsystems.net), and the surface charge gone.
"""

from __future__ import annotations

import itertools
from typing import Final

from sayso.trade.limits import Limits, OutOfRangeError, count_within, magnitude_within
from sayso.trade.units import Quantity, quantity

# Volts of a 12 V (6-cell) flooded battery at 80 °F, and share of charge. Battery Council International
# table, second hand: studylib.net 18054160 (names BCI) and discoverbattery.com, which agree.
_LEAD_ACID_12V: Final = ((11.89, 0.0), (12.06, 25.0), (12.24, 50.0), (12.45, 75.0), (12.65, 100.0))
# The same pages add 0.024 V per 10 °F above 80 °F for 6 cells.
_VOLT_PER_CELL_AND_KELVIN: Final = 0.024 / 6.0 / 10.0 * 1.8
_REFERENCE_C: Final = (80.0 - 32.0) / 1.8

# LiFePO4: two public tables that do not quite agree (3.40 V is 90 to 95 % at lifepo4batteryhq.com and 95 % at
# bestlifepo4batteries.co.uk) and a curve so flat that 0.1 V is half the charge. These bands are our own,
# drawn wide round both tables; a point value would be a guess.
_LIFEPO4_BANDS: Final = (
    (2.50, 3.00, 0.0, 15.0),
    (3.00, 3.10, 0.0, 35.0),
    (3.10, 3.20, 20.0, 60.0),
    (3.20, 3.30, 40.0, 85.0),
    (3.30, 3.35, 70.0, 95.0),
    (3.35, 3.40, 80.0, 100.0),
    (3.40, 3.65, 90.0, 100.0),
)


def lead_acid_state(voltage: Quantity, cells: int, electrolyte: Quantity) -> Quantity:
    """State of charge of a rested flooded lead-acid battery, in percent, straight between the table's rows.

    Source: Battery Council International table at 80 °F with 0.024 V per 10 °F (second hand: studylib.net
        18054160, discoverbattery.com), for a full specific gravity of 1.265.
        Gel and AGM need the maker's table.
    Range: 1 to 120 cells, -17 to 43 °C (let it cool above 110 °F), 1.90 to 2.25 V per cell;
        at and above 12.65 V on 6 cells it is full, at and below 11.89 V empty.
    """
    count_within(cells, "number of cells", 1, 120, "six cells make a 12 V battery")
    celsius = magnitude_within(
        electrolyte,
        Limits("electrolyte temperature", "degC", -17.8, 43.4, "let it come to room heat"),
    )
    volts = magnitude_within(
        voltage / cells,
        Limits("rest voltage per cell", "V", 1.90, 2.25, "rest the battery, or look for a bad cell"),
    )
    at_reference = 6.0 * (volts + _VOLT_PER_CELL_AND_KELVIN * (celsius - _REFERENCE_C))
    return quantity(_between_rows(at_reference), "percent")


def lifepo4_state_band(cell_voltage: Quantity) -> tuple[Quantity, Quantity]:
    """Lowest and highest state of charge that a rested LiFePO4 cell may have, in percent.

    The curve is flat: between 3.20 and 3.30 V the answer is hardly more than "neither full nor empty".
    Charge to full or count ampere hours where it matters.

    Source: our own bands round two public tables that do not quite agree (second hand:
        bestlifepo4batteries.co.uk, lifepo4batteryhq.com).
    Range: 2.50 to 3.65 V per cell, rested.
    """
    volts = magnitude_within(
        cell_voltage,
        Limits("rest voltage of a cell", "V", 2.5, 3.65, "take the pack out of service and ask its maker"),
    )
    for low_v, high_v, low, high in _LIFEPO4_BANDS:
        if low_v <= volts <= high_v:
            return quantity(low, "percent"), quantity(high, "percent")
    raise OutOfRangeError(f"no band for {volts:g} V")  # unreachable: the bands cover the limits


def _between_rows(volts: float) -> float:
    if volts <= _LEAD_ACID_12V[0][0]:
        return 0.0
    for (low_v, low), (high_v, high) in itertools.pairwise(_LEAD_ACID_12V):
        if volts <= high_v:
            return low + (high - low) * (volts - low_v) / (high_v - low_v)
    return 100.0
