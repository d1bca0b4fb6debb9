"""Answers of one question that sound alike: the noise of a workshop decides between them."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from sayso.answers.confusions import like_letters
from sayso.procedure.checks.view import View
from sayso.procedure.model import AskChoice, AskSerial
from sayso.procedure.problems import Problem, Severity
from sayso.procedure.resolving import Resolved

_CHECK = "sounds alike"


def find(view: View) -> Iterator[Problem]:
    for one in view.steps:
        if isinstance(one.step.ask, AskSerial):
            yield from _prefixes(view, one)
        if view.ear is None or not isinstance(one.step.ask, AskChoice):
            continue
        for pair in view.ear.alike(one.step.ask):
            if pair.first == pair.second:
                what = f"'{pair.first}': {pair.why}"
            else:
                what = f"'{pair.first}' and '{pair.second}' sound alike ({pair.why})"
            write = (
                f"say '{pair.instead}' for one of them" if pair.instead else "use words that share no sounds"
            )
            severity: Severity = "error" if pair.wrong else "warning"
            yield view.problem(one, ("ask", "options"), what, write, severity, _CHECK)


def _prefixes(view: View, one: Resolved) -> Iterator[Problem]:
    """Beginnings of serials that differ only in letters that are taken for one another (KB, KD)."""
    prefixes = [case.when for case in one.step.then.cases if not case.is_condition]
    for first, second in combinations(prefixes, 2):
        differ = [(a, b) for a, b in zip(first, second, strict=False) if a != b]
        if len(first) == len(second) and differ and all(b in like_letters(a) for a, b in differ):
            yield Problem(
                view.key_place(one, second),
                f"the beginnings '{first}' and '{second}' sound alike",
                "have it spelled with code words (kilo, bravo); keep read_back",
                "hint",
                _CHECK,
            )
