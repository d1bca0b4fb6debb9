"""Commands that need nothing but the procedure: schema, draw, card, diff, bring-in.

`check` is in sayso.rehearsal, because it also listens.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated, TextIO

import typer

from sayso.procedure.kept_files import kept
from sayso.procedure.model import Procedure
from sayso.procedure.problems import Problem, ProcedureError
from sayso.session.places import file_or_shipped

File = Annotated[
    Path,
    typer.Argument(
        help="A procedure file (YAML), or the name of a shipped one.",
        show_default=False,
        parser=file_or_shipped,
    ),
]
Language = Annotated[str, typer.Option(help="Language of the job.")]
Parameter = Annotated[
    list[str] | None, typer.Option("--set", help="NAME=VALUE for a parameter; may be repeated.")
]
Output = Annotated[
    Path | None, typer.Option("--output", "--out", "-o", help="Write here instead of to the screen.")
]


def parameters_from(texts: list[str] | None) -> dict[str, str]:
    """NAME=VALUE texts as a mapping. Exits with one line when one is not so."""
    found: dict[str, str] = {}
    for text in texts or []:
        name, equals, value = text.partition("=")
        if not equals or not name:
            print(f"sayso: '{text}' is no parameter: write NAME=VALUE", file=sys.stderr)
            raise typer.Exit(2)
        found[name] = value
    return found


def show_problems(problems: list[Problem], out: TextIO | None = None) -> None:
    for problem in problems:
        print(problem, file=out or sys.stderr)


def write_out(text: str | bytes, output: Path | None) -> None:
    """To the file, or text to the screen."""
    if output is None:
        assert isinstance(text, str)
        print(text, end="" if text.endswith("\n") else "\n")
        return
    if there := kept(output):
        print(f"sayso: {output} is {there}: it stays as it is; give another name", file=sys.stderr)
        raise typer.Exit(2)
    try:
        output.write_bytes(text.encode("utf-8") if isinstance(text, str) else text)
    except OSError as error:
        print(f"sayso: {output} cannot be written ({error.strerror}): choose another place", file=sys.stderr)
        raise typer.Exit(2) from error
    print(f"written: {output}")


def functions(
    word: Annotated[str, typer.Argument(help="Only those with this word.", show_default=False)] = "",
) -> None:
    """The calculations of the trade that conditions and expected values can call, with their sources."""
    from sayso.trade import TRADE_FUNCTIONS

    for function in TRADE_FUNCTIONS.values():
        shown = f"{function.signature}\n    {function.summary}\n    source: {function.source}"
        if word.lower() in shown.lower():
            print(shown)


def schema(output: Output = None) -> None:
    """The JSON Schema of procedure files, for editors that complete and check while you write."""
    from sayso.procedure.source import json_schema

    write_out(json.dumps(json_schema(), indent=2), output)


def draw(
    file: File,
    output: Output = None,
    text: Annotated[bool, typer.Option("--text", help="As plain text.")] = False,
    dot: Annotated[bool, typer.Option("--dot", help="As Graphviz DOT.")] = False,
    language: Language = "en",
    parameter: Parameter = None,
) -> None:
    """The branches as a drawing: with --output FILE.svg, .png or .pdf (needs Graphviz), else plain text."""
    from sayso.procedure import drawing

    procedure = _read(file, language, parameter)
    if dot:
        write_out(drawing.dot(procedure), output)
    elif text or output is None or output.suffix == ".txt":
        write_out(drawing.text(procedure), output)
    elif output.suffix == ".dot":
        write_out(drawing.dot(procedure), output)
    elif output.suffix not in drawing.FORMS:
        forms = ", ".join(("", *drawing.FORMS, ".txt or .dot"))[2:]
        print(f"sayso: {output} cannot be drawn: let its name end in {forms}", file=sys.stderr)
        raise typer.Exit(2)
    else:
        try:
            if output.suffix == ".svg":
                write_out(drawing.printable_svg(procedure), output)
            else:
                write_out(drawing.picture(procedure, drawing.FORMS[output.suffix]), output)
        except drawing.DrawingError as error:
            print(f"sayso: {error}", file=sys.stderr)
            raise typer.Exit(2) from error


def card(
    file: File,
    output: Output = None,
    picture: Annotated[bool, typer.Option(help="With the drawing of the branches.")] = True,
    language: Language = "en",
    parameter: Parameter = None,
) -> None:
    """A printable card of the procedure, one HTML file."""
    from sayso.html_name import wrong_with_html_name
    from sayso.procedure import drawing
    from sayso.procedure.card import card as as_html
    from sayso.procedure.settled import as_settled

    if output is not None and not kept(output) and (wrong := wrong_with_html_name(output)):
        print(f"sayso: {wrong}", file=sys.stderr)
        raise typer.Exit(2)
    procedure = _read(file, language, parameter)
    svg = ""
    if picture:
        try:
            svg = drawing.svg(as_settled(procedure))
        except drawing.DrawingError as error:
            print(f"sayso: the card has no drawing: {error}", file=sys.stderr)
    write_out(as_html(procedure, picture=svg), output)


def diff(
    old: Annotated[Path, typer.Argument(help="The older revision.")],
    new: Annotated[Path, typer.Argument(help="The newer revision.")],
    done: Annotated[
        list[str] | None,
        typer.Option("--done", help="A step that an open job has finished; may be repeated."),
    ] = None,
    up_to: Annotated[str, typer.Option("--up-to", help="All steps up to this one are finished.")] = "",
    language: Language = "en",
    parameter: Parameter = None,
) -> None:
    """What changed between two revisions, in the trade's words; with --done or --up-to: for an open job."""
    from sayso.procedure.differences import differences, for_open_job

    before, after = (_read(file, language, own) for file, own in _each_its_own(parameter, old, new))
    found = differences(before, after)
    for difference in found:
        print(f"{'! ' if difference.safety else '  '}{difference}")
    if not found:
        print("no difference")
    finished = list(done or [])
    if up_to:
        ids = [step.id for step in before.steps]
        if up_to not in ids:
            from sayso.procedure.problems import write_one_of

            print(f"sayso: {old} has no step '{up_to}': {write_one_of(up_to, ids)}", file=sys.stderr)
            raise typer.Exit(2)
        finished += ids[: ids.index(up_to) + 1]
    if finished:
        job = for_open_job(before, after, finished)
        print(f"\nAn open job: {len(job.affected)} of these concern what is done. {job.advice}")


