"""The commands about the record: report, export, deliver, figures, retention, roles and key."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sayso.record.errors import RecordError
from sayso.record.local_time import minute
from sayso.record.which_record import (
    FOUND_FAULTS,
    JobArgument,
    Since,
    StoreOption,
    Until,
    find_job,
    open_record,
)

if TYPE_CHECKING:
    from sayso.record.deliver import Delivery
    from sayso.record.store import Store


def report(
    job: JobArgument = None,
    store: StoreOption = None,
    out: Annotated[
        Path | None, typer.Option("--output", "--out", "-o", help="File to write; JOB.html when not given.")
    ] = None,
    audio: Annotated[bool, typer.Option(help="With the sound of spoken notes.")] = True,
    text: Annotated[bool, typer.Option(help="With the exact procedure text.")] = True,
    anonymous: Annotated[bool, typer.Option("--anonymous", help="Without names and voices.")] = False,
    key: Annotated[
        Path | None, typer.Option(help="The shop's key: sign the record's head first (see `sayso key`).")
    ] = None,
    trust: Annotated[list[str] | None, typer.Option(help="A public key whose seals count.")] = None,
) -> None:
    """The report of a job: one HTML file, for the screen and for paper."""
    from sayso.record.file_names import file_name
    from sayso.record.report import ReportOptions, write_report
    from sayso.record.seal import read_key, seal

    if out is not None:
        _named_as_html(out)
    with open_record(store, read_only=key is None) as record:
        row = find_job(record, job)
        trusted = tuple(trust or ())
        if key is not None:
            trusted += (seal(record, row.job, read_key(key)).public_key,)
        options = ReportOptions(audio=audio, text=text, anonymous=anonymous, trusted_keys=trusted)
        print(write_report(record, row.job, out or Path(file_name(row.job, ".html")), options))


ExportedFile = Annotated[
    Path | None, typer.Argument(help="File to write: NAME.csv, NAME.json or NAME.parquet.")
]
#: As every other command that writes a file takes it.
OutputOption = Annotated[
    Path | None, typer.Option("--output", "--out", "-o", help="The same file, written as an option.")
]


def export(
    out: ExportedFile = None,
    job: Annotated[list[str] | None, typer.Option("--job", help="Only this job; may be repeated.")] = None,
    store: StoreOption = None,
    anonymous: Annotated[bool, typer.Option("--anonymous", help="Without names and voices.")] = False,
    columns: Annotated[bool, typer.Option("--columns", help="Say what each column means, and stop.")] = False,
    output: OutputOption = None,
) -> None:
    """Jobs as CSV or Parquet (a row an answer) or as JSON (every entry, to check the chain elsewhere)."""
    from sayso.record.export import COLUMNS
    from sayso.record.export import export as write

    if columns:
        for name, (kind, meaning) in COLUMNS.items():
            print(f"{name:<12} {kind.__name__:<6} {meaning}")
        return
    # `sayso report` takes a job there, and so people name one here too.
    or_job = f"; if {out} is a job, write --job {out}" if out is not None and not out.suffix else ""
    if out is not None and output is not None:
        raise RecordError(f"two files to write, {out} and {output}: name one{or_job}")
    out = out or output
    if out is None:
        raise RecordError("name the file to write: NAME.csv, NAME.json or NAME.parquet")
    form = out.suffix.removeprefix(".").lower()
    if form not in ("csv", "json", "parquet"):
        raise RecordError(f"{out}: the name must end in .csv, .json or .parquet{or_job}")
    with open_record(store) as record:
        names = [find_job(record, name).job for name in job] if job else [row.job for row in record.jobs()]
        names = list(dict.fromkeys(names))  # a job named twice is one job, not two of each answer
        print(write(record, names, out, form, anonymous=anonymous))  # type: ignore[arg-type]


def anonymise(
    out: ExportedFile = None,
    job: Annotated[list[str] | None, typer.Option("--job", help="Only this job; may be repeated.")] = None,
    store: StoreOption = None,
    output: OutputOption = None,
) -> None:
    """Export without names and voices: people become 'person 1', 'person 2'... The record stays as it is."""
    export(out, job, store, anonymous=True, output=output)


def deliver(
    shop: Annotated[
        str | None, typer.Argument(help="The shop's database, postgresql://USER@HOST/NAME.")
    ] = None,
    job: Annotated[list[str] | None, typer.Option("--job", help="Only this job; may be repeated.")] = None,
    store: StoreOption = None,
    audio: Annotated[bool, typer.Option(help="With the sound of spoken notes.")] = True,
    journal: Annotated[bool, typer.Option("--journal", help="Only show what was delivered so far.")] = False,
) -> None:
    """Take jobs to the shop's database, each entry once. Run it again whenever it broke off."""
    from sayso.record.deliver import deliver as send
    from sayso.record.deliver import delivery_journal

    with open_record(store, read_only=journal) as laptop:
        if journal:
            for line in delivery_journal(laptop):
                span = f"entries {line['first_seq']} to {line['last_seq']}" if line["last_seq"] >= 0 else ""
                told = "; ".join(part for part in (span, line["detail"]) if part)
                print(f"{minute(line['at_ms'])}  {line['job']}  {line['outcome']}  {told}")
            return
        if not shop:
            raise RecordError("name the shop's database: sayso deliver postgresql://USER@HOST/NAME")
        with open_record(shop, read_only=False, may_be_new=True) as there:
            names = [find_job(laptop, name).job for name in job] if job else []
            done = send(laptop, there, names, audio=audio)
    if not done:
        print("there is no job in this record to deliver")
    for delivery in done:
        print(_told(delivery))
    if any(delivery.outcome in ("broke off", "refused") for delivery in done):
        raise typer.Exit(FOUND_FAULTS)


