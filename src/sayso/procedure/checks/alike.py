"""Answers of one question that sound alike: the noise of a workshop decides between them."""

from __future__ import annotations

from collections.abc import Iterator

from sayso.procedure.checks.view import View
from sayso.procedure.model import AskChoice
from sayso.procedure.problems import Problem


def find(view: View) -> Iterator[Problem]:
    if view.ear is None:
        return
    for one in view.steps:
        if not isinstance(one.step.ask, AskChoice):
            continue
        for pair in view.ear.alike(one.step.ask):
            yield view.problem(
                one,
                ("ask", "options"),
                f"'{pair.first}' and '{pair.second}' sound alike ({pair.why})",
                f"say '{pair.instead}' for one of them" if pair.instead else "use words that share no sounds",
                "warning",
                "sounds alike",
            )
