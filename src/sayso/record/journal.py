"""The journal of one running job: every event and what it led to, durable before the next word."""

from __future__ import annotations

import threading
import time
from collections.abc import Mapping, Sequence
from types import TracebackType
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import Connection, insert, select
from sqlalchemy.exc import DBAPIError

from sayso.dialogue.effects import Record
from sayso.record import postgres
from sayso.record.chain import Entry, Head, follow
from sayso.record.errors import JobInUseError, NotRecordedError, RecordError, explain
from sayso.record.job_lock import JobLock
from sayso.record.tables import entries

if TYPE_CHECKING:
    from sayso.record.store import Store

#: How often and how long a lost database connection is looked for again (seconds of wait between).
_TRIES: Final = (0.2, 1.0, 3.0)
#: Has the database tell how many of the rows it was given it took.
_COUNT_ROWS: Final = {"preserve_rowcount": True}


class Journal:
    """Write access to one job, held by one process at a time. Close it to let the job go."""

    def __init__(
        self, store: Store, job: str, head: Head, lock: JobLock | None, connection: Connection | None
    ) -> None:
        self._store = store
        self.job = job
        #: the last durable entry
        self.head = head
        self._lock = lock
        self._connection = connection
        self._turn = threading.Lock()
        self._closed = False

    def __enter__(self) -> Journal:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let the job go, so that another process may resume it. Closing twice is harmless."""
        if self._closed:
            return
        self._closed = True
        if self._connection is not None:
            try:
                if self._store.path is None:
                    postgres.unlock(self._connection, f"job {self.job}")
            except DBAPIError:
                self._connection.invalidate()
            self._connection.close()
        if self._lock is not None:
            self._lock.release()

    def commit(self, event: Mapping[str, Any], records: Sequence[Record | Mapping[str, Any]] = ()) -> None:
        """Append an event and the record entries it led to, in one transaction, durable on return.

        `event` is what dialogue.codec gives: 'type', 'at_ms' and the event's own fields. A record is a
        Record effect or a mapping with 'kind' and 'data'. Raises NotRecordedError when the entries are
        not durable; nothing of them is then in the record, and the same commit may be tried again.
        """
        with self._turn:
            if self._closed:
                raise NotRecordedError(f"job {self.job}: this journal was closed; resume the job to go on")
            rows = self._chained(event, records)
            self._append(rows)
            self.head = Head(rows[-1].seq, rows[-1].hash)

    def events(self) -> list[dict[str, Any]]:
        """Every event so far, oldest first: replayed, they rebuild the job's state."""
        return [entry.data for entry in self._store.entries(self.job, kinds=("event",))]

    def entries(self) -> list[Entry]:
        """Every entry so far, oldest first."""
        return self._store.entries(self.job)

    def keep_clip(self, audio: bytes, *, media_type: str = "audio/wav") -> str:
        """Keep audio with this job; see Store.keep_clip."""
        return self._store.keep_clip(self.job, audio, media_type=media_type)

    # --- inner parts -----------------------------------------------------------------------------

    def _chained(
        self, event: Mapping[str, Any], records: Sequence[Record | Mapping[str, Any]]
    ) -> list[Entry]:
        at_ms = event.get("at_ms")
        if not isinstance(at_ms, int) or isinstance(at_ms, bool):
            raise NotRecordedError(f"an event needs at_ms, whole milliseconds since 1970; got {at_ms!r}")
        wanted: list[tuple[str, Mapping[str, Any]]] = [("event", event)]
        for record in records:
            if isinstance(record, Record):
                wanted.append((record.kind, record.data))
            else:
                wanted.append((str(record["kind"]), record.get("data", {})))
        seq, prev = self.head.seq, self.head.hash
        rows: list[Entry] = []
        for kind, data in wanted:
            seq += 1
            rows.append(follow(self.job, seq, at_ms, kind, data, prev))
            prev = rows[-1].hash
        return rows

    def _append(self, rows: list[Entry]) -> None:
        values = [row.as_row() for row in rows]
        for wait in (*_TRIES, None):
            try:
                connection = self._ready_connection()
                with connection.begin():
                    written = connection.execute(insert(entries), values, execution_options=_COUNT_ROWS)
                    if written.rowcount != len(values):
                        # A rule or trigger of the database may swallow a row without an error.
                        raise NotRecordedError(
                            f"{self._store.where}: the database took {max(written.rowcount, 0)} of "
                            f"{len(values)} entries and told of no error; see `sayso verify`"
                        )
                return
            except DBAPIError as error:
                # Whether a commit that broke off was carried out is only known by looking.
                lost = error.connection_invalidated
                if self._connection is not None:
                    self._connection.invalidate()
                    self._connection.close()
                    self._connection = None
                if self._landed(rows):
                    self._make_durable()
                    return
                if wait is None or not lost:
                    raise explain(error, self._store.where) from None
                time.sleep(wait)
            except JobInUseError:
                # After a cut line the server may hold the dead session, and its lock, for some seconds.
                if wait is None:
                    raise
                time.sleep(wait)

    def _ready_connection(self) -> Connection:
        if self._connection is None:
            if self._store.path is None:
                self._connection = self._store.locked_connection(self.job)
            else:
                self._connection = self._store.engine.connect().execution_options(writes=True)
        return self._connection

    def _landed(self, rows: list[Entry]) -> bool:
        """True when these very entries are in the record; an error when others stand in their place."""
        try:
            with self._store.reading() as connection:
                found = connection.execute(
                    select(entries.c.hash).where(entries.c.job == self.job, entries.c.seq == rows[0].seq)
                ).scalar()
        except RecordError:
            return False
        if found is not None and found != rows[0].hash:
            raise JobInUseError(
                f"job {self.job}: another process wrote entry {rows[0].seq} first; close it, then resume here"
            )
        return found is not None

    def _make_durable(self) -> None:
        """SQLite after a sync that failed: the entries stand in its log, but perhaps not on the disk.

        A second sync proves nothing (the kernel may have dropped the pages after the first), so they are
        written once more, into the main file, and that is synced. In PostgreSQL what is seen is durable.
        """
        if self._store.path is None:
            return
        try:
            with self._store.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
                busy = connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)").one()[0]
        except DBAPIError as error:
            self.close()
            raise explain(error, self._store.where) from None
        if busy:
            self.close()
            raise NotRecordedError(
                f"{self._store.where}: the disk failed and the last entry may not be on it; "
                "check the disk, then resume the job"
            )
