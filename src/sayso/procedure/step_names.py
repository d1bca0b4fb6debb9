"""The ids of steps and the names of answers: none twice, and those of steps in which something is wrong."""

from __future__ import annotations

import re

from sayso.procedure.model import END, NEXT, Place
from sayso.procedure.problems import Problem
from sayso.procedure.questions import named_in
from sayso.procedure.resolving import Resolved
from sayso.procedure.unfold import StepNode
from sayso.procedure.yaml_nodes import Scalar


def _came_twice(earlier: Resolved, one: Resolved, place: Place) -> Problem:
    """The same lines gave the same id again: an item listed twice, an include written twice, or an id that
    does not carry its loop item."""
    pairs = zip(earlier.source.came_by, one.source.came_by, strict=False)
    (before, was), (here, now) = next(
        ((a, b) for a, b in pairs if a[0] != b[0]), ((place, ""), (place, "another"))
    )
    if was is None or now is None:
        return Problem(
            here,
            f"the step id '{one.step.id}' comes from here and from the include in line {before.line}",
            "remove one, or give each another value under 'with' that its ids carry",
        )
    if was == now:
        return Problem(
            here, f"this item stands in the list twice (first in line {before.line})", "remove one"
        )
    return Problem(
        place,
        f"the step id '{one.step.id}' comes up in every round",
        f"write '{one.step.id}-<{one.source.loop}>'",
    )


def repeated_ids(steps: list[Resolved]) -> list[Problem]:
    found: list[Problem] = []
    first: dict[str, Resolved] = {}
    kinds: dict[str, Resolved] = {}
    told: set[Place] = set()
    for one in steps:
        step = one.step
        earlier = first.setdefault(step.id, one)
        place = one.node("id").place
        if earlier is not one:
            if earlier.source.node.place == step.place:
                again = _came_twice(earlier, one, place)
                if again.place not in told:  # one include written twice is one slip, however many its steps
                    found.append(again)
                told.add(again.place)
            else:
                line = earlier.node("id").place.line
                found.append(
                    Problem(
                        place,
                        f"the step id '{step.id}' is used twice (first in line {line})",
                        "give it another id",
                    )
                )
        elif step.id in (NEXT, END):
            found.append(Problem(place, f"a step cannot be called '{step.id}'", "give it another id"))
        same = kinds.setdefault(step.ask.name, one)
        if same is one or same.step.id == step.id:
            continue
        at = one.node("ask", step.ask.kind).place
        if same.source.node.place == step.place:
            fill = f"<{one.source.loop}>" if one.source.loop else "<parameter>"
            found.append(
                Problem(
                    at,
                    f"the answer '{step.ask.name}' is overwritten in every round",
                    f"write '{step.ask.name}_{fill}'",
                )
            )
        elif same.step.ask.kind != step.ask.kind:
            found.append(
                Problem(
                    at,
                    f"the answer '{step.ask.name}' is of another kind in line {same.step.place.line} "
                    f"({same.step.ask.kind})",
                    "give it another name",
                )
            )
    return found


def ids_of_unread(sources: list[StepNode], resolved: list[Resolved]) -> list[Scalar]:
    """The names of the steps in which something else is wrong."""
    read = {id(one.source) for one in resolved}
    found = [source.node.get("id") for source in sources if id(source) not in read]
    return [node for node in found if isinstance(node, Scalar) and node.text]


def as_meant(name: str) -> tuple[str, str]:
    """A name as it is written, and as it should be: 'Pin Out' is told already, 'pin-out' is not lost."""
    return name, re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")


def repeated_among_unread(unread: list[Scalar], resolved: list[Resolved]) -> list[Problem]:
    lines = {one.step.id: one.node("id").place for one in resolved}
    found: list[Problem] = []
    for name in unread:
        first = lines.setdefault(name.text, name.place)
        if first != name.place:
            earlier, later = sorted((first, name.place), key=lambda place: (place.line, place.column))
            found.append(
                Problem(
                    later,
                    f"the step id '{name.text}' is used twice (first in line {earlier.line})",
                    "give it another id",
                )
            )
    return found


def answers_unread(sources: list[StepNode], steps: list[Resolved]) -> frozenset[str]:
    """What the steps in which something else is wrong ask for: a condition may use it."""
    read = {id(one.source) for one in steps}
    found: set[str] = set()
    for source in sources:
        if id(source) not in read:
            named = named_in(source.node.get("ask"))
            found |= set(named) or {as_meant(source.node.text("id") or "")[1]}
    return frozenset(name.replace("-", "_") for name in found)
