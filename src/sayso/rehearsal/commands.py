"""Commands that try a procedure: check, grammars, walk, script."""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any

import typer

from sayso.procedure.commands import Language, Parameter, parameters_from, show_problems, write_out
from sayso.procedure.model import Procedure
from sayso.procedure.problems import ProcedureError
from sayso.session.places import file_or_shipped

Files = Annotated[
    list[Path],
    typer.Argument(
        help="Procedure files (YAML), or names of shipped ones.", show_default=False, parser=file_or_shipped
    ),
]
File = Annotated[
    Path,
    typer.Argument(
        help="A procedure file (YAML), or the name of a shipped one.",
        show_default=False,
        parser=file_or_shipped,
    ),
]
Scripts = Annotated[list[Path], typer.Argument(help="Scripted jobs.", show_default=False)]


def check(
    files: Files,
    language: Language = "en",
    parameter: Parameter = None,
    sound: Annotated[bool, typer.Option(help="Also look for answers that sound alike.")] = True,
    strict: Annotated[bool, typer.Option("--strict", help="Warnings count as errors.")] = False,
    hints: Annotated[bool, typer.Option(help="Show hints too.")] = True,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON list, for editors and scripts.")] = False,
    model: Annotated[str | None, typer.Option(help="A vosk model directory, for words and sounds.")] = None,
) -> None:
    """Everything wrong with a procedure, in one pass, with file, line and column."""
    from sayso.procedure.checks import check_reading
    from sayso.procedure.reading import read_all

    found = []
    for file in files:
        reading = read_all(file, language=language, parameters=parameters_from(parameter))
        ear = None
        if sound:
            from sayso.rehearsal.ear import Ear

            ear = Ear(dict(reading.procedure.words) if reading.procedure else {}, model)
        found += check_reading(reading, ear)
        if sound and reading.procedure is not None:
            _teach_ahead(reading.procedure, model)
    if not hints:
        found = [problem for problem in found if problem.severity != "hint"]
    if as_json:
        print(
            json.dumps([{**asdict(problem), "place": asdict(problem.place)} for problem in found], indent=2)
        )
    else:
        show_problems(found, sys.stdout)
        counts = {s: sum(p.severity == s for p in found) for s in ("error", "warning", "hint")}
        said = ", ".join(f"{n} {kind}{'s' if n != 1 else ''}" for kind, n in counts.items() if n)
        print(f"{len(files)} file{'s' if len(files) != 1 else ''}: {said or 'nothing to put right'}")
    bad = {"error", "warning"} if strict else {"error"}
    if any(problem.severity in bad for problem in found):
        raise typer.Exit(2)


def _teach_ahead(procedure: Procedure, model: str | None) -> None:
    """The first job on this machine need not wait for the words that the model lacks."""
    from sayso.hearing.errors import HearingError
    from sayso.session.taught_model import taught_ahead

    def told(count: int) -> None:
        if count:
            print(
                f"sayso: teaching the model {count} words of {procedure.id}, once",
                file=sys.stderr,
                flush=True,
            )

    with contextlib.suppress(HearingError):
        taught_ahead(model, procedure, told)


def grammars(
    file: File,
    wrench: Annotated[str, typer.Option(help="N.m, lbf.ft or lbf.in.")] = "N.m",
    every: Annotated[bool, typer.Option("--all", help="Every phrase of every grammar.")] = False,
    language: Language = "en",
    parameter: Parameter = None,
) -> None:
    """What can be said at each step."""
    from sayso.rehearsal.grammars import listed

    procedure = _read(file, language, parameter)
    print(listed(procedure, wrench=wrench, shown=1_000_000 if every else 12), end="")


def walk(
    files: Files,
    wrench: Annotated[str, typer.Option(help="N.m, lbf.ft or lbf.in.")] = "N.m",
    jobs: Annotated[bool, typer.Option("--jobs", help="Show the answers of each job walked.")] = False,
    language: Language = "en",
    parameter: Parameter = None,
) -> None:
    """Walk every branch with legal answers through the real dialogue, and print what was covered."""
    from sayso.rehearsal.walk import walk as walk_all

    complete = True
    for file in files:
        coverage = walk_all(_read(file, language, parameter), wrench=wrench)
        print(coverage.report())
        if jobs:
            for job in coverage.jobs:
                print(
                    f"{job.outcome}: " + ", ".join(f"{step} '{words}'" for step, words in job.answers) + "\n"
                )
        complete = complete and coverage.complete
    if not complete:
        raise typer.Exit(2)


