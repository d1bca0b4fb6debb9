"""A parameter given as "Heavy" where a condition has "heavy": its step would be left out without a word."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from sayso.procedure.problems import Problem
from sayso.procedure.resolving import Resolved

#: What was filled in for a parameter or a loop item, beside the text that it is compared with.
_TWO_TEXTS = re.compile(r"""["']([^"'\\]*)["']\s*(?:==|!=)\s*["']([^"'\\]*)["']""")


def texts_in_other_letters(steps: Iterable[Resolved]) -> Iterator[Problem]:
    for one in steps:
        conditions = (one.step.when, *(case.when for case in one.step.then.cases if case.is_condition))
        for first, second in (texts for condition in conditions for texts in _TWO_TEXTS.findall(condition)):
            if first != second and _same_letters(first) == _same_letters(second):
                node = one.source.node.get("when") or one.source.node.get("then")
                place = node.place if node is not None else one.source.node.place
                what = f"a condition compares '{first}' with '{second}', which are two texts to it"
                yield Problem(place, what, "write, or give with --set, both in the same letters")


def _same_letters(text: str) -> str:
    return " ".join(text.casefold().replace("-", " ").replace("_", " ").split())
