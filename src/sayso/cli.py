"""The `sayso` command: finds the part that a subcommand belongs to and loads only that part.

Exit codes: 0 done; 2 something to put right (one line on stderr); 3 job left open; 5 job stopped by the
technician; 1 a fault of sayso itself (`--debug` shows it); 130 interrupted.
"""

from __future__ import annotations

import atexit
import gc
import importlib
import io
import os
import sys
from collections.abc import Sequence
from typing import Any, NamedTuple


class Part(NamedTuple):
    """Where a subcommand lives: a function or a typer app in the commands.py of its folder."""

    where: str
    summary: str


#: In the order of a working day. The summaries stand here so that help loads no part.
COMMANDS: dict[str, Part] = {
    "demo": Part(
        "sayso.session.commands:demo", "The demo job by voice (typed, if this machine cannot speak)."
    ),
    "run": Part("sayso.session.commands:run", "Do a job by voice."),
    "resume": Part("sayso.session.commands:resume", "Take an open job up again at the same question."),
    "rehearse": Part("sayso.session.commands:rehearse", "The same job on the keyboard."),
    "jobs": Part("sayso.record.jobs_command:jobs", "All jobs in the record."),
    "report": Part("sayso.record.commands:report", "The report of a job, one HTML file."),
    "sign-off": Part("sayso.record.sign_off_command:sign_off", "Sign deviations off: who, when and why."),
    "verify": Part("sayso.record.verify_command:verify", "Find any altered, missing or reordered entry."),
    "export": Part("sayso.record.commands:export", "A job or all jobs as CSV or JSON."),
    "deliver": Part("sayso.record.commands:deliver", "Send finished jobs to the shop's database."),
    "figures": Part("sayso.record.commands:figures", "Over many jobs: times, torques, deviations."),
    "anonymise": Part("sayso.record.commands:anonymise", "Export without names and voices."),
    "retention": Part("sayso.record.commands:retention", "Remove what is older than the shop keeps it."),
    "roles": Part(
        "sayso.record.commands:roles", "Roles in the shop's database: who may add, sign off, read."
    ),
    "key": Part("sayso.record.commands:key", "Make the shop's key for signing records."),
    "check": Part("sayso.rehearsal.commands:check", "Everything wrong with a procedure, with file and line."),
    "walk": Part("sayso.rehearsal.commands:walk", "Walk every branch of a procedure; print the coverage."),
    "trials": Part(
        "sayso.rehearsal.simulation_commands:trials", "Measure what the model makes of words jobs need."
    ),
    "simulate": Part(
        "sayso.rehearsal.simulation_commands:simulate", "Jobs by a simulated technician who is misheard."
    ),
    "script": Part("sayso.rehearsal.commands:script", "Scripted jobs kept with the procedures: check, fill."),
    "replay": Part("sayso.rehearsal.commands:replay", "A job of the record against another revision."),
    "grammars": Part("sayso.rehearsal.commands:grammars", "What can be said at each step of a procedure."),
    "draw": Part("sayso.procedure.commands:draw", "The branches of a procedure as a drawing."),
    "card": Part("sayso.procedure.commands:card", "A printable card of a procedure."),
    "diff": Part("sayso.procedure.commands:diff", "Two revisions compared; what it means for an open job."),
    "bring-in": Part("sayso.procedure.commands:bring_in", "A first draft from Markdown, a sheet or S1000D."),
    "functions": Part("sayso.procedure.commands:functions", "The trade's calculations for conditions."),
    "schema": Part("sayso.procedure.commands:schema", "The JSON Schema of procedure files, for editors."),
    "pages": Part("sayso.screen.commands:pages", "Jobs, reports and procedures in the browser."),
    "quiz": Part("sayso.session.quiz:quiz", "A short oral quiz on a procedure, spaced over the days."),
    "progress": Part("sayso.shop.commands:progress", "What a person knows and has done, skill by skill."),
    "devices": Part("sayso.session.commands:devices", "Microphones and loudspeakers of this machine."),
    "evaluate": Part("sayso.hearing.evaluate_command:evaluate", "How well the model hears, on recordings."),
    "model": Part("sayso.hearing.commands:model_app", "Speech models: show, fetch, teach words."),
    "microphone": Part("sayso.hearing.commands:microphone_app", "Check level and noise of a microphone."),
    "bench": Part("sayso.bench.commands:bench", "Reply times, noise and false accepts on this machine."),
}

FAULT, TO_PUT_RIGHT, INTERRUPTED = 1, 2, 130

