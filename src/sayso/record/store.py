"""A store: the database that holds the jobs, one SQLite file or one PostgreSQL database."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Final

from sqlalchemy import Connection, Engine, func, insert, select
from sqlalchemy.exc import DBAPIError

from sayso.record import postgres, sqlite_file
from sayso.record.chain import NOTHING_BEFORE, Entry, Head, canonical, digest, follow
from sayso.record.errors import JobInUseError, NotARecordError, ReadOnlyError, RecordError, explain
from sayso.record.job_lock import FileJobLock, JobLock, in_use
from sayso.record.journal import Journal
from sayso.record.schema import bring_up_to_date
from sayso.record.tables import clips, documents, entries, jobs, removals, this_store

#: How the audio of a note is kept.
CLIP_TYPE: Final = "audio/wav"


@dataclass(frozen=True, slots=True)
class JobRow:
    """What the list of jobs shows. Times in milliseconds since the Unix epoch; `ended_ms` None while open."""

    job: str
    store: str
    number: int
    procedure: str
    title: str
    revision: int
    opened_ms: int
    machine: str
    person: str
    bay: str
    ended_ms: int | None = None
    #: how it ended: 'complete', 'stopped' or the procedure's own words; '' while it is open
    outcome: str = ""


def open_store(place: str | Path, *, read_only: bool = False, may_be_new: bool = True) -> Store:
    """Open the record at a path (created when missing, if it `may_be_new`) or at a postgresql:// address.

    Raises RecordError (NotARecordError, FutureRevisionError, ReadOnlyError...) and then has changed nothing.
    """
    if postgres.is_address(str(place)):
        engine = postgres.engine_for(str(place), read_only=read_only)
        store = Store(engine, postgres.shown(str(place)), None)
    elif "://" in str(place):
        raise RecordError(f"{place}: a record is a file or a postgresql:// address")
    else:
        path = Path(place).expanduser()
        store = Store(
            sqlite_file.engine_for(path, read_only=read_only, may_be_new=may_be_new), str(path), path
        )
    try:
        with store.reading() as connection:
            ready = _is_ready(connection, store.where)
        if not ready:
            with store.writing() as connection:
                if store.path is None:
                    postgres.lock_for_transaction(connection, "schema")
                bring_up_to_date(connection, store.where, may_write=not read_only)
    except BaseException:
        store.close()
        raise
    return store


def _is_ready(connection: Connection, where: str) -> bool:
    """True when the schema is the newest; raises for one that is not ours. Changes nothing."""
    try:
        bring_up_to_date(connection, where, may_write=False)
    except ReadOnlyError:
        return False
    return True


class Store:
    """An open record. Close it when done (or use it in a `with`)."""

    def __init__(self, engine: Engine, where: str, path: Path | None) -> None:
        self.engine = engine
        #: how messages name it: the path, or the address without its password
        self.where = where
        #: the SQLite file, None for PostgreSQL
        self.path = path

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        self.engine.dispose()

    # --- transactions ----------------------------------------------------------------------------

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One consistent view of the record."""
        try:
            # One view over several queries: SQLite gives that by itself, PostgreSQL must be asked.
            options = {"isolation_level": "REPEATABLE READ"} if self.path is None else {}
            with self.engine.connect().execution_options(**options) as connection, connection.begin():
                yield connection
        except DBAPIError as error:
            raise explain(error, self.where) from None

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction: all of it durable at its end, or none of it."""
        try:
            with self.engine.connect().execution_options(writes=True) as connection, connection.begin():
                yield connection
        except DBAPIError as error:
            raise explain(error, self.where) from None

    # --- jobs ------------------------------------------------------------------------------------

    def start(
        self,
        job_id: str,
        procedure_id: str,
        title: str,
        revision: int,
        text_hash: str,
        text: str,
        meta: Mapping[str, Any] | None = None,
        *,
        outline: Mapping[str, Any] | None = None,
        at_ms: int | None = None,
    ) -> Journal:
        """Open a new job and the journal to write it; its opening entry (seq 0) is durable on return.

        `text` is the exact text of the procedure (all files, in reading order) and `text_hash` the
        hash that the reader of procedures gave; `outline` what `outline.outline_of(procedure)` gives, from
        which the report is drawn. `meta` holds JSON values; 'machine', 'person' and 'bay' are listed.
        """
        known = dict(meta or {})
        at = int(time.time() * 1000) if at_ms is None else at_ms
        outline_json = canonical(dict(outline)) if outline is not None else ""
        lock, connection = self._lock(job_id)
        try:
            with self.writing() as transaction:
                if self.path is None:
                    postgres.lock_for_transaction(transaction, "opening a job")
                if transaction.execute(select(jobs.c.job).where(jobs.c.job == job_id)).first():
                    raise RecordError(
                        f"{self.where}: there is already a job {job_id}; resume it or give another name"
                    )
                store_id = self._id(transaction)
                before = _last_opened(transaction, store_id)
                bodies = [("text", text)] + ([("outline", outline_json)] if outline_json else [])
                hashes = {kind: digest(body) for kind, body in bodies}
                for kind, body in bodies:
                    self.insert_new(
                        transaction, documents, [{"sha256": hashes[kind], "kind": kind, "body": body}]
                    )
                number = (before["number"] if before else 0) + 1
                opening = follow(
                    job_id,
                    0,
                    at,
                    "opened",
                    {
                        "procedure": procedure_id,
                        "title": title,
                        "revision": revision,
                        "procedure_hash": text_hash,
                        "text_sha256": hashes["text"],
                        "outline_sha256": hashes.get("outline", ""),
                        "store": store_id,
                        "number": number,
                        "job_before": before,
                        "meta": known,
                    },
                    NOTHING_BEFORE,
                )
                transaction.execute(
                    insert(jobs),
                    [
                        {
                            "job": job_id,
                            "store": store_id,
                            "number": number,
                            "procedure": procedure_id,
                            "title": title,
                            "revision": revision,
                            "opened_ms": at,
                            "machine": str(known.get("machine", "")),
                            "person": str(known.get("person", "")),
                            "bay": str(known.get("bay", "")),
                        }
                    ],
                )
                transaction.execute(insert(entries), [opening.as_row()])
        except BaseException:
            _let_go(lock, connection)
            raise
        return Journal(self, job_id, Head(0, opening.hash), lock, connection)

    def resume(self, job_id: str) -> Journal:
        """Take an open job up again where its last durable entry left it.

        Raises JobInUseError when another process runs it, RecordError when it is unknown or has ended.
        """
        lock, connection = self._lock(job_id)
        try:
            head = self.head(job_id)
            row = self.job(job_id)
            if row.ended_ms is not None:
                raise RecordError(f"{self.where}: job {job_id} has ended; start a new job for more work")
        except BaseException:
            _let_go(lock, connection)
            raise
        return Journal(self, job_id, head, lock, connection)

    def jobs(self, *, only_open: bool = False) -> list[JobRow]:
        """All jobs, oldest first."""
        ended = (
            select(
                entries.c.job,
                func.max(entries.c.at_ms).label("ended_ms"),
                func.max(entries.c.data).label("ending"),
            )
            .where(entries.c.kind == "ended")
            .group_by(entries.c.job)
            .subquery()
        )
        query = (
            select(jobs, ended.c.ended_ms, ended.c.ending)
            .select_from(jobs.outerjoin(ended, jobs.c.job == ended.c.job))
            .order_by(jobs.c.opened_ms, jobs.c.number)
        )
        if only_open:
            query = query.where(ended.c.ended_ms.is_(None))
        with self.reading() as connection:
            found = [dict(row) for row in connection.execute(query).mappings()]
        return [JobRow(outcome=_outcome(row.pop("ending")), **row) for row in found]

    def open_jobs(self) -> list[JobRow]:
        """Jobs that were begun and not ended: what can be resumed."""
        return self.jobs(only_open=True)

    def job(self, job_id: str) -> JobRow:
        """One job. Raises RecordError when there is none of that name."""
        with self.reading() as connection:
            row = connection.execute(select(jobs).where(jobs.c.job == job_id)).mappings().first()
            ended = connection.execute(
                select(func.max(entries.c.at_ms), func.max(entries.c.data)).where(
                    entries.c.kind == "ended", entries.c.job == job_id
                )
            ).one()
        if row is None:
            why = (
                "was removed by retention"
                if self.was_removed(job_id)
                else "is not in this record; see `sayso jobs`"
            )
            raise RecordError(f"{self.where}: job {job_id} {why}")
        return JobRow(**row, ended_ms=ended[0], outcome=_outcome(ended[1]))

    def was_removed(self, job_id: str) -> bool:
        """True when retention took the whole job away."""
        with self.reading() as connection:
            query = select(removals.c.job).where(removals.c.job == job_id, removals.c.what == "job")
            return connection.execute(query).first() is not None

    def head(self, job_id: str) -> Head:
        """The last durable entry of a job. Raises RecordError when the job has none."""
        with self.reading() as connection:
            row = connection.execute(
                select(entries.c.seq, entries.c.hash)
                .where(entries.c.job == job_id)
                .order_by(entries.c.seq.desc())
                .limit(1)
            ).first()
        if row is None:
            raise RecordError(f"{self.where}: job {job_id} is not in this record; see `sayso jobs`")
        return Head(row.seq, row.hash)

    def entries(self, job_id: str, *, kinds: Sequence[str] = ()) -> list[Entry]:
        """The entries of a job in their order, all of them or those of some kinds."""
        query = select(entries).where(entries.c.job == job_id).order_by(entries.c.seq)
        if kinds:
            query = query.where(entries.c.kind.in_(kinds))
        with self.reading() as connection:
            return [Entry(*row) for row in connection.execute(query)]

    def opening(self, job_id: str) -> dict[str, Any]:
        """Data of the opening entry: procedure, revision, hashes, meta."""
        found = self.entries(job_id, kinds=("opened",))
        if not found:
            raise RecordError(f"{self.where}: job {job_id} is not in this record; see `sayso jobs`")
        return found[0].data

    def document(self, sha256: str) -> str:
        """A procedure text or outline by its hash. Raises RecordError when it is missing."""
        with self.reading() as connection:
            body = connection.execute(select(documents.c.body).where(documents.c.sha256 == sha256)).scalar()
        if body is None:
            raise RecordError(f"{self.where}: the text with hash {sha256} is missing from the record")
        return str(body)

    def text(self, job_id: str) -> str:
        """The exact procedure text that the job ran."""
        return self.document(str(self.opening(job_id)["text_sha256"]))

    # --- audio -----------------------------------------------------------------------------------

    def keep_clip(self, job_id: str, audio: bytes, *, media_type: str = CLIP_TYPE) -> str:
        """Keep audio with a job, durable on return; gives its SHA-256 (hex). Keeping it twice keeps one."""
        name = digest(audio)
        with self.writing() as connection:
            self.insert_new(
                connection, clips, [{"job": job_id, "sha256": name, "media_type": media_type, "audio": audio}]
            )
        return name

    def clip(self, job_id: str, sha256: str) -> tuple[str, bytes] | None:
        """Media type and audio of a clip, None when it is not (or no longer) kept."""
        with self.reading() as connection:
            row = connection.execute(
                select(clips.c.media_type, clips.c.audio).where(
                    clips.c.job == job_id, clips.c.sha256 == sha256
                )
            ).first()
        return (row.media_type, bytes(row.audio)) if row else None

    def unnamed_clips(self, job_id: str) -> list[tuple[str, bytes]]:
        """Hash and audio of the clips that no entry of the job names: kept just before the program died."""
        named = {str(entry.data.get("clip", "")) for entry in self.entries(job_id, kinds=("event",))}
        with self.reading() as connection:
            rows = connection.execute(
                select(clips.c.sha256, clips.c.audio).where(clips.c.job == job_id).order_by(clips.c.sha256)
            ).all()
        return [(row.sha256, bytes(row.audio)) for row in rows if row.sha256 not in named]

    # --- inner parts -----------------------------------------------------------------------------

    @property
    def id(self) -> str:
        """Which database this is; jobs keep the id of the store in which they were opened."""
        with self.reading() as connection:
            return self._id(connection)

    def _id(self, connection: Connection) -> str:
        found = connection.execute(select(this_store.c.id)).scalar()
        if found is None:
            raise NotARecordError(
                f"{self.where}: the line that says which record this is was taken out (table this_store); "
                "keep it as it is and restore a copy"
            )
        return str(found)

    def insert_new(self, connection: Connection, table: Any, rows: list[dict[str, Any]]) -> None:
        """Insert what is not there yet; rows already there are left as they are.

        SQLite's guards do that by themselves; PostgreSQL is told.
        """
        if not rows:
            return
        if self.path is None:
            from sqlalchemy.dialects import postgresql  # costs a start on a file some hundredths of a second

            connection.execute(postgresql.insert(table).on_conflict_do_nothing(), rows)
        else:
            connection.execute(insert(table), rows)

    def lock_job(self, job_id: str) -> JobLock:
        """Keep a job from being run by anybody else until released. Raises JobInUseError while it is run."""
        lock, connection = self._lock(job_id)
        return lock if lock is not None else _SessionLock(connection)

    def is_being_done(self, job_id: str) -> bool:
        """Whether a program, this one or another, is at this job at the moment."""
        try:
            _let_go(*self._lock(job_id))
        except JobInUseError:
            return True
        except RecordError:  # where no lock can be written nobody can be at a job
            return False
        return False

    def _lock(self, job_id: str) -> tuple[JobLock | None, Connection | None]:
        """SQLite: a lock file. PostgreSQL: an advisory lock on a connection kept for the journal."""
        if self.path is not None:
            return FileJobLock(self.path, job_id), None
        return None, self.locked_connection(job_id)

    def locked_connection(self, job_id: str) -> Connection:
        """A PostgreSQL connection that holds the job's lock."""
        try:
            connection = self.engine.connect()
            if postgres.try_lock(connection, f"job {job_id}"):
                return connection
            connection.close()
        except DBAPIError as error:
            raise explain(error, self.where) from None
        raise in_use(job_id)


