"""Fills a record with many jobs, made of a few real ones with other times and torques.

The real ones are run through the true dialogue by the Technician; the copies are chained and stored by
the record's own code, only in larger transactions than a running job would use.
"""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

from sqlalchemy import insert

from sayso import dialogue, procedure
from sayso.dialogue.codec import event_to_json
from sayso.dialogue.effects import Record
from sayso.dialogue.events import Started
from sayso.record import Store, outline_of
from sayso.record.chain import canonical, digest, follow
from sayso.record.tables import documents, entries, jobs
from tests.record.technician import PROCEDURES, Technician

DAY_MS = 86_400_000
FIRST_MS = 1_780_000_000_000
PEOPLE = ("Ada Finch", "Bo Lind", "Cy Marsh")

#: (event, records) of one job, in order
Job = list[tuple[dict[str, Any], list[Record]]]


def real_job(seed: int, name: str, *, mishaps: float, known: dict[str, str] | None = None) -> Job:
    """One job through the true dialogue, without a record."""
    found = procedure.read(PROCEDURES / f"{name}.yaml")
    luck = random.Random(seed)
    technician = Technician(FIRST_MS, luck, mishaps=mishaps, known=known)
    state = dialogue.begin(found)
    event: Any = Started(FIRST_MS, "J", "W-017", PEOPLE[seed % 3], "2", witnesses=(("4471", "Meg Hale"),))
    job: Job = []
    while state.outcome == "" and len(job) < 900:
        state, effects = dialogue.advance(state, event)
        job.append((event_to_json(event), [e for e in effects if isinstance(e, Record)]))
        event = technician.next_event(state)
    return job


def fill(store: Store, wanted: int, *, seed: int = 1) -> int:
    """Add jobs until the record holds at least `wanted` entries; gives how many it holds."""
    name = "wren-48-drive-controller"
    luck = random.Random(seed)
    patterns = [
        real_job(number, name, mishaps=0.12, known={"pins": ("8", "12", "14")[number % 3]})
        for number in range(12)
    ]
    found = procedure.read(PROCEDURES / f"{name}.yaml")
    text = "".join(part for _, part in found.texts)
    outline = canonical(outline_of(found))
    count = 0
    number = 0
    while count < wanted:
        with store.writing() as connection:
            if number == 0:
                store.insert_new(connection, documents, [
                    {"sha256": digest(text), "kind": "text", "body": text},
                    {"sha256": digest(outline), "kind": "outline", "body": outline},
                ])  # fmt: skip
            rows: list[dict[str, Any]] = []
            listed: list[dict[str, Any]] = []
            while len(rows) < 20_000 and count + len(rows) < wanted:
                number += 1
                start = FIRST_MS + number * DAY_MS // 12
                pattern = luck.choice(patterns)
                person = luck.choice(PEOPLE)
                made = _chained(pattern, f"job-{number:06}", start, luck, person, found, digest(text),
                                digest(outline), number)  # fmt: skip
                rows += made
                listed.append({
                    "job": f"job-{number:06}", "store": "many", "number": number, "procedure": found.id,
                    "title": found.title, "revision": found.revision, "opened_ms": start,
                    "machine": "W-017", "person": person, "bay": "2",
                })  # fmt: skip
            connection.execute(insert(jobs), listed)
            connection.execute(insert(entries), rows)
            count += len(rows)
    return count


def _chained(
    pattern: Job, job: str, start: int, luck: random.Random, person: str, found: Any, text: str, outline: str,
    number: int,
) -> list[dict[str, Any]]:  # fmt: skip
    opening = {
        "procedure": found.id, "title": found.title, "revision": found.revision,
        "procedure_hash": found.text_hash, "text_sha256": text, "outline_sha256": outline, "store": "many",
        "number": number, "job_before": None, "meta": {"machine": "W-017", "person": person, "bay": "2"},
    }  # fmt: skip
    entry = follow(job, 0, start, "opened", opening, "0" * 64)
    rows = [entry.as_row()]
    pace = luck.uniform(0.7, 1.5)
    for event, records in pattern:
        at = start + round((event["at_ms"] - FIRST_MS) * pace)
        parts: list[tuple[str, Any]] = [("event", {**event, "at_ms": at})]
        for record in records:
            data = dict(record.data)
            if record.kind == "answer" and data.get("kind") == "torque" and data["within"]:
                data["value"] = round(data["value"] * luck.gauss(1.0, 0.01), 2)
            if record.kind == "started":
                data["person"] = person
            parts.append((record.kind, data))
        for kind, data in parts:
            entry = follow(job, entry.seq + 1, at, kind, data, entry.hash)
            rows.append(entry.as_row())
    return rows


def many(path: Path, wanted: int) -> Path:
    """A SQLite record with that many entries."""
    from sayso.record import open_store

    with open_store(path) as store:
        fill(store, wanted)
    return path
