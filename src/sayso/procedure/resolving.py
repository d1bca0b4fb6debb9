"""One validated step -> the `Step` that the dialogue runs."""

from __future__ import annotations

import posixpath
import re
from dataclasses import dataclass
from typing import Any

from sayso.procedure.conditions import ConditionError, check_syntax
from sayso.procedure.meant_condition import meant
from sayso.procedure.model import (
    Ask,
    AskDone,
    AskSerial,
    Branch,
    Branches,
    Caution,
    CautionLevel,
    Part,
    Prediction,
    Step,
)
from sayso.procedure.problems import Problem
from sayso.procedure.quantities import QuantityError, seconds
from sayso.procedure.questions import ask_source, resolve_ask
from sayso.procedure.source import (
    CaseSource,
    StepSource,
)
from sayso.procedure.texts import Texts
from sayso.procedure.unfold import StepNode
from sayso.procedure.validating import then_value, validated
from sayso.procedure.yaml_nodes import Mapping, Node, Scalar, Sequence


@dataclass(frozen=True, slots=True)
class Resolved:
    """A step with the nodes it came from, so that checks can point at the exact key.

    Targets are as written ('next' included) until the whole procedure is known.
    """

    step: Step
    source: StepNode

    def node(self, *path: str | int) -> Node:
        """The node at `path`, or the nearest one around it."""
        node: Node = self.source.node
        for part in path:
            if isinstance(node, Mapping) and isinstance(part, str) and part in node.entries:
                node = node.entries[part].value
            elif isinstance(node, Sequence) and isinstance(part, int) and part < len(node.items):
                node = node.items[part]
            elif isinstance(node, Mapping | Scalar) and part == 0:
                continue  # a list of one may be written without its list
            else:
                break
        return node


def resolve_step(source: StepNode, texts: Texts, problems: list[Problem]) -> Resolved | None:
    """The step of `source`, or None with the problems added."""
    node = source.node
    before = len(problems)
    given: dict[str, Any] = {}
    ask_node = node.get("ask")
    asked = ask_source(ask_node, problems) if ask_node is not None else None
    if asked is not None:
        given["ask"] = asked
    then_node = node.get("then")
    if then_node is not None:
        then = then_value(then_node, problems)
        if then is not None:
            given["then"] = then
    model = validated(StepSource, node, problems, given=given, without=frozenset({"ask", "then"}))
    # What else is wrong in the step is told too, so nothing returns here although it cannot be run.
    if ask_node is None:
        ask: Ask | None = AskDone((node.text("id") or "").replace("-", "_"))
    elif asked is not None and isinstance(ask_node, Mapping):
        ask = resolve_ask(asked, ask_node, texts, problems)
    else:
        ask = None
    wait = 0.0
    wait_node = node.get("wait")
    if isinstance(wait_node, Scalar) and wait_node.text:
        try:
            wait = seconds(wait_node.text)
        except QuantityError as error:
            problems.append(Problem(wait_node.place, error.what, error.write))
    condition = _condition(source, problems)
    _cel(node.get("expect"), problems)
    branches = _branches(given.get("then"), then_node, ask, problems)
    if model is None or ask is None or len([p for p in problems[before:] if p.severity == "error"]):
        return None
    picture = model.picture or ""
    if picture:
        picture = posixpath.normpath(posixpath.join(posixpath.dirname(node.place.file), picture))
    question = ask_node.get("question") if isinstance(ask_node, Mapping) else None
    step = Step(
        id=model.id,
        say=texts.spoken(node.get("say")),
        ask=ask,
        place=node.place,
        cautions=_cautions(node.get("caution"), texts),
        question=texts.spoken(question),
        why=texts.shown(node.get("why")),
        hint=texts.shown(node.get("hint")),
        mistakes=texts.shown_list(node.get("mistakes")),
        brief=texts.spoken(node.get("brief")),
        picture=picture,
        wait_s=wait,
        then=branches,
        when=condition,
        expect=model.expect or "",
        prediction=_prediction(node.get("predict"), texts),
        ask_first="by_rule" if model.predict is None else "no" if model.predict is False else "yes",
        may_skip=model.skip,
        ends=texts.shown(node.get("ends")),
        out_of_limits=model.out_of_limits or "",
        not_met=texts.spoken(node.get("not_met")),
        skill=model.skill or "",
        tools=texts.shown_list(node.get("tools")),
        parts=parts(node.get("parts"), texts, problems),
        section=texts.shown(node.get("section") or source.section),
    )
    return Resolved(step, source)


def parts(node: Node | None, texts: Texts, problems: list[Problem]) -> tuple[Part, ...]:
    found: list[Part] = []
    for item in node.items if isinstance(node, Sequence) else []:
        if not isinstance(item, Mapping) or "name" not in item.entries:
            found.append(Part(texts.shown(item)))
            continue
        quantity = item.text("quantity") or "1"
        match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(\D*?)\s*", quantity)
        if match is None:
            place = item.entries["quantity"].value.place
            problems.append(Problem(place, f"quantity '{quantity}' is not a number", "write '2' or '3 m'"))
            continue
        found.append(Part(texts.shown(item.get("name")), float(match.group(1)), match.group(2)))
    return tuple(found)


def _prediction(node: Node | None, texts: Texts) -> Prediction | None:
    if not isinstance(node, Mapping):
        return None
    return Prediction(
        texts.spoken(node.get("question")),
        texts.spoken(node.get("right")),
        texts.spoken_list(node.get("wrong")),
    )


def _cautions(node: Node | None, texts: Texts) -> tuple[Caution, ...]:
    items = node.items if isinstance(node, Sequence) else [node] if node is not None else []
    return tuple(
        Caution(CautionLevel(item.text("level") or ""), texts.spoken(item.get("say")))
        for item in items
        if isinstance(item, Mapping)
    )


def _condition(source: StepNode, problems: list[Problem]) -> str:
    written = [*source.conditions]
    own = source.node.get("when")
    if isinstance(own, Scalar) and own.text:
        written.append(own)
    for scalar in written:
        _cel(scalar, problems)
    if len(written) == 1:
        return written[0].text
    return " && ".join(f"({scalar.text})" for scalar in written)


def _cel(node: Node | None, problems: list[Problem]) -> None:
    if not isinstance(node, Scalar) or not node.text:
        return
    try:
        check_syntax(node.text)
    except ConditionError as error:
        place = node.place
        if error.column > 1 and node.plain and "\n" not in node.text:
            place = type(place)(place.file, place.line, place.column + error.column - 1)
        problems.append(
            Problem(
                place,
                f"condition '{node.text}': {error.what}",
                f"write {instead}" if (instead := meant(node.text)) else "write it like: answers.pins == 8",
                check="condition",
            )
        )


def _branches(then: Any, node: Node | None, ask: Ask | None, problems: list[Problem]) -> Branches:
    if then is None:
        return Branches()
    if isinstance(then, str):
        return Branches(otherwise=then)
    if isinstance(then, dict):
        cases = tuple(Branch(when, target) for when, target in then.items() if when != "otherwise")
        compare = "prefix" if isinstance(ask, AskSerial) else "value"
        return Branches(cases, then.get("otherwise"), compare)  # type: ignore[arg-type]
    if isinstance(node, Sequence):
        for item in node.items:
            if isinstance(item, Mapping):
                _cel(item.get("if"), problems)
    tests = tuple(Branch(case.if_, case.go, True) for case in then if isinstance(case, CaseSource))
    last = [case.otherwise for case in then if not isinstance(case, CaseSource)]
    return Branches(tests, last[0] if last else None)
