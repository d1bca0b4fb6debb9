"""What can be said at each step: the list of every grammar of a procedure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sayso import answers
from sayso.procedure.model import Procedure, Step


@dataclass(frozen=True, slots=True)
class StepGrammar:
    step: Step
    #: words and phrases of an answer, control words apart
    phrases: tuple[str, ...]


def grammars(procedure: Procedure, *, wrench: str = "N.m") -> Iterator[StepGrammar]:
    for step in procedure.steps:
        yield StepGrammar(step, tuple(answers.phrases(step.ask, wrench=wrench)))


def listed(procedure: Procedure, *, wrench: str = "N.m", shown: int = 12) -> str:
    """All grammars in words; steps with the same one are listed together. `shown` phrases each at most."""
    groups: dict[tuple[str, ...], list[Step]] = {}
    for grammar in grammars(procedure, wrench=wrench):
        groups.setdefault(grammar.phrases, []).append(grammar.step)
    lines = [f"{procedure.title}, revision {procedure.revision}: {len(groups)} grammars"]
    for phrases, steps in groups.items():
        names = ", ".join(step.id for step in steps[:6]) + (", ..." if len(steps) > 6 else "")
        more = f", ... {len(phrases)} in all" if len(phrases) > shown else ""
        lines += ["", f"{steps[0].ask.kind}: {names}", "  " + ", ".join(phrases[:shown]) + more]
    return "\n".join(lines) + "\n"
