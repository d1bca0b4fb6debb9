"""Opening a new job, and taking an open one up again exactly where it was left."""

from __future__ import annotations

import shlex
import tempfile
import time
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

from sayso import __version__, procedure
from sayso.dialogue.asked import same_person
from sayso.dialogue.events import ClipKept, Started
from sayso.procedure.model import Procedure
from sayso.procedure.problems import ProcedureError
from sayso.procedure.quizzes import is_quiz
from sayso.record.place import store_option
from sayso.record.store import JobRow, Store
from sayso.session.clock import Clock
from sayso.session.errors import UserError
from sayso.session.job import Job
from sayso.session.note_taking import note_in_hand, seconds_of
from sayso.session.tools_in_hand import tools_today

Level = Literal["full", "normal", "brief"]

#: Fewer jobs say nothing about how long a step mostly takes; more than the latest are not read.
ENOUGH_JOBS, LATEST_JOBS = 8, 60

#: An included file may lie some folders above the procedure ('../../shared/lockout.yaml').
LEVELS_UP = ("1", "2", "3", "4", "5", "6")


@dataclass(frozen=True, slots=True)
class JobOptions:
    """What is known at the start. `witnesses`: spoken code -> name. `wrench`: N.m, lbf.ft or lbf.in."""

    machine: str = ""
    person: str = ""
    bay: str = ""
    level: Level = "normal"
    wrench: str = "N.m"
    witnesses: tuple[tuple[str, str], ...] = ()
    quiet: bool = False
    language: str = "en"
    parameters: Mapping[str, str] = field(default_factory=dict)
    rehearsal: bool = False
    #: at full detail a learner is asked before telling
    questions: bool = True
    #: measuring tools in hand, each with the last day of its calibration ('2027-03-31', '' where nobody told)
    tools: tuple[tuple[str, str], ...] = ()


def open_job(store: Store, found: Procedure, options: JobOptions) -> tuple[Job, Started]:
    """A new job in `store` on the procedure `found`, and the event to begin it with.

    Raises RecordError when the record cannot be written.
    """
    path = Path(found.file)
    clock = Clock()
    job_id = new_job_id(store, found.id)
    meta: dict[str, Any] = {
        **{k: v for k, v in asdict(options).items() if k not in ("witnesses", "parameters", "tools")},
        "parameters": dict(options.parameters),
        "file": path.name,
        "path": str(path.resolve()),
        "files": {name: text for name, text in found.texts},
        "sayso": __version__,
    }
    journal = store.start(
        job_id,
        found.id,
        found.title,
        found.revision,
        found.text_hash,
        "".join(text for _, text in found.texts),
        meta,
        outline=_outline(found),
        at_ms=clock.now_ms(),
    )
    started = Started(
        clock.now_ms(),
        job_id,
        options.machine,
        options.person,
        options.bay,
        options.level,
        options.wrench,
        options.witnesses,
        options.quiet,
        _usual_times(store, found.id),
        _asked_first(store, found, options.person) if options.questions else (),
        tools_today(options.tools, clock.now_ms()),
        only_said=is_quiz(found.id),
    )
    return Job(found, journal, clock), started


def resume_job(store: Store, name: str | None) -> Job:
    """An open job, replayed from its journal on the very text it was begun with.

    `name`: its id, the beginning of its id, or its number; None takes the latest. Raises UserError when
    there is no such open job, RecordError when another process runs it.
    """
    row = _find_open(store, name)
    meta = store.opening(row.job)["meta"]
    found = _procedure_as_it_was(store, row, meta)
    clocks = store.entries(row.job, kinds=("clock",))
    seen = (clocks[-1].at_ms, clocks[-1].data) if clocks else None
    job = Job.replayed(found, store.resume(row.job), seen)
    for clip, audio in store.unnamed_clips(row.job):
        # The sound of a note was on the disk when the program died, its entry was not: the note is kept.
        job.handle(ClipKept(job.clock.now_ms(), note_in_hand(job.state), clip, round(seconds_of(audio), 2)))
    return job


def refuse_foreign_quiz(job: Job, person: str) -> None:
    """A quiz says what one person knows, and a witness signs that the answers were theirs."""
    if not is_quiz(job.procedure.id) or not person or same_person(person, job.state.person):
        return
    raise UserError(
        f"job {job.journal.job} is the quiz of {job.state.person}: it cannot be handed over; "
        f"begin another one with: sayso quiz PROCEDURE --person {shlex.quote(person)}"
    )


