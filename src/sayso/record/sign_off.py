"""Signing a deviation off: who let it stand, when and why, as a further entry of the job's own chain.

Nothing that was recorded is altered. The entry 'signed_off' names the deviation by its number and hash, so it
cannot be moved to another one, and it may be added after the job has ended. The right to sign is shown by a
witness code that the job knows, or by the shop's key, whose signature then stands in the entry.
"""

from __future__ import annotations

import json
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from sqlalchemy import insert

from sayso.dialogue.asked import same_person
from sayso.record import postgres
from sayso.record.chain import Entry, canonical, follow
from sayso.record.errors import RecordError
from sayso.record.place import store_option
from sayso.record.seal import public_key_of
from sayso.record.store import Store
from sayso.record.story import Deviation
from sayso.record.story_telling import story_of
from sayso.record.tables import entries

KIND: Final = "signed_off"


@dataclass(frozen=True, slots=True)
class Signer:
    """`how` is 'code' or 'key'; `role` as the procedure names it, '' when it does not."""

    name: str
    role: str
    how: str
    key: Ed25519PrivateKey | None = None


def who_may_sign(store: Store, job: str) -> list[tuple[str, str, str]]:
    """(code, name, role) of everybody whose code the job knows: from its procedure and from its start."""
    found: dict[tuple[str, str], str] = {}
    opening = store.opening(job)
    if opening.get("outline_sha256"):
        for step in json.loads(store.document(str(opening["outline_sha256"]))).get("steps", ()):
            ask = step.get("ask") or {}
            for code, name in ask.get("codes") or () if ask.get("kind") == "witness" else ():
                found[(str(code), str(name))] = str(ask.get("role", ""))
    for entry in store.entries(job, kinds=("event",)):
        if entry.data.get("type") == "Started":
            for code, name in entry.data.get("witnesses") or ():
                found.setdefault((str(code), str(name)), "")
            break
    return [(code, name, role) for (code, name), role in found.items()]


def signer_by_code(store: Store, job: str, code: str) -> Signer:
    """The person with this code. Raises RecordError for an unknown code, and for one's own work."""
    digits = "".join(code.split())
    known = who_may_sign(store, job)
    if not known:
        raise RecordError(
            f"job {job} knows nobody's code; sign with the shop's key: --by NAME --key FILE (`sayso key`)"
        )
    names = [(name, role) for known_code, name, role in known if known_code == digits and digits]
    if not names:
        raise RecordError(f"job {job}: that code is not known; nothing was signed off")
    return _second_person(store, job, Signer(*names[0], "code"))


def signer_by_key(store: Store, job: str, name: str, key: Ed25519PrivateKey) -> Signer:
    """Somebody who holds the shop's key. Raises RecordError for who worked on the job."""
    if not name.strip():
        raise RecordError("say who signs: --by NAME")
    return _second_person(store, job, Signer(name.strip(), "", "key", key))


def _second_person(store: Store, job: str, signer: Signer) -> Signer:
    """Whoever had a hand in the job is none, were it for one step only."""
    people = story_of(store.entries(job)).people
    own = next((person for person in people if same_person(signer.name, person)), None)
    if own is not None:
        did = "did this job" if len(people) == 1 else "worked on this job"
        raise RecordError(f"job {job}: {own} {did}; a second person must sign it off")
    return signer


def to_sign(store: Store, job: str) -> list[Deviation]:
    """The deviations that stand and that nobody has signed off, in the order of the record."""
    found = store.entries(job)
    if not found:
        store.job(job)  # raises with the reason
    return story_of(found).unsigned_deviations


def sign_off(
    store: Store, job: str, deviations: Sequence[int], signer: Signer, why: str, *, at_ms: int | None = None
) -> list[Entry]:
    """Append one entry for each deviation (by its entry number), all in one transaction, durable on return.

    Raises RecordError when a number is no deviation that stands, when it is signed already, when there is no
    reason, or when the job is being run.
    """
    if not why.strip():
        raise RecordError("say why it may stand: --why TEXT")
    lock = store.lock_job(job)
    try:
        found = store.entries(job)
        open_now = {deviation.seq: deviation for deviation in story_of(found).unsigned_deviations}
        by_seq = {entry.seq: entry for entry in found}
        at = max(int(time.time() * 1000) if at_ms is None else at_ms, found[-1].at_ms)
        head, rows = found[-1], []
        for seq in dict.fromkeys(deviations):
            if seq not in open_now:
                raise RecordError(
                    f"job {job}: entry {seq} is no deviation that waits for a sign-off; "
                    f"see: sayso sign-off {job} --list{store_option(store)}"
                )
            data = _data(by_seq[seq], signer, why.strip(), at)
            head = follow(job, head.seq + 1, at, KIND, data, head.hash)
            rows.append(head)
        if rows:
            with store.writing() as connection:
                if store.path is None:
                    postgres.lock_for_transaction(connection, f"delivery {job}")
                connection.execute(insert(entries), [row.as_row() for row in rows])
    finally:
        lock.release()
    return rows


def _data(deviation: Entry, signer: Signer, why: str, at_ms: int) -> dict[str, Any]:
    data: dict[str, Any] = {
        "entry": deviation.seq,
        "entry_hash": deviation.hash,
        "step": str(deviation.data.get("step", "")),
        "name": signer.name,
        "role": signer.role,
        "how": signer.how,
        "why": why,
    }
    if signer.key is not None:
        data["public_key"] = public_key_of(signer.key)
        data["signature"] = signer.key.sign(signed_message(deviation.job, data, at_ms)).hex()
    return data


def signed_message(job: str, data: Mapping[str, Any], at_ms: int) -> bytes:
    """What the shop's key signs: canonical JSON, so that anybody can rebuild it."""
    said = {name: data[name] for name in ("entry", "entry_hash", "name", "why")}
    return canonical({"sayso_sign_off": 1, "job": job, "at_ms": at_ms, **said}).encode()
