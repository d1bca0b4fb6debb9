"""What the parameters have decided already: a condition such as '"<axle>" == "double"' reads no answer once
its parameter is filled in, so its step or branch is part of this job, or never is."""

from __future__ import annotations

from dataclasses import replace

from lark import Token, Tree

from sayso.procedure.conditions import ConditionError, constant_of, syntax_tree
from sayso.procedure.graph import graph_of_steps
from sayso.procedure.model import END, Branches, Procedure, Step


def truth(source: str) -> bool | None:
    """True or False where no answer can change it; None where it has to be seen in the job.

    Raises what `syntax_tree` raises for what is no condition.
    """
    return truth_of(syntax_tree(source))


def truth_of(tree: Tree[Token]) -> bool | None:
    """As `truth`, of a part of a condition. An "and" is settled by one part that is false, an "or" by one
    that is true (CEL language definition), whatever the others read."""
    while len(tree.children) == 1 and isinstance(tree.children[0], Tree):
        tree = tree.children[0]
    if tree.data in ("conditionaland", "conditionalor"):
        decides = tree.data == "conditionalor"
        found = [truth_of(part) for part in tree.children if isinstance(part, Tree)]
        return decides if decides in found else (None if None in found else not decides)
    if tree.data == "unary" and isinstance(tree.children[0], Tree) and tree.children[0].data == "unary_not":
        inner = tree.children[1]
        denied = truth_of(inner) if isinstance(inner, Tree) else None
        return None if denied is None else not denied
    if any(part.data == "ident" for part in tree.iter_subtrees()):
        return None  # reads an answer
    try:
        value = constant_of(tree)
    except ConditionError:
        return None  # the job tells it where it comes to it
    return value if isinstance(value, bool) else None


def as_settled(procedure: Procedure) -> Procedure:
    """`procedure` without the steps and branches that its parameters rule out, and without the conditions
    that always hold. For the eye only: a job runs on the whole text."""
    steps = procedure.steps
    never = {step.id for step in steps if step.when and truth(step.when) is False}
    if not never and not any(_has_settled(step) for step in steps):
        return procedure
    lands: dict[str, str] = {END: END}  # where somebody comes to who is sent to a step
    following = END
    for step in reversed(steps):
        lands[step.id] = following = following if step.id in never else step.id
    kept = tuple(_settled(step, lands) for step in steps if step.id not in never)
    # A step that only ruled out steps lead to ("call the lead hand" of a check that is left out) is gone too.
    lost = graph_of_steps(steps).reachable - graph_of_steps(kept).reachable
    return replace(procedure, steps=tuple(step for step in kept if step.id not in lost))


def ruled_out_ways(step: Step) -> frozenset[str]:
    """Conditions of `step`'s branches that its parameters rule out, "otherwise" among them."""
    gone: set[str] = set()
    decided = False
    for case in step.then.cases:
        holds = truth(case.when) if case.is_condition else None
        if decided or holds is False:
            gone.add(case.when)
        decided = decided or (holds is True and not step.may_skip)
    return frozenset(gone | {"otherwise"} if decided else gone)


def _has_settled(step: Step) -> bool:
    conditions = [step.when] if step.when else []
    conditions += [case.when for case in step.then.cases if case.is_condition]
    return any(truth(condition) is not None for condition in conditions)


def _settled(step: Step, lands: dict[str, str]) -> Step:
    then = step.then
    cases = []
    otherwise = then.otherwise
    for case in then.cases:
        holds = truth(case.when) if case.is_condition else None
        if holds and not step.may_skip:  # a step that is skipped goes the way of 'otherwise' all the same
            otherwise = case.target
            break
        if holds is not False:
            cases.append(replace(case, target=lands[case.target]))
    return replace(
        step,
        when="" if step.when and truth(step.when) else step.when,
        then=Branches(tuple(cases), otherwise and lands[otherwise], then.compare),
        out_of_limits=step.out_of_limits and lands[step.out_of_limits],
    )
