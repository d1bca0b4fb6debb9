"""Conditions: answers that nobody gives, or gives too late, and values that cannot be compared."""

from __future__ import annotations

from collections.abc import Iterator

from sayso.procedure import conditions
from sayso.procedure.checks.view import View
from sayso.procedure.model import (
    Ask,
    AskChoice,
    AskCount,
    AskMeasure,
    AskTorque,
    AskYesNo,
)
from sayso.procedure.problems import Problem, write_one_of
from sayso.procedure.resolving import Resolved
from sayso.procedure.yaml_nodes import Scalar

_CHECK = "conditions"
_MAY_BE_THE_SAMPLE = ("out of range", "divides by zero", "not in the table")


def find(view: View) -> Iterator[Problem]:
    givers: dict[str, list[Resolved]] = {}
    for one in view.steps:
        givers.setdefault(one.step.ask.name, []).append(one)
    samples = {name: sample_value(given[0].step.ask) for name, given in givers.items()}
    tried: dict[str, str] = {}
    for one in view.steps:
        for path, text, own_answer in expressions(one):
            for name in sorted(conditions.answer_names(text)):
                if name not in givers and (view.unread is None or name in view.unread):
                    continue  # a step that could not be read asks for it
                if name not in givers:
                    yield view.problem(
                        one,
                        path,
                        f"no step asks for the answer '{name}'",
                        write_one_of(name, (*givers, *sorted(view.unread or ()))),
                        "error",
                        _CHECK,
                    )
                    continue
                if own_answer and name == one.step.ask.name:
                    continue
                if view.whole and not any(view.graph.leads_to(g.step.id, one.step.id) for g in givers[name]):
                    giver = givers[name][0].step
                    yield view.problem(
                        one,
                        path,
                        f"the answer '{name}' is only asked later (line {giver.place.line})"
                        if giver.id != one.step.id
                        else f"the answer '{name}' is only asked by this step itself",
                        "ask it before, or use another answer",
                        "error",
                        _CHECK,
                    )
            if text not in tried:
                tried[text] = _never_works(text, samples)
            if tried[text]:
                yield view.problem(
                    one,
                    path,
                    tried[text],
                    'compare numbers with numbers, text with "text", yes and no with true and false'
                    if "mixes kinds" in tried[text]
                    else "'sayso functions' lists how each function is called",
                    "error",
                    _CHECK,
                )


def expressions(one: Resolved) -> Iterator[tuple[tuple[str | int, ...], str, bool]]:
    """(path, source, may use the answer of its own step)"""
    step = one.step
    for scalar in one.source.conditions:
        yield ("when",) if one.source.node.get("when") else (), scalar.text, False
    own = one.source.node.get("when")
    if isinstance(own, Scalar):
        yield ("when",), own.text, False
    if step.expect:
        yield ("expect",), step.expect, False
    for number, case in enumerate(step.then.cases):
        if case.is_condition:
            yield ("then", number, "if"), case.when, True


def sample_value(ask: Ask) -> bool | int | float | str:
    """A value such as this question may give, to try expressions on."""
    if isinstance(ask, AskYesNo):
        return True
    if isinstance(ask, AskCount):
        return max(ask.low, 1) if ask.high >= 1 else ask.low
    if isinstance(ask, AskTorque):
        return ask.target
    if isinstance(ask, AskMeasure):
        ends = [
            v for v in (ask.low, ask.high, ask.at_least, ask.at_most, ask.below, ask.above) if v is not None
        ]
        return sum(ends) / len(ends) if ends else 1.0
    if isinstance(ask, AskChoice):
        return ask.options[0].value
    return True if ask.kind == "done" else "A1"


def _never_works(text: str, samples: dict[str, bool | int | float | str]) -> str:
    try:
        conditions.value_of(text, samples)
    except conditions.MissingAnswer:
        return ""
    except conditions.ConditionError as error:
        # With other answers it may lie in range: only what is wrong with every answer is told.
        return "" if any(words in error.what for words in _MAY_BE_THE_SAMPLE) else error.what
    return ""
