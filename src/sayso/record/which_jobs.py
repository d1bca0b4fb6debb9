"""Which jobs of a record are meant: those of a procedure, a machine, a person, between two days."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from sayso.dialogue.asked import same_person
from sayso.procedure.problems import write_one_of
from sayso.record.errors import RecordError
from sayso.record.hands import people_of_jobs
from sayso.record.store import JobRow, Store


@dataclass(frozen=True, slots=True)
class Wanted:
    """What was asked for; None asks for nothing. Days are of this machine's time zone, both included."""

    procedure: str | None = None
    machine: str | None = None
    person: str | None = None
    since: str | None = None
    until: str | None = None

    def among(self, store: Store, rows: list[JobRow]) -> list[JobRow]:
        """The rows that fit. A name that no job of the record has is an error: an empty list would read like
        'nothing was done'."""
        found = rows
        if self.procedure is not None:
            wanted = self.procedure
            known_one("--procedure", wanted, (row.procedure for row in rows))
            found = [row for row in found if row.procedure == wanted]
        if self.machine is not None:
            machine = _plain(known_one("--machine", self.machine, (row.machine for row in rows), _plain))
            found = [row for row in found if _plain(row.machine) == machine]
        if self.person is not None:
            people = people_of_jobs(store, rows)
            person = self.person
            if not any(same_person(one, person) for names in people.values() for one in names):
                known_one("--person", person, (one for names in people.values() for one in names))
            found = [row for row in found if any(same_person(one, person) for one in people[row.job])]
        first, last = first_ms(self.since) or 0, last_ms(self.until)
        return [row for row in found if first <= row.opened_ms and (last is None or row.opened_ms < last)]


def first_ms(since: str | None) -> int | None:
    """When the day `since` begins."""
    return None if not since else _ms(_day("--since", since))


def last_ms(until: str | None) -> int | None:
    """When the day `until` is over."""
    return None if not until else _ms(_day("--until", until) + timedelta(days=1))


def known_one(option: str, name: str, known: Iterable[str], plain: Callable[[str], str] = str) -> str:
    """`name`, which must be one of those that are known; else an error that says what to write."""
    names = sorted({one for one in known if one})
    if plain(name) not in map(plain, names):
        raise RecordError(f"{option} {name}: no job of it in this record; {write_one_of(name, names)}")
    return name


def _plain(machine: str) -> str:
    return " ".join(machine.casefold().split())


def _day(option: str, text: str) -> datetime:
    try:
        return datetime.strptime(text, "%Y-%m-%d")
    except ValueError:
        raise RecordError(f"{option} {text}: write a day like 2026-11-25") from None


def _ms(local: datetime) -> int:
    return int(local.astimezone().timestamp() * 1000)
