"""What is different in a quiz that sayso made: it is read like any procedure, but no machine is touched."""

from __future__ import annotations

from dataclasses import replace

from sayso.procedure.model import AskMeasure, Step

QUIZ_PREFIX = "quiz-"


def is_quiz(procedure: str) -> bool:
    return procedure.startswith(QUIZ_PREFIX)


def asked_in(procedure: str, step: Step) -> Step:
    """In a quiz "tell me" is an answer to a number too. No key of a file says so: at a machine it must never
    pass for a reading of nought, so not where there are limits either."""
    ask = step.ask
    if not is_quiz(procedure) or not isinstance(ask, AskMeasure):
        return step
    if any(limit is not None for limit in (ask.below, ask.above, ask.at_least, ask.at_most)):
        return step
    return replace(step, ask=replace(ask, may_not_know=True))