def _told(delivery: Delivery) -> str:
    sent = ""
    if delivery.last_seq >= 0:
        sent = f", entries {delivery.first_seq} to {delivery.last_seq} in {delivery.seconds:.1f} s"
    clips = f", {delivery.clips} notes" if delivery.clips else ""
    return (
        f"{delivery.job}: {delivery.outcome}{sent}{clips}{': ' if delivery.detail else ''}{delivery.detail}"
    )


def figures(
    out: Annotated[Path, typer.Option("--output", "--out", "-o", help="File to write.")] = Path(
        "figures.html"
    ),
    store: StoreOption = None,
    procedure: Annotated[str | None, typer.Option(help="Only this procedure.")] = None,
    revision: Annotated[
        int | None, typer.Option(help="Only this revision of it: make a page of each to compare them.")
    ] = None,
    since: Since = None,
    until: Until = None,
    people: Annotated[
        bool, typer.Option("--people", help="Also by person. Off unless the shop has agreed to it.")
    ] = False,
) -> None:
    """Over many jobs: time per step, what was badly heard, torques against target, deviations."""
    from sayso.record.figures import figures_of
    from sayso.record.figures_page import write_page
    from sayso.record.which_jobs import first_ms, last_ms

    _named_as_html(out)
    if revision is not None and procedure is None:
        raise RecordError(f"--revision {revision}: name the procedure as well (--procedure)")
    since_ms, until_ms = first_ms(since), last_ms(until)
    with open_record(store) as record:
        if procedure is not None:
            _known_procedure(record, procedure, revision)
        found = figures_of(
            record,
            procedure=procedure,
            revision=revision,
            since_ms=since_ms,
            until_ms=until_ms,
            people=people,
        )
    print(write_page(found, out))


def _named_as_html(out: Path) -> None:
    from sayso.html_name import wrong_with_html_name
    from sayso.procedure.kept_files import kept

    # that a file is kept is told when it is written
    if not kept(out) and (wrong := wrong_with_html_name(out)):
        raise RecordError(wrong)


def _known_procedure(record: Store, name: str, revision: int | None) -> None:
    """A slip in the name would give a page without a job, which reads like 'nothing went wrong'."""
    from sayso.record.which_jobs import known_one

    every = record.jobs()
    known_one("--procedure", name, (row.procedure for row in every))
    done = sorted({row.revision for row in every if row.procedure == name})
    if revision is not None and revision not in done:
        there = ", ".join(map(str, done))
        raise RecordError(f"--revision {revision}: no job of it in this record; write one of: {there}")


def retention(
    store: StoreOption = None,
    audio_days: Annotated[
        float | None, typer.Option(help="Remove the sound of notes after so many days.")
    ] = None,
    job_days: Annotated[float | None, typer.Option(help="Remove whole jobs after so many days.")] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Do it. Without this it is only listed.")] = False,
) -> None:
    """Remove what is older than the shop keeps it; a note with the head hash stays. Open jobs stay."""
    from sayso.record.retention import carry_out, due

    if audio_days is None and job_days is None:
        raise RecordError("say how long to keep: --audio-days 90, --job-days 3650")
    for option, days in (("--audio-days", audio_days), ("--job-days", job_days)):
        if days is not None and not days >= 0:  # what is no number (nan) is not at least 0 either
            raise RecordError(f"{option} {days:g}: write how many days to keep, 0 or more, such as 90")
    with open_record(store, read_only=not yes) as record:
        removals = due(record, audio_days=audio_days, jobs_days=job_days)
        for removal in removals:
            what = "the whole job" if removal.what == "job" else "the sound of its notes"
            print(f"{removal.job}: {what}, {removal.age_days:.0f} days old")
            if yes:
                limit = job_days if removal.what == "job" else audio_days
                carry_out(record, removal, f"older than {limit:g} days")
    if not removals:
        print("nothing is older than that")
    elif not yes:
        print("nothing was removed; add --yes to do it", file=sys.stderr)


def roles(shop: Annotated[str, typer.Argument(help="The shop's database, as its owner.")]) -> None:
    """Create the roles sayso_bay (adds, reads), sayso_office (reads) and sayso_lead (reads, signs off) in the
    shop's PostgreSQL."""
    from sayso.record.postgres import is_address
    from sayso.record.shop_roles import BAY, LEAD, OFFICE, make_roles

    if not is_address(shop):
        raise RecordError(f"{shop}: roles need PostgreSQL; a SQLite file is guarded by its file mode")
    with open_record(shop, read_only=False, may_be_new=True) as there:
        make_roles(there)
    print(f"{BAY}, {OFFICE} and {LEAD} are ready: CREATE USER bay_2 PASSWORD '...' IN ROLE {BAY};")


def key(
    path: Annotated[Path, typer.Argument(help="File for the new private key; keep it with the shop.")],
) -> None:
    """Make the shop's signing key; prints the public key, by which anybody can check a seal."""
    from sayso.record.seal import new_key

    print(new_key(path))
