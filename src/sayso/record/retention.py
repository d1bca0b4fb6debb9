"""Taking personal data away after the time a shop has set, and leaving a note that it was done.

A job's audio or a whole job goes; what stays in `removals` is its name, its number, its head hash, the
day and the reason, so that verify can tell a removal from a loss.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from sqlalchemy import delete, insert, select

from sayso.record.store import JobRow, Store
from sayso.record.tables import clips, entries, jobs, removals, seals

_DAY_MS: Final = 86_400_000


@dataclass(frozen=True, slots=True)
class Removal:
    job: str
    what: Literal["clips", "job"]
    age_days: float


def due(
    store: Store, *, audio_days: float | None, jobs_days: float | None, now_ms: int | None = None
) -> list[Removal]:
    """What is older than the shop keeps it, counted in days from the end of the job; open jobs never are.

    None keeps for ever.
    """
    now = int(time.time() * 1000) if now_ms is None else now_ms
    with store.reading() as connection:
        with_audio = set(connection.execute(select(clips.c.job).distinct()).scalars())
    wanted: list[Removal] = []
    rows = store.jobs()
    not_before = _begun_before(rows, now)
    for row in rows:
        if row.ended_ms is None:
            continue
        age = (now - max(row.ended_ms, not_before[row.job])) / _DAY_MS
        if jobs_days is not None and age > jobs_days:
            wanted.append(Removal(row.job, "job", age))
        elif audio_days is not None and age > audio_days and row.job in with_audio:
            wanted.append(Removal(row.job, "clips", age))
    return wanted


def _begun_before(rows: Sequence[JobRow], now: int) -> dict[str, int]:
    """For each job when, at the latest, one with a smaller number of the same record was begun: it is no
    older than that, whatever its laptop's clock said. One that has lost the time begins anew in 1970, and a
    job done then would be removed the day after. Where a clock ran ahead, what it said tells nothing."""
    latest: dict[str, int] = {}
    found: dict[str, int] = {}
    for row in sorted(rows, key=lambda row: row.number):
        found[row.job] = latest.get(row.store, 0)
        if row.opened_ms <= now:
            latest[row.store] = max(row.opened_ms, found[row.job])
    return found


def carry_out(store: Store, removal: Removal, reason: str, *, now_ms: int | None = None) -> None:
    """Remove it, note and data in one transaction; SQLite pages are overwritten with zeros."""
    row: JobRow = store.job(removal.job)
    head = store.head(removal.job)
    note = {
        "job": removal.job,
        "what": removal.what,
        "at_ms": int(time.time() * 1000) if now_ms is None else now_ms,
        "reason": reason,
        "store": row.store,
        "number": row.number,
        "head_seq": head.seq,
        "head_hash": head.hash,
    }
    with store.writing() as connection:
        if store.path is not None:
            connection.exec_driver_sql("PRAGMA secure_delete=ON")
        connection.execute(insert(removals), [note])
        connection.execute(delete(clips).where(clips.c.job == removal.job))
        if removal.what == "job":
            for table in (seals, entries, jobs):
                connection.execute(delete(table).where(table.c.job == removal.job))
    if store.path is not None:
        # Until the log is folded in, the old pages still lie in it.
        with store.engine.connect() as raw:
            raw.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
