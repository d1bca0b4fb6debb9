"""In whose hands a job was, entry by entry: the person it began with, and those who took it over.

The list of jobs names who began one; an entry 'person_changed' says from where on it is another person's.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Final

from sqlalchemy import Connection, select

from sayso.dialogue.asked import one_name
from sayso.record.tables import entries

if TYPE_CHECKING:
    from sayso.record.store import JobRow, Store

KIND: Final = "person_changed"

#: (number of the entry, whose the job is from there on), in the order of the record
Changes = Sequence[tuple[int, str]]


def changes_of_jobs(store: Store) -> Mapping[str, Changes]:
    """The changes of every job that was handed over; of all others none."""
    with store.reading() as connection:
        return read_changes(connection)


def read_changes(connection: Connection) -> Mapping[str, Changes]:
    query = select(entries.c.job, entries.c.seq, entries.c.data).where(entries.c.kind == KIND)
    found: dict[str, list[tuple[int, str]]] = defaultdict(list)
    for job, seq, data in sorted(tuple(row) for row in connection.execute(query)):
        found[job].append((seq, str(json.loads(data).get("to", ""))))
    return dict(found)


def person_at(began: str, changes: Changes, seq: int) -> str:
    """Whose the job was at the entry `seq`."""
    return next((person for at, person in reversed(changes) if at <= seq), began)


def person_now(began: str, changes: Changes) -> str:
    return changes[-1][1] if changes else began


def people_of(began: str, changes: Changes) -> list[str]:
    """Everybody who worked on it, each once, in the order in which they came; nobody without a name."""
    return list(_each_once([began, *(person for _, person in changes)]).values())


def people_of_jobs(store: Store, rows: Iterable[JobRow]) -> dict[str, list[str]]:
    """Job -> everybody who worked on it."""
    changes = changes_of_jobs(store)
    return {row.job: people_of(row.person, changes.get(row.job, ())) for row in rows}


def names_in(store: Store) -> list[str]:
    """Everybody who worked on a job of this record. 'Ann' and 'ann' are one, by the name given first."""
    return names_of(people_of_jobs(store, store.jobs()))


def names_of(people: Mapping[str, Iterable[str]]) -> list[str]:
    """Everybody who worked on one of these jobs, from who worked on each."""
    names = _each_once(name for of_one in people.values() for name in of_one)
    return [names[name] for name in sorted(names)]


def _each_once(named: Iterable[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for name in named:
        if name:
            found.setdefault(one_name(name), name)
    return found
