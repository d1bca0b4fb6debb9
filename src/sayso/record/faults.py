"""What is wrong with the chain of one job: which entry was altered, removed, inserted, moved or rewritten."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from sayso.record.chain import NOTHING_BEFORE, Entry, hash_of

FaultKind = Literal[
    "altered",
    "removed",
    "inserted",
    "reordered",
    "cut off",
    "rewritten",
    "missing job",
    "index",
    "text",
    "clip",
    "seal",
    "guard",
    "file",
]


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that must not be. `seq` is the entry, None when it is not about one entry."""

    kind: FaultKind
    job: str
    seq: int | None
    what: str

    def __str__(self) -> str:
        where = "record" if not self.job else f"job {self.job}"
        entry = "" if self.seq is None else f", entry {self.seq}"
        return f"{where}{entry}: {self.kind}: {self.what}"


def _own_hash(entry: Entry, seq: int | None = None) -> str:
    number = entry.seq if seq is None else seq
    return hash_of(entry.job, number, entry.at_ms, entry.kind, entry.data_json, entry.prev)


def check_chain(job: str, found: list[Entry]) -> Iterator[Fault]:
    """Faults of the chain itself; the usual case of none costs one hash an entry."""
    if not found:
        yield Fault("removed", job, None, "the job has no entries at all")
        return
    prev = NOTHING_BEFORE
    for number, entry in enumerate(found):
        if entry.seq != number or entry.prev != prev or _own_hash(entry) != entry.hash:
            yield from _diagnose(job, found)
            return
        prev = entry.hash


def _diagnose(job: str, found: list[Entry]) -> Iterator[Fault]:
    """Walk the links to learn the true order, then judge every entry by it."""
    order = _true_order(found)
    place = {id(entry): number for number, entry in enumerate(order)}
    expected = 0
    prev: Entry | None = None
    for entry in sorted(found, key=lambda e: e.seq):
        if (
            id(entry) not in place
            and _own_hash(entry) == entry.hash
            and not any(e.prev == entry.hash for e in found)
        ):
            yield Fault("inserted", job, entry.seq, f"this entry ({entry.kind}) stands outside the chain")
            continue
        if entry.seq > expected:
            yield _gap(job, expected, entry.seq - 1)
        expected = max(expected, entry.seq) + 1
        true_seq = _seq_that_fits(entry, len(found))
        if _own_hash(entry) != entry.hash:
            if true_seq is not None:
                yield Fault(
                    "reordered",
                    job,
                    entry.seq,
                    f"this entry ({entry.kind}) was recorded as number {true_seq}",
                )
            elif not any(e.prev == entry.hash for e in found) and entry is not found[-1]:
                yield Fault(
                    "inserted",
                    job,
                    entry.seq,
                    f"this entry ({entry.kind}) does not fit its own hash and nothing follows it",
                )
            else:
                yield Fault(
                    "altered",
                    job,
                    entry.seq,
                    f"this entry ({entry.kind}) is not what was hashed when it was recorded",
                )
        elif (
            prev is not None
            and entry.prev != prev.hash
            and entry.seq == prev.seq + 1
            and _own_hash(prev) == prev.hash
        ):
            yield Fault(
                "rewritten",
                job,
                entry.seq,
                f"it follows an entry with hash {entry.prev[:16]}..., which is not here: the entry "
                f"before it ({prev.kind}) was replaced or the chain was rebuilt up to it",
            )
        elif prev is None and entry.seq == 0 and entry.prev != NOTHING_BEFORE:
            yield Fault("removed", job, 0, "something stood before the first entry")
        prev = entry


def _gap(job: str, first: int, last: int) -> Fault:
    which = f"entry {first} is" if first == last else f"entries {first} to {last} are"
    return Fault("removed", job, first, f"{which} missing")


def _true_order(found: list[Entry]) -> list[Entry]:
    """The entries in the order of their links, as far as they lead from the first one."""
    after: dict[str, list[Entry]] = {}
    for entry in found:
        after.setdefault(entry.prev, []).append(entry)
    order: list[Entry] = []
    at = NOTHING_BEFORE
    seen: set[int] = set()
    while at in after:
        # Two entries claiming the same predecessor: the one that others build on is the true one.
        claims = sorted(after[at], key=lambda e: (e.hash not in after, e.seq))
        entry = claims[0]
        if id(entry) in seen:
            break
        seen.add(id(entry))
        order.append(entry)
        at = entry.hash
    return order


def _seq_that_fits(entry: Entry, count: int) -> int | None:
    """The number with which the entry's own hash is right, when it is another than its present one."""
    near = sorted(range(count + 8), key=lambda n: abs(n - entry.seq))
    # An entry is looked for over the whole job only in small jobs; moves are local in practice.
    for number in near[:2000]:
        if number != entry.seq and _own_hash(entry, number) == entry.hash:
            return number
    return None


def clock_remarks(found: list[Entry]) -> Iterator[str]:
    for before, entry in pairwise(found):
        if entry.at_ms < before.at_ms:
            back = (before.at_ms - entry.at_ms) / 1000
            yield f"the clock was set back by {back:g} s before entry {entry.seq}; the order recorded stands"
