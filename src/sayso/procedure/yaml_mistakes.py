"""What libyaml says of a text that is no YAML, as a lead hand understands it.

libyaml tells where it could not go on, often lines behind the mistake; here the mistake is looked for.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import yaml

from sayso.procedure.model import Place
from sayso.procedure.problems import Problem

#: What a word processor makes of blanks, hyphens and quotes.
_LOOKS_LIKE = {
    "\xa0": ("a no-break space in what indents this line", "use plain spaces"),
    **dict.fromkeys("–—•", ("a list line that begins with another sign than a hyphen", "write '- '")),
    **dict.fromkeys("“”„‘’", ("a typeset quote", "write a straight quote: \" or '")),
}
_LOOK_ALIKE = re.compile("[ \t]*(?:- *)?(?P<first>[\xa0–—•])|[^\"']*[ \\[{](?P<quote>[“”„‘’])")
_TAB_FIRST = re.compile(" *\t")


def in_plain_words(error: yaml.MarkedYAMLError, text: str, file: str) -> Problem:
    """What is wrong with `text`, at the line to be put right."""
    mark = error.problem_mark or error.context_mark
    line, column = (mark.line, mark.column) if mark is not None else (0, 0)
    lines = text.splitlines() or [""]
    # libyaml marks the end of the text for a quote or bracket left open; where it opened helps more.
    if error.context_mark is not None and line >= len(lines) - 1 and "while" in str(error.context):
        line, column = error.context_mark.line, error.context_mark.column
    opened = error.context_mark
    first = opened.line if opened is not None and line - opened.line < 3 else max(0, line - 1)
    last = max(line, mark.line if mark is not None else 0)
    for number in range(first, min(last + 1, len(lines))):
        look_alike = _LOOK_ALIKE.match(lines[number])
        if look_alike is not None:
            sign = look_alike.group(look_alike.lastgroup or 0)
            what, write = _LOOKS_LIKE[sign]
            place = Place(file, number + 1, look_alike.end())
            return Problem(place, f"{what} (U+{ord(sign):04X})", write)
        if "tab character" in f"{error.problem}" and (indent := _TAB_FIRST.match(lines[number])) is not None:
            return Problem(Place(file, number + 1, indent.end()), "a tab indents this line", "use spaces")
    if "could not find expected ':'" in f"{error.problem}" and opened is not None:
        # libyaml notices it in the next line; the key without its ': ' is where it began to read one.
        before = lines[opened.line][opened.column :].strip() if opened.line < len(lines) else ""
        if ":\xa0" in before:
            at = Place(file, opened.line + 1, opened.column + before.index("\xa0") + 1)
            return Problem(at, "a no-break space follows the ':' (U+00A0)", "use a plain space")
        what = f"'{before[:40]}' has no ': '"
        return Problem(Place(file, opened.line + 1, opened.column + 1), what, "write it as 'key: value'")
    if "unknown escape character" in f"{error.problem}":
        write = "write it in '...' instead, where a backslash is a backslash, or write [0-9] for \\d"
        return Problem(
            Place(file, line + 1, column + 1), 'a backslash inside "..." begins a sign of YAML\'s', write
        )
    quote = _quote_left_open(text, line)
    if quote is None and (left := _left_open(error, lines)) is not None:
        number, column, what, write = left
        return Problem(Place(file, number + 1, column + 1), what, write)
    if mark is not None and mark.line < len(lines):
        before = lines[mark.line - 1] if mark.line else ""
        deeper = len(before) - len(before.lstrip(" "))
        if "mapping values are not allowed" in f"{error.problem}" and _ID_FIRST.match(before):
            what = "'id' begins a step, and has no '- ' in front"
            return Problem(Place(file, mark.line, deeper + 1), what, "write '- id: ...'")
        written = _slip_in_the_line(lines[mark.line], mark.column)
        if written is not None:
            return Problem(Place(file, mark.line + 1, written[0] + 1), *written[1:])
    if quote is not None:
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
    behind = here[:column].rstrip()[-1:]
    if "did not find expected key" in said and behind in ("}", "]") and here[column:].strip():
        return Problem(
            place,
            f"something stands behind the closing '{behind}': '{here[column:].strip()[:30]}'",
            "remove it",
        )
    if "did not find expected" in said and here.strip().startswith("- "):
        write = "line its '-' up with the '-' of the lines above"
        return Problem(place, "this '-' stands neither under the one above nor where a list begins", write)
    if "did not find expected" in said or "could not find expected ':'" in said:
        return Problem(
            place, f"the layout breaks off here ({said})", "line it up with the key above, as 'key: value'"
        )
    return Problem(place, f"not YAML ({said})", "put the text in quotes if it has special characters")


#: a key and its ':', alone so far in its line
_KEY_FIRST = re.compile(r"[ ]*(?:- +)?(?P<key>[\w-]+)$")
#: '  id: close', where the step before it has its hyphen
_ID_FIRST = re.compile(r" *id: ")
_NO_BLANK = re.compile(r"[ ]*(?P<line>-(?P<key>[a-z_]+):)")
#: a whole text in quotes, as far as its closing quote
_IN_QUOTES = re.compile(r"""(?:^|.*?[:\[{,-] +)(?P<text>'[^']*'|"[^"\\]*")[ ]*$""")


def _slip_in_the_line(line: str, column: int) -> tuple[int, str, str] | None:
    """Column, what and what to write, where the line itself shows what libyaml stumbled over at `column`."""
    before = line[:column]
    if _ID_FIRST.match(line) and column == len(line) - len(line.lstrip(" ")):
        return column, "'id' begins a step, and has no '- ' in front", "write '- id: ...'"
    if line[column : column + 1] == ":" and (key := _KEY_FIRST.match(before)):
        what = f"'{key['key']}' stands deeper than the key above, so it reads as more of that text"
        return key.start("key"), what, "line it up with the key above"
    if (dash := _NO_BLANK.match(line)) and column == dash.start("line"):
        return column, f"'-{dash['key']}' has no blank after its '-'", f"write '- {dash['key']}: ...'"
    quoted = (
        _IN_QUOTES.match(before) if line[column:].strip()[:1] not in ("", ",", "}", "]", ":", "#") else None
    )
    if quoted:
        mark = quoted["text"][0]
        other = "'" if mark == '"' else '"'
        what = f"the text goes on after its closing {mark}: {quoted['text'][:40]}"
        return quoted.end("text") - 1, what, f"put the whole text in {other}...{other}"
    return None


#: pattern: [A-Z]{2}[0-9]{5} without its quotes is a list of YAML's and something behind it
_BARE_PATTERN = re.compile(r"\bpattern: +(?P<at>\[[^\]\"']*\](?=[\[({?*+.\w-])[^ ,]*)")


def _left_open(error: yaml.MarkedYAMLError, lines: list[str]) -> tuple[int, int, str, str] | None:
    """Line, column, what and what to write, where a pattern, a quote or a bracket breaks the layout.

    libyaml goes on to the next quote or ':' of the file; the line where it opened is the one to be put right.
    """
    opened, mark = error.context_mark, error.problem_mark
    at = opened.line if opened is not None and "flow" in f"{error.context}" else mark.line if mark else 0
    for number in {at, mark.line if mark is not None else at}:
        bare = _BARE_PATTERN.search(lines[number]) if number < len(lines) else None
        if bare is not None:
            pattern = bare["at"].removesuffix("}") if "{" in lines[number][: bare.start()] else bare["at"]
            what = f"a pattern without quotes: '{pattern[:40]}'"
            return number, bare.start("at"), what, f'write pattern: "{pattern[:40]}"'
    if opened is None or mark is None or at != opened.line or not opened.line < mark.line:
        return None
    line = lines[opened.line]
    still_open = _still_open(line, opened.column)
    if still_open is None:
        return None
    column, sign = still_open
    if sign in "\"'":
        return (
            opened.line,
            column,
            f"the {sign} that opens here is not closed",
            "close it in its own line",
        )
    deep = len(line) - len(line.lstrip(" -"))
    following = next((text for text in lines[opened.line + 1 :] if text.strip()), "")
    if len(following) - len(following.lstrip(" ")) <= deep:
        other = {"{": "}", "[": "]"}[sign]
        return opened.line, column, f"the '{sign}' that opens here is not closed", f"write the '{other}'"
    return None


def _still_open(line: str, column: int) -> tuple[int, str] | None:
    """Column and sign of what opens in `line` from `column` on and stays open: a quote, else a bracket."""
    open_: list[tuple[int, str]] = []
    quote: tuple[int, str] | None = None
    for at in range(column, len(line)):
        sign = line[at]
        if quote is not None:
            if sign == quote[1] and line[at - 1] != "\\":
                quote = None
        elif sign in "\"'" and line[:at].rstrip(" ")[-1:] in ("", ":", ",", "[", "{"):
            quote = (at, sign)
        elif sign in "[{":
            open_.append((at, sign))
        elif sign in "]}" and open_:
            open_.pop()
    return quote or (open_[-1] if open_ else None)


def _quote_left_open(text: str, line: int) -> tuple[int, int] | None:
    """Where the quoted text begins that breaks the layout in `line`, when it began in a line before."""
    found: tuple[int, int] | None = None
    try:
        events: Iterator[Any] = yaml.parse(text, getattr(yaml, "CSafeLoader", yaml.SafeLoader))
        for event in events:
            quoted = isinstance(event, yaml.ScalarEvent) and event.style in ('"', "'")
            if quoted and event.start_mark.line < event.end_mark.line == line:
                found = (event.start_mark.line, event.start_mark.column)
    except yaml.YAMLError:
        pass  # the error that is being told
    return found