def read_procedure(path: Path, language: str, parameters: Mapping[str, str]) -> Procedure:
    """`procedure.read` with its problems as one UserError, a line each."""
    try:
        return procedure.read(path, language=language, parameters=parameters)
    except ProcedureError as error:
        raise UserError(str(error)) from error
    except OSError as error:
        raise UserError(f"{path}: {error.strerror}") from error


def new_job_id(store: Store, procedure_id: str) -> str:
    """A name that people can read and type: the procedure, the time at which the job began, and four letters
    of this record, so that two laptops never give one name to two jobs that meet in the shop's database."""
    taken = {row.job for row in store.jobs()}
    name = f"{procedure_id}-{time.strftime('%Y%m%d-%H%M%S')}-{store.id[:4]}"
    numbered = (f"{name}-{n}" for n in range(2, 10_000))
    return name if name not in taken else next(n for n in numbered if n not in taken)


def _find_open(store: Store, name: str | None) -> JobRow:
    rows = store.open_jobs()
    if not rows:
        raise UserError("there is no open job; begin one with: sayso run PROCEDURE")
    if name is None:
        return rows[-1]
    fits = [r for r in rows if r.job == name or str(r.number) == name] or [
        r for r in rows if r.job.startswith(name)
    ]
    if len(fits) == 1:
        return fits[0]
    listed = ", ".join(r.job for r in (fits or rows))
    if fits:
        raise UserError(f"several open jobs begin with {name!r}: {listed}")
    raise UserError(f"no open job {name!r}; open are: {listed}")


def _procedure_as_it_was(store: Store, row: JobRow, meta: Mapping[str, Any]) -> Procedure:
    """Read from the texts kept with the job: the file may have been edited since."""
    wanted = store.opening(row.job)["procedure_hash"]
    # A byte order mark is no part of a text but is part of the hash, so a file may have had one.
    for encoding in ("utf-8", "utf-8-sig"):
        with tempfile.TemporaryDirectory(prefix="sayso-resume-") as folder:
            root = Path(folder).joinpath(*LEVELS_UP)
            for name, text in dict(meta["files"]).items():
                file = (root / name).resolve()
                if not file.is_relative_to(Path(folder).resolve()):
                    raise UserError(f"job {row.job}: its record names a file outside its folder: {name}")
                file.parent.mkdir(parents=True, exist_ok=True)
                file.write_text(text, encoding=encoding, newline="")
            found = read_procedure(root / meta["file"], meta["language"], meta["parameters"])
        if found.text_hash == wanted:
            return replace(found, file=meta["path"])
    raise UserError(
        f"job {row.job}: the procedure text in the record does not match its hash; "
        f"see: sayso verify {row.job}{store_option(store)}"
    )


def _usual_times(store: Store, procedure_id: str) -> tuple[tuple[str, float, float], ...]:
    """Quartiles of each step's time over this shop's jobs, where enough are known. From the latest jobs only:
    a job must not begin later because the record is long."""
    earlier = [row for row in store.jobs() if row.procedure == procedure_id]
    if len(earlier) < ENOUGH_JOBS:
        return ()
    from sayso.record.figures import figures_of

    since = earlier[-LATEST_JOBS:][0].opened_ms
    return tuple(
        (figure.step, figure.seconds.p25, figure.seconds.p75)
        for figure in figures_of(store, procedure=procedure_id, since_ms=since).steps
        if figure.seconds is not None and figure.seconds.n >= ENOUGH_JOBS
    )


def _asked_first(store: Store, found: Procedure, person: str) -> tuple[str, ...]:
    """What this person may be asked before it is told, should the job come to full detail."""
    from datetime import UTC, datetime

    from sayso.shop.before_telling import asked_first
    from sayso.shop.progress import reviews_of_person

    reviews = reviews_of_person(store, person, LATEST_JOBS) if person else ()
    return asked_first(found, reviews, datetime.now(UTC))


def _outline(found: Procedure) -> Mapping[str, Any] | None:
    """The outline from which the report is drawn."""
    from sayso.record.outline import outline_of

    return outline_of(found)
