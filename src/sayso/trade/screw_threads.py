"""Screw threads: pitch, diameters and stress area of ISO metric and unified threads.

Both series share the 60° basic profile (ISO 68-1, ASME B1.1): d2 = d - 0.649 52 P, d3 = d - 1.226 87 P.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from sayso.trade.limits import not_in_table
from sayso.trade.units import Quantity, quantity

# Coarse pitches of ISO 261 for M3 to M24. Second hand: staging2.optimas.com and a "Metric thread stress
# areas" sheet (scribd 338032810), which agree.
COARSE_PITCH_MM: Final[dict[str, float]] = {
    "M3": 0.5, "M4": 0.7, "M5": 0.8, "M6": 1.0, "M8": 1.25, "M10": 1.5, "M12": 1.75, "M14": 2.0,
    "M16": 2.0, "M18": 2.5, "M20": 2.5, "M22": 2.5, "M24": 3.0,
}  # fmt: skip
# Fine threads of the VDI 2230 tables (second hand: mastik.pt catalogue page 685).
FINE_PITCH_MM: Final[dict[str, float]] = {
    "M8x1": 1.0, "M10x1.25": 1.25, "M12x1.25": 1.25, "M14x1.5": 1.5, "M16x1.5": 1.5, "M18x1.5": 1.5,
    "M20x1.5": 1.5, "M22x1.5": 1.5, "M24x2": 2.0,
}  # fmt: skip
# Unified threads: diameter in inches, threads per inch. Second hand: engineersedge.com (SAE J429 chart).
UNIFIED_THREADS: Final[dict[str, tuple[float, int]]] = {
    "1/4-20": (0.25, 20), "5/16-18": (0.3125, 18), "3/8-16": (0.375, 16), "7/16-14": (0.4375, 14),
    "1/2-13": (0.5, 13), "5/8-11": (0.625, 11), "3/4-10": (0.75, 10),
    "1/4-28": (0.25, 28), "5/16-24": (0.3125, 24), "3/8-24": (0.375, 24), "7/16-20": (0.4375, 20),
    "1/2-20": (0.5, 20), "5/8-18": (0.625, 18), "3/4-16": (0.75, 16),
}  # fmt: skip

# The stress area circle: ISO 898-1 takes d - 0.938 194 P, ASME B1.1 d - 0.974 3 P (both from memory;
# the tables they give are checked in the tests).
_METRIC_STRESS_DEPTH: Final = 0.938194
_UNIFIED_STRESS_DEPTH: Final = 0.9743


@dataclass(frozen=True)
class Thread:
    """One thread; lengths in mm. `stress_depth` times the pitch comes off d for the stress area."""

    size: str
    diameter_mm: float
    pitch_mm: float
    stress_depth: float

    @property
    def is_metric(self) -> bool:
        return self.size.startswith("M")


def thread(size: str) -> Thread:
    """The thread with this designation: "M6", "M8x1", "1/4-20". Case and spaces do not matter.

    Source: ISO 261 coarse pitches, VDI 2230 fine pitches, unified series (second hand, see the tables).
    Range: the sizes in COARSE_PITCH_MM, FINE_PITCH_MM and UNIFIED_THREADS; else NotInTableError.
    """
    wanted = size.upper().replace(" ", "").replace("×", "X").removesuffix("UNC").removesuffix("UNF")
    for table in (COARSE_PITCH_MM, FINE_PITCH_MM):
        for name, pitch in table.items():
            if wanted in (name.upper(), f"{name.upper()}X{pitch:g}"):
                return Thread(name, float(name[1:].split("x")[0]), pitch, _METRIC_STRESS_DEPTH)
    if wanted in UNIFIED_THREADS:
        inches, per_inch = UNIFIED_THREADS[wanted]
        return Thread(wanted, inches * 25.4, 25.4 / per_inch, _UNIFIED_STRESS_DEPTH)
    raise not_in_table(
        "thread", size, (*COARSE_PITCH_MM, *FINE_PITCH_MM, *UNIFIED_THREADS),
        "read the size on the drawing or with a thread gauge",
    )  # fmt: skip


def pitch_diameter(size: str) -> Quantity:
    """Pitch diameter d2 = d - 0.649 52 P.

    Source: basic profile, ISO 68-1 (from memory; geometry: 3/8 of the height of a 60° triangle, twice).
    Range: as `thread`.
    """
    found = thread(size)
    return quantity(found.diameter_mm - 0.75 * math.sqrt(3) / 2 * found.pitch_mm, "mm")


def root_diameter(size: str) -> Quantity:
    """Root diameter d3 = d - 1.226 87 P of an external thread with rounded root.

    Source: ISO 68-1 basic profile with H/6 root radius (from memory: 17/24 of H, twice).
    Range: as `thread`.
    """
    found = thread(size)
    return quantity(found.diameter_mm - 17.0 / 12.0 * math.sqrt(3) / 2 * found.pitch_mm, "mm")


def stress_area(size: str) -> Quantity:
    """Nominal stress area As = pi/4 · (d - 0.938 194 P)² (metric), pi/4 · (d - 0.974 3 P)² (unified).

    Source: ISO 898-1 (metric), ASME B1.1 (unified); tables second hand, see the tests.
    Range: as `thread`.
    """
    found = thread(size)
    return quantity(math.pi / 4 * (found.diameter_mm - found.stress_depth * found.pitch_mm) ** 2, "mm**2")
