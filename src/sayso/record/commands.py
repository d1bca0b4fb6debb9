"""The commands about the record: jobs, report, sign-off, verify, export, deliver, figures and the rest."""

from __future__ import annotations

import sys
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sayso.record.errors import RecordError
from sayso.record.place import default_place

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from sayso.record.deliver import Delivery
    from sayso.record.store import JobRow, Store
    from sayso.record.story import Deviation

#: Exit code of `verify` and `deliver` when something is wrong; RecordError itself gives 2 in cli.py.
FOUND_FAULTS = 4

#: Columns that the table of jobs needs to be read.
WIDE_ENOUGH = 150

StoreOption = Annotated[
    str | None, typer.Option("--store", help="Record: a file or a postgresql:// address.", show_default=False)
]
Since = Annotated[
    str | None, typer.Option(help="Only jobs opened on or after this day, YYYY-MM-DD.", show_default=False)
]
Until = Annotated[
    str | None, typer.Option(help="Only jobs opened on or before this day.", show_default=False)
]
JobArgument = Annotated[
    str | None,
    typer.Argument(help="Its name, the beginning of it, or its number; the latest when not given."),
]


def _open(
    place: str | None, *, read_only: bool = True, may_be_new: bool = False
) -> AbstractContextManager[Store]:
    """The record; where a command needs one that is there, a slip in its name makes no new one."""
    from sayso.record.opened import opened

    return opened(place or default_place(), read_only=read_only, may_be_new=may_be_new)


def find_job(store: Store, name: str | None) -> JobRow:
    """A job by its name, the beginning of its name, or its number; None takes the latest."""
    rows = store.jobs()
    if not rows:
        raise RecordError(f"{store.where}: there is no job in this record yet; begin one with `sayso run`")
    if name is None:
        return rows[-1]
    if any(row.job == name for row in rows) or store.was_removed(name):
        # Raises for a removed job: another one whose name begins alike must not stand in for it.
        return store.job(name)
    fits = [row for row in rows if str(row.number) == name] or [r for r in rows if r.job.startswith(name)]
    if len(fits) == 1:
        return fits[0]
    if not fits:
        store.job(name)  # raises: unknown, or removed by retention
    listed = ", ".join(row.job for row in fits[:8])
    raise RecordError(f"several jobs fit {name!r}: {listed}; write more of the name")


def jobs(
    store: StoreOption = None,
    only_open: Annotated[bool, typer.Option("--open", help="Only jobs that can be resumed.")] = False,
    procedure: Annotated[str | None, typer.Option(help="Only this procedure.")] = None,
    machine: Annotated[str | None, typer.Option(help="Only this machine.")] = None,
    person: Annotated[str | None, typer.Option(help="Only jobs that this person had in hand.")] = None,
    since: Since = None,
    until: Until = None,
) -> None:
    """All jobs in the record, or those that are asked for, oldest first."""
    from rich.console import Console
    from rich.table import Table

    from sayso.record.hands import people_of_jobs
    from sayso.record.rehearsals import rehearsed_jobs
    from sayso.record.which_jobs import Wanted

    wanted = Wanted(procedure, machine, person, since, until)
    with _open(store) as record:
        every = record.jobs()
        found = wanted.among(record, every)
        rows = [row for row in found if row.ended_ms is None or not only_open]
        rehearsed = rehearsed_jobs(record)
        people = {job: ", ".join(names) for job, names in people_of_jobs(record, rows).items()}
    if not rows:
        such = " of those" if wanted != Wanted() else ""
        print(f"no open job{such}" if only_open else f"no job{such}" if such else "no job yet")
        return
    # Each laptop counts its own jobs: a number that several bear names none of them.
    bearers = Counter(row.number for row in every)
    number = {row.job: str(row.number) if bearers[row.number] == 1 else "" for row in rows}
    if Console().width < WIDE_ENOUGH:
        # In a narrow window a table would cut every cell to a letter or two.
        for row in rows:
            mark = ", rehearsed" if row.job in rehearsed else ""
            print(f"{number[row.job]:>3}  {row.job}  {_ended(row)}{mark}")
            about = ", ".join(
                text for text in (row.machine, people[row.job], row.bay and f"bay {row.bay}") if text
            )
            print(f"     {row.procedure}, rev. {row.revision}{', ' if about else ''}{about}")
            print(f"     began {_when(row.opened_ms)}")
            if how := _not_complete(row):
                print(f"     {how}")
        return
    table = Table("no.", "job", "procedure", "machine", "person", "bay", "began", "ended")
    for row in rows:
        table.add_row(
            number[row.job],
            row.job,
            f"{row.procedure}, rev. {row.revision}",
            row.machine,
            people[row.job],
            row.bay,
            _when(row.opened_ms),
            ", ".join(
                text
                for text in (_ended(row), _not_complete(row), row.job in rehearsed and "rehearsed")
                if text
            ),
        )
    # A name cut off by a narrow terminal could not be typed into the next command.
    table.columns[1].no_wrap = True
    Console().print(table)


