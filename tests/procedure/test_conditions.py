"""Conditions in CEL: the language's own examples, what an answer not given means, the trade's functions."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sayso.procedure import conditions
from sayso.procedure.conditions import ConditionError, MissingAnswer, check_syntax, evaluate, value_of
from sayso.procedure.meant_condition import meant
from sayso.procedure.problems import ProcedureError
from sayso.procedure.reading import read_kept
from tests.procedure.kept import with_steps

ANSWERS = {"pins": 8, "gap": 1.5, "axle": "heavy", "locked": True, "serial": "KD123456"}


@pytest.mark.parametrize(
    ("source", "value"),
    [
        ("answers.pins == 8", True),
        ("answers.gap > 1", True),
        ("answers.gap >= 1.5 && answers.gap <= 2", True),
        ("answers.pins in [8, 12]", True),
        ("answers.gap in [1, 2]", False),
        ('answers.axle == "heavy" ? 2 : 1', 2),
        ('answers.serial.startsWith("KD")', True),
        ("!answers.locked", False),
        ("answers.pins * 2.5", 20.0),
        ("answers.pins / 2", 4),
        ('answers["axle"] == "heavy"', True),
        ("[answers.gap, 2.0].exists(x, x > 1.9)", True),
        ("[1, 2, 3].all(n, n <= answers.pins)", True),
    ],
)
def test_answers_are_compared_as_they_were_given(source: str, value: object) -> None:
    assert evaluate(source, ANSWERS) == value


@pytest.mark.parametrize(
    ("source", "value"),
    [
        # Examples of the CEL language definition (google/cel-spec doc/langdef.md), from memory:
        # operators and their precedence, the ternary, has(), macros, string functions, and the
        # commutative logic: an error on one side of && and || is absorbed by the other.
        ("1 + 2 * 3 == 7", True),
        ("(1 + 2) * 3 == 9", True),
        ("-7 / 2", -3),
        ("7 % 3", 1),
        ("true || 1 / 0 > 0", True),
        ("1 / 0 > 0 || true", True),
        ("false && 1 / 0 > 0", False),
        ("1 / 0 > 0 && false", False),
        ('"abc" + "def" == "abcdef"', True),
        ('"abc".contains("b")', True),
        ('"abc".endsWith("bc")', True),
        ('"x1".matches("[a-z][0-9]")', True),
        ("size([1, 2, 3])", 3),
        ("[1, 2, 3].exists_one(n, n == 2)", True),
        ("[1, 2, 3].filter(n, n > 1).size() == 2", True),
        ("has(answers.pins)", True),
        ("has(answers.nothing)", False),
        # "Cross-type numeric comparisons" of the definition; cel-python alone refuses them.
        ("1 < 1.5", True),
        ("2.0 == 2", True),
        ("2 != 2.5", True),
    ],
)
def test_the_examples_of_the_cel_definition_hold(source: str, value: object) -> None:
    assert evaluate(source, ANSWERS) == value


def test_an_answer_that_was_not_given_makes_a_condition_false_and_a_value_an_error() -> None:
    assert evaluate("answers.later == 3", ANSWERS) is False
    assert evaluate("!(answers.later == 3)", ANSWERS) is False, "also when it is denied"
    with pytest.raises(MissingAnswer) as raised:
        value_of("answers.later + 1", ANSWERS)
    assert raised.value.name == "later"
    assert evaluate("has(answers.later) || answers.pins == 8", ANSWERS) is True


@pytest.mark.parametrize(
    ("source", "what", "column"),
    [
        ("answers.pins >", "not a CEL expression", 14),
        ("heavy == answers.axle", "'heavy' is not known", 1),
        ("wheel_sped(1.0)", "no function 'wheel_sped'", 1),
        ("size(answers) > 1", "must be followed by the name", 1),
    ],
)
def test_what_is_no_condition_is_told_before_the_job(source: str, what: str, column: int) -> None:
    with pytest.raises(ConditionError) as raised:
        check_syntax(source)
    assert what in raised.value.what
    assert raised.value.column == column


def test_text_is_not_compared_with_numbers() -> None:
    with pytest.raises(ConditionError, match="mixes kinds"):
        evaluate("answers.axle > 3", ANSWERS)
    with pytest.raises(ConditionError, match="divides by zero"):
        evaluate("answers.gap / 0", ANSWERS)


def test_the_functions_of_the_trade_can_be_called() -> None:
    """Against scipy.constants and a capacitor's equation, not against trade/ itself."""
    from scipy import constants as si

    assert value_of('torque_in(9, "lbf.in")', {}) == pytest.approx(9 / (si.pound_force * si.inch))
    assert value_of("discharge_time(2200, 8200, 52, 5)", {}) == pytest.approx(
        2200 * 8200e-6 * math.log(52 / 5)
    )
    assert value_of(
        "ground_speed(1000, 20, rolling_circumference(answers.d, 0))", {"d": 410.0}
    ) == pytest.approx(1000 / 20 * math.pi * 0.41 * 60 / 1000)
    with pytest.raises(ConditionError, match="takes 4 values"):
        value_of("discharge_time(1)", {})
    with pytest.raises(ConditionError, match="out of range"):
        value_of("ground_speed(1000, 0, 1)", {})


