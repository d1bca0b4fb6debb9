"""Conditions and expected values in CEL (Common Expression Language), run by cel-python.

The names an expression knows are `answers` (what was answered so far, by answer name) and the functions of
`sayso.trade`. Numbers of both CEL kinds may be mixed (`answers.gap > 1`), as the CEL language definition
asks for ordering and cel-python 0.5 does not do.

An answer that was not given yet: `evaluate` gives False, so a step whose `when` reads it does not apply;
`value_of` raises MissingAnswer. `has(answers.x)` asks whether it was given. Answers are named in full
(`answers.x`, `answers["x"]`).
"""

from __future__ import annotations

import operator
import re
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from typing import Any

from celpy import Environment, Runner, celtypes
from celpy.adapter import json_to_cel
from celpy.celparser import CELParseError
from celpy.evaluation import CELEvalError, base_functions
from lark import Token, Tree

from sayso.procedure.problems import did_you_mean

Value = bool | int | float | str


class ConditionError(ValueError):
    """An expression that cannot be read or worked out. `column` counts from 1 within the expression."""

    def __init__(self, what: str, column: int = 1) -> None:
        super().__init__(what)
        self.what = what
        self.column = column


class MissingAnswer(ConditionError):  # noqa: N818 - it is a fact about the job, not always an error
    """The expression reads an answer that was not given yet."""

    def __init__(self, name: str) -> None:
        super().__init__(f"the answer '{name}' was not given yet")
        self.name = name


def evaluate(source: str, answers: Mapping[str, Value]) -> Value:
    """The value of `source`; False when it reads an answer that was not given.

    Raises ConditionError when it cannot be worked out for another reason (text compared with a number).
    """
    try:
        return value_of(source, answers)
    except MissingAnswer:
        return False


def value_of(source: str, answers: Mapping[str, Value]) -> Value:
    """Like `evaluate`, and raises MissingAnswer when an answer it needs was not given."""
    program = _program(source)
    # Only what is read is converted: a step costs the same at the start of a job and after 2,000 answers.
    read = {name: answers[name] for name in answer_names(source) if name in answers}
    try:
        result = program.evaluate({"answers": json_to_cel(read)})
    except CELEvalError as error:
        for name in sorted(answer_names(source)):
            if name not in answers and f"'{name}'" in str(error.args):
                raise MissingAnswer(name) from error
        raise ConditionError(_plain(source, error)) from error
    value: Value = _to_python(result)
    return value


def constant_of(tree: Tree[Token]) -> Value:
    """The value of a part of a condition that reads no answer. Raises ConditionError."""
    try:
        value: Value = _to_python(_environment().program(tree, functions=_functions()).evaluate({}))
    except CELEvalError as error:
        raise ConditionError(str(error.args[0]) if error.args else str(error)) from error
    return value


def text_of(literal: str) -> str:
    """The text that a literal of CEL stands for: a"b for "a\\"b"."""
    return str(value_of(literal, {})) if "\\" in literal else literal.strip(literal[0])


def answer_names(source: str) -> frozenset[str]:
    """The answers that `source` reads: 'pins' in `answers.pins == 8`. Raises ConditionError."""
    return _names(source)[0]


def function_names() -> tuple[str, ...]:
    """What an expression may call, besides CEL's own: the functions of the trade."""
    return tuple(sorted(_trade_functions()))


def check_syntax(source: str) -> None:
    """Raises ConditionError when `source` is not CEL, or uses a name or function that there is not."""
    _, others, calls = _names(source)
    for name in sorted(others):
        if name in ("yes", "no"):
            raise ConditionError(f"'{name}' is not known; a yes or no is compared with true or false")
        raise ConditionError(
            f"'{name}' is not known; an answer is written answers.{name}, a parameter \"<{name}>\", "
            "text goes in quotes"
        )
    known = {*_CEL_FUNCTIONS, *function_names()}
    for name in sorted(calls - known):
        near = did_you_mean(name, known)
        hint = f" (there is '{near}')" if near else ""
        raise ConditionError(f"there is no function '{name}'{hint}")
    _program(source)


# --- how ---------------------------------------------------------------------------------------

_CEL_FUNCTIONS = {name for name in base_functions if re.fullmatch(r"[A-Za-z]\w*", name)} | {
    "has",
    "all",
    "exists",
    "exists_one",
    "map",
    "filter",
    "dyn",
}


@lru_cache(maxsize=1)
def _environment() -> Environment:
    return Environment()


@lru_cache(maxsize=8192)
def syntax_tree(source: str) -> Tree[Token]:
    """`source` taken apart. Raises ConditionError when it is not CEL."""
    try:
        tree: Tree[Token] = _environment().compile(source)
    except CELParseError as error:
        raise ConditionError("this is not a CEL expression", int(error.column or 1)) from error
    return tree


@lru_cache(maxsize=8192)
def _program(source: str) -> Runner:
    return _environment().program(syntax_tree(source), functions=_functions())


@lru_cache(maxsize=1)
def _functions() -> dict[str, Callable[..., Any]]:
    trade = {name: _callable_from_cel(name, function) for name, function in _trade_functions().items()}
    return {**_MIXED, **trade}


