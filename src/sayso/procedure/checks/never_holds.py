"""Conditions that no answers can make true ("answers.cells > 24" where 24 are the most): a step left out.

Tried, not proved: each answer at its ends, at every number that the condition names and right beside it.
Where answers are only compared nothing lies between those; any other condition is left alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import islice, product

from lark import Token, Tree

from sayso.procedure import conditions
from sayso.procedure.checks import never_equal
from sayso.procedure.checks.names import expressions
from sayso.procedure.checks.view import View
from sayso.procedure.model import Ask, AskChoice, AskCount, AskMeasure, AskYesNo
from sayso.procedure.placeholders import has_placeholder
from sayso.procedure.problems import Problem
from sayso.procedure.yaml_nodes import Node, Scalar, Sequence

#: More ways to answer than this are not tried: such a condition is left alone.
_MOST = 2000
#: A step beside a number, small beside what an instrument shows.
_BESIDE = 1e-6
_ANSWER = re.compile(r"\banswers\.(\w+)")
#: Parts of a condition that work a value out instead of comparing it.
_WORKED_OUT = frozenset({
    "addition_add", "addition_sub", "multiplication_mul", "multiplication_div", "multiplication_mod",
    "member_dot_arg", "member_index", "ident_arg",
})  # fmt: skip


def find(view: View) -> Iterator[Problem]:
    if view.unread:
        return
    told = {(problem.place, problem.check) for problem in never_equal.find(view)}
    as_written = {scalar.place for scalar in _scalars(view.root) if not has_placeholder(scalar.text)}
    asks: dict[str, list[Ask | None]] = {}
    for one in view.steps:
        node = one.source.node.get("ask")
        own = node is None or all(scalar.place in as_written for scalar in _scalars(node))
        asks.setdefault(one.step.ask.name, []).append(one.step.ask if own else None)
    known: dict[object, bool] = {}
    for one in view.steps:
        for path, text, _ in expressions(one):
            place = view.place(one, path)
            if path[-1:] == ("expect",) or place not in as_written or (place, "conditions") in told:
                continue
            shape = _shape(text, asks)
            if shape not in known:
                known[shape] = _never_holds(text, asks)
            if known[shape]:
                what = f"no answer can make this true: {text}"
                yield Problem(place, what, "correct it, or remove its step", "warning", "conditions")


def _scalars(node: Node) -> Iterator[Scalar]:
    """The texts of the file itself: those with a placeholder may hold in another job or another round."""
    if isinstance(node, Scalar):
        yield node
    elif isinstance(node, Sequence):
        for item in node.items:
            yield from _scalars(item)
    else:
        for entry in node.entries.values():
            yield from _scalars(entry.value)


def _shape(text: str, asks: dict[str, list[Ask | None]]) -> object:
    """The same for conditions that differ only in the names of their answers: one of a thousand is tried."""
    numbers: dict[str, int] = {}
    shape = _ANSWER.sub(lambda found: f"answers.{numbers.setdefault(found[1], len(numbers))}", text)
    limits = [
        [
            (type(ask), getattr(ask, "low", 0), getattr(ask, "high", 0), getattr(ask, "options", ()))
            for ask in given
        ]
        for given in (asks.get(name, []) for name in numbers)
    ]
    return shape, str(limits)


def _never_holds(text: str, asks: dict[str, list[Ask | None]]) -> bool:
    try:
        names = sorted(conditions.answer_names(text))
        tree = conditions.syntax_tree(text)
    except conditions.ConditionError:
        return False  # told where it is read
    if not names or any(part.data in _WORKED_OUT for part in tree.iter_subtrees()):
        return False
    numbers = [*_numbers(tree), *(end for name in names for ask in asks.get(name, []) for end in _ends(ask))]
    samples = [_samples(asks.get(name, []), numbers) for name in names]
    if not all(samples):
        return False
    ways = list(islice(product(*samples), _MOST + 1))
    if len(ways) > _MOST:
        return False
    try:
        return not any(conditions.evaluate(text, dict(zip(names, way, strict=True))) is True for way in ways)
    except conditions.ConditionError:
        return False


def _samples(asks: list[Ask | None], numbers: list[float]) -> list[conditions.Value]:
    """Values of an answer between which no comparison with `numbers` changes; () where they are not known."""
    found: list[conditions.Value] = []
    for ask in asks:
        if isinstance(ask, AskYesNo):
            found += [True, False]
        elif isinstance(ask, AskChoice):
            found += [option.value for option in ask.options]
        elif isinstance(ask, AskCount):
            near = (int(number) + step for number in numbers for step in (-1, 0, 1))
            found += [value for value in near if ask.low <= value <= ask.high]
        elif isinstance(ask, AskMeasure) and ask.low is not None and ask.high is not None:
            beside = (number + step for number in numbers for step in (0.0, -_BESIDE, _BESIDE))
            found += [value for value in beside if ask.low <= value <= ask.high]
        else:
            return []
    return list(dict.fromkeys(found))


def _ends(ask: Ask | None) -> list[float]:
    """So that two answers that are compared with each other can meet."""
    ends = (ask.low, ask.high) if isinstance(ask, AskCount | AskMeasure) else ()
    return [float(end) for end in ends if end is not None]


def _numbers(tree: Tree[Token]) -> list[float]:
    """The numbers that a condition names, and each below nought: a minus is a sign of its own there."""
    found = []
    for part in tree.iter_subtrees():
        if part.data == "literal":
            try:
                number = float(str(part.children[0]).removesuffix("u"))
            except ValueError:
                continue  # a text, true, false
            found += [number, -number]
    return found
