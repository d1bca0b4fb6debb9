"""Placeholders: `<name>` stands for a parameter or a loop item, `<name.key>` for a key of an item.

In ids and targets the value is written with '-', in answer names with '_', elsewhere as it is.
"""

from __future__ import annotations

import re
from collections.abc import Mapping as AbstractMapping
from typing import TypeAlias

from sayso.procedure.problems import Problem, write_one_of
from sayso.procedure.source import ASKS
from sayso.procedure.yaml_nodes import Entry, Mapping, Node, Scalar, Sequence

Scope: TypeAlias = AbstractMapping[str, "str | dict[str, str]"]

_PLACEHOLDER = re.compile(r"<([a-z][a-z0-9_]*)(?:\.([a-z][a-z0-9_]*))?>")
#: What finds a text that cannot be filled in; the steps around it are there all the same.
PLACEHOLDER = "placeholders"
_TARGET_KEYS = frozenset({"id", "then", "go", "otherwise", "out_of_limits"})
_NAME_KEYS = frozenset(ASKS)
_CONDITION_KEYS = frozenset({"when", "if", "expect"})


def has_placeholder(text: str) -> bool:
    return _PLACEHOLDER.search(text) is not None


def fill(node: Node, scope: Scope, key: str, problems: list[Problem]) -> Node:
    """`node` with its placeholders filled in; `key` is the key it stands under. Unknown ones are told."""
    if isinstance(node, Scalar):
        if "<" not in node.text:
            return node
        return Scalar(_filled(node, scope, key, problems), node.place, False)
    if isinstance(node, Sequence):
        return Sequence(node.place, [fill(item, scope, key, problems) for item in node.items], node.flow)
    entries: dict[str, Entry] = {}
    for name, entry in node.entries.items():
        filled_key = entry.key
        if "<" in name:
            filled_key = Scalar(_filled(entry.key, scope, "key", problems), entry.key.place)
        inner = "then" if key == "then" and name not in ("if", "go") else name
        entries[filled_key.text] = Entry(filled_key, fill(entry.value, scope, inner, problems))
    return Mapping(node.place, entries, node.flow)


def _filled(node: Scalar, scope: Scope, key: str, problems: list[Problem]) -> str:
    def value(match: re.Match[str]) -> str:
        name, part = match.groups()
        found = scope.get(name)
        if found is None:
            problems.append(
                Problem(
                    node.place,
                    f"'{match.group()}' is neither a parameter nor a loop item",
                    write_one_of(f"<{name}>", [f"<{known}>" for known in scope]),
                    check=PLACEHOLDER,
                )
            )
            return match.group()
        if isinstance(found, dict):
            keys = [f"<{name}.{k}>" for k in found]
            if part is None:
                problems.append(
                    Problem(
                        node.place,
                        f"'<{name}>' has several values",
                        write_one_of("", keys),
                        check=PLACEHOLDER,
                    )
                )
                return match.group()
            if part not in found:
                problems.append(
                    Problem(
                        node.place,
                        f"'{match.group()}' is not a value of '{name}'",
                        write_one_of(match.group(), keys),
                        check=PLACEHOLDER,
                    )
                )
                return match.group()
            text = found[part]
        elif part is not None:
            problems.append(
                Problem(
                    node.place, f"'{name}' has no values of its own", f"write '<{name}>'", check=PLACEHOLDER
                )
            )
            return match.group()
        else:
            text = found
        before = node.text[match.start() - 1] if match.start() else ""
        if key in _TARGET_KEYS:
            return _joined(text, "-")
        if key in _NAME_KEYS or (
            key in _CONDITION_KEYS and (before.isalnum() or before in ("_", ".")) and before
        ):
            return _joined(text, "_")
        if key in _CONDITION_KEYS:
            return _as_in_quotes(text, node.text, match.start())
        return text

    return _PLACEHOLDER.sub(value, node.text)


#: A text of CEL: quotes of either kind, one or three of them, raw (no escapes) or not.
_QUOTED = re.compile(
    r"""(?P<prefix>[rRbB]{0,2})(?:\"\"\".*?\"\"\"|'''.*?'''|"(?:\\.|[^"\\])*"|'(?:\\.|[^'\\])*')""", re.DOTALL
)


def _as_in_quotes(value: str, condition: str, at: int) -> str:
    """A value that stands within quotes must not end them: 5" is written 5\\" there."""
    around = next((quoted for quoted in _QUOTED.finditer(condition) if quoted.end() > at), None)
    if around is None or around.start() > at or "r" in around["prefix"].lower():
        return value
    return re.sub(r"[\\\"']", r"\\\g<0>", value).replace("\n", "\\n")


def _joined(text: str, joiner: str) -> str:
    return joiner.join(re.findall(r"[a-z0-9]+", text.lower()))
