"""The values of the demo procedures against published tables and relations, worked out here by hand."""

from __future__ import annotations

from pathlib import Path

import pytest
import scipy.constants as si

from sayso.procedure import read
from sayso.procedure.model import AskMeasure, AskTorque, Procedure

DEMOS = Path(__file__).parents[2] / "procedures"

#: Nominal stress areas in mm2 (ISO 898-1, tables on coarse threads; from memory, M6 in ANCHORS second hand)
#: and in square inches (ASME B1.1; from memory).
STRESS_AREA = {"M6": 20.1, "M8": 36.6, "M10": 58.0, "M12": 84.3}
STRESS_AREA_INCH = {"1/4-20": 0.0318, "3/8-16": 0.0775}
PROOF_8_8 = 580.0  # MPa, ISO 898-1 for class 8.8 up to M16
PROOF_GRADE_5 = 85_000.0  # lbf/in2, SAE J429


def demo(name: str) -> Procedure:
    return read(DEMOS / f"{name}.yaml")


def metric(size: str) -> float:
    """T = K F d with K = 0.2 and 75 % of the proof load, in N.m."""
    return 0.2 * 0.75 * PROOF_8_8 * STRESS_AREA[size] * float(size[1:]) / 1000


def inch(size: str, diameter: float) -> float:
    pounds_inch = 0.2 * 0.75 * PROOF_GRADE_5 * STRESS_AREA_INCH[size] * diameter
    return pounds_inch * si.pound_force * si.inch


@pytest.mark.parametrize(
    ("name", "step", "expected"),
    [
        ("wren-48-drive-controller", "cable-torque-b-plus", metric("M8")),
        ("wren-48-drive-controller", "mount", inch("1/4-20", 0.25)),
        ("wren-48-drive-controller", "earth-strap", 9.5),  # M6 8.8, strokeforge.tech eng-008, second hand
        ("wren-48-brake-adjustment", "lock-nuts-top", 9.5),
        ("heron-80-battery-change", "stop-bolt-left", metric("M10")),
        ("wren-48-wheel-bearing", "nuts", metric("M12")),
        ("annual-torque-audit", "torque-motor-front", metric("M12")),
        ("annual-torque-audit", "torque-axle-left", metric("M10")),
        ("annual-torque-audit", "torque-steering", metric("M8")),
        ("annual-torque-audit", "torque-hitch-upper", inch("3/8-16", 0.375)),
        ("annual-torque-audit", "torque-pedal", inch("1/4-20", 0.25)),
    ],
)
def test_torques_are_those_of_the_bolt_and_never_more_than_a_little_above(
    name: str, step: str, expected: float
) -> None:
    ask = demo(name).step(step).ask
    assert isinstance(ask, AskTorque)
    assert 0.93 * expected <= ask.target <= 1.03 * expected


def test_the_bus_of_the_demo_is_right_with_two_terminations_and_wrong_with_one_or_three() -> None:
    """Equal resistors in parallel: 120, 60 and 40 ohm for one, two and three (ISO 11898-2 asks for two)."""
    ask = demo("wren-48-drive-controller").step("bus").ask
    assert isinstance(ask, AskMeasure)
    assert ask.at_least is not None
    assert ask.at_most is not None
    within = [ask.at_least <= 120 / fitted <= ask.at_most for fitted in (1, 2, 3)]
    assert within == [False, True, False]


def test_the_lead_acid_battery_of_the_demo_is_taken_full_and_refused_empty() -> None:
    """40 cells: 12.65 V on six cells is full, 11.89 V empty (Battery Council International, second hand)."""
    ask = demo("heron-80-battery-change").step("new-voltage").ask
    assert isinstance(ask, AskMeasure)
    assert ask.at_least is not None
    assert ask.at_most is not None
    assert ask.at_least <= 12.65 / 6 * 40 <= ask.at_most
    assert 11.89 / 6 * 40 < ask.at_least  # noqa: SIM300


def test_the_speed_of_the_demo_is_that_of_the_wheel() -> None:
    """410 mm and 20 to 1 at 1000 turns: pi x 0.41 m x 50 turns a minute = 3.86 km/h, by hand."""
    from sayso.procedure.conditions import evaluate

    step = demo("wren-48-drive-controller").step("speed")
    answers = {"wheel_diameter": 410.0, "ratio": 20}
    assert evaluate(step.expect, answers) == pytest.approx(3.864, abs=0.001)
    for speed, target in ((3.86, "lower"), (4.2, "speed-setting"), (3.5, "speed-setting")):
        cases = [c.target for c in step.then.cases if evaluate(c.when, {**answers, "speed": speed})]
        assert (cases or [step.then.otherwise])[0] == target


def test_the_order_of_making_safe_is_that_of_the_lockout_rule() -> None:
    """29 CFR 1910.147(d): shut down, isolate, lock and tag, relieve stored energy, verify (second hand)."""
    found = demo("wren-48-drive-controller")
    order = ["key-out", "connector-apart", "lock-and-tag", "prove-meter", "discharge", "controller-out"]
    places = [found.position(step) for step in order]
    assert places == sorted(places)
    assert found.position("discharge") < found.position("cable-off-b-minus")
