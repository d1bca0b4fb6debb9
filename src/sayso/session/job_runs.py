"""A job run from the command line, by voice or on the keyboard, and what is told when it ends."""

from __future__ import annotations

import contextlib
import shlex
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from sayso.session.devices import Devices
from sayso.session.errors import NoVoiceError

if TYPE_CHECKING:
    from sayso.dialogue.events import Event
    from sayso.procedure.model import Procedure
    from sayso.record.store import JobRow, Store
    from sayso.session.equipment import Equipment
    from sayso.session.job import Job
    from sayso.session.opening import JobOptions
    from sayso.session.page import PageOptions
    from sayso.session.running import Ended

#: Exit codes beside 0 (the job ended) and 2 (something to put right, said on stderr).
LEFT_OPEN = 3
STOPPED = 5


def open_record(store: str | None, *, may_be_new: bool = True) -> Store:
    from sayso.record.place import default_place
    from sayso.record.store import open_store

    return open_store(store or default_place(), may_be_new=may_be_new)


def page_options(wanted: bool, port: int, store: str | None) -> PageOptions | None:
    if not wanted:
        return None
    from sayso.record.place import default_place
    from sayso.session.page import PageOptions

    return PageOptions(store or default_place(), port)


def do_by_voice(
    path: Path, options: JobOptions, store: str | None, devices: Devices, page: PageOptions | None = None
) -> None:
    from sayso.session.equipment import equipment
    from sayso.session.opening import read_procedure
    from sayso.session.running import begun

    procedure = read_procedure(path, options.language, options.parameters)
    # The equipment is opened first: a machine without a voice must not leave an empty job in the record.
    with (
        open_record(store) as record,
        equipment(devices, procedure, options.witnesses) as opened,
    ):
        tell_of_open_job(record, procedure.id, options, store)
        tell_of_unheard_codes(procedure, options)
        with begun(record, procedure, options) as (job, first):
            go_by_voice(job, first, opened, store, page)


@contextlib.contextmanager
def told_what_to_do_without_sound() -> Iterator[None]:
    """A job by voice that cannot be: what is missing, and the way that is left."""
    try:
        yield
    except NoVoiceError as missing:
        hint = "" if "--typed" in str(missing) else "; put it right, or go on without sound: add --typed"
        raise NoVoiceError(f"{missing}{hint}") from missing


def go_by_voice(
    job: Job, first: Event, opened: Equipment, store: str | None, page: PageOptions | None
) -> None:
    from sayso.session.running import run_spoken

    _say_where(opened.ear.microphone_name, opened.mouth.name)
    keys = sys.stdin if sys.stdin is not None and not sys.stdin.closed else None
    tell_how_it_ended(run_spoken(job, first, opened, keys=keys, page=page), store)


def rehearse_typed(
    path: Path, options: JobOptions, store: str | None, real_time: bool, page: PageOptions | None = None
) -> None:
    do_typed(path, replace(options, rehearsal=True), store, waits_pass=not real_time, page=page)


def do_typed(
    path: Path,
    options: JobOptions,
    store: str | None,
    *,
    waits_pass: bool,
    page: PageOptions | None = None,
) -> None:
    from sayso.session.opening import read_procedure
    from sayso.session.running import begun, run_typed

    procedure = read_procedure(path, options.language, options.parameters)
    with open_record(store) as record:
        tell_of_open_job(record, procedure.id, options, store)
        tell_of_unheard_codes(procedure, options)
        with begun(record, procedure, options) as (job, first):
            tell_how_it_ended(run_typed(job, first, waits_pass=waits_pass, page=page), store, typed=True)


def tell_of_open_ear(devices: Devices) -> None:
    """Measured (docs/false-accepts.json): while any word counted over the voice, 3 answers and 3 orders
    of its own in 17 minutes; since only orders do, none in 27."""
    if devices.open_ear and not devices.headset:
        print(
            "sayso: --open-ear: while I speak only stop, hold and repeat count, and in a room that echoes I "
            "may take my own voice for one of them; answer when I have finished",
            file=sys.stderr,
        )


def _say_where(microphone: str, speaker: str) -> None:
    print(
        f"sayso: microphone {microphone}, loudspeaker {speaker}; Ctrl-C leaves the job open", file=sys.stderr
    )


