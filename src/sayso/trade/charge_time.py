"""Charge time with a constant current and then a taper at constant voltage.

In the taper the current falls as an exponential from the charging current to the cut-off. The time constant
is the one with which the taper delivers exactly the charge that was still missing.
"""

from __future__ import annotations

import math
from typing import Final

from sayso.trade.limits import Limits, OutOfRangeError, magnitude_within
from sayso.trade.units import Quantity, quantity

_CAPACITY: Final = Limits("capacity", "ampere_hour", 0.01, 10_000.0, "check the number and the unit")
_CURRENT: Final = Limits("charging current", "A", 0.001, 2000.0, "read it from the charger's plate")
_CUT_OFF: Final = Limits("cut-off current", "A", 0.0001, 2000.0, "a twentieth of the capacity is common")
_STATE: Final = Limits("state of charge", "percent", 0.0, 100.0, "write the share like 20 %")
_KNEE: Final = Limits("start of the taper", "percent", 10.0, 100.0, "70 to 90 % is usual")
_FACTOR: Final = Limits("charge factor", "", 1.0, 1.5, "1.0 for lithium, 1.1 to 1.2 for lead-acid")


def constant_current_time(
    capacity: Quantity, current: Quantity, state: Quantity, taper_from: Quantity, charge_factor: float = 1.0
) -> Quantity:
    """Time at constant current until the taper begins, in hour; nothing when it has already begun.

    Source: (end - start) · capacity / current; second hand: online-tools-battery.pages.dev. The charge
        factor of 1.1 to 1.2 for lead-acid is common practice, no source.
    Range: capacity 0.01 to 10 000 A·h, current 0.001 to 2000 A, taper from 10 to 100 %.
    """
    _check_factor(charge_factor)
    missing = magnitude_within(taper_from, _KNEE) - magnitude_within(state, _STATE)
    amp_hours = magnitude_within(capacity, _CAPACITY) * max(missing, 0.0) / 100.0 * charge_factor
    return quantity(amp_hours / magnitude_within(current, _CURRENT), "hour")


def taper_time(missing: Quantity, current: Quantity, cut_off: Quantity) -> Quantity:
    """Time to put `missing` charge in while the current falls from `current` to `cut_off`, in hour.

    Source: exponential taper, t = tau · ln(I/Ic) with tau = Q/(I - Ic) (form second hand:
        online-tools-battery.pages.dev; the closed form is checked by integration in the tests).
    Range: the cut-off current must be below the charging current.
    """
    amps = magnitude_within(current, _CURRENT)
    last = magnitude_within(cut_off, _CUT_OFF)
    if last >= amps:
        raise OutOfRangeError(
            f"cut-off current of {last:g} A is not below the charging current of {amps:g} A: check both"
        )
    amp_hours = magnitude_within(missing, Limits("missing charge", "ampere_hour", 0.0, 10_000.0, "check it"))
    return quantity(amp_hours / (amps - last) * math.log(amps / last), "hour")


def charge_time(
    capacity: Quantity,
    current: Quantity,
    state: Quantity,
    taper_from: Quantity,
    cut_off: Quantity,
    charge_factor: float = 1.0,
) -> Quantity:
    """Time from `state` to full, constant current and taper together, in hour.

    Source: `constant_current_time` and `taper_time`. A planning figure: temperature, age and the charger's
        own programme change it.
    Range: as those.
    """
    start, knee = magnitude_within(state, _STATE), magnitude_within(taper_from, _KNEE)
    amp_hours = magnitude_within(capacity, _CAPACITY) * charge_factor
    steady = constant_current_time(capacity, current, state, taper_from, charge_factor).m_as("hour")
    missing = quantity(amp_hours * (100.0 - max(start, knee)) / 100.0, "ampere_hour")
    return quantity(steady + taper_time(missing, current, cut_off).m_as("hour"), "hour")


def _check_factor(factor: float) -> None:
    magnitude_within(quantity(factor, ""), _FACTOR)
