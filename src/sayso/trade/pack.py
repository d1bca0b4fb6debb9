"""Batteries in series and parallel: voltage, capacity, energy, run time."""

from __future__ import annotations

from typing import Final

from sayso.trade.limits import Limits, count_within, magnitude_within
from sayso.trade.units import Quantity, quantity

_VOLTAGE: Final = Limits("battery voltage", "V", 0.1, 1500.0, "check the number and the unit")
_CAPACITY: Final = Limits("capacity", "ampere_hour", 0.01, 10_000.0, "check the number and the unit")
_SHARE: Final = Limits("usable share", "percent", 1.0, 100.0, "write the share like 80 %")
_LOAD: Final = Limits("load", "W", 0.1, 1e6, "check the number and the unit")


def _in_series(number: int) -> int:
    return count_within(number, "number in series", 1, 400, "count the batteries in one string")


def _in_parallel(number: int) -> int:
    return count_within(number, "number in parallel", 1, 100, "count the strings")


def pack_voltage(unit_voltage: Quantity, series: int) -> Quantity:
    """Voltages add in series, in volt.

    Source: Kirchhoff's voltage law; worked example second hand (schneider-electric.us FA229757).
    Range: 0.1 to 1500 V each, 1 to 400 in series.
    """
    return quantity(magnitude_within(unit_voltage, _VOLTAGE) * _in_series(series), "V")


def pack_capacity(unit_capacity: Quantity, parallel: int) -> Quantity:
    """Capacities add in parallel, in ampere hour.

    Source: Kirchhoff's current law; worked example second hand (schneider-electric.us FA229757).
    Range: 0.01 to 10 000 A·h each, 1 to 100 strings. Only for equal batteries of equal age and charge.
    """
    return quantity(magnitude_within(unit_capacity, _CAPACITY) * _in_parallel(parallel), "ampere_hour")


def pack_energy(unit_voltage: Quantity, unit_capacity: Quantity, series: int, parallel: int) -> Quantity:
    """Nominal energy, voltage times capacity, in watt hour.

    Source: W·h = V · A·h; worked example second hand (codingace.net, vppowerbattery.com).
    Range: as `pack_voltage` and `pack_capacity`.
    """
    volts = pack_voltage(unit_voltage, series).m_as("V")
    return quantity(volts * pack_capacity(unit_capacity, parallel).m_as("ampere_hour"), "watt_hour")


def run_time(energy: Quantity, usable: Quantity, load: Quantity) -> Quantity:
    """How long a steady load runs on the usable share of the energy, in hour.

    Source: arithmetic; worked example second hand (codingace.net).
    Range: share 1 to 100 %, load 0.1 W to 1 MW. Lead-acid gives less at high current; not modelled.
    """
    watt_hours = magnitude_within(
        energy, Limits("energy", "watt_hour", 0.0, 1e7, "check the number and unit")
    )
    share = magnitude_within(usable, _SHARE) / 100.0
    return quantity(watt_hours * share / magnitude_within(load, _LOAD), "hour")
