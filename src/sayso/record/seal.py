"""Signing a job's head hash with the shop's key (Ed25519, RFC 8032, by the cryptography library).

A seal says: this shop held exactly this record, up to this entry, at this time. The private key stays
with the shop; the public key goes to whoever wants to check.
"""

from __future__ import annotations

import os
import time
from dataclasses import dataclass
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from sqlalchemy import select

from sayso.record.chain import canonical
from sayso.record.errors import RecordError
from sayso.record.store import Store
from sayso.record.tables import seals


@dataclass(frozen=True, slots=True)
class Seal:
    """A signature over job, seq, hash and time. Key and signature in hexadecimal."""

    job: str
    seq: int
    hash: str
    at_ms: int
    public_key: str
    signature: str

    def message(self) -> bytes:
        """The bytes that are signed: canonical JSON, so that anybody can rebuild them."""
        return _message(self.job, self.seq, self.hash, self.at_ms)

    def holds(self) -> bool:
        """True when the signature is that of `public_key` over the message."""
        try:
            key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(self.public_key))
            key.verify(bytes.fromhex(self.signature), self.message())
        except (InvalidSignature, ValueError):
            return False
        return True


def _message(job: str, seq: int, head: str, at_ms: int) -> bytes:
    return canonical({"sayso_seal": 1, "job": job, "seq": seq, "hash": head, "at_ms": at_ms}).encode()


def new_key(path: Path) -> str:
    """Write a new private key (PEM, readable by its owner only); gives the public key in hexadecimal.

    Raises RecordError when the file exists: a shop's key is never overwritten.
    """
    key = Ed25519PrivateKey.generate()
    pem = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        raise RecordError(f"{path}: a key is already there and is kept; give another name") from None
    except OSError as error:
        raise RecordError(f"{path}: the key cannot be written: {error.strerror}") from None
    with os.fdopen(handle, "wb") as file:
        file.write(pem)
    return public_key_of(key)


def read_key(path: Path) -> Ed25519PrivateKey:
    """The shop's private key. Raises RecordError when the file holds none."""
    try:
        key = serialization.load_pem_private_key(path.read_bytes(), password=None)
    except (OSError, ValueError, TypeError) as error:
        raise RecordError(f"{path}: no key can be read: {error}") from None
    if not isinstance(key, Ed25519PrivateKey):
        raise RecordError(f"{path}: this is not an Ed25519 key; make one with `sayso key {path}`")
    return key


def public_key_of(key: Ed25519PrivateKey) -> str:
    """The public key in hexadecimal, as seals and sign-offs carry it."""
    return key.public_key().public_bytes(serialization.Encoding.Raw, serialization.PublicFormat.Raw).hex()


def seal(store: Store, job: str, key: Ed25519PrivateKey, *, at_ms: int | None = None) -> Seal:
    """Sign the present head of a job and keep the seal with it; the same head is sealed once a key."""
    head = store.head(job)
    public = public_key_of(key)
    at = int(time.time() * 1000) if at_ms is None else at_ms
    made = Seal(job, head.seq, head.hash, at, public, key.sign(_message(job, head.seq, head.hash, at)).hex())
    row = {name: getattr(made, name) for name in Seal.__dataclass_fields__}
    with store.writing() as connection:
        store.insert_new(connection, seals, [row])
    return next(s for s in seals_of(store, job) if (s.seq, s.public_key) == (head.seq, public))


def seals_of(store: Store, job: str) -> list[Seal]:
    """The seals of a job, oldest first."""
    names = [seals.c[name] for name in Seal.__dataclass_fields__]
    with store.reading() as connection:
        return [
            Seal(*row)
            for row in connection.execute(
                select(*names).where(seals.c.job == job).order_by(seals.c.seq, seals.c.at_ms)
            )
        ]
