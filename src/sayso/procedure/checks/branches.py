"""Unreachable steps, answers without a branch, branches without an answer, loops without an end."""

from __future__ import annotations

from collections.abc import Iterator

from sayso.procedure.checks.view import View
from sayso.procedure.graph import case_value, has_limits, possible_values, uncovered
from sayso.procedure.model import END, AskSerial
from sayso.procedure.problems import Problem, write_one_of
from sayso.procedure.resolving import Resolved

_CHECK = "branches"
_MEANS_OTHERWISE = frozenset({"else", "default", "other", "others", "any", "anything else"})


def find(view: View) -> Iterator[Problem]:
    following = [*(one.step.id for one in view.steps[1:]), END]
    for one, after in zip(view.steps, following, strict=False):
        if one.step.then.cases:
            yield from _cases(view, one)
            yield from _skipped(view, one, after)
        if one.step.out_of_limits and not has_limits(one.step):
            yield view.problem(
                one,
                ("out_of_limits",),
                "'out_of_limits' on a question without limits",
                "give limits (below, above, at_least, at_most), or remove it",
                "error",
                _CHECK,
            )
        if one.step.not_met and (wrong := _why_not_let_stand(one)):
            yield view.problem(one, ("not_met",), *wrong, "error", _CHECK)
        if one.step.ends and (one.step.then.otherwise is not None):
            yield view.problem(
                one,
                ("ends",),
                "the step ends the job and also leads on",
                "keep 'ends' or 'then'",
                "error",
                _CHECK,
            )
    if view.whole:
        yield from _unreachable(view)
        yield from _endless(view)


def _why_not_let_stand(one: Resolved) -> tuple[str, str] | None:
    step = one.step
    if not has_limits(step):
        return (
            "'not_met' on a question without limits",
            "give limits (below, above, at_least, at_most), or remove it",
        )
    if step.out_of_limits:
        return (
            f"a value outside its limits leads to '{step.out_of_limits}' and may also be let stand",
            "keep 'out_of_limits' or 'not_met'",
        )
    if any(caution.level.needs_acknowledgement for caution in step.cautions):
        return (
            "a value at a step with a danger or warning may not be let stand: it may guard against it",
            "remove 'not_met', or give 'out_of_limits' a step that makes it safe",
        )
    return None


def _cases(view: View, one: Resolved) -> Iterator[Problem]:
    step = one.step
    if step.then.cases[0].is_condition:
        if step.then.otherwise is None:
            yield view.problem(
                one,
                ("then",),
                "the conditions may all be false, and there is no 'otherwise'",
                "add '- otherwise: step-id' ('next' for the next step)",
                "warning",
                _CHECK,
            )
        return
    values = possible_values(step)
    if values is None and step.ask.kind not in ("serial", "count"):
        yield view.problem(
            one,
            ("then",),
            f"the answer is a {step.ask.kind}: it has no values to branch on",
            "write a list of '- if: answers... ' with 'go: step-id'",
            "error",
            _CHECK,
        )
        return
    seen: dict[str, str] = {}
    else_written = False
    for case in step.then.cases:
        folded = case_value(case.when)
        if folded in seen:
            yield view.problem(
                one,
                ("then", case.when),
                f"'{case.when}' and '{seen[folded]}' are the same answer",
                "keep one",
                "error",
                _CHECK,
            )
        seen[folded] = case.when
        if values is not None and folded not in {value.casefold() for value in values}:
            else_written = else_written or folded in _MEANS_OTHERWISE
            known = values if len(values) <= 20 else (values[0], "...", values[-1])
            yield Problem(
                view.key_place(one, case.when),
                f"'{case.when}' can never be answered here",
                "write 'otherwise'" if folded in _MEANS_OTHERWISE else write_one_of(case.when, known),
                "error",
                _CHECK,
            )
    missing = uncovered(step)
    if isinstance(step.ask, AskSerial) or step.then.otherwise is not None or step.ends or not missing:
        return  # serials.py works out which serials are left
    if else_written:
        return  # with its right name it takes what is missing
    shown = ", ".join(missing[:6]) + (", ..." if len(missing) > 6 else "")
    what = "no branch for the other answers" if missing == ("...",) else f"no branch for: {shown}"
    yield view.problem(
        one, ("then",), what, "add a branch for each, or 'otherwise: step-id'", "error", _CHECK
    )


def _skipped(view: View, one: Resolved, after: str) -> Iterator[Problem]:
    """A step that is skipped has no answer: its branches do not apply, and the next step may be anything."""
    step = one.step
    if not step.may_skip or step.then.otherwise is not None or step.ends:
        return
    if uncovered(step) and not isinstance(step.ask, AskSerial):
        return  # that 'otherwise' is missing is told already
    yield view.problem(
        one,
        ("skip",),
        f"skipped, this step has no answer to branch on: the job goes to '{after}'",
        "add 'otherwise: step-id' ('next' for the next step)",
        "warning",
        _CHECK,
    )


def _unreachable(view: View) -> Iterator[Problem]:
    reached = view.graph.reachable
    before_reached = True
    for one in view.steps:
        is_reached = one.step.id in reached
        # Of a run of unreachable steps only the first is told: the rest follows from it.
        if not is_reached and before_reached:
            yield view.problem(
                one,
                ("id",),
                f"no way leads to the step '{one.step.id}'",
                "lead a branch to it, or remove it",
                "error",
                _CHECK,
            )
        before_reached = is_reached


def _endless(view: View) -> Iterator[Problem]:
    told: set[str] = set()
    for one in view.steps:
        step = one.step.id
        if step in view.graph.can_end or step not in view.graph.reachable or step in told:
            continue
        ring = view.graph.after([step])
        told |= ring
        shown = [other.step.id for other in view.steps if other.step.id in ring]
        listed = ", ".join(shown[:5]) + (", ..." if len(shown) > 5 else "")
        yield view.problem(
            one,
            ("id",),
            f"from here the job can never end (it goes round: {listed})",
            "lead one branch out of the ring",
            "error",
            _CHECK,
        )
