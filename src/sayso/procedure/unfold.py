"""Includes opened, loops unrolled, placeholders filled in: a flat list of step nodes.

`<name>` in any text stands for a parameter or a loop item, `<name.key>` for a key of an item that is a
mapping. In ids and targets the value is written with '-', in answer names with '_'.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Mapping as AbstractMapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeAlias

from sayso.procedure.model import Place
from sayso.procedure.problems import Problem, did_you_mean, write_one_of
from sayso.procedure.source import ASKS, ForEachSource, IncludeSource, SharedHeader
from sayso.procedure.validating import keys_of, validated
from sayso.procedure.yaml_nodes import Entry, Mapping, Node, Scalar, Sequence, nodes

Scope: TypeAlias = AbstractMapping[str, "str | dict[str, str]"]

MAX_STEPS = 20_000
MAX_INCLUDE_DEPTH = 10

_PLACEHOLDER = re.compile(r"<([a-z][a-z0-9_]*)(?:\.([a-z][a-z0-9_]*))?>")
_TARGET_KEYS = frozenset({"id", "then", "go", "otherwise", "out_of_limits"})
_NAME_KEYS = frozenset(ASKS)
_CONDITION_KEYS = frozenset({"when", "if", "expect"})


@dataclass(frozen=True, slots=True)
class StepNode:
    """One step, filled in. `conditions` and `sections` come from the loops and includes around it."""

    node: Mapping
    conditions: tuple[Scalar, ...] = ()
    section: Node | None = None
    #: name of the loop item around it ('' outside loops): for the advice about repeated ids.
    loop: str = ""


@dataclass(slots=True)
class Files:
    """The files read so far, in order, as they were: bytes for the hash."""

    root: Path
    read: dict[str, bytes] = field(default_factory=dict)
    #: nothing is read from disk: all there is stands in `read`
    only_kept: bool = False

    def load(self, name: str, at: Place | None, problems: list[Problem]) -> Node | None:
        """The nodes of file `name` (relative to the root's folder)."""
        if name not in self.read:
            try:
                if self.only_kept:
                    raise FileNotFoundError(2, "it was not kept with the others")
                self.read[name] = (self.root / name).read_bytes()
            except (OSError, ValueError) as error:
                reason = getattr(error, "strerror", None) or str(error)
                place = at or Place(name, 1, 1)
                problems.append(
                    Problem(place, f"the file '{name}' cannot be read ({reason})", self._other(name))
                )
                return None
        node, found = nodes(self.read[name], name)
        problems.extend(found)
        return node

    def _other(self, name: str) -> str:
        folder = (self.root / name).parent
        near = did_you_mean(
            Path(name).name, [p.name for p in folder.glob("*.y*ml")] if folder.is_dir() else []
        )
        return (
            f"write '{near}'"
            if near
            else "check the path; it starts from the folder of the file that names it"
        )


def unfold(
    steps: Node | None, owner: Mapping, scope: Scope, files: Files, file: str, problems: list[Problem]
) -> list[StepNode]:
    """All steps under `steps` in reading order."""
    found: list[StepNode] = []
    _unfold(steps, owner, scope, _Where(file, (file,)), files, problems, found)
    return found


@dataclass(frozen=True, slots=True)
class _Where:
    file: str
    files: tuple[str, ...]
    conditions: tuple[Scalar, ...] = ()
    section: Node | None = None
    loop: str = ""


def _unfold(
    steps: Node | None,
    owner: Mapping,
    scope: Scope,
    where: _Where,
    files: Files,
    problems: list[Problem],
    found: list[StepNode],
) -> None:
    if steps is None:
        problems.append(Problem(owner.place, "'steps' is missing", "add 'steps:' with a list of steps"))
        return
    if not isinstance(steps, Sequence) or not steps.items:
        problems.append(Problem(steps.place, "'steps' must be a list", "start each step with '- id: ...'"))
        return
    for item in steps.items:
        if len(found) >= MAX_STEPS:
            problems.append(Problem(item.place, f"more than {MAX_STEPS:,} steps", "make the loops shorter"))
            return
        if not isinstance(item, Mapping):
            problems.append(
                Problem(item.place, "a step must be 'key: value' lines", "write '- id: ...' and 'say: ...'")
            )
        elif "include" in item.entries:
            _include(item, scope, where, files, problems, found)
        elif "for_each" in item.entries:
            _for_each(item, scope, where, files, problems, found)
        else:
            node = _fill(item, scope, "", problems)
            assert isinstance(node, Mapping)
            found.append(StepNode(node, where.conditions, where.section, where.loop))


def _inside(item: Mapping, scope: Scope, where: _Where, problems: list[Problem]) -> _Where:
    """Where the steps under `item` stand: its condition and section added to those around it."""
    conditions, section = where.conditions, where.section
    when = item.get("when")
    if isinstance(when, Scalar) and when.text:
        filled = _fill(when, scope, "when", problems)
        assert isinstance(filled, Scalar)
        conditions = (*conditions, filled)
    if item.get("section") is not None:
        section = _fill(item.entries["section"].value, scope, "section", problems)
    return _Where(where.file, where.files, conditions, section, where.loop)


def _include(
    item: Mapping, scope: Scope, where: _Where, files: Files, problems: list[Problem], found: list[StepNode]
) -> None:
    filled = _fill(item, scope, "", problems)
    assert isinstance(filled, Mapping)
    source = validated(IncludeSource, filled, problems)
    if source is None:
        return
    at = filled.entries["include"].value.place
    name = posixpath.normpath(posixpath.join(posixpath.dirname(where.file), source.include))
    if posixpath.isabs(source.include) or "\\" in source.include:
        problems.append(
            Problem(
                at, "an included file needs a relative path", "write it from this file's folder, with '/'"
            )
        )
        return
    if name in where.files:
        problems.append(Problem(at, f"'{name}' includes itself", "remove this include"))
        return
    if len(where.files) > MAX_INCLUDE_DEPTH:
        problems.append(
            Problem(at, f"more than {MAX_INCLUDE_DEPTH} files inside each other", "include it from the top")
        )
        return
    root = files.load(name, at, problems)
    if root is None:
        return
    if not isinstance(root, Mapping) or "shared" not in root.entries:
        problems.append(
            Problem(root.place, "an included file must start with 'shared: name'", "add 'shared: ...'")
        )
        return
    header = validated(SharedHeader, root, problems, without=frozenset({"steps"}))
    if header is None:
        return
    values = filled.get("with")
    given = dict(source.with_)
    for key in given:
        if key not in header.parameters:
            place = values.entries[key].key.place if isinstance(values, Mapping) else at
            problems.append(
                Problem(place, f"'{name}' has no parameter '{key}'", write_one_of(key, header.parameters))
            )
    inner: dict[str, str | dict[str, str]] = {}
    for key, default in header.parameters.items():
        value = given.get(key, default)
        if value is None:
            problems.append(
                Problem(filled.place, f"'{name}' needs the parameter '{key}'", f"add 'with: {{{key}: ...}}'")
            )
            value = ""
        inner[key] = value
    inside = _inside(item, scope, where, problems)
    _unfold(
        root.get("steps"),
        root,
        inner,
        _Where(name, (*where.files, name), inside.conditions, inside.section, where.loop),
        files,
        problems,
        found,
    )


def _for_each(
    item: Mapping, scope: Scope, where: _Where, files: Files, problems: list[Problem], found: list[StepNode]
) -> None:
    for name, entry in item.entries.items():
        if name not in keys_of(ForEachSource):
            problems.append(
                Problem(
                    entry.key.place,
                    f"the key '{name}' is not known here",
                    write_one_of(name, keys_of(ForEachSource)),
                )
            )
    loop = item.entries["for_each"].value
    if not isinstance(loop, Mapping) or len(loop.entries) != 1:
        problems.append(
            Problem(
                loop.place, "'for_each' needs one name and its list", "write 'for_each: {nut: [one, two]}'"
            )
        )
        return
    (name, entry) = next(iter(loop.entries.items()))
    if not re.fullmatch(r"[a-z][a-z0-9_]*", name):
        problems.append(
            Problem(entry.key.place, f"'{name}' cannot name the items", "write lower case letters and '_'")
        )
        return
    items = entry.value
    if not isinstance(items, Sequence) or not items.items:
        problems.append(
            Problem(items.place, f"'{name}' needs a list of items", f"write '{name}: [one, two]'")
        )
        return
    for one in items.items:
        filled = _fill(one, scope, "", problems)
        value: str | dict[str, str]
        if isinstance(filled, Scalar):
            value = filled.text
        elif isinstance(filled, Mapping) and all(
            isinstance(e.value, Scalar) for e in filled.entries.values()
        ):
            value = {key: e.value.text for key, e in filled.entries.items() if isinstance(e.value, Scalar)}
        else:
            problems.append(
                Problem(one.place, "a loop item must be text or 'key: text' lines", "write it flat")
            )
            continue
        inner = {**scope, name: value}
        _unfold(
            item.get("steps"),
            item,
            inner,
            replace(_inside(item, inner, where, problems), loop=name),
            files,
            problems,
            found,
        )


# --- placeholders ------------------------------------------------------------------------------


def _fill(node: Node, scope: Scope, key: str, problems: list[Problem]) -> Node:
    if isinstance(node, Scalar):
        if "<" not in node.text:
            return node
        return Scalar(_filled(node, scope, key, problems), node.place, False)
    if isinstance(node, Sequence):
        return Sequence(node.place, [_fill(item, scope, key, problems) for item in node.items], node.flow)
    entries: dict[str, Entry] = {}
    for name, entry in node.entries.items():
        filled_key = entry.key
        if "<" in name:
            filled_key = Scalar(_filled(entry.key, scope, "key", problems), entry.key.place)
        inner = "then" if key == "then" and name not in ("if", "go") else name
        entries[filled_key.text] = Entry(filled_key, _fill(entry.value, scope, inner, problems))
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
                )
            )
            return match.group()
        if isinstance(found, dict):
            keys = [f"<{name}.{k}>" for k in found]
            if part is None:
                problems.append(Problem(node.place, f"'<{name}>' has several values", write_one_of("", keys)))
                return match.group()
            if part not in found:
                problems.append(
                    Problem(
                        node.place,
                        f"'{match.group()}' is not a value of '{name}'",
                        write_one_of(match.group(), keys),
                    )
                )
                return match.group()
            text = found[part]
        elif part is not None:
            problems.append(Problem(node.place, f"'{name}' has no values of its own", f"write '<{name}>'"))
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
        return text

    return _PLACEHOLDER.sub(value, node.text)


def _joined(text: str, joiner: str) -> str:
    return joiner.join(re.findall(r"[a-z0-9]+", text.lower()))
