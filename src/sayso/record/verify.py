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

from sayso.record.chain import Entry
from sayso.record.errors import NotARecordError, OddEntryError
from sayso.record.faults import Fault, check_chain, clock_remarks
from sayso.record.seal import seals_of
from sayso.record.sign_off import KIND as SIGNED_OFF
from sayso.record.store import Store
from sayso.record.tables import entries, jobs, removals
from sayso.record.verify_guards import guard_faults
from sayso.record.verify_rows import (
    clip_faults_and_remarks,
    delivery_faults,
    not_as_written,
    opening_faults,
    removal_faults,
    rows_of_no_job,
    seal_faults,
)
from sayso.record.verify_sign_offs import sign_off_faults


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
    found, remarks = guard_faults(store)
    faults = [*_file_faults(store), *found, *delivery_faults(store, job)]
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
            link_faults, more = _between_jobs(store)
            faults += link_faults
            remarks += more
            faults += rows_of_no_job(store, {one.job for one in verdicts})
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
    faults: list[Fault] = []
    remarks: list[str] = []
    keys = frozenset(trusted_keys)
    try:
        faults += check_chain(job, found)
        remarks += clock_remarks(found)
        if found and not faults:
            faults += _what_entries_tell(store, job, found, keys, remarks)
    except OddEntryError as error:
        faults.append(Fault("altered", job, error.seq, error.what))
    faults += removal_faults(store, job, found)
    seals = seals_of(store, job)
    faults += seal_faults(job, found, seals, keys)
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


def _what_entries_tell(
    store: Store, job: str, found: list[Entry], keys: frozenset[str], remarks: list[str]
) -> Iterator[Fault]:
    """What the entries of a sound chain say of the text, the audio and the signatures; adds to `remarks`."""
    wrong = list(opening_faults(store, found[0]))
    yield from wrong
    clip_faults, clip_remarks = clip_faults_and_remarks(store, job, found)
    yield from clip_faults
    remarks += clip_remarks
    if not wrong:  # who may sign is read from the opening and from the text that was run
        yield from sign_off_faults(store, job, found, keys)


# --- elsewhere ---------------------------------------------------------------------------------------------


def _faults_against(job: str, found: list[Entry], other: Store) -> list[Fault]:
    elsewhere = other.entries(job)
    theirs = {entry.seq: entry.hash for entry in elsewhere}
    kinds = {entry.seq: entry.kind for entry in elsewhere}
    # a text for a number is told as altered
    ours = {entry.seq: entry.hash for entry in found if isinstance(entry.seq, int)}
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
        if not_as_written(opening):
            continue  # told with its job
        data = opening.data
        before = data["job_before"]
        if before is None:
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
