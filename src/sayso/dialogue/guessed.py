"""A question before telling is over, however it ended: what is recorded, and the step's own time begins."""

from __future__ import annotations

from typing import Literal

from sayso.answers.answer import Answer
from sayso.dialogue import guidance, predictions
from sayso.dialogue.step_questions import Question
from sayso.dialogue.turn import Turn

#: How a question before telling ended. The last two say nothing of what a person knows.
Outcome = Literal["right", "helped", "wrong", "not known", "told", "no answer"]


def close(turn: Turn, question: Question, outcome: Outcome, answer: Answer | None = None) -> None:
    """The record's figures count the time at a step from this entry on, as `guidance` does."""
    state = turn.state
    turn.record(
        "prediction",
        step=question.step,
        visit=state.at,
        question=question.id,
        asked=question.text,
        outcome=outcome,
        first_guess=state.first_guess,
        guess=answer.value if answer is not None else None,
        unit=answer.unit if answer is not None else "",
        right=predictions.right_value(state, question),
    )
    left = tuple(one for one in state.ask_first if one != question.id)
    turn.update(ask_first=left, first_guess=None, predicting="")
    guidance.step_entered(turn)
