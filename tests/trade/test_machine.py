"""Wheels, stacking, lifting and insulation."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from sayso.trade.insulation import RULES, insulation_from_voltages, smallest_insulation
from sayso.trade.lifting import frequency_multiplier, lifting_index, recommended_weight_limit
from sayso.trade.limits import NotInTableError, OutOfRangeError
from sayso.trade.stacking import (
    StackItem,
    centre_of_mass_height,
    is_slender,
    most_tiers,
    stack_order,
    tipping_angle,
)
from sayso.trade.units import Quantity, quantity
from sayso.trade.wheel import (
    ground_speed,
    motor_speed,
    reading_correction,
    revolutions,
    rolling_circumference,
    tyre_diameter,
)

ratios = st.floats(0.5, 40)
diameters = st.floats(100, 2000)
speeds = st.floats(0.1, 60)


# ---------------------------------------------------------------- wheels
@given(speeds, ratios, diameters)
def test_the_motor_speed_for_a_ground_speed_gives_that_speed(
    speed: float, ratio: float, diameter: float
) -> None:
    around = rolling_circumference(quantity(diameter, "mm"), quantity(3, "%"))
    turns = motor_speed(quantity(speed, "km/h"), ratio, around)
    if turns.m_as("rpm") <= 50_000:
        assert ground_speed(turns, ratio, around).m_as("km/h") == pytest.approx(speed, rel=1e-9)


@given(st.floats(100, 5000), ratios, ratios, diameters, diameters)
def test_the_correction_is_true_speed_over_shown_speed(
    turns: float, old_ratio: float, new_ratio: float, old: float, new: float
) -> None:
    motor, squash = quantity(turns, "rpm"), quantity(3, "%")
    shown = ground_speed(motor, old_ratio, rolling_circumference(quantity(old, "mm"), squash))
    true = ground_speed(motor, new_ratio, rolling_circumference(quantity(new, "mm"), squash))
    factor = reading_correction(quantity(old, "mm"), quantity(new, "mm"), old_ratio, new_ratio)
    assert shown.m_as("km/h") * factor == pytest.approx(true.m_as("km/h"), rel=1e-9)


@given(diameters, diameters, ratios, ratios)
def test_changing_back_undoes_the_correction(
    old: float, new: float, old_ratio: float, new_ratio: float
) -> None:
    there = reading_correction(quantity(old, "mm"), quantity(new, "mm"), old_ratio, new_ratio)
    back = reading_correction(quantity(new, "mm"), quantity(old, "mm"), new_ratio, old_ratio)
    assert there * back == pytest.approx(1)


@given(st.floats(1, 5000), diameters)
def test_miles_and_metres_give_the_same_turns(miles: float, diameter: float) -> None:
    around = rolling_circumference(quantity(diameter, "mm"), quantity(0, "%"))
    in_metres = revolutions(quantity(miles * 1609.344, "m"), around)
    assert revolutions(quantity(miles, "mile"), around) == pytest.approx(in_metres, rel=1e-12)


def test_a_rim_is_read_in_inches() -> None:
    tyre = tyre_diameter(quantity(205, "mm"), quantity(75, "%"), quantity(14, "in"))
    assert tyre.m_as("mm") == pytest.approx(663.1)


@pytest.mark.parametrize("ratio", [0, -3, 501, math.nan])
def test_a_ratio_that_cannot_be_is_refused(ratio: float) -> None:
    with pytest.raises(OutOfRangeError, match="motor turns for one turn of the wheel"):
        ground_speed(quantity(3000, "rpm"), ratio, quantity(1, "m"))


# ---------------------------------------------------------------- stacking
def item(name: str, mass: float, may_carry: float, height: float = 300) -> StackItem:
    return StackItem(name, quantity(mass, "kg"), quantity(may_carry, "kg"), quantity(height, "mm"))


weights = st.lists(st.tuples(st.integers(1, 60), st.integers(0, 120)), min_size=1, max_size=5)


def carries(order: tuple[tuple[int, int], ...]) -> bool:
    """By hand: each box (mass, may carry), lowest first, against the sum of what is above it."""
    return all(
        sum(mass for mass, _ in order[at + 1 :]) <= may_carry for at, (_, may_carry) in enumerate(order)
    )


@given(weights)
def test_an_order_is_found_exactly_when_one_exists(boxes: list[tuple[int, int]]) -> None:
    one_exists = any(carries(order) for order in itertools.permutations(boxes))
    try:
        found = stack_order([item("box", *box) for box in boxes])
    except OutOfRangeError:
        assert not one_exists
    else:
        assert one_exists
        as_numbers = tuple((int(box.mass.m), int(box.may_carry.m)) for box in found)
        assert carries(as_numbers)
        assert sorted(as_numbers) == sorted(boxes)


@given(st.lists(st.integers(1, 60), min_size=1, max_size=5))
def test_of_equally_high_boxes_the_heaviest_lowest_has_the_lowest_centre(masses: list[int]) -> None:
    def centre(order: tuple[int, ...]) -> float:
        return sum(mass * (300 * at + 150) for at, mass in enumerate(order)) / sum(order)

    found = stack_order([item("box", mass, 1000) for mass in masses])
    assert [int(box.mass.m) for box in found] == sorted(masses, reverse=True)
    lowest = min(centre(order) for order in itertools.permutations(masses))
    assert centre_of_mass_height(found).m_as("mm") == pytest.approx(lowest)


def test_a_strong_light_box_goes_below_a_weak_heavy_one() -> None:
    found = stack_order([item("charger", 40, 0), item("crate", 25, 100)])
    assert [box.name for box in found] == ["crate", "charger"]


def test_a_stack_that_crushes_a_box_in_every_order_is_refused_with_its_name() -> None:
    with pytest.raises(OutOfRangeError, match=r"module may carry 5 kg\. Make two stacks"):
        stack_order([item("display", 10, 5), item("module", 30, 5)])


def test_the_centre_of_two_equal_boxes_is_where_they_touch() -> None:
    assert centre_of_mass_height([item("a", 10, 99, 400), item("b", 10, 99, 400)]).m_as(
        "mm"
    ) == pytest.approx(400)


@given(st.floats(100, 2000), st.floats(100, 3000), st.floats(1, 500))
def test_the_higher_the_centre_the_sooner_it_tips(base: float, height: float, more: float) -> None:
    width = quantity(base, "mm")
    assert tipping_angle(width, quantity(height + more, "mm")) < tipping_angle(width, quantity(height, "mm"))


@given(st.integers(2, 20), st.floats(1, 50), st.floats(1, 5))
def test_a_box_stronger_than_the_load_allows_the_tiers(tiers: int, mass: float, factor: float) -> None:
    strength = quantity((tiers - 1) * mass * factor, "kg")
    assert most_tiers(quantity(mass, "kg"), strength * 1.001, factor) >= tiers
    assert most_tiers(quantity(mass, "kg"), strength * 0.999, factor) < tiers


def test_interlocked_stacks_may_be_higher() -> None:
    size = quantity(3.5, "m"), quantity(1, "m")
    assert is_slender(*size)
    assert not is_slender(*size, interlocked=True)


# ---------------------------------------------------------------- lifting
def limit(
    reach: float = 25, height: float = 75, travel: float = 25, twist: float = 0, rate: float = 0.2,
    hours: float = 1, grip: str = "good",
) -> Quantity:  # fmt: skip
    return recommended_weight_limit(
        quantity(reach, "cm"), quantity(height, "cm"), quantity(travel, "cm"), quantity(twist, "degree"),
        rate, quantity(hours, "hour"), grip,
    )  # fmt: skip


def test_the_best_lift_of_all_is_23_kilograms() -> None:
    """NIOSH 94-110 section 1.3: load constant 23 kg or 51 lb (second hand)."""
    assert limit().m_as("kg") == pytest.approx(23.0)


# The manual's own tables, second hand (solutioninn.com 17705356): multipliers to two places.
@pytest.mark.parametrize(("changed", "multiplier"), [
    ({"reach": 28}, 0.89), ({"reach": 40}, 0.63), ({"reach": 50}, 0.50), ({"reach": 63}, 0.40),
    ({"height": 0}, 0.78), ({"height": 30}, 0.87), ({"height": 100}, 0.93), ({"height": 175}, 0.70),
    ({"travel": 40}, 0.93), ({"travel": 70}, 0.88), ({"travel": 175}, 0.85),
    ({"twist": 15}, 0.95), ({"twist": 45}, 0.86), ({"twist": 90}, 0.71), ({"twist": 135}, 0.57),
    ({"rate": 1}, 0.94), ({"rate": 0.5, "hours": 2}, 0.92), ({"rate": 0.5, "hours": 8}, 0.81),
    ({"rate": 15}, 0.28), ({"rate": 10, "hours": 8}, 0.13), ({"grip": "poor"}, 0.90),
])  # fmt: skip
def test_each_multiplier_is_that_of_the_manual(changed: dict[str, float], multiplier: float) -> None:
    assert limit(**changed).m_as("kg") / 23.0 == pytest.approx(multiplier, abs=0.0055)  # type: ignore[arg-type]


def test_a_fair_grip_counts_only_below_75_centimetres() -> None:
    assert limit(grip="fair").m == limit(grip="good").m
    assert limit(height=60, grip="fair").m == pytest.approx(0.95 * limit(height=60).m)


@given(st.floats(25, 60), st.floats(0, 170), st.floats(25, 170), st.floats(0, 130), st.floats(0.1, 3))
def test_reaching_further_or_twisting_more_never_raises_the_limit(
    reach: float, height: float, travel: float, twist: float, more: float
) -> None:
    here = limit(reach, height, travel, twist)
    assert limit(reach + more, height, travel, twist) < here
    assert limit(reach, height, travel, twist + more) < here
    assert limit(reach, height, travel + more, twist) <= here


@given(st.floats(0, 15), st.floats(0, 15), st.sampled_from([0.5, 1.5, 6.0]), st.sampled_from([40.0, 100.0]))
def test_lifting_more_often_never_raises_the_multiplier(
    first: float, second: float, hours: float, height: float
) -> None:
    slow, fast = sorted((first, second))
    time, start = quantity(hours, "hour"), quantity(height, "cm")
    try:
        multiplier = frequency_multiplier(fast, time, start)
    except OutOfRangeError:
        return
    assert multiplier <= frequency_multiplier(slow, time, start)


@pytest.mark.parametrize(("changed", "says"), [
    ({"reach": 64}, "bring the load closer"), ({"height": 180}, "use a platform or a hoist"),
    ({"travel": 176}, "lift in two stages"), ({"twist": 136}, "move the feet"),
    ({"rate": 16}, "lift less often"), ({"rate": 9, "hours": 8, "height": 40}, "lift less often"),
    ({"hours": 9}, "share the work out"),
])  # fmt: skip
def test_where_nothing_should_be_lifted_it_says_what_to_do(changed: dict[str, float], says: str) -> None:
    with pytest.raises(OutOfRangeError, match=says):
        limit(**changed)  # type: ignore[arg-type]


def test_an_unknown_grip_is_refused() -> None:
    with pytest.raises(NotInTableError, match="lists good, fair, poor"):
        limit(grip="slippery")


def test_the_index_is_one_at_the_limit_in_any_unit() -> None:
    assert lifting_index(quantity(23 / 0.45359237, "lb"), quantity(23, "kg")) == pytest.approx(1)


# ---------------------------------------------------------------- insulation
resistances = st.floats(1e3, 1e7)


@given(st.floats(24, 800), resistances, resistances, resistances)
def test_two_readings_find_the_worse_side_of_any_pack(
    pack: float, positive: float, negative: float, known: float
) -> None:
    """The two insulation resistances form a divider; the readings come from Kirchhoff's laws."""
    better, worse = max(positive, negative), min(positive, negative)
    with_known = better * known / (better + known)
    before = pack * better / (better + worse)
    after = pack * with_known / (with_known + worse)
    assume(before - after > 1e-6 * pack)
    found = insulation_from_voltages(
        quantity(pack, "V"), quantity(min(before, pack), "V"), quantity(after, "V"), quantity(known, "ohm")
    )
    assert found.m_as("ohm") == pytest.approx(worse, rel=1e-6)


def test_a_reading_that_does_not_move_points_to_the_contact() -> None:
    with pytest.raises(OutOfRangeError, match="check the contact first"):
        insulation_from_voltages(
            quantity(48, "V"), quantity(40, "V"), quantity(40, "V"), quantity(50, "kohm")
        )


def test_the_lower_of_the_two_poles_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="measure from the pole that reads higher"):
        insulation_from_voltages(quantity(48, "V"), quantity(10, "V"), quantity(5, "V"), quantity(50, "kohm"))


@pytest.mark.parametrize("rule", [*RULES])
def test_every_rule_names_its_source_and_grows_with_the_voltage(rule: str) -> None:
    assert "second hand" in RULES[rule].source
    assert smallest_insulation(quantity(80, "V"), rule) > smallest_insulation(quantity(48, "V"), rule)


def test_an_unknown_rule_is_refused() -> None:
    with pytest.raises(NotInTableError, match="road vehicle dc, road vehicle ac, truck, truck battery"):
        smallest_insulation(quantity(48, "V"), "boat")