def _ended(row: JobRow) -> str:
    return "open" if row.ended_ms is None else _when(row.ended_ms)


def _not_complete(row: JobRow) -> str:
    """How a job ended that was not done to its end: stopped, it must not look like one that was done."""
    return "" if row.outcome == "complete" else row.outcome


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
    with _open(store, read_only=key is None) as record:
        row = find_job(record, job)
        trusted = tuple(trust or ())
        if key is not None:
            trusted += (seal(record, row.job, read_key(key)).public_key,)
        options = ReportOptions(audio=audio, text=text, anonymous=anonymous, trusted_keys=trusted)
        print(write_report(record, row.job, out or Path(file_name(row.job, ".html")), options))


def sign_off(
    job: JobArgument = None,
    store: StoreOption = None,
    listed: Annotated[bool, typer.Option("--list", help="Only list what waits for a signature.")] = False,
    entry: Annotated[
        list[int] | None, typer.Option("--entry", help="Number of the deviation's entry; may be repeated.")
    ] = None,
    all_: Annotated[bool, typer.Option("--all", help="All deviations that stand.")] = False,
    why: Annotated[str | None, typer.Option(help="Why it may stand.")] = None,
    by: Annotated[str | None, typer.Option(help="Who signs, with --key; a code tells by itself.")] = None,
    key: Annotated[Path | None, typer.Option(help="The shop's key, where nobody has a code.")] = None,
) -> None:
    """Sign deviations off: who lets them stand, when and why, added to the job's record. Nothing is altered.

    Asks for what is not given. The code is one that the job knows (of a hold point, or --witness at its
    start); it is read from the keyboard without being shown, or from the first line of the input.
    """
    from sayso.record.seal import read_key
    from sayso.record.sign_off import sign_off as sign
    from sayso.record.sign_off import signer_by_code, signer_by_key, to_sign
    from sayso.record.wording import deviation_text

    if (by is None) != (key is None):
        raise RecordError("--by and --key belong together: who signs, and the shop's key (see `sayso key`)")
    with _open(store, read_only=listed) as record:
        name = find_job(record, job).job
        waiting = to_sign(record, name)
        print(f"job {name}: {len(waiting) or 'no'} deviation{'s' * (len(waiting) != 1)} to sign off")
        for deviation in waiting:
            at = f" (step {deviation.step})" if deviation.step else ""  # a tool is in hand at no step
            print(f"  entry {deviation.seq}: {deviation_text(deviation)}{at}")
        if listed or not waiting:
            return
        chosen = [d.seq for d in waiting] if all_ else list(entry or ())
        chosen = chosen or _entries_from(
            _asked("Which entries (numbers, or all)? ", "--entry N or --all"), waiting
        )
        reason = why if why is not None else _asked("Why may it stand? ", "--why TEXT")
        if key is not None:
            signer = signer_by_key(record, name, by or "", read_key(key))
        else:
            signer = signer_by_code(record, name, _secret("Code of who signs: "))
        for made in sign(record, name, chosen, signer, reason):
            print(f"entry {made.data['entry']} signed off by {signer.name} (entry {made.seq})")


def _entries_from(text: str, waiting: list[Deviation]) -> list[int]:
    if text.strip().lower() == "all":
        return [deviation.seq for deviation in waiting]
    try:
        return [int(word) for word in text.replace(",", " ").split()]
    except ValueError:
        raise RecordError(f"{text!r}: write the numbers of the entries, or all") from None


def _asked(question: str, option: str) -> str:
    """A line from the keyboard; a script must give the option instead."""
    if not sys.stdin.isatty():
        raise RecordError(f"say it by an option: {option}")
    print(question, end="", flush=True)
    return sys.stdin.readline().strip()


