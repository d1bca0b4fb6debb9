"""A condition as somebody reads it who has the printed card in hand and has never seen CEL:
"controller begins with RX", "gap is at least 1 mm and key out is yes"."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from lark import Token, Tree

from sayso.procedure.conditions import function_names, syntax_tree, text_of
from sayso.procedure.model import Procedure
from sayso.procedure.settled import truth_of
from sayso.trade.units import parse_unit, symbol_for_unit

_Node = Tree[Token]

_COMPARISONS = {
    "relation_eq": "is",
    "relation_ne": "is not",
    "relation_gt": "is more than",
    "relation_ge": "is at least",
    "relation_lt": "is less than",
    "relation_le": "is at most",
}
_SUMS = {"addition_add": "+", "addition_sub": "-", "multiplication_mul": "×", "multiplication_div": "÷"}
_ABOUT_TEXT = {"startsWith": "begins with", "endsWith": "ends with", "contains": "contains"}
_OF_A_LIST = {"exists": "any", "all": "every"}


class _NoWordsError(Exception):
    """Part of the language that no procedure of ours needs: shown as it is written."""


def condition_in_words(source: str, procedure: Procedure) -> str:
    """`source` in words, numbers with the unit of their question; as it is written where words would be
    harder to read than CEL (a choice by ?:, a pattern)."""
    asks = (step.ask for step in procedure.steps)
    return told_with_units(source, {ask.name: unit_read(ask.kind, getattr(ask, "unit", "")) for ask in asks})


def told_with_units(source: str, units: Mapping[str, str]) -> str:
    """As `condition_in_words`, where only the units of the answers are known (`unit_read`): a report has
    the record and not the procedure. Raises what `syntax_tree` raises for what is no condition."""
    try:
        return _Words(units).told(syntax_tree(source))
    except _NoWordsError:
        return source


def unit_read(kind: str, unit: str) -> str:
    """' mm': what a condition reads the answer to a question of this kind in; '' without a unit."""
    if kind == "torque":
        return " N·m"  # conditions read a torque in newton metres, whatever the wrench shows
    return f" {symbol_for_unit(parse_unit(unit))}" if kind == "measure" and unit else ""


class _Words:
    def __init__(self, units: Mapping[str, str]) -> None:
        self._units = units
        self._each: list[str] = []

    def told(self, tree: _Node) -> str:
        """A part that is true or false."""
        tree = _inner(tree)
        if tree.data in ("conditionalor", "conditionaland"):
            return self._joined(tree)
        if tree.data == "relation":
            return self._compared(tree)
        if tree.data == "unary":
            return self._denied(tree)
        if tree.data == "member_dot_arg":
            return self._about_text(tree)
        if tree.data == "ident_arg" and str(tree.children[0]) == "has":
            return f"{self._value(_arguments(tree)[0])} was answered"
        if _answer(tree):
            return f"{self._value(tree)} is yes"
        raise _NoWordsError

    def _joined(self, tree: _Node) -> str:
        parts = list(_flat(tree, str(tree.data)))
        if truth_of(tree) is None:  # what a parameter has decided tells nothing more
            parts = [part for part in parts if truth_of(part) is None]
        if len(parts) == 1:
            return self.told(parts[0])
        if tree.data == "conditionalor":
            return " or ".join(self._bracketed(part) for part in parts)
        # a comparison needs its answers anyway: "it was answered" tells nothing more beside it
        needed = {name for part in parts if _is_plain(part) for name in _read_in(part)}
        told = [part for part in parts if not (_asks_whether(part) and _read_in(part) <= needed)]
        if len(told) == 1:
            return self.told(told[0])
        return " and ".join(self._bracketed(part) for part in told)

    def _bracketed(self, part: _Node) -> str:
        words = self.told(part)
        return f"({words})" if _inner(part).data in ("conditionalor", "conditionaland") else words

    def _compared(self, tree: _Node) -> str:
        left, right = tree.children
        assert isinstance(left, Tree)
        assert isinstance(right, Tree)
        first = left.children[0]
        assert isinstance(first, Tree)
        if left.data == "relation_in":
            return f"{self._value(first)} is one of {', '.join(self._listed(_inner(right)))}"
        if _is_text(first) and _is_text(right):  # a parameter was filled in: "single is double" is a riddle
            compared = _COMPARISONS[str(left.data)]
            return f"\u201c{self._value(first)}\u201d {compared} \u201c{self._value(right)}\u201d"
        one = f"{self._value(first)}{self._unit(first, right)}"
        other = f"{self._value(right)}{self._unit(right, first)}"
        return f"{one} {_COMPARISONS[str(left.data)]} {other}"

    def _denied(self, tree: _Node) -> str:
        sign, rest = tree.children
        assert isinstance(sign, Tree)
        assert isinstance(rest, Tree)
        if sign.data != "unary_not":
            raise _NoWordsError
        inner = _inner(rest)
        if _answer(inner):
            return f"{self._value(inner)} is no"
        words = self.told(inner)
        if inner.data == "relation" and " is not " not in words and _is_equality(inner):
            return words.replace(" is ", " is not ", 1)
        return f"not ({words})"

    def _about_text(self, tree: _Node) -> str:
        what, how = tree.children[0], str(tree.children[1])
        if how in _OF_A_LIST and isinstance(what, Tree):
            return self._of_a_list(what, how, _arguments(tree))
        if how not in _ABOUT_TEXT or not isinstance(what, Tree):
            raise _NoWordsError
        return f"{self._value(what)} {_ABOUT_TEXT[how]} {self._value(_arguments(tree)[0])}"

    def _of_a_list(self, listed: _Node, how: str, given: list[_Node]) -> str:
        """[answers.a, answers.b].exists(x, x > 2): "for any x of a, b: x is more than 2"."""
        one, holds = given
        name = str(_inner(one).children[0])
        self._each.append(name)
        words = self.told(holds)
        self._each.remove(name)
        return f"for {_OF_A_LIST[how]} {name} of {', '.join(self._listed(_inner(listed)))}: {words}"

    def _value(self, tree: _Node) -> str:
        """A part that stands for a number, a text, or yes and no."""
        tree = _inner(tree)
        name = _answer(tree)
        if name:
            return name.replace("_", " ").replace("-", " ")
        if tree.data == "literal":
            return _literal(str(tree.children[0]))
        if tree.data == "ident" and str(tree.children[0]) in self._each:
            return str(tree.children[0])
        if tree.data in ("addition", "multiplication"):
            left, right = tree.children
            if isinstance(left, Tree) and isinstance(right, Tree) and left.data in _SUMS:
                first = left.children[0]
                assert isinstance(first, Tree)
                return f"{self._in_sum(first)} {_SUMS[str(left.data)]} {self._in_sum(right)}"
        if tree.data == "ident_arg" and str(tree.children[0]) in function_names():
            given = ", ".join(self._value(part) for part in _arguments(tree))
            return f"{str(tree.children[0]).replace('_', ' ')} ({given})"
        raise _NoWordsError

    def _in_sum(self, part: _Node) -> str:
        words = self._value(part)
        return f"({words})" if _inner(part).data in ("addition", "multiplication") else words

    def _listed(self, tree: _Node) -> list[str]:
        if tree.data != "list_lit" or not tree.children:
            raise _NoWordsError
        return [self._value(part) for part in _arguments(tree)]

    def _unit(self, number: _Node, answer: _Node) -> str:
        """' mm' behind a number that is compared with an answer; '' where no unit is known."""
        if _inner(number).data != "literal":
            return ""
        return self._units.get(_answer(_inner(answer)), "")


def _inner(tree: _Node) -> _Node:
    """Down to the part that says something: the grammar wraps each part in one level per operator."""
    while len(tree.children) == 1 and isinstance(tree.children[0], Tree) and tree.data != "list_lit":
        tree = tree.children[0]
    if tree.data == "expr" and len(tree.children) > 1:
        raise _NoWordsError  # a choice by ?:
    return tree


def _is_text(tree: _Node) -> bool:
    tree = _inner(tree)
    return tree.data == "literal" and str(tree.children[0])[:1] in "\"'"


def _flat(tree: _Node, kind: str) -> Iterator[_Node]:
    """The parts of a chain of && (or of ||), brackets of the same kind taken away."""
    tree = _inner(tree)
    if tree.data != kind:
        yield tree
        return
    for child in tree.children:
        assert isinstance(child, Tree)
        yield from _flat(child, kind)


def _answer(tree: _Node) -> str:
    """'gap' for answers.gap and answers["gap"], else ''."""
    if tree.data not in ("member_dot", "member_index"):
        return ""
    of, name = tree.children
    if not isinstance(of, Tree) or _inner(of).data != "ident" or str(_inner(of).children[0]) != "answers":
        return ""
    return str(name) if isinstance(name, Token) else _literal(str(_inner(name).children[0]))


def _asks_whether(tree: _Node) -> bool:
    return tree.data == "ident_arg" and str(tree.children[0]) == "has"


def _is_plain(tree: _Node) -> bool:
    """Without another "and", "or" or has(...) inside, which could be true while an answer is missing."""
    return not any(
        (part.data in ("conditionalor", "conditionaland", "expr") and len(part.children) > 1)
        or _asks_whether(part)
        for part in tree.iter_subtrees()
    )


def _read_in(tree: _Node) -> set[str]:
    return {name for part in tree.iter_subtrees() if (name := _answer(part))}


def _is_equality(tree: _Node) -> bool:
    return isinstance(tree.children[0], Tree) and tree.children[0].data == "relation_eq"


def _arguments(tree: _Node) -> list[_Node]:
    listed = tree.children[-1]
    if not isinstance(listed, Tree) or not listed.children:
        raise _NoWordsError
    return [part for part in listed.children if isinstance(part, Tree)]


def _literal(written: str) -> str:
    if written in ("true", "false"):
        return "yes" if written == "true" else "no"
    if written[:1] in "\"'":
        return text_of(written)
    if written[:1].isalpha():
        raise _NoWordsError  # r"..." and b"..."
    return written.removesuffix("u").removesuffix(".0").replace("-", "−")
