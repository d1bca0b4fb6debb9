"""Which step can follow which: the branches of a procedure as a graph."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from sayso.procedure.model import END, AskChoice, AskCount, AskMeasure, AskTorque, AskYesNo, Procedure, Step

EdgeKind = Literal["answer", "otherwise", "next", "passed over", "out of limits"]


@dataclass(frozen=True, slots=True)
class Edge:
    """`target` is a step id or END. `label` is the answer or the condition (CEL), as written."""

    source: str
    target: str
    label: str
    kind: EdgeKind
    is_condition: bool = False


@dataclass(frozen=True)
class Graph:
    first: str
    edges: dict[str, tuple[Edge, ...]]

    @cached_property
    def reachable(self) -> frozenset[str]:
        """Ids of steps that a job can come to; END among them when it can be completed."""
        return self.after([self.first])

    @cached_property
    def can_end(self) -> frozenset[str]:
        """Ids of steps from which the job can still end."""
        sources: dict[str, list[str]] = {}
        for source, edges in self.edges.items():
            for edge in edges:
                sources.setdefault(edge.target, []).append(source)
        found: set[str] = {END}
        waiting = [END]
        while waiting:
            for source in sources.get(waiting.pop(), ()):
                if source not in found:
                    found.add(source)
                    waiting.append(source)
        return frozenset(found)

    @cached_property
    def _numbers(self) -> dict[str, int]:
        return {step: number for number, step in enumerate([*self.edges, END])}

    @cached_property
    def _reach(self) -> list[int]:
        """For each step the set of steps that can be come to from it, as the bits of one integer.

        Worked out from the last step to the first until nothing changes: branches mostly lead forward,
        so two or three rounds do.
        """
        numbers = self._numbers
        targets = [[numbers[edge.target] for edge in edges] for edges in self.edges.values()] + [[]]
        reach = [1 << number for number in range(len(numbers))]
        changed = True
        while changed:
            changed = False
            for number in range(len(reach) - 1, -1, -1):
                bits = reach[number]
                for target in targets[number]:
                    bits |= reach[target]
                if bits != reach[number]:
                    reach[number] = bits
                    changed = True
        return reach

    def leads_to(self, source: str, target: str) -> bool:
        """Can a job that has finished `source` come to `target`?"""
        bit = self._numbers[target]
        return any(self._reach[self._numbers[edge.target]] >> bit & 1 for edge in self.edges[source])

    def after(self, starts: Iterable[str]) -> frozenset[str]:
        """Ids that can be come to from `starts`, those included."""
        found = set(starts)
        waiting = list(found)
        while waiting:
            for edge in self.edges.get(waiting.pop(), ()):
                if edge.target not in found:
                    found.add(edge.target)
                    waiting.append(edge.target)
        return frozenset(found)


def graph_of(procedure: Procedure) -> Graph:
    return graph_of_steps(procedure.steps)


def graph_of_steps(steps: tuple[Step, ...]) -> Graph:
    """The graph of steps in reading order. A step with `when` can also be passed over to the next one."""
    edges: dict[str, tuple[Edge, ...]] = {}
    for number, step in enumerate(steps):
        following = steps[number + 1].id if number + 1 < len(steps) else END
        edges[step.id] = tuple(_edges(step, following))
    return Graph(steps[0].id if steps else END, edges)


def _edges(step: Step, following: str) -> Iterable[Edge]:
    for case in step.then.cases:
        yield Edge(step.id, case.target, case.when, "answer", case.is_condition)
    if step.out_of_limits:
        yield Edge(step.id, step.out_of_limits, "outside its limits", "out of limits")
    if not uncovered(step) and not (step.may_skip and step.then.otherwise is not None):
        pass  # every possible answer has its branch; a step that is skipped goes the way of 'otherwise'
    elif step.then.otherwise is not None:
        label = "otherwise" if step.then.cases else ""
        yield Edge(step.id, step.then.otherwise, label, "otherwise" if step.then.cases else "next")
    elif step.ends:
        yield Edge(step.id, END, step.ends, "next")
    else:
        yield Edge(step.id, following, "otherwise" if step.then.cases else "", "next")
    if step.when:
        yield Edge(step.id, following, f"not ({step.when})", "passed over")


def possible_values(step: Step) -> tuple[str, ...] | None:
    """Every value the answer can have, as branches write it; None when there are too many to list."""
    ask = step.ask
    if isinstance(ask, AskYesNo):
        return ("yes", "no")
    if isinstance(ask, AskChoice):
        return tuple(option.value for option in ask.options)
    if isinstance(ask, AskCount) and ask.high - ask.low < 1000:
        return tuple(str(number) for number in range(ask.low, ask.high + 1))
    return None


def uncovered(step: Step) -> tuple[str, ...]:
    """Possible answers without a branch of their own; ('...',) when they cannot be listed."""
    values = possible_values(step)
    if values is None or step.then.compare == "prefix" or any(case.is_condition for case in step.then.cases):
        return ("...",)
    covered = {case_value(case.when) for case in step.then.cases}
    return tuple(value for value in values if value.casefold() not in covered)


def case_value(text: str) -> str:
    """A branch's value as it is compared: without case; true and false as yes and no."""
    folded = text.strip().casefold()
    return {"true": "yes", "false": "no"}.get(folded, folded)


def has_limits(step: Step) -> bool:
    ask = step.ask
    if isinstance(ask, AskTorque):
        return True
    return isinstance(ask, AskMeasure) and any(
        limit is not None for limit in (ask.below, ask.above, ask.at_least, ask.at_most)
    )
