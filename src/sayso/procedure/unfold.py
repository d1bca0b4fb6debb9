"""Includes opened, loops unrolled, placeholders filled in: a flat list of step nodes."""

from __future__ import annotations

import posixpath
import re
from dataclasses import dataclass, field, replace
from pathlib import Path

from sayso.procedure.model import Place
from sayso.procedure.placeholders import Scope, fill
from sayso.procedure.problems import Problem, did_you_mean, write_one_of
from sayso.procedure.source import ForEachSource, IncludeSource, SharedHeader
from sayso.procedure.validating import keys_of, validated
from sayso.procedure.yaml_nodes import Mapping, Node, Scalar, Sequence, begun, nodes

MAX_STEPS = 20_000
_STARTS_FROM = "it starts from the folder of the file that names it"
MAX_INCLUDE_DEPTH = 10


CameBy = tuple[tuple[Place, object], ...]


@dataclass(frozen=True, slots=True)
class StepNode:
    """One step, filled in. `conditions` and `sections` come from the loops and includes around it."""

    node: Mapping
    conditions: tuple[Scalar, ...] = ()
    section: Node | None = None
    #: name of the loop item around it ('' outside loops): for the advice about repeated ids.
    loop: str = ""
    #: includes and loop items it came through, outermost first: an item with its text, an include with None
    came_by: CameBy = ()


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
                check = "check the path" if at is None else f"check the path; {_STARTS_FROM}"
                write = self._other(name) or check
                problems.append(Problem(place, f"the file '{name}' cannot be read ({reason})", write))
                return None
        node, found = nodes(self.read[name], name)
        problems.extend(found)
        return node

    def begun(self, name: str) -> Mapping | None:
        """The steps that stand whole in a file whose form breaks off."""
        return begun(self.read[name], name) if name in self.read else None

    def _other(self, name: str) -> str:
        folder = (self.root / name).parent
        if (self.root / name).is_dir():
            return "give a procedure file in that folder"
        there = (
            {p.stem: p.name for p in folder.glob("*.y*ml") if p.is_file() and p.name not in self.read}
            if folder.is_dir()
            else {}
        )
        near = there.get(did_you_mean(Path(name).stem, there), "")  # '.yaml' alone makes no likeness
        return f"write '{posixpath.join(posixpath.dirname(name), near)}'" if near else ""


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
    came_by: CameBy = ()


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
        elif "steps" in item.entries and "id" not in item.entries:
            key = next((entry.key for name, entry in item.entries.items() if name != "steps"), item)
            what = "'steps' inside 'steps' stands under 'for_each' only"
            problems.append(Problem(key.place, what, "write 'for_each: {nut: [one, two]}' before it"))
        else:
            node = fill(item, scope, "", problems)
            assert isinstance(node, Mapping)
            found.append(StepNode(node, where.conditions, where.section, where.loop, where.came_by))


def _inside(item: Mapping, scope: Scope, where: _Where, problems: list[Problem]) -> _Where:
    """Where the steps under `item` stand: its condition and section added to those around it."""
    conditions, section = where.conditions, where.section
    when = item.get("when")
    if isinstance(when, Scalar) and when.text:
        filled = fill(when, scope, "when", problems)
        assert isinstance(filled, Scalar)
        conditions = (*conditions, filled)
    if item.get("section") is not None:
        section = fill(item.entries["section"].value, scope, "section", problems)
    return replace(where, conditions=conditions, section=section)


def _include(
    item: Mapping, scope: Scope, where: _Where, files: Files, problems: list[Problem], found: list[StepNode]
) -> None:
    filled = fill(item, scope, "", problems)
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
            value = key.replace("_", "-")  # stands in: an id without its end would be told as well
        inner[key] = value
    inside = _inside(item, scope, where, problems)
    _unfold(
        root.get("steps"),
        root,
        inner,
        replace(inside, file=name, files=(*where.files, name), came_by=(*where.came_by, (at, None))),
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
        filled = fill(one, scope, "", problems)
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
            replace(
                _inside(item, inner, where, problems),
                # what an id must carry: of an item with several values the first, which names it
                loop=f"{name}.{next(iter(value))}" if isinstance(value, dict) and value else name,
                came_by=(*where.came_by, (one.place, value)),
            ),
            files,
            problems,
            found,
        )
