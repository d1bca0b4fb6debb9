"""Torque bands, wrench scales and adapters."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sayso.trade.limits import OutOfRangeError, WrongUnitError
from sayso.trade.torque_adapter import leverage, setting_for_torque, torque_at_fastener
from sayso.trade.torque_units import (
    convert_torque,
    is_within_band,
    nearest_setting,
    setting_within_band,
    torque_band,
    wrench_covers,
)
from sayso.trade.units import parse_unit, quantity

torques = st.floats(0.5, 1000)
lengths = st.floats(100, 1500)
adapters = st.floats(0, 85)
angles = st.floats(0, 180)
torque_units = st.sampled_from(["N.m", "lbf.ft", "lbf.in", "kgf.m"])


@given(torques, st.floats(0, 50), torque_units)
def test_both_ends_of_a_band_and_the_target_are_inside_it_in_every_unit(
    number: float, share: float, unit: str
) -> None:
    target, within = quantity(number, "N.m"), quantity(share, "%")
    for torque in (target, *torque_band(target, within)):
        assert is_within_band(convert_torque(torque, parse_unit(unit)), target, within)


@given(torques, st.floats(1, 50))
def test_a_torque_just_outside_a_band_is_outside(number: float, share: float) -> None:
    target, within = quantity(number, "N.m"), quantity(share, "%")
    low, high = torque_band(target, within)
    assert not is_within_band(low * 0.999, target, within)
    assert not is_within_band(high * 1.001, target, within)


@given(st.floats(1, 300), torque_units, st.sampled_from([0.1, 0.5, 1.0, 5.0]))
def test_the_nearest_mark_is_a_mark_and_no_mark_is_nearer(number: float, unit: str, step: float) -> None:
    target = quantity(number, "N.m")
    setting = nearest_setting(target, parse_unit(unit), step)
    marks = setting.m_as(parse_unit(unit)) / step
    assert marks == pytest.approx(round(marks), abs=1e-6)
    assert abs(setting.m_as(parse_unit(unit)) - target.m_as(parse_unit(unit))) <= step / 2 + 1e-6


def test_a_coarse_scale_without_a_mark_in_the_band_is_refused() -> None:
    with pytest.raises(
        OutOfRangeError, match=r"no mark of a scale with steps of 5 lbf·ft lies within .* finer scale"
    ):
        setting_within_band(quantity(9, "N.m"), quantity(10, "%"), parse_unit("lbf.ft"), 5)
    fine = setting_within_band(quantity(9, "N.m"), quantity(10, "%"), parse_unit("lbf.in"), 5)
    assert fine.m_as("lbf_in") == 80


def test_marks_the_wrong_way_round_are_refused() -> None:
    with pytest.raises(OutOfRangeError, match="swap the two marks"):
        wrench_covers(quantity(9, "N.m"), quantity(50, "N.m"), quantity(10, "N.m"))


@given(torques, lengths, adapters, angles)
def test_the_setting_for_a_torque_gives_that_torque(
    torque: float, wrench: float, adapter: float, angle: float
) -> None:
    tool = quantity(wrench, "mm"), quantity(adapter, "mm"), quantity(angle, "degree")
    setting = setting_for_torque(quantity(torque, "N.m"), *tool)
    assert torque_at_fastener(setting, *tool).m_as("N*m") == pytest.approx(torque, rel=1e-9)


@given(torques, lengths, st.floats(0, 300))
def test_square_to_the_handle_an_adapter_changes_nothing(
    torque: float, wrench: float, adapter: float
) -> None:
    tool = quantity(wrench, "mm"), quantity(adapter, "mm"), quantity(90, "degree")
    assert setting_for_torque(quantity(torque, "N.m"), *tool).m_as("N*m") == torque


@given(lengths, st.floats(1, 85), st.floats(0, 179), st.floats(0.5, 90))
def test_the_more_an_adapter_is_folded_back_the_less_the_fastener_gets(
    wrench: float, adapter: float, angle: float, more: float
) -> None:
    further = min(angle + more, 180.0)
    tool = quantity(wrench, "mm"), quantity(adapter, "mm")
    assert leverage(*tool, quantity(further, "degree")) < leverage(*tool, quantity(angle, "degree"))


@given(torques, st.floats(5, 40), st.floats(0, 4), angles)
def test_inches_and_foot_pounds_give_the_same_setting(
    torque: float, wrench: float, adapter: float, angle: float
) -> None:
    turned = quantity(angle, "degree")
    metric = setting_for_torque(
        quantity(torque * 1.3558179483314, "N.m"),
        quantity(wrench * 25.4, "mm"),
        quantity(adapter * 25.4, "mm"),
        turned,
    )
    inch = setting_for_torque(
        quantity(torque, "lbf.ft"), quantity(wrench, "in"), quantity(adapter, "in"), turned
    )
    assert inch.units == parse_unit("lbf.ft")
    assert inch.m_as("N*m") == pytest.approx(metric.m_as("N*m"), rel=1e-9)


def test_an_adapter_folded_back_over_the_whole_wrench_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="use a shorter adapter or turn it to 90°"):
        leverage(quantity(300, "mm"), quantity(290, "mm"), quantity(180, "degree"))


@pytest.mark.parametrize(
    ("wrench", "adapter", "angle", "says"),
    [(4, 50, 0, "middle of the grip"), (400, 1001, 0, "middle of the fastener"),
     (400, 50, 200, "folded back"), (400, -1, 0, "middle of the fastener")],
)  # fmt: skip
def test_a_length_or_angle_out_of_range_says_how_to_measure(
    wrench: float, adapter: float, angle: float, says: str
) -> None:
    with pytest.raises(OutOfRangeError, match=says):
        leverage(quantity(wrench, "mm"), quantity(adapter, "mm"), quantity(angle, "degree"))


def test_a_length_where_a_torque_belongs_is_refused() -> None:
    with pytest.raises(WrongUnitError, match="torque"):
        convert_torque(quantity(9, "mm"), parse_unit("N.m"))
