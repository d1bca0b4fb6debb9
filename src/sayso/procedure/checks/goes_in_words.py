"""A branch that is only spoken: 'If it is cracked, go to step 6.' leaves the way to the memory of who
hears it, and the number is another one as soon as a step is added."""

from __future__ import annotations

import re
from collections.abc import Iterator

from sayso.procedure.checks.view import View
from sayso.procedure.problems import Problem

_GOES = re.compile(
    r"\b(?:go|return|proceed|continue|skip|jump|move)\s+(?:on\s+|back\s+|ahead\s+)?(?:to|with|at)\s+step\s+\w+",
    re.I,
)


def find(view: View) -> Iterator[Problem]:
    for one in view.steps:
        for key in ("say", "brief"):
            told = _GOES.search(getattr(one.step, key))
            if told:
                yield view.problem(
                    one,
                    (key,),
                    f"'{told.group()}' is only spoken: nothing goes there",
                    "ask what decides it, and write the way under 'then'",
                    "warning",
                    "goes_in_words",
                )