def _secret(question: str) -> str:
    """Never an option: what stands on a command line stays in the shell's history."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().strip()
    from getpass import getpass

    return getpass(question).strip()


#: Said with every "sound" that had no witness: who relies on it must know what it cannot mean.
NOT_SEEN_ALONE = (
    "a record alone does not show that its newest entries or its newest job are gone, that it is an older "
    "copy, or that all of it was made anew: --head (printed on a report) and --against (another copy) do"
)


def _seals_told(sealed: int, jobs: int) -> str:
    """A seal that was taken out leaves nothing behind: who seals must see how many jobs bear one."""
    if not sealed:
        return f"no seal on {'any of the jobs' if jobs > 1 else 'this job'}"
    return f"{sealed} of {jobs} job{'s' * (jobs != 1)} sealed; --trust tells whether by the shop's key"


def verify(
    job: Annotated[str | None, typer.Argument(help="One job; the whole record when not given.")] = None,
    store: StoreOption = None,
    head: Annotated[
        str | None, typer.Option(help="Head hash known from elsewhere, a printed report say.")
    ] = None,
    trust: Annotated[
        list[str] | None,
        typer.Option(help="A public key that must have sealed each job; sign-offs by key must be by it too."),
    ] = None,
    against: Annotated[
        str | None, typer.Option(help="Another record with the same jobs, the shop's say.")
    ] = None,
) -> None:
    """Find any altered, removed, reordered or inserted entry, and say which. Exit code 4 if any."""
    from contextlib import ExitStack

    from sayso.record.verify import verify as check

    if head and job is None:
        raise RecordError("--head is the head of one job; name the job as well")
    with ExitStack() as stack:
        record = stack.enter_context(_open(store))
        name = find_job(record, job).job if job else None
        other = stack.enter_context(_open(against)) if against else None
        if other is not None and other.path is not None and other.path == record.path:
            raise RecordError(f"--against {against} is the record itself; name another copy of it")
        verdict = check(record, name, head=head, trusted_keys=trust or (), against=other)
    for fault in verdict.faults:
        print(fault)
    for remark in (*verdict.remarks, *(f"job {j.job}: {r}" for j in verdict.jobs for r in j.remarks)):
        print(f"remark: {remark}")
    entries = sum(j.entries for j in verdict.jobs)
    if verdict.sound:
        if not (head or against):
            print(f"remark: {NOT_SEEN_ALONE}")
        if not trust and verdict.jobs:
            print(f"remark: {_seals_told(sum(one.sealed for one in verdict.jobs), len(verdict.jobs))}")
        print(f"sound: {len(verdict.jobs)} job{'s' * (len(verdict.jobs) != 1)}, {entries} entries")
        if name:
            print(f"head {verdict.jobs[0].head}")
        return
    print(f"NOT SOUND: {len(verdict.faults)} fault{'s' * (len(verdict.faults) != 1)} in {entries} entries")
    raise typer.Exit(FOUND_FAULTS)


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
    with _open(store) as record:
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

    with _open(store, read_only=journal) as laptop:
        if journal:
            for line in delivery_journal(laptop):
                span = f"entries {line['first_seq']} to {line['last_seq']}" if line["last_seq"] >= 0 else ""
                told = "; ".join(part for part in (span, line["detail"]) if part)
                print(f"{_when(line['at_ms'])}  {line['job']}  {line['outcome']}  {told}")
            return
        if not shop:
            raise RecordError("name the shop's database: sayso deliver postgresql://USER@HOST/NAME")
        with _open(shop, read_only=False, may_be_new=True) as there:
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
    with _open(store) as record:
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
    with _open(store, read_only=not yes) as record:
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
    with _open(shop, read_only=False, may_be_new=True) as there:
        make_roles(there)
    print(f"{BAY}, {OFFICE} and {LEAD} are ready: CREATE USER bay_2 PASSWORD '...' IN ROLE {BAY};")


def key(
    path: Annotated[Path, typer.Argument(help="File for the new private key; keep it with the shop.")],
) -> None:
    """Make the shop's signing key; prints the public key, by which anybody can check a seal."""
    from sayso.record.seal import new_key

    print(new_key(path))


def _when(at_ms: int) -> str:
    return datetime.fromtimestamp(at_ms / 1000, UTC).astimezone().strftime("%Y-%m-%d %H:%M")
