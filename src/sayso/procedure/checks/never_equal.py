"""Conditions that compare an answer with a value it can never have: their step would silently be left out."""

from __future__ import annotations

from collections.abc import Iterator

from lark import Token, Tree

from sayso.procedure import conditions
from sayso.procedure.checks.names import expressions
from sayso.procedure.checks.view import View
from sayso.procedure.graph import possible_values
from sayso.procedure.model import AskChoice, AskCount
from sayso.procedure.problems import Problem, write_one_of

_CHECK = "conditions"
_Node = Tree[Token]


def find(view: View) -> Iterator[Problem]:
    """Only of choices and counts, whose values can be listed, and only where every step that asks is read."""
    if view.unread:
        return
    values: dict[str, list[str] | None] = {}
    for one in view.steps:
        ask = one.step.ask
        listed = possible_values(one.step) if isinstance(ask, AskChoice | AskCount) else None
        known = values.setdefault(ask.name, [])
        values[ask.name] = [*known, *listed] if known is not None and listed is not None else None
    for one in view.steps:
        for path, text, _ in expressions(one):
            for name, wanted in _compared(text):
                known = values.get(name)
                if known and wanted not in known:
                    shown = known if len(known) <= 20 else [known[0], "...", known[-1]]
                    yield view.problem(
                        one,
                        path,
                        f"the answer '{name}' can never be '{wanted}'",
                        write_one_of(wanted, shown),
                        "warning",
                        _CHECK,
                    )


def _compared(source: str) -> Iterator[tuple[str, str]]:
    """(answer, value) for each answers.name == value, != value and in [value, ...]."""
    try:
        tree = conditions.syntax_tree(source)
    except conditions.ConditionError:
        return  # told where it is read
    for relation in tree.iter_subtrees():
        if relation.data != "relation" or len(relation.children) != 2:
            continue
        left, right = relation.children
        if not isinstance(left, Tree) or not isinstance(right, Tree):
            continue
        if left.data not in ("relation_eq", "relation_ne", "relation_in"):
            continue
        sides = [_inner(side) for side in (left.children[0], right) if isinstance(side, Tree)]
        for name in filter(None, map(_answer, sides)):
            literals = (part for side in sides for part in side.iter_subtrees() if part.data == "literal")
            if all(_answer(side) or side.data in ("literal", "list_lit") for side in sides):
                for literal in literals:
                    if (value := _value(str(literal.children[0]))) is not None:
                        yield name, value


def _inner(tree: _Node) -> _Node:
    while len(tree.children) == 1 and isinstance(tree.children[0], Tree) and tree.data != "list_lit":
        tree = tree.children[0]
    return tree


def _answer(tree: _Node) -> str:
    if tree.data != "member_dot":
        return ""
    of, name = tree.children
    inner = _inner(of) if isinstance(of, Tree) else None
    return str(name) if inner is not None and inner.data == "ident" and inner.children == ["answers"] else ""


def _value(written: str) -> str | None:
    """A plain text or a whole number, as branches write it."""
    if written[:1] in "\"'":
        return conditions.text_of(written)
    return written.removesuffix("u").removesuffix(".0") if written[:1].isdigit() else None
