"""Walking every branch of a procedure through the real dialogue, with legal answers, and what was covered."""

from __future__ import annotations

import re
from collections import deque
from dataclasses import dataclass, field
from functools import cached_property

from sayso.procedure.conditions import answer_names
from sayso.procedure.graph import Edge, Graph, graph_of
from sayso.procedure.model import END, Procedure
from sayso.procedure.settled import as_settled, ruled_out_ways, truth
from sayso.rehearsal import bench as on_bench
from sayso.rehearsal.bench import Bench, BenchError
from sayso.rehearsal.legal_answers import (
    NEXT,
    OTHERWISE,
    OUT_OF_LIMITS,
    LegalAnswer,
    every_serial_has_a_branch,
    legal_answers,
    quoted_texts,
)

#: How often one step is entered with different answers before it: conditions further on may need several.
ENTRIES_PER_STEP = 40


@dataclass(frozen=True, slots=True)
class Walked:
    """One job of the walk: the answers given, in order, as (step, words); how it ended."""

    answers: tuple[tuple[str, str], ...]
    outcome: str


@dataclass
class Coverage:
    """Steps and ways (branches) of a procedure that the walk has taken.

    Ways of steps that no job can come to do not count, nor do those that the parameters rule out: a condition
    that reads no answer is settled before the job begins.
    """

    procedure: Procedure
    steps: set[str] = field(default_factory=set)
    ways: set[Edge] = field(default_factory=set)
    jobs: list[Walked] = field(default_factory=list)
    surprises: list[str] = field(default_factory=list)
    turns: int = 0

    @cached_property
    def all_steps(self) -> list[str]:
        return [step.id for step in as_settled(self.procedure).steps if step.id in self._reachable]

    @cached_property
    def all_ways(self) -> list[Edge]:
        graph = graph_of(self.procedure)
        return [edge for source in self.all_steps for edge in graph.edges[source] if self._counts(edge)]

    @cached_property
    def _reachable(self) -> frozenset[str]:
        return graph_of(self.procedure).reachable

    def _counts(self, edge: Edge) -> bool:
        step = self.procedure.step(edge.source)
        if edge.kind == "passed over":
            return truth(step.when) is not True
        if edge.label == "otherwise" and not step.may_skip and every_serial_has_a_branch(step):
            return False
        return edge.label not in ruled_out_ways(step)

    @cached_property
    def ruled_out(self) -> list[str]:
        """Steps of the text that no answer leads to, for the parameters have decided before."""
        left = set(self.all_steps)
        return [step.id for step in self.procedure.steps if step.id in self._reachable - left]

    @property
    def missed_steps(self) -> list[str]:
        return [step for step in self.all_steps if step not in self.steps]

    @property
    def missed_ways(self) -> list[Edge]:
        return [edge for edge in self.all_ways if edge not in self.ways]

    @property
    def complete(self) -> bool:
        return not self.missed_steps and not self.missed_ways and not self.surprises

    def report(self) -> str:
        """The coverage in words, what was missed, and the jobs that were walked."""
        steps, ways = self.all_steps, self.all_ways
        lines = [
            f"{self.procedure.title}, revision {self.procedure.revision}",
            f"steps    {len(steps) - len(self.missed_steps)} of {len(steps)} "
            f"({_share(len(steps) - len(self.missed_steps), len(steps))})",
            f"branches {len(ways) - len(self.missed_ways)} of {len(ways)} "
            f"({_share(len(ways) - len(self.missed_ways), len(ways))})",
            f"jobs     {len(self.jobs)} that end in a way of their own, {self.turns} answers given",
        ]
        lines += [
            f"does not apply here: step {step} (by a parameter, by no answer)" for step in self.ruled_out
        ]
        lines += [f"not reached: step {step}" for step in self.missed_steps]
        lines += [
            f"not taken: {edge.source} {edge.label or edge.kind} -> {edge.target}"
            for edge in self.missed_ways
        ]
        lines += [f"went another way: {surprise}" for surprise in self.surprises]
        return "\n".join(lines) + "\n"


