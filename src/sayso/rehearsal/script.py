"""Scripted jobs: a transcript kept with the procedure, replayed through the real dialogue and compared.

The file is plain text, one thing a line:

    # any remark
    procedure: ../wren-48-drive-controller.yaml
    wrench: lbf.in                      also: person, language, detail (full, normal, brief),
                                        parameter: NAME=VALUE
    sayso: What sayso says.
    you: what is said, as words
    you type: what is typed
    key: repeat                         a key or pedal, by the name of its control word
    you hum                             something is heard that is no answer (NoMatch)
    nobody speaks                       (NoInput)
    time passes                         until the timer that is due first
    the program restarts                (Resumed)
    the job ends: complete

A lead hand writes the 'you' lines; `fill` writes what sayso says between them; `check` compares.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from sayso.dialogue.events import ClipKept, Heard, KeyPressed, NoInput, NoMatch, Resumed
from sayso.procedure import read
from sayso.procedure.model import Place
from sayso.procedure.problems import Problem, ProcedureError, did_you_mean, write_one_of
from sayso.rehearsal import bench as on_bench
from sayso.rehearsal.bench import Bench, BenchError

_HEAD = ("procedure", "wrench", "person", "language", "detail", "parameter")
_ACTS = ("you", "you type", "key")
_BARE = ("you hum", "nobody speaks", "time passes", "the program restarts", "a note is kept")


@dataclass(frozen=True, slots=True)
class Line:
    """`kind`: the words before ':', or a bare line. Lines of 'sayso' and 'the job ends' are compared."""

    number: int
    kind: str
    text: str = ""

    def __str__(self) -> str:
        return f"{self.kind}: {self.text}" if self.text else self.kind


@dataclass(frozen=True)
class Script:
    path: Path
    head: dict[str, str]
    parameters: dict[str, str] = field(default_factory=dict)
    lines: tuple[Line, ...] = ()
    #: the lines before the first of the job, as written
    preface: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Unlike:
    """Where a job no longer goes as its script says."""

    place: Place
    expected: str
    got: str

    def __str__(self) -> str:
        expected, got = self.expected or "nothing more", self.got or "nothing more"
        return f"{self.place}: the script has '{expected}', the job has '{got}'"


def read_script(path: str | Path) -> Script:
    """Raises ProcedureError with every line that cannot be read."""
    path = Path(path)
    problems: list[Problem] = []
    head: dict[str, str] = {}
    parameters: dict[str, str] = {}
    lines: list[Line] = []
    preface: list[str] = []
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ProcedureError(
            [Problem(Place(str(path), 1, 1), f"cannot be read ({error})", "check the path")]
        ) from error
    for number, raw in enumerate(text.splitlines(), 1):
        line = raw.strip()
        place = Place(str(path), number, 1)
        if not line or line.startswith("#"):
            if not lines:
                preface.append(raw)
            continue
        kind, colon, rest = (part.strip() for part in line.partition(":"))
        if line in _BARE:
            lines.append(Line(number, line))
        elif colon and kind in (*_ACTS, "sayso", "the job ends") and rest:
            lines.append(Line(number, kind, rest))
        elif colon and kind in _HEAD and not lines:
            preface.append(raw)
            name, equals, value = rest.partition("=")
            if kind == "parameter" and equals:
                parameters[name.strip()] = value.strip()
            else:
                head[kind] = rest
        else:
            problems.append(Problem(place, f"'{line[:60]}' is no line of a script", _write(line, kind)))
    if "procedure" not in head:
        problems.append(
            Problem(
                Place(str(path), 1, 1),
                "the script names no procedure",
                "add 'procedure: FILE.yaml' at the top",
            )
        )
    if problems:
        raise ProcedureError(problems)
    return Script(path, head, parameters, tuple(lines), tuple(preface))


def _write(line: str, kind: str) -> str:
    if kind == line:
        return write_one_of(line, _BARE)
    near = did_you_mean(kind, (*_ACTS, "sayso", "the job ends", *_HEAD))
    return f"write '{near}: ...'" if near else "write 'you: ...' or 'sayso: ...'"


def check_script(script: Script) -> list[Unlike]:
    """Everything that the job says or does otherwise than the script. Raises ProcedureError like `read`."""
    expected = [line for line in script.lines if line.kind in ("sayso", "the job ends")]
    got = [
        (turn, line) for turn, line in _played(script) if line.kind in ("sayso", "the job ends", "problem")
    ]
    last = script.lines[-1].number if script.lines else 1
    found: list[Unlike] = []
    # Turn by turn, so that one changed sentence is told once and does not shift all that follow.
    turns = _by_turn(script.lines)
    for number in range(max(len(turns), 1 + max((turn for turn, _ in got), default=0))):
        wanted = [line for line in (turns[number] if number < len(turns) else []) if line in expected]
        had = [line for turn, line in got if turn == number]
        for index in range(max(len(wanted), len(had))):
            one = wanted[index] if index < len(wanted) else None
            other = had[index] if index < len(had) else None
            if one is None or other is None or (one.kind, one.text) != (other.kind, other.text):
                at = (
                    one.number
                    if one
                    else (turns[number][-1].number if number < len(turns) and turns[number] else last)
                )
                found.append(
                    Unlike(
                        Place(str(script.path), at, 1), str(one) if one else "", str(other) if other else ""
                    )
                )
                if len(found) >= 50:
                    return found
    return found


def filled(script: Script) -> str:
    """The script with what sayso says now; the lines of the person at work stay as they are.

    Raises ProcedureError, naming the line, when something in it cannot be done.
    """
    played = [line for _, line in _played(script)]
    body = [str(line) for line in played]
    if played and played[-1].kind == "problem":
        place = Place(str(script.path), played[-1].number, 1)
        raise ProcedureError([Problem(place, played[-1].text, "change or remove this line")])
    preface = "\n".join(script.preface).rstrip()
    return preface + "\n\n" + "\n".join(body) + "\n"


def _by_turn(lines: tuple[Line, ...]) -> list[list[Line]]:
    """Lines in turns: each begins with what the person does (the first one with the start of the job)."""
    turns: list[list[Line]] = [[]]
    for line in lines:
        if line.kind not in ("sayso", "the job ends"):
            turns.append([])
        turns[-1].append(line)
    return turns


def _played(script: Script) -> Iterator[tuple[int, Line]]:
    """(turn, line) of the job as it goes now."""
    procedure = read(
        script.path.parent / script.head["procedure"],
        language=script.head.get("language", "en"),
        parameters=script.parameters,
    )
    bench = on_bench.start(
        procedure,
        person=script.head.get("person", "Bench"),
        wrench=script.head.get("wrench", "N.m"),
        level=script.head.get("detail", "normal"),
    )
    turn = 0
    yield from ((turn, line) for line in _said(bench))
    for line in script.lines:
        if line.kind in ("sayso", "the job ends"):
            continue
        turn += 1
        yield turn, line
        if bench.ended:
            yield turn, Line(line.number, "problem", "the job has ended already")
            return
        try:
            bench = _done(bench, line)
        except BenchError as error:
            yield turn, Line(line.number, "problem", str(error))
            return
        yield from ((turn, said) for said in _said(bench))


def _said(bench: Bench) -> list[Line]:
    lines = [Line(0, "sayso", text) for text in bench.said]
    return [*lines, Line(0, "the job ends", bench.outcome)] if bench.ended else lines


def _done(bench: Bench, line: Line) -> Bench:
    words = tuple(line.text.split())
    match line.kind:
        case "you":
            return on_bench.give(bench, lambda at: Heard(at, words))
        case "you type":
            return on_bench.give(bench, lambda at: Heard(at, words, typed=True))
        case "key":
            return on_bench.give(bench, lambda at: KeyPressed(at, line.text))
        case "you hum":
            return on_bench.give(bench, NoMatch)
        case "nobody speaks":
            return on_bench.give(bench, NoInput)
        case "the program restarts":
            return on_bench.give(bench, Resumed)
        case "a note is kept":
            note = bench.keeping.note if bench.keeping else bench.state.step.ask.name
            return on_bench.give(bench, lambda at: ClipKept(at, note, "0" * 64, 2.0))
    return on_bench.let_time_pass(bench)
