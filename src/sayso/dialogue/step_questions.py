"""What may be asked of a learner before each step of a procedure is told; the same for every job of it.

`procedure/asking_first.py` has the rule that keeps what can hurt out of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sayso.procedure.asking_first import hazardous_sections, may_be_asked_first
from sayso.procedure.model import AskCount, AskMeasure, AskTorque, Procedure, Step

Kind = Literal["way", "torque", "value"]


@dataclass(frozen=True, slots=True)
class Question:
    """About one step. `id` is 'step/kind': the same in the journal and in a person's progress."""

    id: str
    kind: Kind
    step: str
    text: str


def questions_of(procedure: Procedure) -> tuple[tuple[Question, ...], ...]:
    """For each step, in order, what may be asked before it is told."""
    hazardous = hazardous_sections(procedure.steps)
    return tuple(
        tuple(_questions(step)) if procedure.ask_first and may_be_asked_first(step, hazardous) else ()
        for step in procedure.steps
    )


def _questions(step: Step) -> list[Question]:
    found: list[Question] = []
    about = step.say.split(". ")[0].rstrip(".")
    if step.prediction is not None:
        found.append(Question(f"{step.id}/way", "way", step.id, step.prediction.question))
    if isinstance(step.ask, AskTorque):
        text = "And to what torque?" if found else f"{about}: to what torque?"
        found.append(Question(f"{step.id}/torque", "torque", step.id, text))
    elif step.expect and isinstance(step.ask, AskMeasure | AskCount):
        text = f"{about}. What do you expect: {step.question}" if step.question else ""
        text = text or f"{about}: what do you expect to read?"
        found.append(Question(f"{step.id}/value", "value", step.id, text))
    return found
