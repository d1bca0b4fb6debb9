"""YAML text -> nodes that know their place.

Only the part of YAML that a procedure needs: mappings with text keys, sequences, scalars. Scalars stay
text until a typed field asks for more, so 'no', '012' and '1.10' are what was written. Anchors, aliases,
tags and several documents in one file are refused: they hide where a thing was written, and they are how
a small file is made to fill the memory.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any, TypeAlias

import yaml

from sayso.procedure.model import Place
from sayso.procedure.problems import Problem, ProcedureError
from sayso.procedure.yaml_mistakes import in_plain_words

MAX_BYTES = 5_000_000
MAX_NODES = 400_000
MAX_DEPTH = 40

#: Line breaks for YAML 1.1 and for no editor: every line number after one would be wrong.
_HIDDEN_BREAK = re.compile("[\x85\u2028\u2029]")


#: Written as an escape ("\\0"): no voice says it, and a database refuses a text that holds it.
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
#: 'wheel #2': YAML takes what follows for a comment. One that is meant has a blank after its '#'.
_SWALLOWED = re.compile(r"[ \t]+#(?=[^\s#!])")
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")


@dataclass(frozen=True, slots=True)
class Scalar:
    """`plain` is True for unquoted text."""

    text: str
    place: Place
    plain: bool = True


@dataclass(frozen=True, slots=True)
class Sequence:
    place: Place
    items: list[Node] = field(default_factory=list)
    flow: bool = False


@dataclass(frozen=True, slots=True)
class Mapping:
    place: Place
    entries: dict[str, Entry] = field(default_factory=dict)
    flow: bool = False

    def get(self, key: str) -> Node | None:
        entry = self.entries.get(key)
        return entry.value if entry is not None else None

    def text(self, key: str) -> str | None:
        node = self.get(key)
        return node.text if isinstance(node, Scalar) else None


Node: TypeAlias = Scalar | Sequence | Mapping


@dataclass(frozen=True, slots=True)
class Entry:
    key: Scalar
    value: Node


@dataclass(slots=True)
class _Open:
    """A collection that is being read; `key` is the mapping key that waits for its value."""

    node: Sequence | Mapping
    key: Scalar | None = None
    refused: bool = False


def nodes(data: bytes, file: str) -> tuple[Node | None, list[Problem]]:
    """The document in `data` as nodes, with the problems of its form. Never raises.

    The node is None when nothing of the document can be used.
    """
    problems: list[Problem] = []
    start = Place(file, 1, 1)
    if len(data) > MAX_BYTES:
        return None, [
            Problem(
                start, f"the file has {len(data):,} bytes, more than {MAX_BYTES:,}", "split it with include"
            )
        ]
    if data.startswith(_UTF_16):
        what = "the file is UTF-16 text, which some editors call Unicode"
        return None, [Problem(start, what, "save it as UTF-8")]
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8", "replace")
        place = Place(file, before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1)
        return None, [Problem(place, "the file is not UTF-8 text", "save it as UTF-8")]
    hidden = _HIDDEN_BREAK.search(text)
    if hidden is not None:
        before = text[: hidden.start()]
        place = Place(file, before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1)
        what = f"a line break that editors do not show (U+{ord(hidden.group()):04X})"
        return None, [Problem(place, what, "replace it by a space or a new line")]
    try:
        return _compose(text, file, problems, []), problems
    except ProcedureError as error:
        return None, [*problems, *error.problems]
    except yaml.MarkedYAMLError as error:
        return None, [*problems, in_plain_words(error, text, file)]
    except yaml.reader.ReaderError as error:
        lines = text[: error.position] if isinstance(error.position, int) else ""
        place = Place(file, lines.count("\n") + 1, len(lines) - (lines.rfind("\n") + 1) + 1)
        return None, [
            *problems,
            Problem(place, "a character that YAML does not allow", "remove the control character"),
        ]
    except (yaml.YAMLError, ValueError, RecursionError) as error:
        return None, [*problems, Problem(start, f"not YAML: {error}", "see procedures/WRITING.md")]


def begun(data: bytes, file: str) -> Mapping | None:
    """The head and the steps that stand whole before the form breaks off: what is wrong in them
    is told in the same pass. None when there are none. What came last is left out: it may be torn."""
    into: list[Node] = []
    try:
        text = data.decode("utf-8-sig")
        if _HIDDEN_BREAK.search(text) is None:
            _compose(text, file, [], into)
    except (ProcedureError, yaml.YAMLError, ValueError, RecursionError):
        pass  # told by `nodes`
    root = into[0] if into else None
    steps = root.entries.get("steps") if isinstance(root, Mapping) else None
    if not isinstance(root, Mapping) or steps is None or not isinstance(steps.value, Sequence):
        return None
    whole = Sequence(steps.value.place, steps.value.items[:-1], steps.value.flow)
    head = {n: e for n, e in root.entries.items() if e.key.place.line < steps.key.place.line}
    return replace(root, entries={**head, "steps": Entry(steps.key, whole)}) if whole.items else None


def _events(text: str) -> Iterator[Any]:
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)(text)
    try:
        while loader.check_event():
            yield loader.get_event()
    finally:
        loader.dispose()


def _compose(text: str, file: str, problems: list[Problem], into: list[Node]) -> Node | None:
    """`into` gets the root as soon as it begins, for whoever wants it although it breaks off."""
    root: Node | None = None
    open_: list[_Open] = []
    documents = 0
    count = 0
    lines = text.split("\n")
    for event in _events(text):
        if isinstance(event, yaml.StreamStartEvent | yaml.StreamEndEvent | yaml.DocumentEndEvent):
            continue
        mark = event.start_mark
        place = Place(file, mark.line + 1, mark.column + 1)
        if isinstance(event, yaml.DocumentStartEvent):
            documents += 1
            if documents > 1:
                raise ProcedureError(
                    [
                        Problem(
                            place, "a second document starts here ('---')", "keep one procedure in one file"
                        )
                    ]
                )
            continue
        if isinstance(event, yaml.SequenceEndEvent | yaml.MappingEndEvent):
            open_.pop()
            continue
        count += 1
        if count > MAX_NODES:
            raise ProcedureError(
                [Problem(place, f"more than {MAX_NODES:,} values in one file", "split it with include")]
            )
        node: Node
        if isinstance(event, yaml.AliasEvent):
            problems.append(
                Problem(
                    place,
                    f"an alias '*{event.anchor}' is not allowed",
                    "write it out, or put shared steps in a file and include it",
                )
            )
            node = Scalar("", place)
        else:
            if event.anchor is not None:
                problems.append(
                    Problem(
                        place,
                        f"an anchor '&{event.anchor}' is not allowed",
                        "remove it; share steps with include",
                    )
                )
            if event.tag is not None and event.tag != "!":
                tag = str(event.tag).replace("tag:yaml.org,2002:", "!!")
                problems.append(Problem(place, f"a tag '{tag}' is not allowed", "remove it"))
            if isinstance(event, yaml.ScalarEvent):
                if (control := _CONTROL.search(event.value)) is not None:
                    what = f"a control character (U+{ord(control.group()):04X}) in this text"
                    problems.append(Problem(place, what, "remove it"))
                node = Scalar(event.value, place, event.style in (None, ""))
                if node.plain and node.text and (left_out := _left_out(event, lines)):
                    what = f"what follows ' #' is a comment and no part of the text: '{left_out[:40]}'"
                    write = "put the whole text in quotes, or a blank after '#' if it is a comment"
                    problems.append(Problem(place, what, write, "warning"))
            elif isinstance(event, yaml.SequenceStartEvent):
                node = Sequence(place, flow=bool(event.flow_style))
            else:
                node = Mapping(place, flow=bool(event.flow_style))
        if not open_:
            root = node
            into.append(node)
        else:
            if not _begins_a_step_without_its_dash(open_, node, problems):
                _put(open_[-1], node, problems)
        if not isinstance(node, Scalar):
            if len(open_) >= MAX_DEPTH:
                raise ProcedureError(
                    [Problem(place, f"more than {MAX_DEPTH} levels inside each other", "write it flatter")]
                )
            open_.append(_Open(node))
    return root


def _begins_a_step_without_its_dash(open_: list[_Open], node: Node, problems: list[Problem]) -> bool:
    """An 'id' behind a whole step, the hyphen forgotten: told once, and read as the step that it is."""
    here = open_[-1]
    step = here.node
    if not (isinstance(node, Scalar) and node.text == "id" and here.key is None and not here.refused):
        return False
    if not (isinstance(step, Mapping) and not step.flow and {"id", "say"} <= step.entries.keys()):
        return False
    steps = open_[-2].node if len(open_) > 1 else None
    if not isinstance(steps, Sequence):
        return False
    first = step.entries["id"].key.place.line
    what = f"'id' is written twice in one step (first in line {first})"
    problems.append(Problem(node.place, what, "begin a new step with '- id: ...', or keep one of them"))
    here.node = Mapping(node.place)
    steps.items.append(here.node)
    here.key = node
    return True


def _left_out(event: Any, lines: list[str]) -> str:
    """What stands behind this scalar in its line, when it looks like the rest of its text."""
    line, column = int(event.end_mark.line), int(event.end_mark.column)
    if line < len(lines) and _SWALLOWED.match(lines[line], column):
        return lines[line][column:].strip()
    return ""


def _put(parent: _Open, node: Node, problems: list[Problem]) -> None:
    if isinstance(parent.node, Sequence):
        parent.node.items.append(node)
        return
    if parent.key is None and not parent.refused:
        if isinstance(node, Scalar):
            parent.key = node
        else:
            problems.append(Problem(node.place, "a key must be plain text", "write 'key: value'"))
            parent.refused = True
        return
    key, parent.key = parent.key, None
    refused, parent.refused = parent.refused, False
    if refused or key is None:
        return
    if key.text == "<<" and key.plain:
        what = "a merge key '<<' is not allowed"
        problems.append(
            Problem(key.place, what, "write its keys out, or put shared steps in a file and include it")
        )
        return
    first = parent.node.entries.get(key.text)
    if first is not None and parent.node.flow and isinstance(node, Scalar) and not node.text:
        return  # the rest of another number with a comma: each is no key, and the first is told
    if first is not None:
        problems.append(
            Problem(
                key.place,
                f"'{key.text}' is written twice here (first in line {first.key.place.line})",
                "keep one of them",
            )
        )
        return
    parent.node.entries[key.text] = Entry(key, node)
