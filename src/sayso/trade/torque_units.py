"""Torque in the unit of the wrench in hand: conversion, tolerance band, nearest mark on the scale."""

from __future__ import annotations

import math
from typing import Final

from sayso.trade.limits import Limits, OutOfRangeError, magnitude_within
from sayso.trade.units import Quantity, Unit, quantity, symbol_for_unit

_TORQUE: Final = Limits(
    "torque",
    "N*m",
    0.0,
    10_000.0,
    "check the number and the unit; above this use a multiplier and its own table",
)
_WITHIN: Final = Limits(
    "tolerance", "percent", 0.0, 50.0, "write the tolerance as a share of the target, as 10 %"
)
_STEP: Final = Limits(
    "step of the scale", "N*m", 1e-4, 100.0, "read the step between two marks on the wrench"
)


def convert_torque(torque: Quantity, unit: Unit) -> Quantity:
    """`torque` in another torque unit.

    Source: exact by definition: 1 in = 25.4 mm, 1 lb = 0.453 592 37 kg, g = 9.806 65 m/s²
        (NIST SP 811 appendix B: 1 lbf·ft = 1.355 818 N·m, from memory).
    Range: 0 to 10 000 N·m.
    """
    magnitude_within(torque, _TORQUE)
    return torque.to(unit)


def torque_band(target: Quantity, within: Quantity) -> tuple[Quantity, Quantity]:
    """Lowest and highest torque that count as on target, in the target's unit; `within` is a share (10 %).

    Source: arithmetic. The share itself must come from the maker's manual.
    Range: target 0 to 10 000 N·m, share 0 to 50 %.
    """
    magnitude_within(target, _TORQUE)
    share = magnitude_within(within, _WITHIN) / 100.0
    return target * (1.0 - share), target * (1.0 + share)


def is_within_band(torque: Quantity, target: Quantity, within: Quantity) -> bool:
    """True when `torque` lies within `within` of `target`, both ends included.

    Source: arithmetic.
    Range: as `torque_band`. A billionth is allowed for rounding in a conversion between units.
    """
    low, high = torque_band(target, within)
    value = magnitude_within(torque, _TORQUE)
    slack = 1e-9 * high.m_as("N*m")
    return bool(low.m_as("N*m") - slack <= value <= high.m_as("N*m") + slack)


def nearest_setting(target: Quantity, unit: Unit, step: float) -> Quantity:
    """The mark nearest to `target` on a wrench scale in `unit` with a mark every `step` of that unit.

    Compare it with `is_within_band`: the nearest mark of a coarse scale can lie outside the tolerance.

    Source: arithmetic.
    Range: target 0 to 10 000 N·m, step 0.0001 to 100 N·m or what is equal to it.
    """
    magnitude_within(target, _TORQUE)
    magnitude_within(quantity(step, unit), _STEP)
    marks = target.m_as(unit) / step
    # Rounded to a billionth of the unit, so that three steps of 0.1 are shown as 0.3.
    return quantity(round(math.floor(marks + 0.5) * step, 9), unit)


def setting_within_band(target: Quantity, within: Quantity, unit: Unit, step: float) -> Quantity:
    """The nearest mark of the scale, refused when that mark is outside the tolerance.

    Source: arithmetic.
    Range: as `nearest_setting`. Raises OutOfRangeError when no mark lies within the tolerance.
    """
    setting = nearest_setting(target, unit, step)
    if is_within_band(setting, target, within):
        return setting
    low, high = (end.m_as(unit) for end in torque_band(target, within))
    shown = symbol_for_unit(unit)
    raise OutOfRangeError(
        f"no mark of a scale with steps of {step:g} {shown} lies within {low:.4g} to {high:.4g} {shown}: "
        f"use a wrench with a finer scale or in another unit"
    )


def wrench_covers(target: Quantity, lowest_mark: Quantity, highest_mark: Quantity) -> bool:
    """True when the target lies on the wrench's scale.

    Source: a tool's range starts at its lowest marked value, ISO 6789:2017 (second hand: norbar.com
        articles 67 and 68).
    Range: marks 0 to 10 000 N·m, lowest below highest.
    """
    low, high = magnitude_within(lowest_mark, _TORQUE), magnitude_within(highest_mark, _TORQUE)
    if low >= high:
        raise OutOfRangeError(
            f"lowest mark {lowest_mark} is not below highest mark {highest_mark}: swap the two marks"
        )
    return low <= magnitude_within(target, _TORQUE) <= high
