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

MAX_BYTES = 5_000_000
MAX_NODES = 400_000
MAX_DEPTH = 40

#: Line breaks for YAML 1.1 and for no editor: every line number after one would be wrong.
_HIDDEN_BREAK = re.compile("[\x85\u2028\u2029]")


#: Written as an escape ("\\0"): no voice says it, and a database refuses a text that holds it.
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
#: 'wheel #2': YAML takes what follows for a comment. One that is meant has a blank after its '#'.
_SWALLOWED = re.compile(r"[ \t]+#(?=[^\s#!])")
#: What a word processor makes of blanks, hyphens and quotes.
_LOOKS_LIKE = {
    "\xa0": ("a no-break space indents this line", "use plain spaces"),
    **dict.fromkeys("–—•", ("a list line that begins with another sign than a hyphen", "write '- '")),
    **dict.fromkeys("“”„‘’", ("a typeset quote", "write a straight quote: \" or '")),
}
_LOOK_ALIKE = re.compile("[ \t]*(?P<first>[\xa0–—•])|[^\"']*[ \\[{](?P<quote>[“”„‘’])")
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
        return None, [*problems, _yaml_problem(error, text, file)]
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
                problems.append(Problem(place, f"a tag '{event.tag}' is not allowed", "remove it"))
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
            _put(open_[-1], node, problems)
        if not isinstance(node, Scalar):
            if len(open_) >= MAX_DEPTH:
                raise ProcedureError(
                    [Problem(place, f"more than {MAX_DEPTH} levels inside each other", "write it flatter")]
                )
            open_.append(_Open(node))
    return root


def _left_out(event: Any, lines: list[str]) -> str:
    """What stands behind this scalar in its line, when it looks like the rest of its text."""
    line, column = event.end_mark.line, event.end_mark.column
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
    first = parent.node.entries.get(key.text)
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


def _quote_left_open(text: str, line: int) -> tuple[int, int] | None:
    """Where the quoted text begins that breaks the layout in `line`, when it began in a line before."""
    found: tuple[int, int] | None = None
    try:
        for event in _events(text):
            quoted = isinstance(event, yaml.ScalarEvent) and event.style in ('"', "'")
            if quoted and event.start_mark.line < event.end_mark.line == line:
                found = (event.start_mark.line, event.start_mark.column)
    except yaml.YAMLError:
        pass  # the error that is being told
    return found


def _yaml_problem(error: yaml.MarkedYAMLError, text: str, file: str) -> Problem:
    mark = error.problem_mark or error.context_mark
    line, column = (mark.line, mark.column) if mark is not None else (0, 0)
    lines = text.splitlines() or [""]
    # libyaml marks the end of the text for a quote or bracket left open; where it opened helps more.
    if error.context_mark is not None and line >= len(lines) - 1 and "while" in str(error.context):
        line, column = error.context_mark.line, error.context_mark.column
    opened = error.context_mark
    first = opened.line if opened is not None and line - opened.line < 3 else max(0, line - 1)
    for number in range(first, min(line + 1, len(lines))):
        look_alike = _LOOK_ALIKE.match(lines[number])
        if look_alike is not None:
            sign = look_alike.group(look_alike.lastgroup or 0)
            what, write = _LOOKS_LIKE[sign]
            at = Place(file, number + 1, look_alike.end())
            return Problem(at, f"{what} (U+{ord(sign):04X})", write)
    if "could not find expected ':'" in f"{error.problem}" and opened is not None:
        # libyaml notices it in the next line; the key without its ': ' is where it began to read one.
        before = lines[opened.line][opened.column :].strip() if opened.line < len(lines) else ""
        what = f"'{before[:40]}' has no ': '"
        return Problem(Place(file, opened.line + 1, opened.column + 1), what, "write it as 'key: value'")
    if "unknown escape character" in f"{error.problem}":
        write = "write it in '...' instead, where a backslash is a backslash, or write [0-9] for \\d"
        return Problem(
            Place(file, line + 1, column + 1), 'a backslash inside "..." begins a sign of YAML\'s', write
        )
    if (quote := _quote_left_open(text, line)) is not None:
        what = f"the quote that opens here ends only in line {line + 1}"
        return Problem(Place(file, quote[0] + 1, quote[1] + 1), what, "close it in its own line")
    if opened is not None and opened.line < line and "flow" in str(error.context):
        # A quote left open ends at the next quote of the file: where it began is what must be looked at.
        place = Place(file, opened.line + 1, opened.column + 1)
        return Problem(
            place,
            f"what opens here breaks off in line {line + 1}: a quote, a bracket or a comma is missing",
            "close it in its own line",
        )
    here = lines[line] if line < len(lines) else ""
    place = Place(file, line + 1, column + 1)
    said = f"{error.problem or error.context or 'not YAML'}"
    if "\t" in here[: len(here) - len(here.lstrip())] or ("cannot start any token" in said and "\t" in here):
        tab = Place(file, line + 1, here.index("\t") + 1)
        return Problem(tab, "a tab indents this line", "use spaces")
    if "mapping values are not allowed" in said:
        return Problem(
            place, "a second ': ' in one line of text", 'put the whole text in quotes: say: "Note: ..."'
        )
    if "end of stream" in said or "unexpected end" in said:
        return Problem(place, "a quote or bracket that opens here is never closed", "close it")
    if "did not find expected ',' or" in said:
        return Problem(
            place, "a list or {...} that is not closed, or a comma missing", "close it, or add the comma"
        )
    if "did not find expected" in said or "could not find expected ':'" in said:
        return Problem(
            place, f"the layout breaks off here ({said})", "line it up with the key above, as 'key: value'"
        )
    return Problem(place, f"not YAML ({said})", "put the text in quotes if it has special characters")
