"""A caution that comes after the act it warns of. A heuristic: it compares words, so it only warns."""

from __future__ import annotations

import re
from collections.abc import Iterator

from sayso.procedure.checks.actions import actions
from sayso.procedure.checks.view import View
from sayso.procedure.checks.words_of_work import sentences, stem, stems
from sayso.procedure.problems import Problem
from sayso.procedure.resolving import Resolved

_CHECK = "caution order"
_WARNS = re.compile(
    r"^(danger|warning|caution|careful|be careful|take care|beware|never|do not|don't|mind|watch out)\b",
    re.IGNORECASE,
)


def find(view: View) -> Iterator[Problem]:
    for number, one in enumerate(view.steps):
        yield from _in_the_step(view, one)
        if view.whole and number and one.step.cautions:
            yield from _after_the_act(view, view.steps[number - 1], one)


def _in_the_step(view: View, one: Resolved) -> Iterator[Problem]:
    listed = sentences(one.step.say)
    for sentence in listed[1:]:
        if _WARNS.match(sentence.strip()):
            yield view.problem(
                one,
                ("say",),
                f"a warning after the act ('{sentence.strip()}')",
                "move it to 'caution: {level: ..., say: ...}', which is spoken first",
                "warning",
                _CHECK,
            )
    if listed and _WARNS.match(listed[0].strip()) and len(listed) > 1:
        yield view.problem(
            one,
            ("say",),
            f"a warning inside the step ('{listed[0].strip()}')",
            "move it to 'caution: {level: ..., say: ...}', so that it is acknowledged",
            "warning",
            _CHECK,
        )


def _after_the_act(view: View, before: Resolved, one: Resolved) -> Iterator[Problem]:
    acts = {stem(verb) for verb in actions(before.step.say)}
    if not acts or before.step.id not in view.graph.reachable:
        return
    if not any(edge.target == one.step.id for edge in view.graph.edges[before.step.id]):
        return
    own = stems(one.step.say)
    earlier = stems(before.step.say)
    for index, caution in enumerate(one.step.cautions):
        said = stems(caution.say)
        shared = (said & earlier) - own
        if acts & shared and len(shared) > 1 and not acts & {stem(v) for v in actions(one.step.say)}:
            if any(stems(c.say) & acts for c in before.step.cautions):
                continue
            yield view.problem(
                one,
                ("caution", index, "say"),
                f"this caution speaks of '{', '.join(sorted(shared))}', which the step before has done "
                f"('{before.step.id}', line {before.step.place.line})",
                f"move it to the step '{before.step.id}'",
                "warning",
                _CHECK,
            )
