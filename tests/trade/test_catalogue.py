"""The trade functions as a procedure calls them: plain names, plain numbers, CEL."""

from __future__ import annotations

import inspect
import math
import re
from functools import partial
from typing import Any

import celpy
import pytest
from celpy import celtypes
from celpy.adapter import json_to_cel
from celpy.evaluation import CELEvalError

from sayso.trade import TRADE_FUNCTIONS, TradeError
from sayso.trade.catalogue import WrongArgumentError, trade_function_table
from sayso.trade.units import parse_unit
from tests.trade.outside_checks import CHECKS

NAMES = sorted(TRADE_FUNCTIONS)


def evaluate(expression: str) -> Any:
    environment = celpy.Environment()
    functions: dict[str, Any] = {name: partial(_from_cel, name) for name in TRADE_FUNCTIONS}
    return environment.program(environment.compile(expression), functions=functions).evaluate({})


def _from_cel(name: str, *values: Any) -> Any:
    plain = (bool(value) if isinstance(value, celtypes.BoolType) else value for value in values)
    return json_to_cel(TRADE_FUNCTIONS[name](*plain))


@pytest.mark.parametrize(("expression", "expected"), [
    ("torque_with_adapter(80.0, 400.0, 50.0, 0.0) > 85.0", True),
    ("adapter_setting(80, 400, 50, 0)", 80 * 400 / 450),
    ("torque_in(9.0, 'lbf.in') > 79.0 && torque_in(9.0, 'lbf.in') < 80.0", True),
    ("proof_load('M8', '8.8')", 21.23),
    ("gauge_area(4) > gauge_area('6')", True),
    ("termination_is_right(60.2)", True),
    ("termination_finding(118.0).contains('missing')", True),
    ("may_be_charged_at('LiFePO4', -5.0)", False),
    ("is_slender(2600.0, 800.0, true)", False),
])  # fmt: skip
def test_a_condition_can_call_a_trade_function(expression: str, expected: object) -> None:
    value = evaluate(expression)
    if isinstance(expected, float):
        assert float(value) == pytest.approx(expected, rel=1e-3)
    else:
        assert bool(value) == expected


def test_a_trade_error_reaches_the_caller_of_a_condition_with_its_sentence() -> None:
    with pytest.raises(CELEvalError) as caught:
        evaluate("torque_with_adapter(80.0, 4.0, 50.0, 0.0) > 85.0")
    assert "measure from the square drive to the middle of the grip" in str(caught.value)


@pytest.mark.parametrize("name", NAMES)
def test_every_function_says_what_it_gives_its_source_and_its_range(name: str) -> None:
    function = TRADE_FUNCTIONS[name]
    assert function.summary.endswith((".", "%", ")"))
    assert function.source, function.docs
    assert function.valid_range, function.docs


@pytest.mark.parametrize("name", NAMES)
def test_every_source_of_a_fact_is_graded(name: str) -> None:
    """A source is second hand, from memory, by definition, or arithmetic and physics that can be followed."""
    graded = re.compile(
        r"second hand|from memory|by definition|common practice, no source|arithmetic|law|theory|geometry|"
        r"statics|kinematics|as `|^`"
    )
    assert graded.search(TRADE_FUNCTIONS[name].source), TRADE_FUNCTIONS[name].source


@pytest.mark.parametrize("name", NAMES)
def test_the_call_fits_the_function_behind_it(name: str) -> None:
    function = TRADE_FUNCTIONS[name]
    needed = [
        parameter
        for parameter in inspect.signature(function.function).parameters.values()
        if parameter.default is inspect.Parameter.empty
    ]
    assert len(needed) <= len(function.parameters)
    if function.result_unit:
        parse_unit(function.result_unit)


@pytest.mark.parametrize("name", NAMES)
def test_too_few_or_too_many_values_are_refused_with_the_call(name: str) -> None:
    function = TRADE_FUNCTIONS[name]
    for values in ((), (1.0,) * (len(function.parameters) + 1)):
        with pytest.raises(WrongArgumentError, match=re.escape(f"write {function.signature}")):
            function(*values)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf, -1e30, True, "?"])
def test_no_bad_value_gets_through_or_crashes(name: str, bad: object) -> None:
    """Each value of a good call is spoilt in turn: a TradeError, or a text or yes-or-no that took it."""
    good = next((check.arguments for check in CHECKS if check.function == name and check.arguments), None)
    if good is None:
        pytest.skip("called another way in the checks")
    for position, parameter in enumerate(TRADE_FUNCTIONS[name].parameters):
        spoilt = (*good[:position], bad, *good[position + 1 :])
        if parameter.kind == "yes_no" and isinstance(bad, bool):
            continue
        if name.startswith("termin") and bad == math.inf:  # an open bus reads infinite on the meter
            continue
        with pytest.raises(TradeError) as caught:
            TRADE_FUNCTIONS[name](*spoilt)  # type: ignore[arg-type]
        assert len(str(caught.value)) > 20


def test_a_yes_or_no_where_a_number_belongs_is_refused() -> None:
    with pytest.raises(
        WrongArgumentError, match="wrench_mm of torque_with_adapter must be a number in mm, not True"
    ):
        TRADE_FUNCTIONS["torque_with_adapter"](80.0, True, 50.0, 0.0)


def test_the_table_for_the_docs_has_a_row_for_every_function() -> None:
    table = trade_function_table()
    for name, function in TRADE_FUNCTIONS.items():
        assert f"| `{function.signature}` |" in table, name
    assert {line.count("|") for line in table.splitlines()} == {5}