class _SessionLock:
    """PostgreSQL's lock on a job, held by a connection."""

    def __init__(self, connection: Connection | None) -> None:
        self._connection = connection

    def release(self) -> None:
        _let_go(None, self._connection)


def _let_go(lock: JobLock | None, connection: Connection | None) -> None:
    if lock is not None:
        lock.release()
    if connection is not None:
        connection.invalidate()  # ends the session and with it the advisory lock
        connection.close()


def _last_opened(connection: Connection, store_id: str) -> dict[str, Any] | None:
    """Number, name and present head of the job opened last in this store (its link to the next one)."""
    row = connection.execute(
        select(jobs.c.job, jobs.c.number)
        .where(jobs.c.store == store_id)
        .order_by(jobs.c.number.desc())
        .limit(1)
    ).first()
    gone = connection.execute(
        select(removals)
        .where(removals.c.store == store_id, removals.c.what == "job")
        .order_by(removals.c.number.desc())
        .limit(1)
    ).first()
    if gone is not None and (row is None or gone.number > row.number):
        return {"number": gone.number, "job": gone.job, "seq": gone.head_seq, "hash": gone.head_hash}
    if row is None:
        return None
    head = connection.execute(
        select(entries.c.seq, entries.c.hash)
        .where(entries.c.job == row.job)
        .order_by(entries.c.seq.desc())
        .limit(1)
    ).one()
    return {"number": row.number, "job": row.job, "seq": head.seq, "hash": head.hash}


def _outcome(ending: object) -> str:
    """How a job ended, by its entry 'ended'. One that was tampered with is for verify to tell."""
    try:
        found = json.loads(ending) if isinstance(ending, str) else None
    except ValueError:
        return ""
    outcome = found.get("outcome") if isinstance(found, dict) else None
    return outcome if isinstance(outcome, str) else ""
