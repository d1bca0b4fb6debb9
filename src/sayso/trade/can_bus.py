"""Termination of a two-wire CAN bus: what an ohmmeter shows and what it means.

Measure between CAN-H and CAN-L with the power off and the bus asleep.
"""

from __future__ import annotations

import math
from typing import Final

from sayso.trade.limits import Limits, count_within, magnitude_within
from sayso.trade.units import Quantity, quantity

TERMINATOR_OHM: Final = 120.0
FITTED_RIGHT: Final = 2
# How far a reading may be from 120/n ohm: 54 to 66 ohm is called normal (second hand: autodtcs.com).
_TOLERANCE: Final = 0.10
_MOST_RESISTORS: Final = 5
_SHORT_BELOW_OHM: Final = 5.0  # second hand: obd-cable.com calls 0 to 5 ohm a hard short

_READING: Final = Limits("bus resistance", "ohm", 0.0, math.inf, "measure with the power off")


def termination_resistance(fitted: int, each: Quantity | None = None) -> Quantity:
    """Resistance between the wires with this many terminators fitted, each / n, in ohm.

    Source: two of 120 ohm at the ends of the bus make 60 ohm, one left makes 120 ohm (ISO 11898-2, second
        hand: two service manuals of 2008 and 2009; three make 40 ohm, obd-cable.com).
    Range: 1 to 30 terminators; with none fitted the meter shows open.
    """
    number = count_within(fitted, "number of terminators", 1, 30, "with none fitted the meter shows open")
    ohms = TERMINATOR_OHM if each is None else magnitude_within(
        each, Limits("terminator", "ohm", 1.0, 10_000.0, "120 ohm is the usual one")
    )  # fmt: skip
    return quantity(ohms / number, "ohm")


def terminators_fitted(reading: Quantity) -> int:
    """How many 120 ohm terminators fit the reading; 0 when open, -1 when shorted or no whole number fits.

    Source: as `termination_resistance`; 54 to 66 ohm counts as right (second hand: autodtcs.com), 5 ohm and
        below as a short (second hand: obd-cable.com). Within 10 % of 120/n for n up to 5.
    Range: 0 ohm and more; above 1 kilohm counts as open (modules alone show 10 kilohm
        and more; second hand: a service manual of 2008).
    """
    ohms = magnitude_within(reading, _READING)
    if ohms > 1000.0:
        return 0
    if ohms <= _SHORT_BELOW_OHM:
        return -1
    number = max(1, round(TERMINATOR_OHM / ohms))
    fits = abs(ohms - TERMINATOR_OHM / number) <= _TOLERANCE * TERMINATOR_OHM / number
    return number if fits and number <= _MOST_RESISTORS else -1


def termination_is_right(reading: Quantity) -> bool:
    """True when the reading fits two terminators (54 to 66 ohm).

    Source: as `terminators_fitted`.
    Range: as `terminators_fitted`.
    """
    return terminators_fitted(reading) == FITTED_RIGHT


def termination_finding(reading: Quantity) -> str:
    """What the reading means, as one sentence that can be spoken.

    Source: as `terminators_fitted`.
    Range: as `terminators_fitted`.
    """
    number = terminators_fitted(reading)
    if number == FITTED_RIGHT:
        return "Two terminators are fitted, as it should be."
    if number == 0:
        return "The bus is open: no terminator is connected, or both wires are broken."
    if number == 1:
        return "One terminator is missing, or a wire to it is broken."
    if number > FITTED_RIGHT:
        return f"{number} terminators are fitted: take out {number - FITTED_RIGHT}."
    if magnitude_within(reading, _READING) <= _SHORT_BELOW_OHM:
        return "The two wires are shorted."
    return "The reading fits no number of terminators: look for a wrong resistor or a bad contact."
