"""The rows that belong to a job besides its entries: its place in the list of jobs, its text, its audio, its
seals, the notes of what retention took away and of what was delivered. Each is held against the entries."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Final

from sqlalchemy import exists, select

from sayso.record.chain import Entry, digest
from sayso.record.faults import Fault
from sayso.record.seal import Seal
from sayso.record.store import CLIP_TYPE, Store
from sayso.record.tables import clips, deliveries, documents, entries, jobs, removals, seals

#: What an opening entry must hold, and of which kind; anybody can give another one a right hash.
_OPENING: Final[Mapping[str, type | tuple[type, ...]]] = {
    "store": str,
    "number": int,
    "procedure": str,
    "title": str,
    "revision": int,
    "text_sha256": str,
    "outline_sha256": str,
    "meta": dict,
    "job_before": (dict, type(None)),
}
_JOB_BEFORE: Final[Mapping[str, type]] = {"number": int, "job": str, "seq": int, "hash": str}


def not_as_written(opening: Entry) -> str:
    """What in an opening entry is not as sayso writes it; '' when all is."""
    data = opening.data
    for name, kind in _OPENING.items():
        if not isinstance(data.get(name), kind):
            return name
    before = data["job_before"] or {}
    for name, kind in _JOB_BEFORE.items() if data["job_before"] is not None else ():
        if not isinstance(before.get(name), kind):
            return f"job_before.{name}"
    return ""


def opening_faults(store: Store, opening: Entry) -> Iterator[Fault]:
    if wrong := not_as_written(opening):
        what = f"this entry ({opening.kind}) is not as sayso writes it: {wrong}"
        yield Fault("altered", opening.job, opening.seq, what)
        return
    yield from _list_faults(store, opening)
    yield from _text_faults(store, opening)


def _list_faults(store: Store, opening: Entry) -> Iterator[Fault]:
    """The list of jobs says what the opening entry says."""
    data, meta = opening.data, opening.data["meta"]
    says = {
        "store": data["store"],
        "number": data["number"],
        "procedure": data["procedure"],
        "title": data["title"],
        "revision": data["revision"],
        "opened_ms": opening.at_ms,
        "machine": str(meta.get("machine", "")),
        "person": str(meta.get("person", "")),
        "bay": str(meta.get("bay", "")),
    }
    with store.reading() as connection:
        row = connection.execute(select(jobs).where(jobs.c.job == opening.job)).mappings().first()
    if row is None:
        yield Fault("index", opening.job, None, "the job is not in the list of jobs")
        return
    for name, value in says.items():
        if row[name] != value:
            what = f"the list of jobs has {name} {row[name]!r}, the opening entry {value!r}"
            yield Fault("index", opening.job, None, what)


def _text_faults(store: Store, opening: Entry) -> Iterator[Fault]:
    wanted = {"text": opening.data["text_sha256"], "outline": opening.data["outline_sha256"]}
    with store.reading() as connection:
        query = select(documents).where(documents.c.sha256.in_(wanted.values()))
        there = {row.sha256: row for row in connection.execute(query)}
    for kind, name in wanted.items():
        what, row = "procedure text" if kind == "text" else kind, there.get(name)
        if not name:
            continue
        if row is None:
            yield Fault("text", opening.job, None, f"the {what} that was run is missing")
        elif digest(row.body) != name:
            yield Fault("text", opening.job, None, f"the {what} is not the one that was run")
        elif row.kind != kind:
            yield Fault("text", opening.job, None, f"the {what} that was run is kept as {row.kind!r}")


def clip_names(found: Iterable[Entry]) -> set[str]:
    """SHA-256 of every clip that the entries speak of."""
    names: set[str] = set()
    for entry in found:
        if '"clip":"' in entry.data_json:
            name = entry.data.get("clip")
            if isinstance(name, str) and name:
                names.add(name)
    return names


def clip_faults_and_remarks(store: Store, job: str, found: list[Entry]) -> tuple[list[Fault], list[str]]:
    faults: list[Fault] = []
    remarks: list[str] = []
    with store.reading() as connection:
        kept = {r.sha256: r for r in connection.execute(select(clips).where(clips.c.job == job))}
        gone = connection.execute(
            select(removals.c.reason).where(removals.c.job == job, removals.c.what == "clips")
        ).scalar()
    wanted = clip_names(found)
    for name in sorted(wanted - kept.keys()):
        if gone is not None:
            remarks.append(f"note {name[:12]}... was removed: {gone}")
        else:
            faults.append(Fault("clip", job, None, f"the audio {name[:12]}... is missing"))
    for name, row in sorted(kept.items()):
        if digest(bytes(row.audio)) != name:
            faults.append(Fault("clip", job, None, f"the audio {name[:12]}... is not what was kept"))
        elif row.media_type != CLIP_TYPE:
            what = f"the audio {name[:12]}... is kept as {row.media_type!r}, and was recorded as {CLIP_TYPE}"
            faults.append(Fault("clip", job, None, what))
        elif name not in wanted:
            remarks.append(f"audio {name[:12]}... is kept, but no entry names it (a crash in between)")
    return faults, remarks


def seal_faults(job: str, found: list[Entry], made: list[Seal], trusted: Collection[str]) -> Iterator[Fault]:
    by_seq = {entry.seq: entry for entry in found}
    for seal in made:
        entry = by_seq.get(seal.seq)
        if not seal.holds():
            yield Fault("seal", job, seal.seq, "the signature of this seal is false")
        elif entry is None:
            yield Fault("cut off", job, seal.seq, "a seal names this entry, which is missing")
        elif entry.hash != seal.hash:
            what = "the sealed head is another one: the chain was rebuilt here or before"
            yield Fault("rewritten", job, seal.seq, what)
    if trusted and found and not any(s.public_key in trusted and s.holds() for s in made):
        yield Fault("seal", job, None, "no seal by a trusted key")


def removal_faults(store: Store, job: str, found: list[Entry]) -> Iterator[Fault]:
    """A note of retention lets rows be deleted: it is of what is gone, and names a head that the job had."""
    with store.reading() as connection:
        notes = connection.execute(select(removals).where(removals.c.job == job)).all()
    hashes = {entry.seq: entry.hash for entry in found}
    for note in notes:
        if note.what == "job":
            yield Fault("removal", job, None, "it is noted as removed, and its entries are here")
        elif note.what != "clips":
            yield Fault("removal", job, None, f"a removal of {note.what!r} is noted, which there is not")
        elif hashes.get(note.head_seq) != note.head_hash:
            what = "the removal of its audio names this entry as its head, and it is another one or missing"
            yield Fault("removal", job, note.head_seq, what)


def delivery_faults(store: Store, job: str | None) -> Iterator[Fault]:
    """The journal of deliveries names the head that was sent, of one job or of all: a witness more against a
    chain made anew and against a job that is gone.

    A laptop has one; a shop's database has none to speak of, and not everybody may read it there.
    """
    if store.path is None:
        return
    known = exists().where(entries.c.job == deliveries.c.job, entries.c.hash == deliveries.c.head_hash)
    query = select(deliveries).where(deliveries.c.outcome == "sent", ~known).order_by(deliveries.c.id)
    with store.reading() as connection:
        rows = connection.execute(query if job is None else query.where(deliveries.c.job == job)).all()
        present = set(connection.execute(select(jobs.c.job)).scalars())
        gone = set(connection.execute(select(removals.c.job).where(removals.c.what == "job")).scalars())
    for name, row in {row.job: row for row in reversed(rows)}.items():
        if name in present:
            what = (
                f"the head that was delivered to {row.shop} ({row.head_hash[:16]}...) is no entry of it: the "
                "end is missing, the chain was made anew or the journal of deliveries altered"
            )
            yield Fault("rewritten", name, row.last_seq if row.last_seq >= 0 else None, what)
        elif name not in gone:
            yield Fault("missing job", name, None, f"it was delivered to {row.shop}, and is not here")


def rows_of_no_job(store: Store, here: Collection[str]) -> Iterator[Fault]:
    """Seals and audio whose job is not in the record: retention takes them with it."""
    with store.reading() as connection:
        sealed = connection.execute(select(seals.c.job).distinct().order_by(seals.c.job)).scalars().all()
        heard = connection.execute(select(clips.c.job).distinct().order_by(clips.c.job)).scalars().all()
    for job in sealed:
        if job not in here:
            yield Fault("seal", job, None, "a seal of a job that is not here")
    for job in heard:
        if job not in here:
            yield Fault("clip", job, None, "audio of a job that is not here")
