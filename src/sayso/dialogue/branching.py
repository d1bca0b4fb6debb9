"""Where an answer leads: the branch of the step, then past every step whose condition is false."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sayso.answers.answer import Answer
from sayso.dialogue.state import State, Target, Value, Visit
from sayso.procedure import conditions
from sayso.procedure.model import END, Branch, Branches, Step


@dataclass(frozen=True, slots=True)
class Way:
    """Where the job goes, the steps on it that do not apply, and conditions that cannot be worked out."""

    target: Target
    passed: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()


def first_way(state: State) -> Way:
    return _past_what_does_not_apply(state, _at(state, 0), [])


def way_after(state: State, visit: Visit) -> Way:
    """Where a finished visit leads, with the answers that stand now."""
    step = state.procedure.step(visit.step)
    problems: list[str] = []
    return _past_what_does_not_apply(state, _target(state, step, visit, problems), problems)


def _target(state: State, step: Step, visit: Visit, problems: list[str]) -> Target:
    answer = visit.answer
    if answer is not None:
        if not answer.within and step.out_of_limits:
            return _named(step.out_of_limits)
        for case in step.then.cases:
            if _fits(case, step.then, answer, state.values, problems):
                return _named(case.target)
    if step.then.otherwise is not None:
        return _named(step.then.otherwise)
    if step.ends:
        return Target(outcome=step.ends)
    return _at(state, state.procedure.position(step.id) + 1)


def _named(name: str) -> Target:
    return Target(outcome="complete") if name == END else Target(step=name)


def _at(state: State, position: int) -> Target:
    steps = state.procedure.steps
    return Target(step=steps[position].id) if position < len(steps) else Target(outcome="complete")


def _past_what_does_not_apply(state: State, target: Target, problems: list[str]) -> Way:
    passed: list[str] = []
    while target.step:
        step = state.procedure.step(target.step)
        if not step.when or _holds(step.when, state.values, problems, otherwise=True):
            break
        passed.append(step.id)
        target = _at(state, state.procedure.position(step.id) + 1)
    return Way(target, tuple(passed), tuple(problems))


def _fits(
    case: Branch, then: Branches, answer: Answer, values: Mapping[str, Value], problems: list[str]
) -> bool:
    if case.is_condition:
        return _holds(case.when, values, problems, otherwise=False)
    texts = value_texts(answer.value)
    wanted = case.when.casefold()
    if then.compare == "prefix":
        return any(text.startswith(wanted) for text in texts)
    return wanted in texts


def value_texts(value: Value) -> tuple[str, ...]:
    """How a value may be written as a branch case: yes/true, 8, 2.5, a choice; case does not count."""
    if isinstance(value, bool):
        return ("yes", "true") if value else ("no", "false")
    if isinstance(value, float):
        whole = (str(int(value)),) if value.is_integer() else ()
        return (*whole, repr(value))
    return (str(value).casefold(),)


def _holds(source: str, values: Mapping[str, Value], problems: list[str], *, otherwise: bool) -> bool:
    """A condition that cannot be worked out must not stop a job: a step's `when` then counts as true (the
    step is told, which is the safe side), a branch case as not fitting; the problem is shown and recorded."""
    try:
        named = conditions.answer_names(source)
        return bool(conditions.evaluate(source, {name: values[name] for name in named if name in values}))
    except conditions.ConditionError as error:
        problems.append(f"{source}: {error}")
        return otherwise