@given(
    st.integers(-(10**6), 10**6), st.floats(-1e6, 1e6), st.sampled_from(["<", "<=", ">", ">=", "==", "!="])
)
def test_whole_and_decimal_answers_compare_as_numbers_do(whole: int, decimal: float, sign: str) -> None:
    expected = eval(f"a {sign} b", {"a": whole, "b": decimal})
    assert evaluate(f"answers.a {sign} answers.b", {"a": whole, "b": decimal}) is expected
    expected = eval(f"b {sign} a", {"a": whole, "b": decimal})
    assert evaluate(f"answers.b {sign} answers.a", {"a": whole, "b": decimal}) is expected


@given(st.text(max_size=40))
def test_any_text_is_a_condition_or_told_to_be_none(text: str) -> None:
    try:
        check_syntax(text)
        evaluate(text, ANSWERS)
    except ConditionError as error:
        assert error.what  # noqa: PT017
        assert error.column >= 1  # noqa: PT017


def test_what_an_expression_reads_is_known_beforehand() -> None:
    source = 'answers.a > 1 && has(answers.b) || answers["c"] == [1].map(x, x + answers.d)[0]'
    assert conditions.answer_names(source) == {"a", "b", "c", "d"}


@pytest.mark.parametrize(
    ("written", "cel"),
    [
        ("answers.gap > 0.3 and answers.good", "answers.gap > 0.3 && answers.good"),
        ("not answers.good or answers.pins = 8", "!answers.good || answers.pins == 8"),
        ("answers.gap => 0.3 and answers.gap =< 1", "answers.gap >= 0.3 && answers.gap <= 1"),
        ("answers.pins <> 8", "answers.pins != 8"),
        ("answers.good == True", "answers.good == true"),
        ("answers.good is yes", "answers.good == true"),
        ("answers.good is not yes", "answers.good != true"),
        ("answers.gap > 0.3 mm", "answers.gap > 0.3"),
        ('answers.axle = "heavy and long"', 'answers.axle == "heavy and long"'),
        ("not answers.pins == 8", ""),
        ("answers.gap between 1 and 2", ""),
        ("answers.pins not in [8, 12]", ""),
        ("answers.axle = heavy", ""),
        ("answers.pins == 8", ""),
    ],
)
def test_a_condition_of_another_language_is_told_in_cel(written: str, cel: str) -> None:
    """The signs of CEL are those of its language definition; the others of Python, SQL and spreadsheets
    (from memory)."""
    assert meant(written) == cel
    if cel:
        check_syntax(cel)
        steps = (
            "- {id: a, say: A., ask: {measure: gap, unit: mm}}\n- {id: g, say: A., ask: {yes_no: good}}\n"
            "- {id: p, say: A., ask: {count: pins, from: 1, to: 9}}\n"
            "- {id: x, say: A., ask: {choice: axle, options: [light, heavy and long]}}\n"
            f"- id: b\n  say: B.\n  when: '{written}'"
        )
        with pytest.raises(ProcedureError) as told:
            read_kept({"p.yaml": with_steps(steps)}, "p.yaml")
        assert f"write {cel}" in str(told.value)
