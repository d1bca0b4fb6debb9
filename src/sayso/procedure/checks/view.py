"""What a check looks at: the steps with their nodes, their graph, and an ear when there is one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Protocol

from sayso.procedure.conditions import answer_names
from sayso.procedure.graph import Graph, graph_of_steps
from sayso.procedure.model import Ask, Place
from sayso.procedure.problems import Problem, Severity
from sayso.procedure.resolving import Resolved
from sayso.procedure.yaml_nodes import Mapping


@dataclass(frozen=True, slots=True)
class AlikeWords:
    """Two answers of one question that can be taken for each other. `instead` suggests other words.

    `wrong`: it must not stay so, whatever it sounds like.
    """

    first: str
    second: str
    why: str
    instead: str = ""
    wrong: bool = False


class Ear(Protocol):
    """What the checks ask of hearing and of the answers; given by whoever has them (sayso.rehearsal.ear)."""

    def alike(self, ask: Ask) -> Sequence[AlikeWords]:
        """Answers of this question that sound alike."""
        ...

    def guessed(self, text: str) -> Sequence[str]:
        """Words of `text` whose pronunciation is only guessed from the spelling."""
        ...


@dataclass(frozen=True)
class View:
    steps: tuple[Resolved, ...]
    root: Mapping
    folder: Path
    ear: Ear | None = None
    #: every step could be read and every target is there: the graph can be relied upon
    whole: bool = True
    #: answers that the steps ask for which could not be read; None when not even those are known
    unread: frozenset[str] | None = frozenset()

    @cached_property
    def graph(self) -> Graph:
        return graph_of_steps(tuple(one.step for one in self.steps))

    @cached_property
    def by_id(self) -> dict[str, Resolved]:
        return {one.step.id: one for one in self.steps}

    @cached_property
    def used_names(self) -> frozenset[str]:
        """Answers that some condition or expected value reads."""
        sources = {
            source
            for one in self.steps
            for source in (
                one.step.when,
                one.step.expect,
                *(c.when for c in one.step.then.cases if c.is_condition),
            )
            if source
        }
        return frozenset(name for source in sources for name in answer_names(source))

    def problem(
        self,
        at: Resolved,
        path: Sequence[str | int],
        what: str,
        write: str,
        severity: Severity = "warning",
        check: str = "",
    ) -> Problem:
        return Problem(self.place(at, path), what, write, severity, check)

    def key_place(self, at: Resolved, answer: str) -> Place:
        """Where the answer of a branch is written (not the step that it leads to)."""
        then = at.node("then")
        if isinstance(then, Mapping) and answer in then.entries:
            return then.entries[answer].key.place
        return then.place

    def place(self, at: Resolved, path: Sequence[str | int]) -> Place:
        return at.node(*path).place
