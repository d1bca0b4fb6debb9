"""The value that a step says beforehand will be read or counted, worked out from the answers so far."""

from __future__ import annotations

import math
from collections.abc import Mapping

from sayso.procedure import conditions
from sayso.procedure.model import AskCount, AskMeasure, Step


def expects_a_value(step: Step) -> bool:
    """It says beforehand what will be read or counted."""
    return bool(step.expect) and isinstance(step.ask, AskMeasure | AskCount)


def expected_value(step: Step, answers: Mapping[str, conditions.Value]) -> float | None:
    """None when the step expects none, or when it cannot be worked out from `answers` (one is missing, or the
    result is no finite number: true and false are none)."""
    if not expects_a_value(step):
        return None
    try:
        value = conditions.value_of(step.expect, answers)
    except conditions.ConditionError:  # a missing answer is one too
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return None
    return float(value)
