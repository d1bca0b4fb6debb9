"""Which jobs were rehearsed on the keyboard: no machine was touched, and their times say nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import Connection, func, select

from sayso.record.tables import entries, jobs

if TYPE_CHECKING:
    from sayso.record.store import Store


def rehearsed_jobs(store: Store) -> frozenset[str]:
    with store.reading() as connection:
        return frozenset(rehearsals(connection, sqlite=store.path is not None))


def rehearsals(connection: Connection, *, sqlite: bool) -> list[str]:
    """Found by the opening entries, one a job, so it costs nothing against the entries."""
    opening = (entries.c.job == jobs.c.job) & (entries.c.seq == 0)
    find = func.instr if sqlite else func.strpos
    marked = find(entries.c.data, '"rehearsal":true') > 0
    return list(connection.execute(select(jobs.c.job).join(entries, opening).where(marked)).scalars())
