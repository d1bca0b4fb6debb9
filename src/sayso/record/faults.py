"""What is wrong with the chain of one job: which entry was altered, removed, inserted, moved or rewritten."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final, Literal

from sayso.record.chain import NOTHING_BEFORE, Entry, hash_of
from sayso.record.clock_jumps import jumps

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
    "sign-off",
    "removal",
    "identity",
    "guard",
    "file",
]


#: Events that tell of the loudspeaker and of nobody's doing.
_OF_THE_VOICE: Final = ("VoiceFinished", "BargeIn")


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
    if any(not isinstance(entry.seq, int) for entry in found):
        yield from _texts_for_numbers(job, found)
        return
    prev = NOTHING_BEFORE
    for number, entry in enumerate(found):
        if entry.seq != number or entry.prev != prev or _own_hash(entry) != entry.hash:
            # that something is wrong is certain here: never nothing, whatever the diagnosis makes of it
            yield from list(_diagnose(job, found)) or [_numbered_anew(job, found)]
            return
        prev = entry.hash
    yield from _after_the_end(job, found)


def _texts_for_numbers(job: str, found: list[Entry]) -> Iterator[Fault]:
    """SQLite takes a text for a number. The hash tells which number it was; with it the rest is judged."""
    whole = {entry.seq: entry for entry in found if isinstance(entry.seq, int)}
    free = [number for number in range(len(found)) if number not in whole]
    for entry in found:
        if isinstance(entry.seq, int):
            continue
        number = next((n for n in free if _own_hash(entry, n) == entry.hash), None)
        what = f"this entry ({entry.kind}) has {entry.seq!r} for its number"
        yield Fault("altered", job, number, what)
        if number is not None:
            whole[number] = replace(entry, seq=number)
    yield from check_chain(job, [whole[number] for number in sorted(whole)])


def _after_the_end(job: str, found: list[Entry]) -> Iterator[Fault]:
    """Anybody can append with a right hash; but of a job that has ended nothing is recorded but sign-offs, in
    the commit of its end the clock's mark, and that the last words were spoken."""
    ended = next((number for number, entry in enumerate(found) if entry.kind == "ended"), len(found))
    commit = found[ended].at_ms if ended < len(found) else 0
    for entry in found[ended + 1 :]:
        says_nothing = entry.kind == "event" and entry.data.get("type") in _OF_THE_VOICE
        of_the_end = entry.kind == "clock" and entry.at_ms == commit
        if not (entry.kind == "signed_off" or of_the_end or says_nothing):
            yield Fault(
                "inserted", job, entry.seq, f"this entry ({entry.kind}) came after the end of the job"
            )


def _diagnose(job: str, found: list[Entry]) -> Iterator[Fault]:
    """Learn from its own hash which number every entry was recorded with, then judge its place by that."""
    stored = sorted(found, key=lambda entry: entry.seq)
    recorded = _recorded_numbers(stored)
    built_on = {entry.prev for entry in stored}
    places = _claims(stored, recorded, built_on)
    renumbered = any(number not in (None, entry.seq) for entry, number in zip(stored, recorded, strict=True))
    is_permutation = sorted(n for n in recorded if n is not None) == [entry.seq for entry in stored]
    highest = -1
    for at, (entry, number) in enumerate(zip(stored, recorded, strict=True)):
        what = f"this entry ({entry.kind})"
        if number is None:
            if _stands_between(stored, at):
                yield Fault(
                    "inserted", job, entry.seq, f"{what} was put in: its neighbours follow each other"
                )
            else:
                yield Fault("altered", job, entry.seq, f"{what} is not what was hashed when it was recorded")
        elif places[number] is not entry:
            yield Fault("inserted", job, entry.seq, f"{what} was put in: number {number} was another entry")
        elif (is_permutation and number != entry.seq) or number < highest:
            yield Fault("reordered", job, entry.seq, f"{what} was recorded as number {number}")
        highest = max(highest, -1 if number is None else number)
    # An altered entry no longer tells its number: it stands where it is stored.
    here = set(places) | {
        e.seq for e, n in zip(stored, recorded, strict=True) if n is None and not renumbered
    }
    yield from _gaps(job, here, renumbered, sum(n is None for n in recorded))
    yield from _breaks(job, places)


