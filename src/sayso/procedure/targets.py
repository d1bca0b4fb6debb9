"""Where a step may lead: every target has to be there, and 'next' becomes the step that follows."""

from __future__ import annotations

from dataclasses import replace

from sayso.procedure.model import END, NEXT, Step
from sayso.procedure.problems import Problem, write_one_of
from sayso.procedure.resolving import Resolved
from sayso.procedure.step_names import as_meant
from sayso.procedure.unfold import StepNode
from sayso.procedure.yaml_nodes import Mapping, Node, Scalar, Sequence


def unknown_targets(steps: list[Resolved], sources: list[StepNode], unread: list[Scalar]) -> list[Problem]:
    """Also of the steps in which something else is wrong."""
    names = (*(one.step.id for one in steps), *(name for one in unread for name in as_meant(one.text)))
    ids = dict.fromkeys((*names, NEXT, END))  # in file order
    # who is told what may be written is told a name that a step can have: 'pin-out', not 'Pin Out'
    offered = [name for name in ids if as_meant(name)[1] == name]
    read = {id(one.source) for one in steps}
    written = [(target, one.node(*path).place) for one in steps for target, path in targets_of(one.step)]
    for source in sources:
        if id(source) not in read:
            written += [(scalar.text, scalar.place) for scalar in _written_targets(source.node)]
    return [
        Problem(place, f"there is no step '{target}'", write_one_of(target, offered), check="targets")
        for target, place in written
        if target not in ids
    ]


def _written_targets(step: Mapping) -> list[Scalar]:
    then = step.get("then")
    found: list[Node | None] = [step.get("out_of_limits"), then]
    if isinstance(then, Mapping):
        found += [entry.value for entry in then.entries.values()]
    if isinstance(then, Sequence):
        found += [line.get(key) for line in then.items if isinstance(line, Mapping) for key in _LEADS]
    return [node for node in found if isinstance(node, Scalar) and node.text]


#: keys of a line of `then` under which a target stands
_LEADS = ("go", "otherwise")


def targets_of(step: Step) -> list[tuple[str, tuple[str | int, ...]]]:
    """Every target that a step names, with the path of its node within the step."""
    found: list[tuple[str, tuple[str | int, ...]]] = []
    then = step.then
    for number, case in enumerate(then.cases):
        path: tuple[str | int, ...] = ("then", number, "go") if case.is_condition else ("then", case.when)
        found.append((case.target, path))
    if then.otherwise is not None:
        listed = bool(then.cases) and then.cases[0].is_condition
        found.append(
            (then.otherwise, ("then", len(then.cases), "otherwise") if listed else ("then", "otherwise"))
        )
    if step.out_of_limits:
        found.append((step.out_of_limits, ("out_of_limits",)))
    return found


def with_targets_resolved(steps: list[Resolved]) -> list[Resolved]:
    found: list[Resolved] = []
    for number, one in enumerate(steps):
        following = steps[number + 1].step.id if number + 1 < len(steps) else END
        step = one.step
        named = [target for target, _ in targets_of(step)]
        if NEXT in named:

            def real(target: str, following: str = following) -> str:
                return following if target == NEXT else target

            then = replace(
                step.then,
                cases=tuple(replace(case, target=real(case.target)) for case in step.then.cases),
                otherwise=real(step.then.otherwise) if step.then.otherwise is not None else None,
            )
            step = replace(
                step, then=then, out_of_limits=real(step.out_of_limits) if step.out_of_limits else ""
            )
            one = replace(one, step=step)
        found.append(one)
    return found
