"""Every example of procedures/WRITING.md and of the README is read and checked as it stands there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sayso.procedure.checks import check_reading
from sayso.procedure.conditions import function_names
from sayso.procedure.reading import read_all_kept
from sayso.procedure.source import ASKS, ProcedureHeader, StepSource
from sayso.procedure.validating import keys_of
from tests.procedure.kept import with_steps

TEXT = (Path(__file__).parents[2] / "procedures" / "WRITING.md").read_text("utf-8")
README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
EXAMPLES = re.findall(r"```yaml\n(.*?)```", TEXT + README, re.DOTALL)
SHARED = {"making-safe.yaml": next(one for one in EXAMPLES if one.startswith("shared:"))}


@pytest.mark.parametrize(
    "example", [one for one in EXAMPLES if not one.startswith("shared:")], ids=lambda e: e[:30]
)
def test_the_example_has_nothing_to_put_right(example: str) -> None:
    text = example if example.startswith("procedure:") else with_steps(example)
    found = check_reading(read_all_kept({"p.yaml": text, **SHARED}, "p.yaml"))
    told = [str(problem) for problem in found if problem.severity != "hint"]
    assert told == []


def test_every_key_is_written_about() -> None:
    for model in (StepSource, ProcedureHeader, *ASKS.values()):
        for key in keys_of(model):
            assert f"`{key}`" in TEXT or f"{key}:" in TEXT, key


def test_the_functions_named_are_there() -> None:
    assert {"ground_speed", "rolling_circumference"} <= set(function_names())


def test_a_parameter_in_a_condition_is_written_as_it_is_told() -> None:
    (condition,) = re.findall(r"`when: ('\"<name>\".*?')`", TEXT)
    steps = f"- {{id: a, say: A.}}\n- id: b\n  say: B.\n  when: {condition}"
    text = with_steps(steps, "parameters: {name: heavy}\n")
    assert [str(p) for p in check_reading(read_all_kept({"p.yaml": text}, "p.yaml"))] == []
