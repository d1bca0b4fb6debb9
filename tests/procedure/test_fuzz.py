# ruff: noqa: E501  (tables of cases, one a line)
"""Whatever stands in a file: no crash, and every problem has a place in it."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from sayso.procedure.checks import check, check_reading
from sayso.procedure.problems import Problem
from sayso.procedure.reading import read_all_kept
from sayso.procedure.source import ASKS, StepSource
from sayso.procedure.validating import keys_of
from tests.procedure.fifteen_steps import FIFTEEN

DEMOS = Path(__file__).parents[2] / "procedures"
SHARED = {f"shared/{file.name}": file.read_text("utf-8") for file in (DEMOS / "shared").glob("*.yaml")}
VALID = [
    FIFTEEN,
    *(file.read_text("utf-8") for file in sorted(DEMOS.glob("*.yaml")) if file.stat().st_size < 9000),
]
KEYS = sorted({*keys_of(StepSource), *(key for model in ASKS.values() for key in keys_of(model)), "include", "for_each",
               "steps", "with", "if", "go", "otherwise", "level", "name", "quantity"})  # fmt: skip
BITS = [
    "[", "]", "{", "}", ": ", "- ", "\n", "\t", '"', "'", "&a ", "*a", "!!x ", "<x>", "<", ">", "|", "#", "%", "~", "\x00",
    "é", "漢", "9 N.m", "-1", "1e999", "nan", ".inf", "answers.", "&&", "[A-Z]{2}", "(", "\\", "---\n", "? ", "end", "next",
]  # fmt: skip


def looked_at(text: str) -> list[Problem]:
    reading = read_all_kept({"p.yaml": text, **SHARED}, "p.yaml")
    found = check_reading(reading)
    lines = {name: body.count("\n") + 1 for name, body in {"p.yaml": text, **SHARED}.items()}
    for problem in found:
        assert problem.what
        assert problem.write
        assert problem.place.column >= 1
        assert 1 <= problem.place.line <= lines[problem.place.file] + 1, str(problem)
    if reading.procedure is None:
        assert any(problem.severity == "error" for problem in found)
    return found


@given(st.text(max_size=200))
def test_any_text(text: str) -> None:
    looked_at(text)


@given(st.binary(max_size=200))
@settings(max_examples=50)
def test_any_bytes(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    file = tmp_path_factory.getbasetemp() / "any.yaml"
    file.write_bytes(data)
    found = check(file)
    assert any(problem.severity == "error" for problem in found)
    assert all(problem.place.file == str(file) for problem in found)


@st.composite
def mutated(draw: st.DrawFn) -> str:
    """A valid file with a few bits changed, as a slip of the hand or a bad merge does it."""
    text = draw(st.sampled_from(VALID))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, max(len(text) - 1, 0)))
        length = draw(st.integers(0, 12))
        match draw(st.sampled_from(["insert", "delete", "swap", "double line", "drop line", "indent"])):
            case "insert":
                text = text[:at] + draw(st.sampled_from(BITS)) + text[at:]
            case "delete":
                text = text[:at] + text[at + length :]
            case "swap":
                other = draw(st.integers(0, max(len(text) - 1, 0)))
                text = text[:at] + text[other : other + length] + text[at + length :]
            case action:
                lines = text.splitlines(keepends=True) or [""]
                number = draw(st.integers(0, len(lines) - 1))
                if action == "double line":
                    lines.insert(number, lines[number])
                elif action == "drop line":
                    del lines[number]
                else:
                    lines[number] = " " * draw(st.integers(0, 8)) + lines[number].lstrip()
                text = "".join(lines)
    return text


@given(mutated())
@settings(max_examples=100)
def test_valid_files_with_slips(text: str) -> None:
    looked_at(text)


scalars = st.one_of(
    st.sampled_from(["a", "b", "yes", "no", "end", "next", "9 N.m", "10 %", "5 min", "V", "mm", "answers.x == 1", "<x>",
                     "[A-Z]{2}", "warning", "danger", "done", "1", "0", "-3", "2.5", "true", "", "shared/lock-out.yaml"]),
    st.integers(-5, 99), st.floats(allow_nan=True), st.booleans(), st.none(), st.text(max_size=8),
)  # fmt: skip
values = st.recursive(
    scalars,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(
            st.one_of(st.sampled_from(KEYS), st.sampled_from(["yes", "no", "1", "x", "en"])),
            inner,
            max_size=4,
        ),
    ),
    max_leaves=12,
)
steps = st.fixed_dictionaries(
    {"id": st.sampled_from(["a", "b", "c", "d-e"]), "say": st.sampled_from(["Do it.", "Is it?", "<x>"])},
    optional={key: values for key in KEYS if key not in ("id", "say")},
)
ask_steps = st.builds(
    lambda step, kind, rest: {**step, "ask": {kind: "name", **rest}},
    st.fixed_dictionaries(
        {"id": st.sampled_from(["a", "b", "c"]), "say": st.just("Do it.")}, optional={"then": values}
    ),
    st.sampled_from(sorted(ASKS)),
    st.dictionaries(st.sampled_from(KEYS), values, max_size=4),
)


@given(st.lists(st.one_of(steps, ask_steps), min_size=1, max_size=4))
@settings(max_examples=120)
def test_random_steps(listed: list[object]) -> None:
    body = {"procedure": "p", "title": "P", "revision": 1, "parameters": {"x": "1"}, "steps": listed}
    looked_at(yaml.safe_dump(body, sort_keys=False, allow_unicode=True))


@pytest.mark.long
@given(mutated())
@settings(max_examples=20_000)
def test_valid_files_with_many_slips(text: str) -> None:
    looked_at(text)


@pytest.mark.long
@given(st.lists(st.one_of(steps, ask_steps), min_size=1, max_size=4))
@settings(max_examples=20_000)
def test_many_random_steps(listed: list[object]) -> None:
    body = {"procedure": "p", "title": "P", "revision": 1, "parameters": {"x": "1"}, "steps": listed}
    looked_at(yaml.safe_dump(body, sort_keys=False, allow_unicode=True))
