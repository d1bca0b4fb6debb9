"""Wire: gauges, resistance, voltage drop and ampacity."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sayso.trade.ampacity import EDITION, ambient_factor, ampacity, table_ampacity
from sayso.trade.limits import NotInTableError, OutOfRangeError
from sayso.trade.units import quantity
from sayso.trade.voltage_drop import area_for_drop, drop_share, longest_run, two_wire_drop
from sayso.trade.wire_gauge import gauge_area, gauge_at_least, gauge_diameter, gauge_number
from sayso.trade.wire_resistance import (
    IEC_60228_OHM_PER_KM,
    NEC_TABLE_8_OHM_PER_KFT,
    copper_resistance,
    gauge_resistance,
    iec_cable_resistance,
    nec_resistance,
    resistance_at,
)

KFT = quantity(1000, "ft")
gauges = st.sampled_from(["4/0", "3/0", "2/0", "1/0", *(str(number) for number in range(1, 41))])
currents = st.floats(0.1, 600)
runs = st.floats(0.1, 100)


@pytest.mark.parametrize(("written", "number"), [
    ("4/0", -3), ("0000", -3), ("2/0 AWG", -1), ("1/0", 0), ("0", 0), (0, 0), ("4", 4), ("4 awg", 4),
    (12, 12),
])  # fmt: skip
def test_a_gauge_is_read_however_it_is_written(written: str | int, number: int) -> None:
    assert gauge_number(written) == number


@pytest.mark.parametrize("written", ["5/0", "41", "-1", "250 kcmil", "", "2/1"])
def test_a_gauge_outside_the_formula_is_refused(written: str) -> None:
    with pytest.raises(NotInTableError, match="read the print on the cable"):
        gauge_number(written)


@given(gauges)
def test_six_gauges_halve_the_diameter_and_three_the_area(gauge: str) -> None:
    """The handbook rule of thumb (NBS Handbook 100, from memory); exact would be 92^(6/39) = 2.005."""
    number = gauge_number(gauge)
    if number + 6 <= 40 and number >= 1:
        assert gauge_diameter(number).m / gauge_diameter(number + 6).m == pytest.approx(2, rel=0.003)
        assert gauge_area(number).m / gauge_area(number + 3).m == pytest.approx(2, rel=0.006)


@given(st.floats(0.006, 107.0))
def test_the_gauge_for_an_area_has_it_and_the_next_thinner_one_has_not(area: float) -> None:
    gauge = gauge_at_least(quantity(area, "mm**2"))
    assert gauge_area(gauge).m >= area * (1 - 1e-9)
    thinner = gauge_number(gauge) + 1
    if 1 <= thinner <= 40:
        assert gauge_area(thinner).m < area


def test_more_copper_than_the_thickest_gauge_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="use two cables or a kcmil size"):
        gauge_at_least(quantity(120, "mm**2"))


@pytest.mark.parametrize("gauge", ["6", "4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0"])
def test_the_stranded_rows_of_nec_table_8_are_solid_copper_and_two_percent(gauge: str) -> None:
    """ASTM B8 adds 2 % for the lay of the strands (from memory)."""
    solid = gauge_resistance(gauge, KFT, quantity(75, "degC")).m_as("ohm")
    assert NEC_TABLE_8_OHM_PER_KFT[gauge] / solid == pytest.approx(1.02, abs=0.003)


@pytest.mark.parametrize("conductor_class", ["2", "5"])
def test_no_iec_conductor_has_less_resistance_than_its_copper(conductor_class: str) -> None:
    for area in IEC_60228_OHM_PER_KM[conductor_class]:
        size, length = quantity(area, "mm**2"), quantity(1, "km")
        solid = copper_resistance(size, length, quantity(20, "degC")).m
        assert 1.0 < iec_cable_resistance(size, conductor_class, length).m / solid < 1.17


@given(st.floats(0.1, 400), runs, st.floats(-40, 140), st.floats(-40, 140))
def test_resistance_brought_to_another_temperature_is_the_resistance_there(
    area: float, length: float, first: float, second: float
) -> None:
    def at(celsius: float) -> float:
        size, run = quantity(area, "mm**2"), quantity(length, "m")
        return float(copper_resistance(size, run, quantity(celsius, "degC")).m_as("ohm"))

    moved = resistance_at(quantity(at(first), "ohm"), quantity(first, "degC"), quantity(second, "degC"))
    assert moved.m_as("ohm") == pytest.approx(at(second), rel=1e-9)


@given(currents, runs, st.floats(0.05, 10))
def test_the_longest_run_has_exactly_the_allowed_drop(current: float, length: float, per_km: float) -> None:
    amps, resistance = quantity(current, "A"), quantity(per_km, "ohm/km")
    drop = two_wire_drop(amps, quantity(length, "m"), resistance)
    if drop.m_as("V") >= 0.001:
        assert longest_run(amps, drop, resistance).m_as("m") == pytest.approx(length, rel=1e-9)


@given(currents, runs, st.floats(0.1, 10), st.floats(-20, 120))
def test_a_cable_of_the_area_for_a_drop_has_that_drop(
    current: float, length: float, drop: float, celsius: float
) -> None:
    amps, run, warm = quantity(current, "A"), quantity(length, "m"), quantity(celsius, "degC")
    area = area_for_drop(amps, run, quantity(drop, "V"), warm)
    if 0.001 <= area.m_as("mm**2") <= 2000:
        per_km = copper_resistance(area, quantity(1, "km"), warm) / quantity(1, "km")
        assert two_wire_drop(amps, run, per_km).m_as("V") == pytest.approx(drop, rel=1e-9)


def test_feet_and_metres_give_the_same_drop() -> None:
    feet = two_wire_drop(quantity(200, "A"), quantity(10, "ft"), nec_resistance("2/0", KFT) / KFT)
    metres = two_wire_drop(quantity(200, "A"), quantity(3.048, "m"), quantity(0.0967 / 0.3048, "ohm/km"))
    assert feet.m_as("V") == pytest.approx(metres.m_as("V"), rel=1e-12)
    assert drop_share(feet, quantity(48, "V")).m_as("percent") == pytest.approx(0.806, abs=0.001)


@given(
    st.sampled_from(["14", "10", "6", "2", "4/0"]),
    st.sampled_from([60, 75, 90]),
    st.floats(-20, 54),
    st.floats(0.1, 1),
)
def test_hotter_air_leaves_less_ampacity(gauge: str, column: int, ambient: float, more: float) -> None:
    insulation = quantity(column, "degC")
    cool, hot = (ampacity(gauge, insulation, quantity(air, "degC")) for air in (ambient, ambient + more))
    assert hot < cool


def test_at_thirty_degrees_the_table_value_holds() -> None:
    assert ampacity("2/0", quantity(75, "degC"), quantity(30, "degC")).m_as("A") == pytest.approx(175)
    assert table_ampacity("2/0", quantity(167, "degF")).m_as("A") == 175


def test_the_edition_is_named() -> None:
    assert "2023" in EDITION
    assert "310.16" in EDITION


@pytest.mark.parametrize(("gauge", "column", "says"), [
    ("22", 75, "ask an electrician"), ("2", 80, "lists 60, 75, 90"), ("2", 105, "lists 60, 75, 90"),
])  # fmt: skip
def test_what_the_ampacity_table_does_not_list_is_refused(gauge: str, column: int, says: str) -> None:
    with pytest.raises(NotInTableError, match=says):
        table_ampacity(gauge, quantity(column, "degC"))


def test_air_as_hot_as_the_insulation_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="below the insulation's"):
        ambient_factor(quantity(75, "degC"), quantity(75, "degC"))


@pytest.mark.parametrize(("area", "kind", "says"), [
    (20, "2", "take the area printed on the cable"), (25, "1", "conductor class 1 is not in the table"),
])  # fmt: skip
def test_a_cable_that_iec_60228_does_not_list_is_refused(area: float, kind: str, says: str) -> None:
    with pytest.raises(NotInTableError, match=says):
        iec_cable_resistance(quantity(area, "mm**2"), kind, quantity(1, "m"))


def test_a_gauge_that_nec_table_8_does_not_list_is_refused() -> None:
    with pytest.raises(NotInTableError, match="use gauge_resistance instead"):
        nec_resistance("22", KFT)
