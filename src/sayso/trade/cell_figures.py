"""Voltage figures per cell of the two battery kinds met in a depot. The cell's data sheet comes first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sayso.trade.limits import Limits, count_within, magnitude_within, not_in_table
from sayso.trade.units import Quantity, quantity


@dataclass(frozen=True)
class CellFigures:
    """Volts per cell. `full` is the charging limit, `empty` the lowest voltage under load."""

    name: str
    nominal_v: float
    full_v: float
    empty_v: float
    lowest_charge_c: float
    source: str


CELLS: Final[dict[str, CellFigures]] = {
    "LiFePO4": CellFigures(
        "LiFePO4", 3.2, 3.65, 2.5, 0.0,
        "second hand: classcycles.fr, atoallinks.com; 4, 8 and 16 cells at bestlifepo4batteries.co.uk",
    ),
    "lead-acid": CellFigures(
        "lead-acid", 2.0, 2.4, 1.75, -20.0,
        "second hand: studylib.net 18054160 (1.75 V empty), konferencjaskd2024.pl (2.0 V, 2.4 V); coldest "
        "charge common practice, no source",
    ),
}  # fmt: skip


def cell_figures(kind: str) -> CellFigures:
    """The figures of a cell kind: "LiFePO4" or "lead-acid".

    Source: see the `source` of each entry; all second hand.
    Range: the two kinds listed; else NotInTableError.
    """
    for name, figures in CELLS.items():
        if kind.lower().replace(" ", "-") == name.lower():
            return figures
    raise not_in_table("cell kind", kind, CELLS, "use the cell's data sheet")


def _cells(number: int) -> int:
    return count_within(number, "number of cells in series", 1, 400, "count the cells between the terminals")


def nominal_voltage(kind: str, cells: int) -> Quantity:
    """Nominal voltage of cells in series, in volt.

    Source: `cell_figures`.
    Range: 1 to 400 cells.
    """
    return quantity(cell_figures(kind).nominal_v * _cells(cells), "V")


def full_voltage(kind: str, cells: int) -> Quantity:
    """Charging limit of cells in series, in volt. Never charge LiFePO4 below 0 °C.

    Source: `cell_figures`.
    Range: 1 to 400 cells.
    """
    return quantity(cell_figures(kind).full_v * _cells(cells), "V")


def empty_voltage(kind: str, cells: int) -> Quantity:
    """Lowest voltage under load of cells in series, in volt.

    Source: `cell_figures`.
    Range: 1 to 400 cells.
    """
    return quantity(cell_figures(kind).empty_v * _cells(cells), "V")


def may_be_charged_at(kind: str, cell_temperature: Quantity) -> bool:
    """False when the cell is too cold to be charged.

    Source: no charging of LiFePO4 below 0 °C (second hand: classcycles.fr, atoallinks.com); the lead-acid
        figure is common practice, no source.
    Range: the kinds of `cell_figures`, -60 to 80 °C. The upper limit is in the data sheet,
        and is not checked here.
    """
    celsius = magnitude_within(
        cell_temperature, Limits("cell temperature", "degC", -60.0, 80.0, "measure at the cell, not the air")
    )
    return celsius >= cell_figures(kind).lowest_charge_c