def bring_in(
    file: Annotated[Path, typer.Argument(help="Markdown, CSV, XLSX, or an S1000D data module (XML).")],
    output: Output = None,
) -> None:
    """A list of steps, or an S1000D procedural data module, as a first draft of a procedure."""
    from sayso.procedure.bring_in import BringInError, bring_in_file

    if output is not None and output.exists():
        # A draft is finished by hand: written over, that work would be gone.
        print(f"sayso: {output} is there already: give another name, or remove it first", file=sys.stderr)
        raise typer.Exit(2)
    try:
        draft = bring_in_file(file, output)
    except BringInError as error:
        print(f"sayso: {error}", file=sys.stderr)
        raise typer.Exit(2) from error
    write_out(draft.text, output)
    for missing in draft.missing:
        print(missing, file=sys.stderr)


def _each_its_own(parameter: list[str] | None, old: Path, new: Path) -> list[tuple[Path, list[str]]]:
    """A revision may have added a parameter or dropped one: each file gets those it declares, and one
    that neither has goes to both, to be told as a slip."""
    from sayso.procedure.reading import parameter_names

    declared = {file: parameter_names(file) for file in (old, new)}
    known = declared[old] | declared[new]
    given = [(text, text.partition("=")[0]) for text in parameter or []]
    return [
        (file, [text for text, name in given if name in declared[file] or name not in known])
        for file in (old, new)
    ]


def _read(file: Path, language: str, parameter: list[str] | None) -> Procedure:
    from sayso.procedure.reading import read

    try:
        return read(file, language=language, parameters=parameters_from(parameter))
    except ProcedureError as error:
        show_problems(list(error.problems))
        raise typer.Exit(2) from error
