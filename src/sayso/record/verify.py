"""Finding whatever was altered, removed, reordered, inserted or cut off, and saying which entry it is.

The chain alone shows any change that leaves a later entry in place. A cut tail, a job that is gone or
a chain rebuilt from some entry on needs a witness outside it: the next job's opening entry (it names
the head of the job before), a seal, a head hash printed on a report, or the shop's copy.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Row, select, text

from sayso.record.chain import Entry, digest
from sayso.record.errors import NotARecordError
from sayso.record.faults import Fault, check_chain, clock_remarks
from sayso.record.guards import guards
from sayso.record.seal import Seal, seals_of
from sayso.record.sign_off import KIND as SIGNED_OFF
from sayso.record.sign_off import wrong_with
from sayso.record.store import Store
from sayso.record.tables import clips, documents, entries, jobs, removals


@dataclass(frozen=True, slots=True)
class JobVerdict:
    """What was found of one job. `remarks` are worth knowing and no fault (clock set back, note removed)."""

    job: str
    entries: int
    head: str
    faults: tuple[Fault, ...] = ()
    remarks: tuple[str, ...] = ()
    sealed: bool = False

    @property
    def sound(self) -> bool:
        return not self.faults


@dataclass(frozen=True, slots=True)
class Verdict:
    """The whole record: the store's own faults and every job's verdict."""

    jobs: tuple[JobVerdict, ...]
    store_faults: tuple[Fault, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def faults(self) -> tuple[Fault, ...]:
        return self.store_faults + tuple(fault for job in self.jobs for fault in job.faults)

    @property
    def sound(self) -> bool:
        return not self.faults


def verify(
    store: Store,
    job: str | None = None,
    *,
    head: str | None = None,
    trusted_keys: Iterable[str] = (),
    against: Store | None = None,
) -> Verdict:
    """Check one job, or the whole record.

    `head` is the head hash known from elsewhere (a printed report) of that one job; `trusted_keys` the
    public keys (hex) whose seals count; `against` another store holding the same jobs (the shop's).
    """
    faults = list(_file_faults(store)) + list(_guard_faults(store))
    remarks: list[str] = []
    verdicts: list[JobVerdict] = []
    for name in [job] if job is not None else _all_jobs(store):
        try:
            verdicts.append(
                verify_job(
                    store, name, head=head if job else None, trusted_keys=trusted_keys, against=against
                )
            )
        except NotARecordError as error:  # a damaged page: say so and go on with the other jobs
            verdicts.append(JobVerdict(name, 0, "", (Fault("file", name, None, str(error)),)))
    if job is None:
        try:
            link_faults, remarks = _between_jobs(store)
            faults += link_faults
            if against is not None:
                faults += _jobs_missing_here(store, against)
        except NotARecordError as error:  # without its id nobody can tell which jobs were opened here
            faults.append(Fault("file", "", None, str(error)))
    return Verdict(tuple(verdicts), tuple(faults), tuple(remarks))


def verify_job(
    store: Store,
    job: str,
    *,
    head: str | None = None,
    trusted_keys: Iterable[str] = (),
    against: Store | None = None,
) -> JobVerdict:
    """Check one job: its chain, its opening, text, clips and seals, and what is known of it elsewhere."""
    found = store.entries(job)
    faults = list(check_chain(job, found))
    remarks: list[str] = list(clock_remarks(found))
    if found and not faults:
        faults += _opening_faults(store, found[0])
        clip_faults, clip_remarks = _clip_faults(store, job, found)
        faults += clip_faults
        remarks += clip_remarks
        faults += _sign_off_faults(job, found)
    seals = seals_of(store, job)
    faults += _seal_faults(job, found, seals, set(trusted_keys))
    last = found[-1].hash if found else ""
    if head is not None and head not in {entry.hash for entry in found}:
        faults.append(
            Fault(
                "cut off",
                job,
                found[-1].seq if found else None,
                f"no entry has the hash {head[:16]}...: the end is missing or the chain was rewritten",
            )
        )
    elif head is not None and head != last:
        remarks.append(f"the head {head[:16]}... is an earlier one; {len(found)} entries now")
    if against is not None:
        faults += _faults_against(job, found, against)
    return JobVerdict(job, len(found), last, tuple(faults), tuple(remarks), bool(seals))


# --- what belongs to a job besides its entries ------------------------------------------------------------


def _opening_faults(store: Store, opening: Entry) -> list[Fault]:
    data = opening.data
    faults: list[Fault] = []
    with store.reading() as connection:
        row = connection.execute(select(jobs).where(jobs.c.job == opening.job)).mappings().first()
        bodies: Mapping[str, str] = {
            r.sha256: r.body
            for r in connection.execute(
                select(documents.c.sha256, documents.c.body).where(
                    documents.c.sha256.in_([data.get("text_sha256", ""), data.get("outline_sha256", "")])
                )
            )
        }
    meta: Mapping[str, Any] = data.get("meta", {})
    says = {
        "store": data.get("store"),
        "number": data.get("number"),
        "procedure": data.get("procedure"),
        "title": data.get("title"),
        "revision": data.get("revision"),
        "opened_ms": opening.at_ms,
        "machine": str(meta.get("machine", "")),
        "person": str(meta.get("person", "")),
        "bay": str(meta.get("bay", "")),
    }
    if row is None:
        faults.append(Fault("index", opening.job, None, "the job is not in the list of jobs"))
    else:
        for name, value in says.items():
            if row[name] != value:
                faults.append(
                    Fault(
                        "index",
                        opening.job,
                        None,
                        f"the list of jobs has {name} {row[name]!r}, the opening entry {value!r}",
                    )
                )
    for name in ("text_sha256", "outline_sha256"):
        wanted = data.get(name, "")
        what = "procedure text" if name == "text_sha256" else "outline"
        if wanted and wanted not in bodies:
            faults.append(Fault("text", opening.job, None, f"the {what} that was run is missing"))
        elif wanted and digest(bodies[wanted]) != wanted:
            faults.append(Fault("text", opening.job, None, f"the {what} is not the one that was run"))
    return faults


def clip_names(found: Iterable[Entry]) -> set[str]:
    """SHA-256 of every clip that the entries speak of."""
    names: set[str] = set()
    for entry in found:
        if '"clip":"' in entry.data_json:
            name = entry.data.get("clip")
            if isinstance(name, str) and name:
                names.add(name)
    return names


def _clip_faults(store: Store, job: str, found: list[Entry]) -> tuple[list[Fault], list[str]]:
    faults: list[Fault] = []
    remarks: list[str] = []
    with store.reading() as connection:
        kept = {r.sha256: r.audio for r in connection.execute(select(clips).where(clips.c.job == job))}
        gone = connection.execute(
            select(removals.c.reason).where(removals.c.job == job, removals.c.what == "clips")
        ).scalar()
    wanted = clip_names(found)
    for name in sorted(wanted - kept.keys()):
        if gone is not None:
            remarks.append(f"note {name[:12]}... was removed: {gone}")
        else:
            faults.append(Fault("clip", job, None, f"the audio {name[:12]}... is missing"))
    for name, audio in sorted(kept.items()):
        if digest(bytes(audio)) != name:
            faults.append(Fault("clip", job, None, f"the audio {name[:12]}... is not what was kept"))
        elif name not in wanted:
            remarks.append(f"audio {name[:12]}... is kept, but no entry names it (a crash in between)")
    return faults, remarks


def _sign_off_faults(job: str, found: list[Entry]) -> Iterator[Fault]:
    by_seq = {entry.seq: entry for entry in found}
    for entry in found:
        if entry.kind == SIGNED_OFF and (wrong := wrong_with(entry, by_seq)):
            yield Fault("sign-off", job, entry.seq, wrong)


def _seal_faults(job: str, found: list[Entry], seals: list[Seal], trusted: set[str]) -> list[Fault]:
    faults: list[Fault] = []
    by_seq = {entry.seq: entry for entry in found}
    for seal in seals:
        entry = by_seq.get(seal.seq)
        if not seal.holds():
            faults.append(Fault("seal", job, seal.seq, "the signature of this seal is false"))
        elif entry is None:
            faults.append(Fault("cut off", job, seal.seq, "a seal names this entry, which is missing"))
        elif entry.hash != seal.hash:
            faults.append(
                Fault(
                    "rewritten",
                    job,
                    seal.seq,
                    "the sealed head is another one: the chain was rebuilt here or before",
                )
            )
    if trusted and found and not any(s.public_key in trusted and s.holds() for s in seals):
        faults.append(Fault("seal", job, None, "no seal by a trusted key"))
    return faults


def _faults_against(job: str, found: list[Entry], other: Store) -> list[Fault]:
    elsewhere = other.entries(job)
    theirs = {entry.seq: entry.hash for entry in elsewhere}
    kinds = {entry.seq: entry.kind for entry in elsewhere}
    ours = {entry.seq: entry.hash for entry in found}
    for seq in sorted(ours.keys() & theirs.keys()):
        if ours[seq] != theirs[seq]:
            return [Fault("rewritten", job, seq, f"from this entry on {other.where} holds other entries")]
    last = max(ours, default=-1)
    if theirs and max(theirs) > last:
        if all(kind == SIGNED_OFF for seq, kind in kinds.items() if seq > last):
            return []  # signed off there: their record is the longer one, and ours is its beginning
        return [Fault("cut off", job, last, f"{other.where} holds {max(theirs) - last} more entries")]
    return []


def _jobs_missing_here(store: Store, other: Store) -> Iterator[Fault]:
    """Jobs that were opened in this record, are in the other and are here no more: the newest that was taken
    out, or an older copy put in the place of this record. Jobs of other bays are not expected here."""
    with store.reading() as connection:
        here = {row.job for row in connection.execute(select(jobs.c.job))}
        here |= {
            row.job for row in connection.execute(select(removals.c.job).where(removals.c.what == "job"))
        }
    with other.reading() as connection:
        theirs = connection.execute(
            select(jobs.c.job).where(jobs.c.store == store.id).order_by(jobs.c.number)
        )
        for row in theirs:
            if row.job not in here:
                yield Fault(
                    "missing job", row.job, None, f"it was opened here, and only {other.where} has it"
                )


# --- between jobs, and the database itself ---------------------------------------------------------------


def _all_jobs(store: Store) -> list[str]:
    with store.reading() as connection:
        listed = select(jobs.c.job)
        present = select(entries.c.job).distinct()
        return [row.job for row in connection.execute(listed.union(present).order_by("job"))]


def _between_jobs(store: Store) -> tuple[list[Fault], list[str]]:
    """Every opening names the job before and its head: a lost job or a tail cut off shows here."""
    own = store.id
    faults: list[Fault] = []
    remarks: list[str] = []
    with store.reading() as connection:
        openings = [
            Entry(*row)
            for row in connection.execute(
                select(entries).where(entries.c.kind == "opened", entries.c.seq == 0)
            )
        ]
        gone = {row.job: row for row in connection.execute(select(removals).where(removals.c.what == "job"))}
        present = {row.job for row in connection.execute(select(jobs.c.job))}
        listed = [row.number for row in connection.execute(select(jobs.c.number).where(jobs.c.store == own))]
    for name, row in gone.items():
        remarks.append(f"job {name} was removed ({row.reason}); its head was {row.head_hash[:16]}...")
    elsewhere: list[tuple[str, str]] = []
    for opening in openings:
        data = opening.data
        before = data.get("job_before")
        if not before:
            continue
        if data.get("store") != own and before["job"] not in present | gone.keys():
            elsewhere.append((opening.job, before["job"]))  # it may not be delivered yet
            continue
        if before["job"] in gone:
            if data.get("store") != own:
                continue  # signed there after it was delivered, its head may lie further on than it did here
            faults += _removal_faults(gone[before["job"]], opening.job, before)
            continue
        if before["job"] not in present:
            faults.append(
                Fault(
                    "missing job",
                    before["job"],
                    None,
                    f"job {opening.job} was opened after it, and it is not here",
                )
            )
            continue
        now, kind = _hash_at(store, before["job"], before["seq"])
        if data.get("store") != own and (now is None or kind == SIGNED_OFF):
            continue  # not all of it is delivered yet; or it was signed here and there, which delivery tells
        if now is None:
            faults.append(
                Fault(
                    "cut off",
                    before["job"],
                    before["seq"],
                    f"job {opening.job} names this entry as its head, and it is missing",
                )
            )
        elif now != before["hash"]:
            faults.append(
                Fault(
                    "rewritten",
                    before["job"],
                    before["seq"],
                    f"job {opening.job} names another hash as its head",
                )
            )
    if elsewhere:
        following, missing = elsewhere[0]
        remarks.append(
            f"{len(elsewhere)} job{'s' * (len(elsewhere) > 1)} opened in another record followed one that is "
            f"not here ({following} followed {missing}): not delivered yet, or taken out; --against tells"
        )
    # a number that somebody made a text is told with its job
    highest, count = max((n for n in listed if isinstance(n, int)), default=0), len(listed)
    own_gone = sum(1 for row in gone.values() if row.store == own and row.number <= highest)
    missing_named = {fault.job for fault in faults if fault.kind == "missing job"}
    if highest - count - own_gone > len(missing_named):
        faults.append(Fault("missing job", "", None, f"{highest} jobs were opened here, {count} are present"))
    return faults, remarks


def _removal_faults(removal: Row[Any], following: str, head: Mapping[str, Any]) -> Iterator[Fault]:
    """A removal names the head of what was removed; the next job's opening knew that head too."""
    if removal.head_seq < head["seq"] or (
        removal.head_seq == head["seq"] and removal.head_hash != head["hash"]
    ):
        what = f"the removal of this job names another head than job {following}, opened after it"
        yield Fault("missing job", removal.job, None, what)


def _hash_at(store: Store, job: str, seq: int) -> tuple[str | None, str]:
    """Hash and kind of an entry; (None, '') where it is not here."""
    with store.reading() as connection:
        found = connection.execute(
            select(entries.c.hash, entries.c.kind).where(entries.c.job == job, entries.c.seq == seq)
        ).first()
    return (None, "") if found is None else (str(found.hash), str(found.kind))


def _file_faults(store: Store) -> Iterator[Fault]:
    """SQLite's own check of pages and indexes."""
    if store.path is None:
        return
    with store.reading() as connection:
        for (line,) in connection.execute(text("PRAGMA integrity_check(20)")):
            if line != "ok":
                yield Fault("file", "", None, f"the database file is damaged: {line}")


def _guard_faults(store: Store) -> Iterator[Fault]:
    """Guards that are missing, changed or switched off: nothing would have stopped a change."""
    sqlite = store.path is not None
    wanted = {
        name: body
        for name, body in guards("sqlite" if sqlite else "postgresql").items()
        if body.startswith("CREATE TRIGGER")
    }
    with store.reading() as connection:
        if sqlite:
            there = {
                row.name: row.sql
                for row in connection.execute(
                    text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
                )
            }
        else:
            there = {
                row.tgname: wanted.get(row.tgname, "")
                for row in connection.execute(
                    text(
                        "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled = 'O' "
                        "AND tgrelid IN (SELECT oid FROM pg_class "
                        "WHERE relnamespace = current_schema()::regnamespace)"
                    )
                )
            }
    missing = [name for name in wanted if name not in there]
    if len(missing) > 3:
        # One line: two dozen would push the entry that was altered out of the window.
        some = f"the guards {', '.join(missing[:2])} and {len(missing) - 2} more are missing"
        yield Fault("guard", "", None, f"{some}: the record could be changed")
    else:
        for name in missing:
            yield Fault("guard", "", None, f"the guard {name} is missing: the record could be changed")
    for name, body in wanted.items():
        if name in there and there[name] != body:
            yield Fault("guard", "", None, f"the guard {name} was changed")
