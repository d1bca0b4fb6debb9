"""The few queries behind the figures, each one pass over the record, on either store."""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final, Literal

from pydantic_core import from_json
from sqlalchemy import JSON, ColumnElement, Connection, Select, String, case, cast, func, not_, select

from sayso.dialogue.asked import same_person
from sayso.dialogue.control_words import SYNONYMS, Control
from sayso.record.chain import canonical
from sayso.record.clock_jumps import jumps
from sayso.record.hands import Changes, people_of, person_at, read_changes
from sayso.record.rehearsals import rehearsals
from sayso.record.tables import documents, entries, jobs

Counted = Literal["deviations", "skipped", "again", "visits"]

_HEARD: Final = '{"alternatives":'
#: The kind, hidden from the index: where most pages hold a wanted row anyway, one pass over the table reads
#: each page once instead of finding every row by the index.
_KIND: Final = func.coalesce(entries.c.kind, "")


@dataclass(slots=True)
class JobSeen:
    """What the figures know of one job; filled in as its entries are read."""

    procedure: str
    person: str
    opened_ms: int
    revision: int
    ended_ms: int | None = None
    #: by how much its clock was set forward, or its machine asleep
    jumped_ms: int = 0
    branches: dict[str, str] = field(default_factory=dict)
    deviations: int = 0
    skipped: int = 0
    again: int = 0
    visits: int = 0
    #: of a job that was handed over: from which entry on it was whose
    changes: Changes = ()
    #: and what was counted under each of its people
    shares: dict[str, Counter[str]] = field(default_factory=dict)

    @property
    def people(self) -> list[str]:
        """Whoever worked on it; '' where nobody was named."""
        return people_of(self.person, self.changes) or [""]

    def count(self, what: Counted, seq: int) -> None:
        """One more, for the job and for whose it was at this entry."""
        setattr(self, what, getattr(self, what) + 1)
        if self.changes:
            name = person_at(self.person, self.changes, seq)
            # however it was spelled: as in `people`
            person = next((known for known in self.people if same_person(name, known)), name)
            self.shares.setdefault(person, Counter())[what] += 1

    def share(self, person: str, what: Counted) -> int:
        """What of it was this person's, however it spells the name."""
        if not self.changes:
            return int(getattr(self, what))
        return sum(n[what] for name, n in self.shares.items() if name == person or same_person(name, person))