def store_as_typed(store: str | None) -> str:
    """What a printed command needs to find the record: a job is found only in the one that it lies in."""
    from sayso.record import postgres

    address = postgres.shown(store) if store and postgres.is_address(store) else store
    return f" --store {shlex.quote(address)}" if address else ""


def tell_of_open_job(record: Store, procedure: str, options: JobOptions, store: str | None) -> None:
    """Who begins anew after a crash or a break leaves the first job open, and what was done in it with it."""
    from sayso.dialogue.asked import one_name

    if options.rehearsal or not options.machine:
        return
    machine = one_name(options.machine)  # 'Tug  12' is tug 12
    left = [
        row
        for row in record.open_jobs()
        if (row.procedure, one_name(row.machine)) == (procedure, machine)
        and not record.opening(row.job)["meta"].get("rehearsal")
    ]
    if left:
        row = left[-1]
        if record.is_being_done(row.job):
            person = _in_hand_of(record, row)
            who = f", by {person}" if person else ""
            told = f"a job of this procedure on {row.machine} is being done at this moment{who}: {row.job}"
        else:
            told = f"a job of this procedure on {row.machine} is still open; to go on with it: "
            told += f"sayso resume {row.job}{store_as_typed(store)}"
        print(f"sayso: {told}", file=sys.stderr)


def tell_of_changed_text(record: Store, job: str, store: str | None) -> None:
    """A job goes on with the text that it began with; who corrected the file since may think otherwise."""
    meta = record.opening(job)["meta"]
    path = Path(meta["path"])
    for name, began_with in meta["files"].items():
        try:
            now = (path.parent / name).read_bytes().decode("utf-8-sig")
        except (OSError, ValueError):  # on another machine, or moved away: nothing is known of a change
            continue
        if now != began_with:
            print(
                f"sayso: {name} was changed since this job began; the job goes on with the text of then; "
                f"what the change means for it: sayso replay {job} {shlex.quote(str(path))}"
                f"{store_as_typed(store)}",
                file=sys.stderr,
            )
            return


def tell_of_unheard_codes(procedure: Procedure, options: JobOptions) -> None:
    """A hold point that names its own people hears no others: better known before the lead hand waits."""
    from sayso.procedure.model import AskWitness

    named = [step.id for step in procedure.steps if isinstance(step.ask, AskWitness) and step.ask.codes]
    if options.witnesses and named:
        names = ", ".join(dict.fromkeys(name for _, name in options.witnesses))
        print(
            f"sayso: the procedure itself says who releases {', '.join(named)}: "
            f"there --witness ({names}) does not count",
            file=sys.stderr,
        )


def _password_left_out(where: str) -> str:
    return " (write the password where *** stands)" if ":***@" in where else ""


def tell_how_it_ended(ended: Ended, store: str | None, *, typed: bool = False) -> None:
    where = store_as_typed(store)
    hidden = _password_left_out(where)
    if ended.outcome is None:
        go_on = f"sayso resume {ended.job}{' --typed' if typed else ''}{where}"
        print(f"sayso: job {ended.job} is open ({ended.why}); go on with: {go_on}{hidden}", file=sys.stderr)
        raise typer.Exit(LEFT_OPEN)
    report = f"sayso report {ended.job}{where}"
    print(f"sayso: job {ended.job} ended: {ended.outcome}; its report: {report}{hidden}", file=sys.stderr)
    if ended.outcome == "stopped":
        raise typer.Exit(STOPPED)


def _in_hand_of(record: Store, row: JobRow) -> str:
    from sayso.record.hands import changes_of_jobs, person_now

    return person_now(row.person, changes_of_jobs(record).get(row.job, ()))


def tell_which_of_several(record: Store, job: str, store: str | None) -> None:
    """`resume` without a name takes the latest: in a shop of several tugs that may be another one."""
    rows = {row.job: row for row in record.open_jobs()}
    if len(rows) > 1:
        row = rows[job]
        about = ", ".join(text for text in (row.machine, _in_hand_of(record, row)) if text)
        print(
            f"sayso: {len(rows)} jobs are open; this is {job}{f' ({about})' if about else ''}; "
            f"all of them: sayso jobs --open{store_as_typed(store)}",
            file=sys.stderr,
        )
