"""Capacitors (pre-charge, discharge, energy) and the termination of the bus."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sayso.trade.can_bus import (
    termination_finding,
    termination_is_right,
    termination_resistance,
    terminators_fitted,
)
from sayso.trade.limits import OutOfRangeError
from sayso.trade.precharge import (
    discharge_time,
    inrush_current,
    precharge_time,
    precharged_share,
    resistor_for_precharge,
    stored_energy,
    time_constant,
)
from sayso.trade.units import quantity

resistors = st.floats(1, 1e5)
capacitors = st.floats(10, 1e5)
shares = st.floats(1, 99.9)


@given(resistors, capacitors, shares)
def test_after_the_precharge_time_the_share_is_reached(ohms: float, microfarads: float, share: float) -> None:
    parts = quantity(ohms, "ohm"), quantity(microfarads, "uF")
    wait = precharge_time(*parts, quantity(share, "%"))
    if 1e-6 <= wait.m_as("s") <= 86_400:
        assert precharged_share(*parts, wait).m_as("percent") == pytest.approx(share, rel=1e-9)
        found = resistor_for_precharge(parts[1], quantity(share, "%"), wait)
        assert found.m_as("ohm") == pytest.approx(ohms, rel=1e-9)


@given(resistors, capacitors, st.floats(10, 1000), st.floats(1, 9))
def test_two_discharges_one_after_the_other_take_as_long_as_one(
    ohms: float, microfarads: float, start: float, safe: float
) -> None:
    parts = quantity(ohms, "ohm"), quantity(microfarads, "uF")
    between = (start * safe) ** 0.5

    def seconds(high: float, low: float) -> float:
        return float(discharge_time(*parts, quantity(high, "V"), quantity(low, "V")).m_as("s"))

    assert seconds(start, between) + seconds(between, safe) == pytest.approx(seconds(start, safe), rel=1e-9)


def test_a_capacitor_already_below_the_safe_voltage_needs_no_wait() -> None:
    done = discharge_time(quantity(1000, "ohm"), quantity(1, "mF"), quantity(4, "V"), quantity(5, "V"))
    assert done.m_as("s") == 0


def test_nobody_can_wait_for_zero_volts() -> None:
    with pytest.raises(OutOfRangeError, match="never reaches 0 V"):
        discharge_time(quantity(1000, "ohm"), quantity(1, "mF"), quantity(48, "V"), quantity(0, "V"))


@given(capacitors, st.floats(1, 1000))
def test_twice_the_voltage_holds_four_times_the_energy(microfarads: float, volts: float) -> None:
    part = quantity(microfarads, "uF")
    one, two = (
        stored_energy(part, quantity(min(times * volts, 1500.0), "V")).m_as("J") for times in (1, 1.2)
    )
    if 1.2 * volts <= 1500:
        assert two == pytest.approx(1.44 * one, rel=1e-9)


def test_the_unit_of_the_capacitor_does_not_matter() -> None:
    assert time_constant(quantity(1, "kohm"), quantity(4.7, "mF")).m_as("s") == pytest.approx(4.7)
    assert time_constant(quantity(1000, "ohm"), quantity(4700, "uF")).m_as("s") == pytest.approx(4.7)


def test_without_a_resistor_there_is_no_inrush_figure() -> None:
    with pytest.raises(OutOfRangeError, match="resistance of 0 ohm is out of range"):
        inrush_current(quantity(48, "V"), quantity(0, "ohm"))


def test_a_share_of_everything_is_never_reached() -> None:
    with pytest.raises(OutOfRangeError, match="95 % is common"):
        precharge_time(quantity(50, "ohm"), quantity(160, "uF"), quantity(100, "%"))


@given(st.integers(1, 5), st.floats(0.93, 1.07))
def test_the_number_of_terminators_is_found_from_a_reading_with_the_meter_s_error(
    fitted: int, error: float
) -> None:
    reading = termination_resistance(fitted) * error
    assert terminators_fitted(reading) == fitted
    assert termination_is_right(reading) == (fitted == 2)


@pytest.mark.parametrize(("ohms", "says"), [
    (60.4, "Two terminators are fitted"), (119, "One terminator is missing"),
    (40.3, "3 terminators are fitted: take out 1"), (29.8, "4 terminators are fitted: take out 2"),
    (0.3, "shorted"), (25_000, "open"), (float("inf"), "open"),
    (85, "fits no number"), (180, "fits no number"), (12, "fits no number"),
])  # fmt: skip
def test_every_reading_has_its_finding(ohms: float, says: str) -> None:
    assert says in termination_finding(quantity(ohms, "ohm"))


@given(st.floats(0, 1e7))
def test_no_reading_is_called_right_unless_it_is_near_sixty_ohm(ohms: float) -> None:
    if termination_is_right(quantity(ohms, "ohm")):
        assert 54 <= ohms <= 66


@pytest.mark.parametrize("reading", [-1, float("nan")])
def test_a_reading_that_cannot_be_is_refused(reading: float) -> None:
    with pytest.raises(OutOfRangeError, match="measure with the power off"):
        terminators_fitted(quantity(reading, "ohm"))


def test_no_terminator_has_no_resistance() -> None:
    with pytest.raises(OutOfRangeError, match="the meter shows open"):
        termination_resistance(0)