def walk(procedure: Procedure, *, wrench: str = "N.m") -> Coverage:
    """Every branch that legal answers can take, walked through `sayso.dialogue`."""
    graph = graph_of(procedure)
    coverage = Coverage(procedure)
    decisive = _decisive_names(procedure, graph)
    read_elsewhere = _read_elsewhere(procedure)
    entered: dict[str, set[tuple[object, ...]]] = {}
    waiting: deque[tuple[Bench, tuple[tuple[str, str], ...]]] = deque()
    outcomes: dict[str, Walked] = {}

    def enter(bench: Bench, answers: tuple[tuple[str, str], ...], known: bool) -> None:
        if bench.ended:
            last = answers[-1][0] if answers else ""
            outcomes.setdefault(f"{bench.outcome} after {last}", Walked(answers, bench.outcome))
            return
        coverage.steps.add(bench.step)
        signature = tuple(bench.state.values.get(name) for name in decisive[bench.step])
        seen = entered.setdefault(bench.step, set())
        if signature in seen or (known and len(seen) >= ENTRIES_PER_STEP):
            return
        seen.add(signature)
        waiting.append((bench, answers))

    try:
        first = on_bench.settle(on_bench.start(procedure, wrench=wrench))
    except BenchError as error:
        coverage.surprises.append(f"at the start: {error}")
        return coverage
    _passed_over(coverage, graph.edges, first)
    enter(first, (), False)
    while waiting:
        bench, answers = waiting.popleft()
        step = procedure.step(bench.step)
        for legal in legal_answers(
            step, bench.state.values, bench.state.witnesses, decisive=read_elsewhere.get(step.ask.name)
        ):
            edge = _edge(graph.edges[step.id], legal)
            try:
                after = on_bench.answer(bench, legal.text)
            except BenchError as error:
                coverage.surprises.append(f"{step.id}: {error}")
                continue
            coverage.turns += 1
            took = _target_taken(after)
            if edge is None or took != edge.target:
                coverage.surprises.append(
                    f"{step.id}: '{legal.text}' should lead to {edge.target if edge else legal.way}, "
                    f"and led to {took}"
                )
            known = edge in coverage.ways
            if edge is not None:
                coverage.ways.add(edge)
            _passed_over(coverage, graph.edges, after)
            enter(after, (*answers, (step.id, legal.text)), known)
    coverage.jobs = list(outcomes.values())
    return coverage


def _decisive_names(procedure: Procedure, graph: Graph) -> dict[str, tuple[str, ...]]:
    """For each step the answers that a condition at it or after it reads: what went before matters so."""
    readers: dict[str, frozenset[str]] = {}
    for step in procedure.steps:
        sources = [case.when for case in step.then.cases if case.is_condition]
        names = frozenset(name for source in [step.when, *sources] if source for name in answer_names(source))
        if names:
            readers[step.id] = names
    return {
        step.id: tuple(
            sorted(
                {
                    name
                    for reader, names in readers.items()
                    if reader == step.id or graph.leads_to(step.id, reader)
                    for name in names
                }
            )
        )
        for step in procedure.steps
    }


def _read_elsewhere(procedure: Procedure) -> dict[str, frozenset[str]]:
    """Answers that a condition of another step reads, with the numbers and texts in those conditions."""
    found: dict[str, frozenset[str]] = {}
    for step in procedure.steps:
        sources = [case.when for case in step.then.cases if case.is_condition]
        for source in [*sources, *([step.when] if step.when else [])]:
            compared = frozenset([*re.findall(r"\d+(?:\.\d+)?", source), *quoted_texts(source)])
            for name in answer_names(source) - {step.ask.name}:
                found[name] = found.get(name, frozenset()) | compared
    return found


def _edge(edges: tuple[Edge, ...], legal: LegalAnswer) -> Edge | None:
    wanted = {OTHERWISE: "otherwise", NEXT: "next", OUT_OF_LIMITS: "out of limits"}.get(legal.way, "answer")
    for edge in edges:
        if wanted == "answer":
            if edge.kind == "answer" and edge.label == legal.way:
                return edge
        elif edge.kind == wanted or {wanted, edge.kind} == {"otherwise", "next"}:
            return edge
    return None


def _passed(bench: Bench) -> list[str]:
    return [str(record.data.get("step", "")) for record in bench.records if record.kind == "step_passed_over"]


def _target_taken(bench: Bench) -> str:
    passed = _passed(bench)
    if passed:
        return passed[0]
    return END if bench.ended else bench.step


def _passed_over(coverage: Coverage, edges: dict[str, tuple[Edge, ...]], bench: Bench) -> None:
    for step in _passed(bench):
        coverage.steps.add(step)
        coverage.ways |= {edge for edge in edges[step] if edge.kind == "passed over"}


def _share(part: int, whole: int) -> str:
    return f"{100 * part / whole:.0f} %" if whole else "100 %"
