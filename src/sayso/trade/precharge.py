"""Capacitors of a controller: pre-charge through a resistor, discharge, stored energy.

A time worked out here is for planning the wait. Before hands go in, measure: a bleed resistor can be open.
"""

from __future__ import annotations

import math
from typing import Final

from sayso.trade.limits import Limits, OutOfRangeError, magnitude_within
from sayso.trade.units import Quantity, quantity

_RESISTANCE: Final = Limits("resistance", "ohm", 0.001, 1e8, "read it from the resistor or the drawing")
_CAPACITANCE: Final = Limits("capacitance", "farad", 1e-12, 100.0, "check the unit: uF, mF or F")
_VOLTAGE: Final = Limits("voltage", "V", 0.0, 1500.0, "check the number and the unit")
_SHARE: Final = Limits("share of the supply voltage", "percent", 0.0, 99.9999, "95 % is common")


def time_constant(resistance: Quantity, capacitance: Quantity) -> Quantity:
    """R · C, in second.

    Source: circuit theory; worked example second hand (systemy-medyczne.pl, 50 ohm and 160 uF).
    Range: 0.001 ohm to 100 Mohm, 1 pF to 100 F.
    """
    ohms = magnitude_within(resistance, _RESISTANCE)
    return quantity(ohms * magnitude_within(capacitance, _CAPACITANCE), "s")


def precharge_time(resistance: Quantity, capacitance: Quantity, share: Quantity) -> Quantity:
    """Time until the capacitor has this share of the supply voltage, -R·C·ln(1 - share), in second.

    Source: circuit theory; 5 time constants taken as charged in a design note (second hand: ti.com TIDUF73).
    Range: share 0 to 99.9999 %, from an empty capacitor.
    """
    part = magnitude_within(share, _SHARE) / 100.0
    return quantity(-time_constant(resistance, capacitance).m_as("s") * math.log1p(-part), "s")


def precharged_share(resistance: Quantity, capacitance: Quantity, wait: Quantity) -> Quantity:
    """Share of the supply voltage after a wait, 1 - exp(-t/RC), in percent.

    Source: circuit theory: 95.02 % after 3 and 99.33 % after 5 time constants.
    Range: wait 0 to 1 day.
    """
    seconds = magnitude_within(wait, Limits("wait", "s", 0.0, 86_400.0, "check the number and the unit"))
    return quantity(
        -100.0 * math.expm1(-seconds / time_constant(resistance, capacitance).m_as("s")), "percent"
    )


def inrush_current(supply: Quantity, resistance: Quantity) -> Quantity:
    """Largest current, at the first instant, in ampere.

    Source: Ohm's law; I_max = U/R second hand (miba.com, mexle.org).
    Range: 0 to 1500 V.
    """
    return quantity(magnitude_within(supply, _VOLTAGE) / magnitude_within(resistance, _RESISTANCE), "A")


def discharge_time(resistance: Quantity, capacitance: Quantity, start: Quantity, safe: Quantity) -> Quantity:
    """Time to fall from `start` to `safe` through a resistor, R·C·ln(start/safe), in second.

    Source: circuit theory; worked exercise second hand (systemy-medyczne.pl, 100 V at 5 ms).
    Range: `safe` above 0 V; nothing to wait for when it is already below.
    """
    from_volts = magnitude_within(start, _VOLTAGE)
    to_volts = magnitude_within(safe, Limits("safe voltage", "V", 0.001, 1500.0, "a curve never reaches 0 V"))
    if from_volts <= to_volts:
        return quantity(0.0, "s")
    return quantity(time_constant(resistance, capacitance).m_as("s") * math.log(from_volts / to_volts), "s")


def stored_energy(capacitance: Quantity, voltage: Quantity) -> Quantity:
    """Energy in a capacitor, C·U²/2, in joule. The pre-charge resistor turns the same energy into heat.

    Source: circuit theory; worked example second hand (mexle.org: 1 uF and 447.2 V hold 0.1 J).
    Range: 1 pF to 100 F, 0 to 1500 V.
    """
    volts = magnitude_within(voltage, _VOLTAGE)
    return quantity(0.5 * magnitude_within(capacitance, _CAPACITANCE) * volts**2, "J")


def resistor_for_precharge(capacitance: Quantity, share: Quantity, wait: Quantity) -> Quantity:
    """The largest resistor that reaches the share within the wait, in ohm.

    Source: `precharge_time` solved for R.
    Range: share above 0 %, wait above 1 us.
    """
    part = magnitude_within(share, Limits("share", "percent", 0.1, 99.9999, "95 % is common")) / 100.0
    seconds = magnitude_within(wait, Limits("wait", "s", 1e-6, 86_400.0, "check the number and the unit"))
    ohms = -seconds / (magnitude_within(capacitance, _CAPACITANCE) * math.log1p(-part))
    if ohms > _RESISTANCE.high:
        raise OutOfRangeError(f"a resistor of {ohms:g} ohm is beyond 100 Mohm: check capacitance and wait")
    return quantity(ohms, "ohm")
