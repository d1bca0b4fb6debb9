"""Are the sign-offs of a job such as `sign_off` makes: by somebody who might, of a deviation that stood?

Anybody who can write into a record can append an entry with a right hash. What they cannot make is the
signature of the shop's key; and a name that had no code in this job, or that worked on it, gives them away.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from sayso.dialogue.asked import same_person
from sayso.record.chain import Entry
from sayso.record.faults import Fault
from sayso.record.sign_off import KIND, signed_message, who_may_sign
from sayso.record.store import Store
from sayso.record.story_telling import story_of


def sign_off_faults(store: Store, job: str, found: list[Entry], trusted: Collection[str]) -> Iterator[Fault]:
    """`found` is the whole job, its chain sound; `trusted` the keys that count, all where none is given."""
    signed = [number for number, entry in enumerate(found) if entry.kind == KIND]
    if not signed:
        return
    had_a_code = {name for _, name, _ in who_may_sign(store, job)}
    for number in signed:
        if wrong := _wrong_with(found[number], found[:number], had_a_code, trusted):
            yield Fault("sign-off", job, found[number].seq, wrong)


def _wrong_with(
    entry: Entry, before: list[Entry], had_a_code: Collection[str], trusted: Collection[str]
) -> str:
    """'' for a sound sign-off; else what is wrong with it. `before` are the job's entries up to it."""
    data = entry.data
    seq, name, how = data.get("entry"), data.get("name"), data.get("how")
    if not isinstance(seq, int) or not 0 <= seq < len(before) or before[seq].hash != data.get("entry_hash"):
        return "it signs an entry that is not there, or another one"
    if not isinstance(name, str) or not name.strip():
        return "nobody is named who signed"
    if how == "key" and (wrong := _wrong_with_signature(entry, trusted)):
        return wrong
    story = story_of(before)
    if seq not in {deviation.seq for deviation in story.unsigned_deviations}:
        return f"entry {seq} was no deviation that waited for a signature"
    if any(same_person(name, person) for person in story.people):
        return f"{name} worked on this job, and nobody signs off their own"
    if how == "code" and name not in had_a_code:
        return f"nobody of the name {name} had a code in this job"
    return "" if how in ("code", "key") else f"nobody can sign by {how!r}"


def _wrong_with_signature(entry: Entry, trusted: Collection[str]) -> str:
    data = entry.data
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(str(data.get("public_key", ""))))
        key.verify(
            bytes.fromhex(str(data.get("signature", ""))), signed_message(entry.job, data, entry.at_ms)
        )
    except (InvalidSignature, ValueError, KeyError):
        return "the signature in it is false"
    if trusted and data["public_key"] not in trusted:
        return "it is signed by a key that is not trusted"
    return ""
