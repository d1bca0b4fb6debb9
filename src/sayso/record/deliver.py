"""Taking a laptop's jobs to the shop's database: each entry exactly once, whatever breaks off.

The shop's database itself says how far a job has come: its last entry's number and hash. Entries go
in order, in transactions, under a lock on the job, keyed by (job, number); an entry already there is
left alone, another one in its place stops that job. So a delivery may break off anywhere, at either
end, and is simply run again.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Final, Literal

from sqlalchemy import Connection, insert, select
from sqlalchemy.exc import DBAPIError

from sayso.record import postgres
from sayso.record.chain import Entry, Head
from sayso.record.errors import RecordError, explain
from sayso.record.seal import seals_of
from sayso.record.sign_off import KIND as SIGNED_OFF
from sayso.record.store import Store
from sayso.record.tables import clips, deliveries, documents, entries, jobs, removals, seals
from sayso.record.verify import verify_job

#: Entries in one transaction: some hundred kilobytes, well under a second on a slow line.
BATCH: Final = 500
#: Seconds to wait before trying a broken line again.
WAITS: Final = (0.5, 2.0, 5.0)

Outcome = Literal["sent", "already there", "broke off", "refused"]


@dataclass(frozen=True, slots=True)
class Delivery:
    """What became of one job. `first_seq`..`last_seq` are the entries that this delivery added."""

    job: str
    outcome: Outcome
    first_seq: int
    last_seq: int
    clips: int
    seconds: float
    detail: str = ""


def deliver(
    laptop: Store,
    shop: Store,
    only: Sequence[str] = (),
    *,
    audio: bool = True,
    batch: int = BATCH,
    waits: Sequence[float] = WAITS,
) -> list[Delivery]:
    """Bring the shop's database up to date with every job of `laptop` (or those named in `only`).

    A job that cannot go is reported with its reason and the next one is tried; nothing is raised for it.
    With `audio` false the notes' audio stays on the laptop. Each try is kept in the delivery journal.
    """
    if laptop.id == shop.id:
        raise RecordError(f"{shop.where}: this is the laptop's own record; give the shop's database")
    wanted = list(only) or [row.job for row in laptop.jobs()]
    done: list[Delivery] = []
    for job in wanted:
        delivery = _deliver_patiently(laptop, shop, job, audio=audio, batch=batch, waits=waits)
        done.append(delivery)
        if delivery.outcome == "broke off":
            # The line is down: the other jobs would wait in vain. They are told as not tried.
            rest = wanted[len(done) :]
            done += [
                Delivery(name, "broke off", 0, -1, 0, 0.0, "not tried: the line is down") for name in rest
            ]
            break
    return done


def delivery_journal(laptop: Store) -> list[dict[str, Any]]:
    """Every delivery that changed something or failed, oldest first."""
    with laptop.reading() as connection:
        return [
            dict(row) for row in connection.execute(select(deliveries).order_by(deliveries.c.id)).mappings()
        ]


def _deliver_patiently(
    laptop: Store, shop: Store, job: str, *, audio: bool, batch: int, waits: Sequence[float]
) -> Delivery:
    begun = time.monotonic()
    first: int | None = None
    last = -1
    sent_clips = 0
    for wait in (*waits, None):
        try:
            for added in _send(laptop, shop, job, audio=audio, batch=batch):
                if isinstance(added, str):
                    sent_clips += 1
                else:
                    first = added[0].seq if first is None else first
                    last = added[-1].seq
        except _RefusedError as refusal:
            return _note(
                laptop,
                shop,
                Delivery(
                    job, "refused", first or 0, last, sent_clips, time.monotonic() - begun, str(refusal)
                ),
            )
        except DBAPIError as error:
            why = str(explain(error, shop.where))
            if wait is not None and _may_pass(error):
                _note(
                    laptop,
                    shop,
                    Delivery(
                        job,
                        "broke off",
                        first or 0,
                        last,
                        sent_clips,
                        time.monotonic() - begun,
                        f"{why}; trying again",
                    ),
                )
                time.sleep(wait)
                continue
            outcome: Outcome = "broke off" if _may_pass(error) else "refused"
            return _note(
                laptop,
                shop,
                Delivery(job, outcome, first or 0, last, sent_clips, time.monotonic() - begun, why),
            )
        break
    outcome = "already there" if first is None and not sent_clips else "sent"
    delivery = Delivery(job, outcome, first or 0, last, sent_clips, time.monotonic() - begun)
    return delivery if outcome == "already there" else _note(laptop, shop, delivery)


class _RefusedError(Exception):
    """This job must not be delivered; the text says why."""


def _may_pass(error: DBAPIError) -> bool:
    """True for a broken line or a server going down: worth another try."""
    state = str(getattr(error.orig, "sqlstate", "") or "")
    return (
        error.connection_invalidated
        or not state
        or state.startswith(("08", "57P", "40", "55P"))  # connection, shutdown, deadlock, lock
    )


def _send(
    laptop: Store, shop: Store, job: str, *, audio: bool, batch: int
) -> Iterator[Sequence[Entry] | str]:
    """Yields each batch of entries and each clip once it is durable in the shop."""
    with _shop_transaction(shop, job) as connection:
        all_there = _shop_head(connection, shop, job) == laptop.head(job)
    if not all_there:
        yield from _send_entries(laptop, shop, job, batch)
    with _shop_transaction(shop, job) as connection:
        shop.insert_new(
            connection,
            seals,
            [
                {name: getattr(s, name) for name in type(s).__dataclass_fields__}
                for s in seals_of(laptop, job)
            ],
        )
        there = set(connection.execute(select(clips.c.sha256).where(clips.c.job == job)).scalars())
    if audio:
        with laptop.reading() as own:
            ours = set(own.execute(select(clips.c.sha256).where(clips.c.job == job)).scalars())
        yield from _send_clips(laptop, shop, job, sorted(ours - there))


def _send_entries(laptop: Store, shop: Store, job: str, batch: int) -> Iterator[Sequence[Entry]]:
    verdict = verify_job(laptop, job)
    if not verdict.sound:
        raise _RefusedError(f"the laptop's record of it is not sound: {verdict.faults[0]}")
    ours = laptop.entries(job)
    while True:
        with _shop_transaction(shop, job) as connection:
            start = _next_seq(laptop, shop, connection, _shop_head(connection, shop, job), ours)
            part = ours[start : start + batch]
            if not part:
                return
            if start == 0:
                _introduce(laptop, shop, connection, job, part[0])
            shop.insert_new(connection, entries, [entry.as_row() for entry in part])
        yield part


def _send_clips(laptop: Store, shop: Store, job: str, names: Iterable[str]) -> Iterator[str]:
    for name in names:
        clip = laptop.clip(job, name)
        if clip is None:  # taken away by retention before it was delivered
            continue
        with _shop_transaction(shop, job) as connection:
            gone = select(removals.c.job).where(removals.c.job == job, removals.c.what == "clips")
            if connection.execute(gone).first():
                return
            shop.insert_new(
                connection, clips, [{"job": job, "sha256": name, "media_type": clip[0], "audio": clip[1]}]
            )
        yield name


@contextmanager
def _shop_transaction(shop: Store, job: str) -> Iterator[Connection]:
    """A transaction on the shop's database that holds the job, so that two deliveries take turns.

    Database errors pass as they are: the caller looks whether another try may help.
    """
    with shop.engine.connect().execution_options(writes=True) as connection, connection.begin():
        if shop.path is None:
            postgres.lock_for_transaction(connection, f"delivery {job}")
        yield connection


def _shop_head(connection: Connection, shop: Store, job: str) -> Head | None:
    """How far the shop has this job, None when it has nothing of it."""
    if connection.execute(
        select(removals.c.job).where(removals.c.job == job, removals.c.what == "job")
    ).first():
        raise _RefusedError(f"{shop.where} removed this job by retention")
    row = connection.execute(
        select(entries.c.seq, entries.c.hash)
        .where(entries.c.job == job)
        .order_by(entries.c.seq.desc())
        .limit(1)
    ).first()
    return None if row is None else Head(row.seq, row.hash)


def _next_seq(
    laptop: Store, shop: Store, connection: Connection, theirs: Head | None, ours: Sequence[Entry]
) -> int:
    """The number of the first entry that the shop does not hold yet."""
    if theirs is None:
        return 0
    if theirs.seq >= len(ours):
        if _only_signed_off_since(connection, ours[-1]):
            return len(ours)
        raise _RefusedError(_older_here(laptop, shop, connection, ours))
    if ours[theirs.seq].hash != theirs.hash:
        raise _RefusedError(_both_went_on(laptop, shop, ours[0].job, _first_other(connection, ours)))
    return theirs.seq + 1


def _first_other(connection: Connection, ours: Sequence[Entry]) -> int:
    """The number of the first entry that is another one there; how many there are of ours when none is."""
    there = connection.execute(
        select(entries.c.seq, entries.c.hash).where(entries.c.job == ours[0].job).order_by(entries.c.seq)
    )
    return next(
        (row.seq for row, own in zip(there, ours, strict=False) if row.hash != own.hash),
        len(ours),
    )


def _older_here(laptop: Store, shop: Store, connection: Connection, ours: Sequence[Entry]) -> str:
    first = _first_other(connection, ours)
    if first < len(ours):
        return _both_went_on(laptop, shop, ours[0].job, first)
    return (
        f"{shop.where} holds more of this job: its end is missing here, as in an older copy that was put "
        "back. Fetch the rest before anybody goes on with it: "
        f"sayso deliver {laptop.where} --job {ours[0].job} --store {shop.where}"
    )


def _both_went_on(laptop: Store, shop: Store, job: str, first: int) -> str:
    return (
        f"{shop.where} holds other entries from number {first} on: the two records differ, work went on in "
        "two copies of one. Both stay as they are; to copy this one: "
        f"sayso deliver OTHER.sqlite --job {job} --store {laptop.where}"
    )


def _only_signed_off_since(connection: Connection, our_last: Entry) -> bool:
    """The shop holds all of ours, and what it holds besides are sign-offs made there."""
    there = connection.execute(
        select(entries.c.seq, entries.c.hash, entries.c.kind)
        .where(entries.c.job == our_last.job, entries.c.seq >= our_last.seq)
        .order_by(entries.c.seq)
    ).all()
    return there[0].hash == our_last.hash and all(row.kind == SIGNED_OFF for row in there[1:])


def _introduce(laptop: Store, shop: Store, connection: Connection, job: str, opening: Entry) -> None:
    """What must be there before the first entry: the job's row, its text and outline."""
    data = opening.data
    for kind in ("text", "outline"):
        name = str(data.get(f"{kind}_sha256", ""))
        if name:
            body = laptop.document(name)
            shop.insert_new(connection, documents, [{"sha256": name, "kind": kind, "body": body}])
    with laptop.reading() as own:
        row = own.execute(select(jobs).where(jobs.c.job == job)).mappings().one()
    other = connection.execute(
        select(jobs.c.job).where(
            jobs.c.store == row["store"], jobs.c.number == row["number"], jobs.c.job != job
        )
    ).scalar()
    if other is not None:  # work went on in an older copy of the file; the numbers were given out twice
        raise _RefusedError(
            f"{shop.where} has another job number {row['number']} of this record, {other}: this record is an "
            f"older copy that was put back, and work went on in it. Nothing is lost, it stays in "
            f"{laptop.where}; to copy it: sayso deliver OTHER.sqlite --job {job} --store {laptop.where}"
        )
    shop.insert_new(connection, jobs, [dict(row)])


def _note(laptop: Store, shop: Store, delivery: Delivery) -> Delivery:
    """Keep it in the laptop's delivery journal."""
    with laptop.writing() as connection:
        connection.execute(
            insert(deliveries),
            [
                {
                    "at_ms": int(time.time() * 1000),
                    "shop": shop.where,
                    "job": delivery.job,
                    "outcome": delivery.outcome,
                    "first_seq": delivery.first_seq,
                    "last_seq": delivery.last_seq,
                    "head_hash": laptop.head(delivery.job).hash,
                    "seconds": round(delivery.seconds, 3),
                    "detail": delivery.detail,
                }
            ],
        )
    return delivery