class FiguresReader:
    """The few queries, each over the whole record; lives for one call."""

    def __init__(
        self,
        connection: Connection,
        *,
        sqlite: bool,
        procedure: str | None,
        since_ms: int | None,
        until_ms: int | None = None,
        revision: int | None = None,
    ) -> None:
        self._connection = connection
        self._sqlite = sqlite
        self._wanted = [jobs.c.procedure == procedure] if procedure is not None else []
        if revision is not None:
            self._wanted.append(jobs.c.revision == revision)
        if since_ms is not None:
            self._wanted.append(jobs.c.opened_ms >= since_ms)
        if until_ms is not None:
            self._wanted.append(jobs.c.opened_ms < until_ms)
        rehearsed = rehearsals(connection, sqlite=sqlite)
        if rehearsed:
            self._wanted.append(jobs.c.job.not_in(rehearsed))
        self.outcomes: Counter[str] = Counter()

    def value(self, name: str) -> ColumnElement[Any]:
        """A field of the data as text, worked out by the database."""
        if self._sqlite:
            extracted: ColumnElement[Any] = func.json_extract(entries.c.data, f"$.{name}", type_=String)
            return extracted
        field: ColumnElement[Any] = cast(entries.c.data, JSON)[name].as_string()
        return field

    def holds(self, text: str) -> ColumnElement[bool]:
        """Whether the data hold this piece of canonical JSON; several times as fast as LIKE."""
        find = func.instr if self._sqlite else func.strpos
        found: ColumnElement[bool] = find(entries.c.data, text) > 0
        return found

    def _of_wanted(self, query: Select[Any]) -> Iterable[Any]:
        if self._wanted:
            query = query.where(entries.c.job.in_(select(jobs.c.job).where(*self._wanted)))
        # all(): row by row, SQLAlchemy asks the driver once for each of 200,000 rows
        return self._connection.execute(query).all()

    def jobs(self) -> dict[str, JobSeen]:
        found = {
            row.job: JobSeen(row.procedure, row.person, row.opened_ms, row.revision)
            for row in self._connection.execute(
                select(jobs.c.job, jobs.c.procedure, jobs.c.person, jobs.c.opened_ms, jobs.c.revision).where(
                    *self._wanted
                )
            )
        }
        for job, changes in read_changes(self._connection).items():
            if job in found:
                found[job].changes = changes
        ended = select(entries.c.job, entries.c.at_ms, self.value("outcome")).where(entries.c.kind == "ended")
        for job, at_ms, outcome in self._of_wanted(ended):
            if job in found:
                found[job].ended_ms = at_ms
                self.outcomes[outcome or ""] += 1
        for (job, _), ms in self._jumped.items():
            if job in found:
                found[job].jumped_ms += ms
        self.outcomes["still open"] += sum(job.ended_ms is None for job in found.values())
        self.outcomes += Counter()  # drops the zero
        return found

    def outlines(self) -> dict[str, Mapping[str, Any]]:
        """The newest outline of each procedure."""
        listed = select(jobs.c.procedure, jobs.c.job).where(*self._wanted).order_by(jobs.c.opened_ms)
        newest = {row.procedure: row.job for row in self._connection.execute(listed)}
        found: dict[str, Mapping[str, Any]] = {}
        for procedure, job in newest.items():
            opening = select(entries.c.data).where(entries.c.job == job, entries.c.seq == 0)
            name = json.loads(self._connection.execute(opening).scalar() or "{}").get("outline_sha256", "")
            query = select(documents.c.body).where(documents.c.sha256 == name)
            if body := self._connection.execute(query).scalar():
                found[procedure] = json.loads(body)
        return found

    def entered(self) -> Iterable[tuple[str, int, int, str | None]]:
        """(job, seq, at_ms, step) of every step come to; the end of a job has step None."""
        query = select(entries.c.job, entries.c.seq, entries.c.at_ms, self.value("step"))
        rows = self._of_wanted(query.where(_KIND.in_(("step_entered", "ended"))))
        return sorted(rows, key=lambda row: row[:2])

    def told(self) -> dict[str, list[tuple[int, int]]]:
        """Per job (seq, at_ms) of each question before telling that was over: its step was told then."""
        query = select(entries.c.job, entries.c.seq, entries.c.at_ms).where(entries.c.kind == "prediction")
        found: dict[str, list[tuple[int, int]]] = defaultdict(list)
        for job, seq, at_ms in sorted(self._of_wanted(query)):
            found[job].append((seq, at_ms))
        return found

    def pauses(self) -> dict[str, list[tuple[int, int]]]:
        """Per job (seq, milliseconds) of each time that it stood still (a hold, a lost microphone, the
        program away; one time where they overlap) and of each jump of the clock outside of those."""
        kinds = ("hold", "carried_on", "resumed", "clock", "device")
        query = (
            select(entries.c.job, entries.c.seq, entries.c.at_ms, entries.c.kind, entries.c.data)
            .where(entries.c.kind.in_(kinds))
            .order_by(entries.c.job, entries.c.seq)
        )
        found: dict[str, list[tuple[int, int]]] = defaultdict(list)
        #: why a job stands still, and since when it does
        why: dict[str, set[str]] = defaultdict(set)
        since: dict[str, int] = {}
        resumed: list[tuple[str, int, int]] = []
        for job, seq, at_ms, kind, data in self._of_wanted(query):
            if kind == "clock":
                if job not in since and (job, seq) in self._jumped:
                    found[job].append((seq, self._jumped[job, seq]))
                continue
            if kind == "hold" or (kind == "device" and from_json(data).get("lost")):
                why[job].add(kind)
                since.setdefault(job, at_ms)
                continue
            if kind == "resumed" and job not in since:
                resumed.append((job, seq, at_ms))
            # a new start has its microphone; "carry on" by a key goes on without it
            why[job] -= {"hold", "device"} if kind == "carried_on" else {"device"}
            if not why[job] and job in since:
                found[job].append((seq, max(0, at_ms - since.pop(job))))
        for job, seq, at_ms in resumed:
            before = self._connection.execute(
                select(entries.c.at_ms).where(entries.c.job == job, entries.c.seq < seq - 1)
                .order_by(entries.c.seq.desc()).limit(1)
            ).scalar()  # fmt: skip
            if before is not None:
                found[job].append((seq, max(0, at_ms - before)))
        return found

    @cached_property
    def _jumped(self) -> dict[tuple[str, int], int]:
        """(job, seq) -> milliseconds by which the clock jumped."""
        query = select(entries.c.job, entries.c.seq, entries.c.data).where(entries.c.kind == "clock")
        rows = self._of_wanted(query)
        return {(job, seq): sum(ms for ms, _ in jumps(from_json(data))) for job, seq, data in rows}

    def asked_again(self) -> Iterable[tuple[str, int, str]]:
        """(job, seq, what) of everything that made a question be asked again."""
        plain = select(entries.c.job, entries.c.seq, entries.c.kind)
        yield from self._of_wanted(plain.where(entries.c.kind.in_(("no_match", "no_input", "help"))))
        # Names are sorted in canonical JSON, so a Heard event (and no other) begins with its alternatives:
        # a look at the beginning spares the other events from being read as JSON.
        is_heard = func.substr(entries.c.data, 1, len(_HEARD)) == _HEARD
        words = [canonical(words.split()) for words in SYNONYMS[Control.REPEAT]]
        asked = case((is_heard, self.value("words").in_(words)), else_=self.holds('"key":"repeat"'))
        repeats = plain.where(_KIND == "event", asked)
        yield from ((row.job, row.seq, "repeat") for row in self._of_wanted(repeats))

    def answers(self) -> Iterable[tuple[str, int, str, dict[str, Any]]]:
        """(job, seq, kind, data) of answers that are more than a 'done', deviations and skipped steps."""
        query = select(entries.c.job, entries.c.seq, entries.c.kind, entries.c.data).where(
            _KIND.in_(("answer", "answer_changed", "deviation", "skipped")),
            not_(self.holds('"kind":"done"')),
        )
        rows = sorted(self._of_wanted(query), key=lambda row: row[:2])
        return ((job, seq, kind, from_json(data)) for job, seq, kind, data in rows)

    def count(self) -> int:
        return int(next(iter(self._of_wanted(select(func.count()).select_from(entries))))[0])
