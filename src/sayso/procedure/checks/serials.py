"""Serial patterns and the prefixes that are branched on: do they cover each other?

The answer is exact (see serial_patterns.py), and an example is shown.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from sayso.procedure.checks.view import View
from sayso.procedure.model import AskSerial
from sayso.procedure.problems import Problem
from sayso.procedure.serial_patterns import left_open, look

_CHECK = "serials"
#: 'KD*' as a search has it; in a pattern it fits K, KD, KDD and nothing that stands on a plate
_STAR = re.compile(r"(?<![\\\[A-Z0-9-])[A-Z0-9]*([A-Z0-9])\*")


def find(view: View) -> Iterator[Problem]:
    for one in view.steps:
        ask = one.step.ask
        if not isinstance(ask, AskSerial):
            continue
        prefixes = tuple(case.when for case in one.step.then.cases if not case.is_condition)
        if ask.pattern is None:
            if prefixes and one.step.then.otherwise is None and not one.step.ends:
                yield view.problem(
                    one,
                    ("then",),
                    "a serial with another beginning leads nowhere",
                    "add 'otherwise: step-id'",
                    "error",
                    _CHECK,
                )
            continue
        wrong = left_open(ask.pattern)
        if wrong:
            yield view.problem(
                one,
                ("ask", "pattern"),
                f"in the pattern '{ask.pattern}' {wrong}",
                'write it like "[A-Z]{2}[0-9]{6}"',
                "error",
                _CHECK,
            )
            continue
        found = look(ask.pattern, prefixes)
        if found is None:
            yield view.problem(
                one,
                ("ask", "pattern"),
                f"the pattern '{ask.pattern}' is too complicated to be checked",
                "use letters, digits, [..], (..|..), ? and {n}",
                "hint",
                _CHECK,
            )
            continue
        star = _STAR.search(ask.pattern)
        if star is not None:
            yield view.problem(
                one,
                ("ask", "pattern"),
                f"in the pattern '{ask.pattern}' the star is '{star[1]}' any number of times, or not at all",
                f'write what may follow: "{ask.pattern[: star.end() - 1]}[0-9]+" for digits',
                "warning",
                _CHECK,
            )
        impossible, uncovered = found.impossible, found.uncovered
        if found.unsayable:
            yield view.problem(
                one,
                ("ask", "pattern"),
                f"no serial of capital letters and digits fits '{ask.pattern}'",
                'write capital letters and digits, as "[A-Z]{2}[0-9]{6}"',
                "error",
                _CHECK,
            )
            continue
        # a step that is skipped goes the way of 'otherwise'
        never = uncovered is None and not one.step.may_skip
        if prefixes and never and one.step.then.otherwise is not None:
            yield view.problem(
                one,
                ("then", "otherwise"),
                f"every serial that fits '{ask.pattern}' has a branch: 'otherwise' never happens",
                "remove it, or let the pattern allow other beginnings",
                "warning",
                _CHECK,
            )
        for prefix in impossible:
            yield Problem(
                view.key_place(one, prefix),
                f"no serial that fits '{ask.pattern}' starts with '{prefix}'",
                "write a beginning that fits, or change the pattern",
                "error",
                _CHECK,
            )
        if prefixes and uncovered is not None and one.step.then.otherwise is None and not one.step.ends:
            yield view.problem(
                one,
                ("then",),
                f"no branch for a serial such as '{uncovered}'",
                "add its beginning, or 'otherwise: step-id'",
                "error",
                _CHECK,
            )
