"""Conditions that compare an answer with a value it can never have: their step would silently be left out."""

from __future__ import annotations

from collections.abc import Iterator

from lark import Token, Tree

from sayso.procedure import conditions
from sayso.procedure.checks.names import expressions
from sayso.procedure.checks.view import View
from sayso.procedure.graph import possible_values
from sayso.procedure.model import Ask, AskChoice, AskCount, AskDone, AskMeasure, AskTorque, AskYesNo
from sayso.procedure.problems import Problem, write_one_of

_CHECK = "conditions"
_Node = Tree[Token]


def find(view: View) -> Iterator[Problem]:
    """Only where every step that asks is read; values only of choices and counts, which can be listed."""
    if view.unread:
        return
    kinds: dict[str, set[str]] = {}
    values: dict[str, list[str] | None] = {}
    for one in view.steps:
        ask = one.step.ask
        kinds.setdefault(ask.name, set()).add(_kind_of_answer(ask))
        listed = possible_values(one.step) if isinstance(ask, AskChoice | AskCount) else None
        known = values.setdefault(ask.name, [])
        values[ask.name] = [*known, *listed] if known is not None and listed is not None else None
    for one in view.steps:
        for path, text, _ in expressions(one):
            for relation, name, literal in _relations(text):
                if other_kind := _never(relation, name, kinds.get(name, set()), literal):
                    yield view.problem(one, path, *other_kind, "error", _CHECK)
                if other_value := _not_listed(name, values.get(name), literal):
                    yield view.problem(one, path, *other_value, "warning", _CHECK)


def _not_listed(name: str, known: list[str] | None, literal: str) -> tuple[str, str] | None:
    wanted = _value(literal)
    if not known or wanted is None or wanted in known:
        return None
    shown = known if len(known) <= 20 else [known[0], "...", known[-1]]
    return f"the answer '{name}' can never be '{wanted}'", write_one_of(wanted, shown)


def _never(relation: str, name: str, kinds: set[str], literal: str) -> tuple[str, str] | None:
    """answers.cover_on == "yes": CEL finds true and a text unequal without a word, so it is never so. Where
    it refuses to compare the two ("mixes kinds") that is told with the condition."""
    is_text, is_bool = literal[:1] in "\"'", literal in ("true", "false")
    if kinds == {"bool"} and is_text:
        what = f"the answer '{name}' is true or false, and never {literal}"
        return what, f"write answers.{name} for yes, !answers.{name} for no"
    if kinds == {"number"} and is_text and relation == "relation_in":
        return f"the answer '{name}' is a number, and never the text {literal}", "leave the quotes out"
    if kinds == {"text"} and is_bool:
        return f"the answer '{name}' is a text, and never {literal}", 'write it in quotes, as "good"'
    return None


def _kind_of_answer(ask: Ask) -> str:
    if isinstance(ask, AskYesNo | AskDone):
        return "bool"
    return "number" if isinstance(ask, AskCount | AskMeasure | AskTorque) else "text"


def _relations(source: str) -> Iterator[tuple[str, str, str]]:
    """(relation, answer, literal) for each answers.name == literal, != literal and in [literal, ...]."""
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
                    yield left.data, name, str(literal.children[0])


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
