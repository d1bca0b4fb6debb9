"""Tightening torque of a bolt: from a torque factor K, or from friction in thread and under the head.

A guide and a check, never a replacement for the maker's figure: published tables for one M6 screw differ by
15 % and more, because friction does. A procedure must name its own torque and where it is from.
"""

from __future__ import annotations

import math
from typing import Final

from sayso.trade.bolt_grades import proof_load, yield_stress
from sayso.trade.limits import Limits, magnitude_within, not_in_table, number_within
from sayso.trade.screw_threads import pitch_diameter, root_diameter, thread
from sayso.trade.units import Quantity, quantity

_SHARE_OF_PROOF: Final = Limits(
    "share of the proof load", "percent", 1.0, 100.0, "75 % is common for joints that are taken apart"
)
_SHARE_OF_YIELD: Final = Limits(
    "share of the yield stress", "percent", 1.0, 100.0, "VDI 2230 tables use 90 %"
)
_PRELOAD: Final = Limits("preload", "kN", 0.0, 1000.0, "check the number and the unit")
_FACTOR: Final = Limits(
    "torque factor K", "", 0.08, 0.40, "0.20 dry and 0.15 oiled are common; use the maker's figure"
)
_FRICTION: Final = Limits(
    "coefficient of friction", "", 0.04, 0.40, "0.12 to 0.14 is usual for oiled steel; use the maker's figure"
)
_BEARING: Final = Limits("bearing diameter", "mm", 1.0, 100.0, "mean of head bearing face and hole")

# Smallest bearing face of a hexagon head (ISO 4014, product grade A) and medium clearance hole (ISO 273),
# in mm. From memory; the torques that they give are checked against the VDI 2230 table in the tests.
_HEAD_AND_HOLE_MM: Final[dict[float, tuple[float, float]]] = {
    3: (4.57, 3.4), 4: (5.88, 4.5), 5: (6.88, 5.5), 6: (8.88, 6.6), 8: (11.63, 9.0), 10: (14.63, 11.0),
    12: (16.63, 13.5), 14: (19.64, 15.5), 16: (22.49, 17.5), 18: (25.34, 20.0), 20: (28.19, 22.0),
    22: (31.71, 24.0), 24: (33.61, 26.0),
}  # fmt: skip


def preload(size: str, grade: str, share_of_proof: Quantity) -> Quantity:
    """Preload as a share of the proof load, in kN.

    Source: 75 % of proof load for joints that are taken apart (second hand: engineersedge.com note to its
        SAE J429 chart, coxhardware.com).
    Range: share 1 to 100 %; sizes and grades of `proof_load`.
    """
    share = magnitude_within(share_of_proof, _SHARE_OF_PROOF) / 100.0
    return quantity(proof_load(size, grade).m_as("kN") * share, "kN")


def torque_by_factor(size: str, force: Quantity, factor: float) -> Quantity:
    """Tightening torque T = K · F · d, in N·m.

    Source: the short form used by the SAE J429 charts (second hand: coxhardware.com, engineersedge.com).
    Range: K 0.08 to 0.40, preload 0 to 1000 kN, sizes of `thread`.
    """
    number_within(factor, _FACTOR)
    force_kn = magnitude_within(force, _PRELOAD)
    return quantity(factor * force_kn * thread(size).diameter_mm, "N*m")


def preload_by_factor(size: str, torque: Quantity, factor: float) -> Quantity:
    """Preload F = T / (K · d) that a torque gives, in kN.

    Source: as `torque_by_factor`, solved for the preload.
    Range: as `torque_by_factor`; torque 0 to 10 000 N·m.
    """
    number_within(factor, _FACTOR)
    newton_metres = magnitude_within(torque, Limits("torque", "N*m", 0.0, 10_000.0, "check number and unit"))
    return quantity(newton_metres / (factor * thread(size).diameter_mm), "kN")


def bearing_diameter(size: str) -> Quantity:
    """Mean friction diameter under a hexagon head, (bearing face + clearance hole) / 2, in mm.

    Source: VDI 2230 D_Km; head ISO 4014, hole ISO 273 medium (from memory).
    Range: metric threads M3 to M24.
    """
    found = thread(size)
    if not found.is_metric or found.diameter_mm not in _HEAD_AND_HOLE_MM:
        sizes = [f"M{d:g}" for d in _HEAD_AND_HOLE_MM]
        raise not_in_table("hexagon head for", size, sizes, "measure the bearing face and the hole")
    face, hole = _HEAD_AND_HOLE_MM[found.diameter_mm]
    return quantity((face + hole) / 2.0, "mm")


def torque_by_friction(
    size: str,
    force: Quantity,
    thread_friction: float,
    head_friction: float,
    bearing: Quantity | None = None,
) -> Quantity:
    """Tightening torque M = F · (0.16 P + 0.58 d2 µ_thread + D_Km/2 · µ_head), in N·m.

    Source: VDI 2230 Part 1, assembly torque (from memory; same three parts at fastcalc.bulten.com, second
        hand). 0.16 is 1/(2 pi) and 0.58 is 1/(2 cos 30°), both kept exact here.
    Range: friction 0.04 to 0.40, preload 0 to 1000 kN; `bearing` is needed for unified threads.
    """
    number_within(thread_friction, _FRICTION)
    number_within(head_friction, _FRICTION)
    force_kn = magnitude_within(force, _PRELOAD)
    under_head = magnitude_within(bearing if bearing is not None else bearing_diameter(size), _BEARING)
    lever_mm = _thread_lever_mm(size, thread_friction) + under_head / 2.0 * head_friction
    return quantity(force_kn * lever_mm, "N*m")


def preload_at_yield_share(
    size: str, grade: str, share_of_yield: Quantity, thread_friction: float
) -> Quantity:
    """Preload at which stretch and twist together use this share of the yield stress, in kN.

    Source: VDI 2230 Part 1 (2003 and later), assembly stress with the plastic torsion factor 3/2 (from
        memory; its table for fine threads second hand at mastik.pt page 685).
    Range: share 1 to 100 %, friction 0.04 to 0.40, metric classes of `yield_stress`.
    """
    number_within(thread_friction, _FRICTION)
    share = magnitude_within(share_of_yield, _SHARE_OF_YIELD) / 100.0
    d2 = pitch_diameter(size).m_as("mm")
    d0 = (d2 + root_diameter(size).m_as("mm")) / 2.0
    twist_over_stretch = 1.5 * 2.0 * _thread_lever_mm(size, thread_friction) / d0
    stress = share * yield_stress(size, grade).m_as("MPa") / math.sqrt(1.0 + 3.0 * twist_over_stretch**2)
    return quantity(stress * math.pi / 4.0 * d0**2 / 1000.0, "kN")


def torque_at_yield_share(size: str, grade: str, share_of_yield: Quantity, friction: float) -> Quantity:
    """Torque for `preload_at_yield_share` with one friction for thread and head, in N·m.

    Source: as `preload_at_yield_share` and `torque_by_friction`.
    Range: as those. With 90 % this is a largest value without any safety: stay below it.
    """
    force = preload_at_yield_share(size, grade, share_of_yield, friction)
    return torque_by_friction(size, force, friction, friction)


def _thread_lever_mm(size: str, friction: float) -> float:
    """Torque taken by the thread over the preload: pitch part and friction part, in mm."""
    friction_part = pitch_diameter(size).m_as("mm") / 2.0 * friction / math.cos(math.radians(30.0))
    return float(thread(size).pitch_mm / (2.0 * math.pi) + friction_part)
