"""What a learner is asked before a step is told ("to what torque?"), how it is heard, and when it is right.

Which steps may be asked about at all is in step_questions.py.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

from sayso import answers
from sayso.answers import spoken
from sayso.answers.answer import Answer
from sayso.answers.torque import AT_TORQUE, KEEPS_TURNING
from sayso.answers.unit_words import convert
from sayso.dialogue.state import State
from sayso.dialogue.step_questions import Question
from sayso.procedure.expecting import expected_value
from sayso.procedure.model import (
    Ask,
    AskChoice,
    AskCount,
    AskMeasure,
    AskTorque,
    Option,
    Step,
)

Verdict = Literal["right", "more", "less", "wrong"]

#: A guessed torque is heard up to so many times the target: a guess must have room to be wrong.
ROOM = 4.0
#: An expected value counts as known when the guess is as near as this, or within the step's own limits.
NEAR = 0.1


def next_question(state: State) -> Question | None:
    """What is to be asked now, before the step in hand is told; None when it is to be told."""
    if (
        not (state.ask_first and state.at_step and state.level == "full")
        or state.quiet
        or state.questions_off
    ):
        return None
    if state.visit.begun or state.visit.finished:
        return None
    return next(
        (
            question
            for question in state.plan.questions[state.procedure.position(state.visit.step)]
            if question.id in state.ask_first and _can_be_judged(state, question)
        ),
        None,
    )


def open_question(state: State) -> Question | None:
    """The question before telling that is being asked."""
    if not state.predicting or not state.at_step:
        return None
    questions = state.plan.questions[state.procedure.position(state.visit.step)]
    return next((question for question in questions if question.id == state.predicting), None)


def ask_of(question: Question, step: Step, wrench: str) -> Ask:
    """How the guess is understood. Whether it is right is for `judge`: a wrong guess is no deviation."""
    if question.kind == "way" and step.prediction is not None:
        texts = sorted((step.prediction.right, *step.prediction.wrong))
        return AskChoice("prediction", tuple(Option(text, (text,)) for text in texts))
    if isinstance(step.ask, AskTorque):
        most = math.ceil(ROOM * convert(step.ask.target, "N.m", wrench))
        return AskMeasure("prediction", wrench, low=0.0, high=float(most))
    assert isinstance(step.ask, AskMeasure | AskCount)
    return replace(step.ask, name="prediction", read_back=False)


def phrases_of(question: Question, step: Step, wrench: str) -> tuple[str, ...]:
    """The grammar of the guess: for a torque the words of a wrench, over a wider range than the step has."""
    if question.kind == "torque" and isinstance(step.ask, AskTorque):
        target = step.ask.target
        wide = replace(step.ask, low=target / ROOM, high=target * ROOM / 1.4)
        return tuple(p for p in answers.phrases(wide, wrench=wrench) if p not in (*AT_TORQUE, *KEEPS_TURNING))
    return tuple(answers.phrases(ask_of(question, step, wrench), wrench=wrench))


def judge(state: State, question: Question, answer: Answer) -> Verdict:
    """Kindly: a torque within its limits is right, and a value that is near or within the step's limits."""
    step = state.procedure.step(question.step)
    if question.kind == "way":
        right = step.prediction is not None and answer.value == step.prediction.right
        return "right" if right else "wrong"
    value = float(answer.value)
    if isinstance(step.ask, AskTorque):
        newton_metres = convert(value, answer.unit or state.wrench, "N.m")
        slack = 1e-6 + 0.005 * step.ask.target  # the target as it is said is rounded
        if step.ask.low - slack <= newton_metres <= step.ask.high + slack:
            return "right"
        return "more" if newton_metres < step.ask.target else "less"
    expected = expected_value(step, state.values)
    if expected is None:
        return "right"
    limits = [limit for limit in _limits(step) if limit is not None]
    within = len(limits) == 2 and min(limits) <= value <= max(limits)
    if within or abs(value - expected) <= (0 if isinstance(step.ask, AskCount) else NEAR * abs(expected)):
        return "right"
    return "more" if value < expected else "less"


def told(state: State, question: Question) -> str:
    """The right answer in a sentence. (A torque's target is told with the step, again.)"""
    step = state.procedure.step(question.step)
    if question.kind == "way" and step.prediction is not None:
        return f"It is {step.prediction.right}."
    if isinstance(step.ask, AskTorque):
        return f"It is {answers.torque_target(step.ask, state.wrench)}."
    expected = expected_value(step, state.values)
    if expected is None:
        return ""
    if isinstance(step.ask, AskMeasure):
        return f"Expect about {spoken.quantity(float(f'{expected:.3g}'), step.ask.unit)}."
    return f"Expect {spoken.number(expected)}."


def right_value(state: State, question: Question) -> str | float | None:
    """For the journal: the right answer beside the guess (a torque in newton metres)."""
    step = state.procedure.step(question.step)
    if question.kind == "way":
        return step.prediction.right if step.prediction is not None else None
    return step.ask.target if isinstance(step.ask, AskTorque) else expected_value(step, state.values)


def _can_be_judged(state: State, question: Question) -> bool:
    return (
        question.kind != "value"
        or expected_value(state.procedure.step(question.step), state.values) is not None
    )


def _limits(step: Step) -> tuple[float | None, float | None]:
    ask = step.ask
    if not isinstance(ask, AskMeasure):
        return None, None
    low = ask.at_least if ask.at_least is not None else ask.above
    high = ask.at_most if ask.at_most is not None else ask.below
    return low, high