def _numbered_anew(job: str, found: list[Entry]) -> Fault:
    """Nothing is missing, altered or out of order, and yet a number is not the one that was recorded."""
    stored = sorted(found, key=lambda entry: entry.seq)
    moved = [
        (entry, number)
        for entry, number in zip(stored, _recorded_numbers(stored), strict=True)
        if number != entry.seq
    ]
    entry, number = moved[0] if moved else (stored[0], None)
    later = f", and {len(moved) - 1} more have another number" if len(moved) > 1 else ""
    return Fault(
        "altered", job, entry.seq, f"this entry ({entry.kind}) was recorded as number {number}{later}"
    )


def _recorded_numbers(stored: list[Entry]) -> list[int | None]:
    """The number with which each entry's hash is right, None when it fits none."""
    numbers: list[int | None] = []
    shift = 0
    for entry in stored:
        number = None
        # its own number, then the shift of its neighbour (renumbering), then near ones, then all
        for guess in (entry.seq, entry.seq - shift, *_outwards(entry.seq, len(stored) + 50)):
            if guess >= 0 and _own_hash(entry, guess) == entry.hash:
                number, shift = guess, entry.seq - guess
                break
        numbers.append(number)
    return numbers


def _outwards(middle: int, count: int) -> Iterator[int]:
    """Numbers around `middle`; in long jobs only 1,000 each way, as moves are local in practice."""
    for distance in range(1, min(count, 1000)):
        yield middle + distance
        yield middle - distance


def _claims(stored: list[Entry], recorded: list[int | None], built_on: set[str]) -> dict[int, Entry]:
    """Number -> the entry to which it belongs; of two with one number, the one that others build on."""
    places: dict[int, Entry] = {}
    for entry, number in zip(stored, recorded, strict=True):
        if number is None:
            continue
        other = places.get(number)
        if other is None or (other.hash not in built_on and entry.hash in built_on):
            places[number] = entry
    return places


def _stands_between(stored: list[Entry], at: int) -> bool:
    """True when the entries around this one follow each other without it."""
    if at + 1 >= len(stored):
        return False
    before = stored[at - 1].hash if at else NOTHING_BEFORE
    return stored[at + 1].prev == before


def _gaps(job: str, here: set[int], renumbered: bool, unknown: int) -> Iterator[Fault]:
    missing = sorted(set(range(max(here, default=0))) - here)
    if renumbered and len(missing) <= unknown:
        return  # these are the altered ones, which cannot tell their number
    after = "; the later ones were renumbered" if renumbered else ""
    for first, last in _runs(missing):
        which = f"entry {first} is" if first == last else f"entries {first} to {last} are"
        yield Fault("removed", job, first, f"{which} missing{after}")


def _runs(numbers: list[int]) -> Iterator[tuple[int, int]]:
    """[5, 6, 7, 12] -> (5, 7), (12, 12)"""
    there = set(numbers)
    firsts = (number for number in numbers if number - 1 not in there)
    lasts = (number for number in numbers if number + 1 not in there)
    return zip(firsts, lasts, strict=True)


def _breaks(job: str, places: dict[int, Entry]) -> Iterator[Fault]:
    """Neighbours that are each sound and yet do not follow each other: the first was replaced."""
    if 0 in places and places[0].prev != NOTHING_BEFORE:
        yield Fault("removed", job, 0, "something stood before the first entry")
    for number in sorted(places):
        following = places.get(number + 1)
        if following is not None and following.prev != places[number].hash:
            yield Fault(
                "rewritten",
                job,
                number,
                f"this entry ({places[number].kind}) is not the one that entry {number + 1} followed",
            )


def clock_remarks(found: list[Entry]) -> Iterator[str]:
    for before, entry in pairwise(found):
        # SQLite takes a text for a number: such an entry is told as altered, and has no time to compare
        if not all(isinstance(number, int) for number in (entry.seq, entry.at_ms, before.at_ms)):
            continue
        if entry.at_ms < before.at_ms:
            back = (before.at_ms - entry.at_ms) / 1000
            yield f"the clock was set back by {back:g} s before entry {entry.seq}; the order recorded stands"
    for entry in found:
        for ms, why in jumps(entry.data) if entry.kind == "clock" else ():
            yield f"{why} {ms / 1000:g} s before entry {entry.seq}; that counts as no time at work"