#: New objects before Python looks for garbage. Importing makes much and drops little: at Python's own 700 it
#: was a tenth of the time of a start.
SELDOM = 20_000


def main(arguments: Sequence[str] | None = None) -> None:
    """Entry point of the console script; always ends by SystemExit."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    ended: list[int] = []
    if arguments is None:  # a process of our own, which ends with this command
        gc.set_threshold(SELDOM)
        _begin_again_if_names_are_lost()
        atexit.register(_leave_at_once, ended)  # first of all, so it comes last
    debug = "--debug" in words
    if debug:
        words.remove("--debug")
        os.environ["SAYSO_DEBUG"] = "1"
    _show_what_the_terminal_can()
    try:
        code = dispatch(words)
    except KeyboardInterrupt:
        code = INTERRUPTED
    except BrokenPipeError:  # `sayso jobs | head`
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        code = 0
    except Exception as error:
        if debug:
            raise
        code = _told(error)
    ended.append(code)
    sys.exit(code)


def _begin_again_if_names_are_lost() -> None:
    """LC_ALL=C with Python's UTF-8 mode switched off (in a service file, say): no name with an umlaut can be
    given to SQLite or a browser then. Begun anew with that mode on, names are what the disk says."""
    lost = os.name == "posix" and sys.getfilesystemencoding() == "ascii"
    if lost and sys.executable and os.environ.get("PYTHONUTF8") != "1":
        os.environ["PYTHONUTF8"] = "1"
        os.execv(sys.executable, [sys.executable, *sys.orig_argv[1:]])


def _leave_at_once(ended: Sequence[int]) -> None:
    """All is closed by now. The memory goes back to the system in one go: giving back the speech model and
    every module piece by piece takes a quarter of a second, and seconds on a busy machine."""
    if not ended:
        return
    try:
        for stream in (sys.stdout, sys.stderr):
            if stream is not None:
                stream.flush()
    except (OSError, ValueError):  # a full disk behind a pipe: Python tells it, and ends with its own code
        return
    os._exit(ended[0])


def _show_what_the_terminal_can() -> None:
    """A terminal or a pipe of another encoding gets a '?' for what it lacks; no command ends over a sign."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper) and stream.errors == "strict":
            stream.reconfigure(errors="replace")


def dispatch(words: Sequence[str]) -> int:
    """Runs the subcommand that `words` name; returns the exit code."""
    if not words or words[0] in ("-h", "--help", "help"):
        print(overview())
        return 0
    if words[0] in ("-V", "--version"):
        from sayso import __version__

        print(f"sayso {__version__}")
        return 0
    name, *rest = words
    if name not in COMMANDS:
        print(f"sayso: no command {name!r}{_nearest(name)}; all of them: sayso --help", file=sys.stderr)
        return TO_PUT_RIGHT
    command = load(name)
    try:
        command(rest, prog_name=f"sayso {name}")
    except SystemExit as ended:  # typer ends every command this way
        return ended.code if isinstance(ended.code, int) else TO_PUT_RIGHT if ended.code else 0
    return 0


def load(name: str) -> Any:
    """The command object of a subcommand. Imports its part."""
    import typer

    module, _, attribute = COMMANDS[name].where.partition(":")
    found = getattr(importlib.import_module(module), attribute)
    if not isinstance(found, typer.Typer):
        app = typer.Typer(add_completion=False, pretty_exceptions_enable=False, rich_markup_mode=None)
        app.command()(found)
        found = app
    return typer.main.get_command(found)


def overview() -> str:
    """What `sayso --help` prints."""
    width = max(map(len, COMMANDS))
    lines = [f"  {name:<{width}}  {part.summary}" for name, part in COMMANDS.items()]
    return "\n".join(
        [
            "sayso: a hands-free, offline step assistant for the workshop.",
            "",
            "usage: sayso COMMAND [OPTIONS]     sayso COMMAND --help     sayso --version",
            "",
            *lines,
            "",
            "--debug shows the whole trace of a fault.",
        ]
    )


def _nearest(name: str) -> str:
    from difflib import get_close_matches

    near = get_close_matches(name, COMMANDS, 1)
    return f"; did you mean {near[0]!r}?" if near else ""


def _told(error: Exception) -> int:
    """One line for a person. Every error class of our own carries such a line; others are faults."""
    if type(error).__module__.split(".")[0] == "sayso":
        print(f"sayso: {error}", file=sys.stderr)
        return TO_PUT_RIGHT
    print(
        f"sayso: a fault in sayso itself: {type(error).__name__}: {error}; run it again with --debug",
        file=sys.stderr,
    )
    return FAULT


if __name__ == "__main__":
    main()
