"""Packs: cells, charge time and rest voltage."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad

from sayso.trade.cell_figures import (
    CELLS,
    cell_figures,
    empty_voltage,
    full_voltage,
    may_be_charged_at,
    nominal_voltage,
)
from sayso.trade.charge_time import charge_time, constant_current_time, taper_time
from sayso.trade.limits import NotInTableError, OutOfRangeError
from sayso.trade.pack import pack_energy, pack_voltage, run_time
from sayso.trade.rest_voltage import lead_acid_state, lifepo4_state_band
from sayso.trade.units import quantity

ROOM = quantity(26.6667, "degC")
states = st.floats(0, 100)


@pytest.mark.parametrize("kind", [*CELLS])
@pytest.mark.parametrize("cells", [1, 4, 16, 24])
def test_empty_is_below_nominal_and_nominal_below_full(kind: str, cells: int) -> None:
    assert empty_voltage(kind, cells) < nominal_voltage(kind, cells) < full_voltage(kind, cells)
    assert "second hand" in cell_figures(kind).source


def test_lifepo4_below_freezing_must_not_be_charged() -> None:
    assert not may_be_charged_at("LiFePO4", quantity(31, "degF"))
    assert may_be_charged_at("LiFePO4", quantity(33, "degF"))


def test_an_unknown_cell_is_refused() -> None:
    with pytest.raises(NotInTableError, match="use the cell's data sheet"):
        cell_figures("NMC")


@given(st.floats(1, 60), st.floats(1, 500), st.integers(1, 20), st.integers(1, 10))
def test_rewiring_a_pack_keeps_its_energy(unit_v: float, unit_ah: float, series: int, parallel: int) -> None:
    battery = quantity(unit_v, "V"), quantity(unit_ah, "Ah")
    in_series = pack_energy(*battery, series * parallel, 1).m_as("Wh")
    mixed = pack_energy(*battery, series, parallel).m_as("Wh")
    assert in_series == pytest.approx(mixed, rel=1e-12)
    assert mixed == pytest.approx(unit_v * unit_ah * series * parallel, rel=1e-12)


@pytest.mark.parametrize("series", [0, -1, 2.5, 401, float("nan"), float("inf")])
def test_a_number_in_series_that_is_no_count_is_refused(series: float) -> None:
    with pytest.raises(OutOfRangeError, match="a whole number, 1 to 400"):
        pack_voltage(quantity(3.2, "V"), series)  # type: ignore[arg-type]


def test_twice_the_load_runs_half_as_long() -> None:
    energy, usable = quantity(5.12, "kWh"), quantity(80, "%")
    assert run_time(energy, usable, quantity(1, "kW")).m_as("hour") == pytest.approx(4.096)
    assert run_time(energy, usable, quantity(2, "kW")).m_as("hour") == pytest.approx(2.048)


@given(st.floats(0.1, 50), st.floats(5, 100), st.floats(0.1, 4.9))
def test_the_taper_delivers_exactly_the_missing_charge(
    missing: float, current: float, cut_off: float
) -> None:
    """Integrated by scipy: the current of the taper over its time is the charge."""
    hours = taper_time(quantity(missing, "Ah"), quantity(current, "A"), quantity(cut_off, "A")).m_as("hour")
    delivered, _ = quad(lambda t: current * (cut_off / current) ** (t / hours), 0, hours)
    assert delivered == pytest.approx(missing, rel=1e-6)


@given(states, states, st.floats(50, 95))
def test_the_emptier_the_pack_the_longer_it_charges(first: float, second: float, knee: float) -> None:
    assume(abs(first - second) > 0.01)

    def hours(state: float) -> float:
        battery = quantity(210, "Ah"), quantity(30, "A"), quantity(state, "%"), quantity(knee, "%")
        return float(charge_time(*battery, quantity(5, "A")).m_as("hour"))

    assert (hours(first) > hours(second)) == (first < second)


def test_a_full_pack_needs_no_time() -> None:
    full = charge_time(
        quantity(210, "Ah"), quantity(30, "A"), quantity(100, "%"), quantity(80, "%"), quantity(5, "A")
    )
    assert full.m_as("hour") == 0


def test_lead_acid_takes_longer_by_its_charge_factor() -> None:
    battery = quantity(210, "Ah"), quantity(30, "A"), quantity(20, "%"), quantity(80, "%")
    assert constant_current_time(*battery, 1.15).m == pytest.approx(1.15 * constant_current_time(*battery).m)
    with pytest.raises(OutOfRangeError, match=r"1\.1 to 1\.2 for lead-acid"):
        constant_current_time(*battery, 2.0)


def test_a_cut_off_above_the_charging_current_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="is not below the charging current"):
        taper_time(quantity(5, "Ah"), quantity(5, "A"), quantity(5, "A"))


@given(st.floats(11.5, 13.0), st.floats(0.001, 0.2), st.floats(-10, 40))
def test_a_higher_rest_voltage_never_means_less_charge(rest: float, more: float, celsius: float) -> None:
    warm = quantity(celsius, "degC")
    assert lead_acid_state(quantity(rest + more, "V"), 6, warm) >= lead_acid_state(
        quantity(rest, "V"), 6, warm
    )


@given(st.floats(1.95, 2.15), st.integers(1, 24))
def test_the_state_is_that_of_the_cell_however_many_there_are(per_cell: float, cells: int) -> None:
    one = lead_acid_state(quantity(per_cell, "V"), 1, ROOM).m_as("percent")
    assert lead_acid_state(quantity(per_cell * cells, "V"), cells, ROOM).m_as("percent") == pytest.approx(
        one, abs=1e-6
    )


def test_a_battery_with_a_dead_cell_is_refused_and_not_called_empty() -> None:
    with pytest.raises(OutOfRangeError, match="look for a bad cell"):
        lead_acid_state(quantity(10.5, "V"), 6, ROOM)
    with pytest.raises(OutOfRangeError, match="rest the battery"):
        lead_acid_state(quantity(14.2, "V"), 6, ROOM)


@given(st.floats(2.5, 3.65), st.floats(0, 0.3))
def test_the_lifepo4_band_never_goes_down_with_the_voltage(rest: float, more: float) -> None:
    low, high = lifepo4_state_band(quantity(rest, "V"))
    higher_low, higher_high = lifepo4_state_band(quantity(min(rest + more, 3.65), "V"))
    assert low <= high
    assert low <= higher_low
    assert high <= higher_high


@pytest.mark.parametrize("rest", [2.4, 3.7, 0])
def test_a_cell_outside_its_limits_is_taken_out_of_service(rest: float) -> None:
    with pytest.raises(OutOfRangeError, match="out of service"):
        lifepo4_state_band(quantity(rest, "V"))
