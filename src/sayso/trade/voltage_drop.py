"""Voltage drop of a two-wire direct-current run: out and back."""

from __future__ import annotations

from typing import Final

from sayso.trade.limits import Limits, magnitude_within
from sayso.trade.units import Quantity, quantity
from sayso.trade.wire_resistance import IACS_RESISTIVITY, IACS_TEMPERATURE_COEFFICIENT

_CURRENT: Final = Limits("current", "A", 0.0, 5000.0, "check the number and the unit")
_ONE_WAY: Final = Limits("one-way length", "m", 0.0, 10_000.0, "measure the run once, not out and back")
_PER_LENGTH: Final = Limits("resistance per length", "ohm/km", 0.0, 1e6, "take it from a cable table")
_SYSTEM: Final = Limits("system voltage", "V", 1.0, 1500.0, "check the number and the unit")
_DROP: Final = Limits("allowed drop", "V", 0.001, 1500.0, "check the number and the unit")
_WARMTH: Final = Limits("conductor temperature", "degC", -50.0, 150.0, "75 °C is usual for a loaded cable")


def two_wire_drop(current: Quantity, one_way: Quantity, resistance_per_length: Quantity) -> Quantity:
    """Voltage lost in both conductors, 2 · L · I · R', in volt.

    Source: Ohm's law; the "2 · L · I · R / 1000" of wiring handbooks (from memory). NEC Chapter 9 Table 8
        supplies R' in ohm/kft.
    Range: 0 to 5000 A, one-way length up to 10 km. Direct current only.
    """
    amps = magnitude_within(current, _CURRENT)
    metres = magnitude_within(one_way, _ONE_WAY)
    ohm_per_metre = magnitude_within(resistance_per_length, _PER_LENGTH) / 1000.0
    return quantity(2.0 * metres * amps * ohm_per_metre, "V")


def drop_share(drop: Quantity, system: Quantity) -> Quantity:
    """The drop as a share of the system voltage, in percent.

    Source: arithmetic. 3 % is the NEC's informational note for a branch circuit (from memory).
    Range: system 1 to 1500 V.
    """
    volts = magnitude_within(drop, Limits("drop", "V", 0.0, 1500.0, "check the number and the unit"))
    return quantity(100.0 * volts / magnitude_within(system, _SYSTEM), "percent")


def longest_run(current: Quantity, drop: Quantity, resistance_per_length: Quantity) -> Quantity:
    """The longest one-way length that keeps the drop, in metre.

    Source: `two_wire_drop` solved for the length.
    Range: as `two_wire_drop`, and current and resistance above nothing.
    """
    amps = magnitude_within(current, Limits("current", "A", 0.001, 5000.0, "give the load current"))
    ohm_per_km = magnitude_within(
        resistance_per_length,
        Limits("resistance per length", "ohm/km", 1e-6, 1e6, "take it from a cable table"),
    )
    return quantity(magnitude_within(drop, _DROP) / (2.0 * amps * ohm_per_km / 1000.0), "m")


def area_for_drop(current: Quantity, one_way: Quantity, drop: Quantity, temperature: Quantity) -> Quantity:
    """The smallest copper area that keeps the drop, in mm². Check the ampacity too: the larger one counts.

    Source: `two_wire_drop` with `copper_resistance` (International Annealed Copper Standard, from memory).
    Range: as `two_wire_drop`, -50 to 150 °C.
    """
    amps, metres = magnitude_within(current, _CURRENT), magnitude_within(one_way, _ONE_WAY)
    warmth = magnitude_within(temperature, _WARMTH) - 20.0
    resistivity = IACS_RESISTIVITY * (1.0 + IACS_TEMPERATURE_COEFFICIENT * warmth)
    return quantity(2.0 * metres * amps * resistivity / magnitude_within(drop, _DROP), "mm**2")