@lru_cache(maxsize=1)
def _trade_functions() -> Mapping[str, Callable[..., Any]]:
    try:
        from sayso.trade import TRADE_FUNCTIONS
    except ImportError:
        return {}
    functions: Mapping[str, Callable[..., Any]] = TRADE_FUNCTIONS
    return functions


def _callable_from_cel(name: str, function: Callable[..., Any]) -> Callable[..., Any]:
    def call(*arguments: Any) -> Any:
        try:
            return json_to_cel(function(*(_to_python(argument) for argument in arguments)))
        except (ValueError, TypeError, ArithmeticError) as error:
            raise CELEvalError(f"{name}: {error}") from error

    return call


def _to_python(value: Any) -> Any:
    if isinstance(value, celtypes.BoolType):
        return bool(value)
    if isinstance(value, int):
        return int(value)
    if isinstance(value, float):
        return float(value)
    if isinstance(value, str):
        return str(value)
    return value


def _promoting(symbol: str, on_floats: Callable[[float, float], Any]) -> Callable[[Any, Any], Any]:
    """CEL's own operator, save that a whole number beside a fraction counts as a fraction."""
    original: Callable[[Any, Any], Any] = base_functions[symbol]

    def apply(left: Any, right: Any) -> Any:
        if (isinstance(left, float) and _whole(right)) or (_whole(left) and isinstance(right, float)):
            result = on_floats(float(left), float(right))
            return celtypes.BoolType(result) if isinstance(result, bool) else celtypes.DoubleType(result)
        return original(left, right)

    return apply


def _whole(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool | celtypes.BoolType)


def _divide(left: float, right: float) -> float:
    if right == 0:
        raise CELEvalError("division by zero")
    return left / right


def _is_in(item: Any, container: Any) -> Any:
    """CEL's `in`, save that 4 is found in [4.0, 8.0]."""
    if isinstance(item, int | float) and isinstance(container, list):
        return celtypes.BoolType(
            any(isinstance(one, int | float) and float(one) == float(item) for one in container)
        )
    return base_functions["_in_"](item, container)


_MIXED: dict[str, Callable[..., Any]] = {
    "_<_": _promoting("_<_", operator.lt),
    "_<=_": _promoting("_<=_", operator.le),
    "_>_": _promoting("_>_", operator.gt),
    "_>=_": _promoting("_>=_", operator.ge),
    "_==_": _promoting("_==_", operator.eq),
    "_!=_": _promoting("_!=_", operator.ne),
    "_+_": _promoting("_+_", operator.add),
    "_-_": _promoting("_-_", operator.sub),
    "_*_": _promoting("_*_", operator.mul),
    "_/_": _promoting("_/_", _divide),
    "_in_": _is_in,
}


@lru_cache(maxsize=8192)
def _names(source: str) -> tuple[frozenset[str], frozenset[str], frozenset[str]]:
    """(answers read, other free names, functions called) of an expression."""
    answers: set[str] = set()
    idents: set[str] = set()
    calls: set[str] = set()
    bound: set[str] = set()
    uses = named = 0
    trees: Iterator[Any] = syntax_tree(source).iter_subtrees()
    for tree in trees:
        if tree.data == "member_dot":
            if _single_ident(tree.children[0]) == "answers":
                answers.add(str(tree.children[1]))
                named += 1
        elif tree.data == "member_index":
            if _single_ident(tree.children[0]) == "answers":
                literal = [t for t in tree.children[1].scan_values(lambda t: isinstance(t, Token))]
                if len(literal) == 1 and str(literal[0])[:1] in "\"'":
                    answers.add(str(literal[0]).strip("\"'"))
                    named += 1
        elif tree.data == "ident":
            idents.add(str(tree.children[0]))
            uses += str(tree.children[0]) == "answers"
        elif tree.data == "ident_arg":
            calls.add(str(tree.children[0]))
        elif tree.data == "member_dot_arg":
            calls.add(str(tree.children[1]))
            if (
                str(tree.children[1]) in ("all", "exists", "exists_one", "map", "filter")
                and len(tree.children) > 2
            ):
                first = tree.children[2].children[0]
                name = _single_ident(first) if isinstance(first, Tree) else None
                if name:
                    bound.add(name)
    if uses > named:
        raise ConditionError("'answers' must be followed by the name of an answer, as answers.pins")
    types = {"int", "uint", "double", "string", "bool", "bytes", "list", "map", "null_type", "type"}
    return frozenset(answers), frozenset(idents - {"answers"} - bound - types), frozenset(calls)


def _single_ident(tree: Any) -> str | None:
    while isinstance(tree, Tree) and len(tree.children) == 1:
        if tree.data == "ident":
            return str(tree.children[0])
        tree = tree.children[0]
    return None


def _plain(source: str, error: CELEvalError) -> str:
    said = str(error.args[0]) if error.args else str(error)
    if "no such overload" in str(error.args) or "no matching overload" in said:
        return f"'{source}' mixes kinds of value (a number with text, say)"
    if "division by zero" in str(error.args) or "ZeroDivision" in str(error.args):
        return f"'{source}' divides by zero"
    return f"'{source}' cannot be worked out: {said[:240]}"
