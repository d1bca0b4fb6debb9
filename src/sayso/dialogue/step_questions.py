"""What may be asked of a learner before each step of a procedure is told; the same for every job of it.

`procedure/asking_first.py` has the rule that keeps what can hurt out of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sayso.procedure.asking_first import hazardous_sections, may_be_asked_first
from sayso.procedure.expecting import expects_a_value
from sayso.procedure.model import AskTorque, Procedure, Step

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


def first_sentence(text: str) -> str:
    """Without its full stop: what a question goes on from."""
    return text.split(". ")[0].rstrip(".")


def to_what_torque(step: Step) -> str:
    """Asked alike in a job and in a quiz: their answers count for one learning point."""
    return f"{first_sentence(step.say)}: to what torque?"


def _questions(step: Step) -> list[Question]:
    found: list[Question] = []
    about = first_sentence(step.say)
    if step.prediction is not None:
        found.append(Question(f"{step.id}/way", "way", step.id, step.prediction.question))
    if isinstance(step.ask, AskTorque):
        text = "And to what torque?" if found else to_what_torque(step)
        found.append(Question(f"{step.id}/torque", "torque", step.id, text))
    elif expects_a_value(step):
        text = f"{about}. What do you expect: {step.question}" if step.question else ""
        text = text or f"{about}: what do you expect to read?"
        found.append(Question(f"{step.id}/value", "value", step.id, text))
    return found
