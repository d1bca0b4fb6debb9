"""Strength of bolts: proof and yield stress by property class (ISO 898-1) and SAE grade (J429)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from sayso.trade.limits import TradeError, not_in_table
from sayso.trade.screw_threads import stress_area, thread
from sayso.trade.units import quantity

if TYPE_CHECKING:
    from sayso.trade.units import Quantity

# Proof stress Sp in MPa, for d up to 16 mm and above. Second hand: Sp follows from the ISO 898-1 proof
# loads at staging2.optimas.com (11 600 N / 20.1 mm² for M6 8.8) and from slsbearings.com, which agree.
_PROOF_MPA: Final[dict[str, tuple[float, float]]] = {
    "5.8": (380.0, 380.0),
    "8.8": (580.0, 600.0),
    "10.9": (830.0, 830.0),
    "12.9": (970.0, 970.0),
}
# Smallest yield stress (ReL or Rp0.2) in MPa, same columns. Second hand: bbshalmstad.se (8.8, 10.9, 12.9);
# 5.8 from memory.
_YIELD_MPA: Final[dict[str, tuple[float, float]]] = {
    "5.8": (420.0, 420.0),
    "8.8": (640.0, 660.0),
    "10.9": (940.0, 940.0),
    "12.9": (1100.0, 1100.0),
}
# Proof stress in psi for 1/4 to 3/4 in. Second hand: coxhardware.com (grades 2 and 5); grade 8 follows from
# the clamp loads at engineersedge.com.
_SAE_PROOF_PSI: Final[dict[str, float]] = {"SAE 2": 55_000.0, "SAE 5": 85_000.0, "SAE 8": 120_000.0}


class WrongSeriesError(TradeError):
    """A metric class asked for an inch thread, or the other way round."""


def proof_stress(size: str, grade: str) -> Quantity:
    """Proof stress: what the bolt must hold without lasting stretch, in MPa.

    Source: ISO 898-1 property classes (second hand: optimas.com, slsbearings.com); SAE J429 grades (second
        hand: coxhardware.com, engineersedge.com).
    Range: classes 5.8, 8.8, 10.9, 12.9 on metric threads; "SAE 2", "SAE 5", "SAE 8" on unified threads.
    """
    found = thread(size)
    if found.is_metric:
        return _metric(_PROOF_MPA, found.diameter_mm, size, grade)
    if grade in _PROOF_MPA:
        raise WrongSeriesError(
            f"{size} is a unified thread: give its grade as SAE 2, SAE 5 or SAE 8, not {grade}"
        )
    if grade not in _SAE_PROOF_PSI:
        raise not_in_table("bolt grade", grade, _SAE_PROOF_PSI, "read the marks on the bolt head")
    return quantity(_SAE_PROOF_PSI[grade], "psi").to("MPa")


def yield_stress(size: str, grade: str) -> Quantity:
    """Smallest yield stress of a metric property class, in MPa.

    Source: ISO 898-1 (second hand: bbshalmstad.se; class 5.8 from memory).
    Range: classes 5.8, 8.8, 10.9, 12.9 on metric threads.
    """
    found = thread(size)
    if not found.is_metric:
        raise WrongSeriesError(
            f"{size} is a unified thread: the table of yield stresses is for metric classes"
        )
    return _metric(_YIELD_MPA, found.diameter_mm, size, grade)


def proof_load(size: str, grade: str) -> Quantity:
    """Proof load As · Sp, in kN.

    Source: ISO 898-1, clause on proof loads; SAE J429 (second hand, see `proof_stress`).
    Range: as `proof_stress`. The standard tabulates the product of rounded values: up to 1 % apart.
    """
    newtons = stress_area(size).m_as("mm**2") * proof_stress(size, grade).m_as("MPa")
    return quantity(newtons / 1000.0, "kN")


def _metric(table: dict[str, tuple[float, float]], diameter_mm: float, size: str, grade: str) -> Quantity:
    if grade.upper().startswith("SAE"):
        raise WrongSeriesError(
            f"{size} is a metric thread: give its class as {', '.join(table)}, not {grade}"
        )
    if grade not in table:
        raise not_in_table("property class", grade, table, "read the class on the bolt head")
    up_to_16, above = table[grade]
    return quantity(up_to_16 if diameter_mm <= 16.0 else above, "MPa")
