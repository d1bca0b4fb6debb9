"""What a person may be asked in a job before it is told, and what the answers show.

The questions themselves are the dialogue's (step_questions.py); here it is decided which of them are worth
asking this person today, by the same schedule as the quiz.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from sayso.dialogue.step_questions import questions_of
from sayso.procedure.model import AskTorque, Procedure, Step
from sayso.shop.schedule import Review, known_points, to_ask

#: More questions than this would make a lesson of a job.
MOST_IN_A_JOB = 8


def point_of(procedure_id: str, question_id: str) -> str:
    """The learning point of a question before telling: for a torque the same as the quiz's."""
    return f"{procedure_id}/{question_id}"


def asked_first(procedure: Procedure, reviews: Iterable[Review], now: datetime) -> tuple[str, ...]:
    """Questions ('step/torque') that are due or new for the person with these `reviews`; few enough.

    Of steps with the same torque only the first is asked about: the second would be told already."""
    wanted: dict[str, str] = {}
    torques: set[float] = set()
    for step, questions in zip(procedure.steps, questions_of(procedure), strict=True):
        for question in questions:
            if question.kind == "torque" and not _is_new(step, torques):
                continue
            wanted[point_of(procedure.id, question.id)] = question.id
    chosen = set(to_ask(wanted, known_points(reviews), now, MOST_IN_A_JOB))
    return tuple(question for point, question in wanted.items() if point in chosen)


def _is_new(step: Step, torques: set[float]) -> bool:
    assert isinstance(step.ask, AskTorque)
    if step.ask.target in torques:
        return False
    torques.add(step.ask.target)
    return True


def review_of(procedure_id: str, data: Mapping[str, Any], at_ms: int) -> Review | None:
    """What a 'prediction' entry of a journal shows of what the person knows; None when it shows nothing."""
    outcome = data.get("outcome")
    if outcome not in ("right", "helped", "wrong", "not known"):
        return None
    return Review(
        point=point_of(procedure_id, str(data["question"])),
        at_ms=at_ms,
        right=outcome in ("right", "helped"),
        helped=outcome == "helped",
    )