script = typer.Typer(
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="Scripted jobs kept with the procedures.",
)


@script.command("check")
def script_check(files: Scripts) -> None:
    """Replay scripted jobs and show where they go otherwise than they did."""
    from sayso.rehearsal.script import check_script, read_script

    bad = 0
    for file in files:
        try:
            unlike = check_script(read_script(file))
        except ProcedureError as error:
            show_problems(list(error.problems))
            bad += 1
            continue
        for one in unlike:
            print(one)
        count = f"{len(unlike)} line{'s' * (len(unlike) != 1)} unlike"
        print(f"{file}: {count if unlike else 'as it was'}")
        bad += bool(unlike)
    if bad:
        raise typer.Exit(2)


@script.command("fill")
def script_fill(files: Scripts) -> None:
    """Write into scripts what sayso says now, between the lines of the person at work. Read them after."""
    from sayso.rehearsal.script import filled, read_script

    bad = False
    for file in files:
        try:
            text = filled(read_script(file))
        except ProcedureError as error:
            show_problems(list(error.problems))
            bad = True
            continue
        write_out(text, file)
    if bad:
        raise typer.Exit(2)


def replay(
    job: Annotated[str, typer.Argument(help="Its name, the beginning of it, or its number.")],
    file: Annotated[Path, typer.Argument(help="The other revision (YAML).")],
    store: Annotated[
        str | None, typer.Option("--store", help="Record: a file or an address.", show_default=False)
    ] = None,
    old: Annotated[
        Path | None, typer.Option("--old", help="The revision it was done on; default: the record's.")
    ] = None,
    parameter: Annotated[
        list[str] | None,
        typer.Option("--set", help="NAME=VALUE for a parameter; the others are the job's."),
    ] = None,
    language: Annotated[
        str | None, typer.Option("--language", help="Language of the job; default: the record's.")
    ] = None,
) -> None:
    """Replay a job from its journal against another revision: what would have gone otherwise."""
    from sayso.dialogue.codec import event_from_json
    from sayso.record.which_record import find_job, open_record
    from sayso.rehearsal.against_revision import against_revision

    with open_record(store) as record:
        name = find_job(record, job).job
        meta = record.opening(name)["meta"]
        of_job = {"language": language or meta["language"], "given": meta["parameters"]}
        before = _read_for(old, **of_job) if old else _kept(meta)
        events = [event_from_json(entry.data) for entry in record.entries(name, kinds=("event",))]
    new = _read_for(file, **of_job, again=parameters_from(parameter))
    found = against_revision(before, new, events)
    for one in found:
        print(one)
    print(
        f"{len(found)} thing{'s' * (len(found) != 1)} would have gone otherwise"
        if found
        else "the job would have gone the same way"
    )


def _read_for(
    file: Path, language: str, given: Mapping[str, str], again: Mapping[str, str] | None = None
) -> Procedure:
    """As the job would have it: with the parameters that it was begun with, save those that this revision has
    no longer."""
    from sayso.procedure.reading import parameter_names

    declared = parameter_names(file)
    for name, value in given.items():
        if declared and name not in declared:
            print(f"sayso: {file.name} has no parameter '{name}' (the job: {value})", file=sys.stderr)
    kept = {name: value for name, value in given.items() if name in declared}
    return _read(file, language, [f"{name}={value}" for name, value in {**kept, **(again or {})}.items()])


def _kept(meta: Mapping[str, Any]) -> Procedure:
    from sayso.procedure.reading import read_kept

    return read_kept(meta["files"], meta["file"], language=meta["language"], parameters=meta["parameters"])


def _read(file: Path, language: str, parameter: list[str] | None) -> Procedure:
    from sayso.procedure.reading import read

    try:
        return read(file, language=language, parameters=parameters_from(parameter))
    except ProcedureError as error:
        show_problems(list(error.problems))
        raise typer.Exit(2) from error
