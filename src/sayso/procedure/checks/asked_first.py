"""Questions before telling that can never be asked, or that have no one right answer."""

from __future__ import annotations

from collections.abc import Iterator

from sayso.procedure.asking_first import why_never
from sayso.procedure.checks.view import View
from sayso.procedure.expecting import expects_a_value
from sayso.procedure.model import AskTorque
from sayso.procedure.problems import Problem

_CHECK = "asked first"


def find(view: View) -> Iterator[Problem]:
    for one in view.steps:
        step = one.step
        if step.ask_first != "yes":
            continue
        if never := why_never(step):
            what = f"nothing is asked before this step is told: {never}"
            yield view.problem(one, ("predict",), what, "remove 'predict'", "error", _CHECK)
        elif step.prediction is not None:
            words = [text.casefold().strip(" .") for text in (step.prediction.right, *step.prediction.wrong)]
            if len(set(words)) < len(words):
                what = f"'{step.prediction.right}' is among the wrong answers, or one of them comes twice"
                yield view.problem(one, ("predict",), what, "write answers that all differ", "error", _CHECK)
        elif not isinstance(step.ask, AskTorque) and not expects_a_value(step):
            what = "there is nothing to ask before telling: no torque and no expected value"
            yield view.problem(
                one,
                ("predict",),
                what,
                "write 'predict: {question: ..., right: ..., wrong: [...]}', or 'expect'",
                "error",
                _CHECK,
            )
