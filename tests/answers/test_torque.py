"""Torque in the unit of the wrench in hand.

Outside checks: 1 lbf.ft = 1.355818 N.m and 1 lbf.in = 0.1129848 N.m (NIST SP 811 appendix B, from memory)
and the exact products of scipy.constants.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from sayso.answers import (
    Answer,
    NotUnderstood,
    choices,
    completeness,
    confusable,
    deviation,
    read_back,
    torque_in_wrench_unit,
    torque_target,
    torque_target_and_limits,
    understand,
)
from sayso.answers.answer import Completeness
from sayso.procedure.model import AskTorque
from tests.answers import ways_to_say

BUSBAR = AskTorque("busbar", 9, 8.1, 9.9)
FOOT_POUND = constants.pound_force * constants.foot
INCH_POUND = constants.pound_force * constants.inch
IN_NEWTON_METRES = {"N.m": 1.0, "lbf.ft": FOOT_POUND, "lbf.in": INCH_POUND}
SAID = {"N.m": "newton metres", "lbf.ft": "foot pounds", "lbf.in": "inch pounds"}
wrenches = st.sampled_from(["N.m", "lbf.ft", "lbf.in"])


def answer_to(said: str, wrench: str = "N.m", ask: AskTorque = BUSBAR) -> Answer:
    answer = understand(ask, said.split(), wrench=wrench)
    assert isinstance(answer, Answer), f"{said}: {answer}"
    return answer


def test_the_conversions_are_those_of_nist_sp_811() -> None:
    assert answer_to("seven foot pounds").value == pytest.approx(7 * 1.355818, rel=1e-6)
    assert answer_to("eighty inch pounds").value == pytest.approx(80 * 0.1129848, rel=1e-6)


@given(st.integers(1, 9_999), wrenches, wrenches, st.booleans())
def test_every_torque_comes_back_in_every_unit_at_every_wrench(
    tenths: int, wrench: str, spoken_in: str, unit_said: bool
) -> None:
    unit = spoken_in if unit_said else wrench
    exact = tenths / 10 * IN_NEWTON_METRES[unit]
    ask = AskTorque("wheel", exact, exact * 0.9, exact * 1.1)
    for way, value in ways_to_say.decimal_number(tenths // 10, str(tenths % 10)):
        answer = understand(ask, (*way, *(SAID[unit].split() if unit_said else ())), wrench=wrench)
        assert isinstance(answer, Answer), way
        assert answer.value == pytest.approx(exact, rel=1e-9)
        assert answer.unit == "N.m"
        assert answer.within
        if unit == "N.m":
            assert answer.said_value is None
        else:
            assert (answer.said_value, answer.said_unit) == (float(value), unit)


@pytest.mark.parametrize(
    ("said", "wrench", "value", "said_unit"),
    [
        ("nine", "N.m", 9, ""), ("nine newtons", "N.m", 9, ""), ("nine newton meters", "lbf.in", 9, ""),
        ("eighty", "lbf.in", 80 * INCH_POUND, "lbf.in"),
        ("eighty pounds", "lbf.in", 80 * INCH_POUND, "lbf.in"),
        ("one twenty inch pounds", "N.m", 120 * INCH_POUND, "lbf.in"),
        ("seven pounds", "lbf.ft", 7 * FOOT_POUND, "lbf.ft"),
        ("seven pound feet", "N.m", 7 * FOOT_POUND, "lbf.ft"),
        ("six and a half foot pounds", "N.m", 6.5 * FOOT_POUND, "lbf.ft"),
        ("nine hundred newton centimetres", "N.m", 9, "N_cm"), ("900 Ncm", "N.m", 9, "N_cm"),
        ("92 kilogram centimetres", "N.m", 92 * constants.g / 100, "kgf_cm"),
        ("80 in lb", "N.m", 80 * INCH_POUND, "lbf.in"), ("9.5 N.m", "lbf.ft", 9.5, ""),
        ("9,5", "N.m", 9.5, ""), ("9Nm", "N.m", 9, ""), ("7 ft-lb", "N.m", 7 * FOOT_POUND, "lbf.ft"),
    ],
)  # fmt: skip
def test_the_trades_ways_of_saying_a_torque(said: str, wrench: str, value: float, said_unit: str) -> None:
    answer = answer_to(said, wrench)
    assert answer.value == pytest.approx(value, rel=1e-9)
    assert answer.said_unit == said_unit


def test_pounds_at_a_newton_metre_wrench_are_not_guessed() -> None:
    for said in ("eighty pounds", "nine bar", "nine newtons of"):
        assert isinstance(understand(BUSBAR, said.split(), wrench="N.m"), NotUnderstood)
    assert isinstance(understand(BUSBAR, ("nine", "newtons"), wrench="lbf.in"), NotUnderstood)


def test_a_number_in_the_wrong_unit_is_refused_and_the_unit_asked_for() -> None:
    refused = understand(BUSBAR, ("eighty",), wrench="N.m")
    assert isinstance(refused, NotUnderstood)
    assert refused.reason == "out_of_range"
    assert "eighty inch pounds, say the unit" in refused.say


@given(st.floats(1, 300), st.floats(0.02, 0.3), wrenches)
def test_limits_as_spoken_in_the_wrenchs_unit_are_inside_the_limits(
    target: float, share: float, wrench: str
) -> None:
    """A technician who stops at the last value that sayso named is never told that it is too much."""
    ask = AskTorque("x", target, target * (1 - share), target * (1 + share))
    for value in torque_in_wrench_unit(ask, wrench):
        answer = understand(ask, (str(value),), wrench=wrench)
        assert isinstance(answer, Answer)
        assert answer.within


def test_targets_are_rounded_as_a_wrench_is_read() -> None:
    assert torque_target(BUSBAR, "N.m") == "nine newton metres"
    assert torque_target(BUSBAR, "lbf.in") == "eighty inch pounds"
    assert torque_target(BUSBAR, "lbf.ft") == "six point six foot pounds"
    assert (
        torque_target_and_limits(BUSBAR, "N.m")
        == "nine newton metres, from eight point one to nine point nine"
    )
    assert (
        torque_target_and_limits(BUSBAR, "lbf.ft")
        == "six point six foot pounds, from six to seven point three"
    )
    small = AskTorque("terminal", 0.8, 0.8 * 0.9, 0.8 * 1.1)
    assert torque_target_and_limits(small, "N.m") == (
        "zero point eight newton metres, from zero point seven two to zero point eight eight"
    )
    nut = AskTorque("hub", 340, 306, 374)
    assert torque_target(nut, "lbf.in") == "three thousand and ten inch pounds"
    assert "eighty inch pounds" in choices(BUSBAR, wrench="lbf.in")


def test_at_torque_records_the_target_and_is_always_read_back() -> None:
    for said in ("at torque", "on the mark", "it clicked"):
        answer = answer_to(said, "lbf.in")
        assert (answer.value, answer.said_value, answer.said_unit) == (9.0, 80.0, "lbf.in")
        assert answer.said == tuple(said.split())
        assert confusable(BUSBAR, answer)
        assert read_back(BUSBAR, answer) == "At torque, eighty, eight zero inch pounds. Yes?"
    # done is no torque
    assert isinstance(understand(BUSBAR, ("done",)), NotUnderstood)


def test_a_fastener_that_keeps_turning_has_reached_nothing_and_is_read_back() -> None:
    """No wrench shows a number for a stripped thread; below a quarter of the target none is taken."""
    assert isinstance(understand(BUSBAR, ("two",)), NotUnderstood)
    for said in ("it keeps turning", "the thread is stripped", "stripped"):
        answer = answer_to(said, "lbf.in")
        assert (answer.value, answer.said_value, answer.said_unit) == (0.0, 0.0, "lbf.in")
        assert not answer.within
        assert answer.said == tuple(said.split())
        assert confusable(BUSBAR, answer)
        assert read_back(BUSBAR, answer) == (
            "It keeps turning, zero inch pounds, below the limit of seventy two inch pounds. Yes?"
        )
    assert completeness(BUSBAR, ("keeps",)) == Completeness(False, True)
    assert completeness(BUSBAR, ("keeps", "turning")) == Completeness(True, False)


def test_a_torque_outside_its_limits_is_a_deviation() -> None:
    answer = answer_to("twelve")
    assert not answer.within
    assert deviation(BUSBAR, answer) == "above the limit of nine point nine newton metres"
    assert read_back(BUSBAR, answer) == (
        "Twelve newton metres, above the limit of nine point nine newton metres. Yes?"
    )
    assert deviation(BUSBAR, answer_to("four")) == "below the limit of eight point one newton metres"


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("nine", Completeness(True, True)),
        ("nine newton", Completeness(True, True)),
        ("nine newton metres", Completeness(True, False)),
        ("eighty inch pounds", Completeness(True, False)),
        ("at torque", Completeness(True, False)),
        ("eighty inch", Completeness(False, True)),
    ],
)
def test_the_unit_ends_a_torque(said: str, expected: Completeness) -> None:
    assert completeness(BUSBAR, said.split()) == expected


@given(st.lists(st.tuples(st.integers(1, 999), wrenches), min_size=2, max_size=2))
def test_two_torques_never_have_the_same_read_back(pair: list[tuple[int, str]]) -> None:
    ask = AskTorque("x", 50, 45, 55)
    answers = [understand(ask, (str(n), SAID[unit])) for n, unit in pair]
    if all(isinstance(a, Answer) for a in answers):
        first, second = (a for a in answers if isinstance(a, Answer))
        if first.value != second.value:
            assert read_back(ask, first) != read_back(ask, second)


@pytest.mark.parametrize(
    "said", ["nine each", "all at nine", "all 9", "9 newton metres each", "each at 9 Nm", "nine all round"]
)
def test_what_holds_for_each_fastener_is_taken_as_it_is_asked(said: str) -> None:
    """sayso asks "each of the 4 fasteners. What does the wrench read?", and people answer in its words."""
    answer = answer_to(said)
    assert answer.value == pytest.approx(9.0)
    assert answer.said == tuple(said.split())


def test_all_of_them_clicked() -> None:
    assert answer_to("they all clicked").value == answer_to("all clicked").value == BUSBAR.target
    for said in ("all but one clicked", "nine on three of them"):
        assert isinstance(understand(BUSBAR, said.split(), wrench="N.m"), NotUnderstood)


def test_the_pounds_of_a_wrench_as_they_are_typed() -> None:
    assert answer_to("80 inch lbs").value == pytest.approx(80 * INCH_POUND)
    assert answer_to("7 foot lbs").value == pytest.approx(7 * FOOT_POUND)
    assert answer_to("7 lbs", wrench="lbf.ft").value == pytest.approx(7 * FOOT_POUND)
    refused = understand(BUSBAR, ("9", "lbs"), wrench="N.m")
    assert isinstance(refused, NotUnderstood)


@pytest.mark.parametrize("typed", ["9 9 8.5 9", "9, 9, 8.5, 9", "9 but one 8"])
def test_several_torques_for_several_fasteners_are_told_which_one_to_give(typed: str) -> None:
    four = AskTorque("busbars", 9, 8.1, 9.9, fasteners=4)
    refused = understand(four, (typed,), wrench="N.m")
    assert isinstance(refused, NotUnderstood)
    assert refused.say.endswith(
        "need one torque for all 4 fasteners: the one farthest from nine newton metres."
    )
    alone = understand(BUSBAR, (typed,), wrench="N.m")
    assert isinstance(alone, NotUnderstood)
    assert "farthest" not in alone.say
