"""The hash chain: what an entry is, its canonical bytes and its hash.

hash = SHA-256 (FIPS 180-4) of the canonical JSON (RFC 8785) of the entry without its hash. `prev` is the
hash of the entry before, so an entry vouches for all that came before it; the last one is the head.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256
from typing import Any, Final

import rfc8785

from sayso.record.errors import NotRecordedError, OddEntryError

#: `prev` of the first entry of every job.
NOTHING_BEFORE: Final = "0" * 64


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of a job's record. `data_json` is the canonical JSON text exactly as it is stored."""

    job: str
    seq: int
    at_ms: int
    kind: str
    data_json: str
    prev: str
    hash: str

    @property
    def data(self) -> dict[str, Any]:
        """Raises OddEntryError for what sayso never writes: anybody can give that a right hash."""
        try:
            value = json.loads(self.data_json)
        except (ValueError, TypeError):
            value = None
        if not isinstance(value, dict):
            raise OddEntryError(self.job, self.seq, f"the data of this entry ({self.kind}) cannot be read")
        return value

    def as_row(self) -> dict[str, Any]:
        """Column values, in the names of the table."""
        return {
            "job": self.job,
            "seq": self.seq,
            "at_ms": self.at_ms,
            "kind": self.kind,
            "data": self.data_json,
            "prev": self.prev,
            "hash": self.hash,
        }

    def as_json(self) -> dict[str, Any]:
        """The same with `data` as an object: what the exports give."""
        return {**self.as_row(), "data": self.data}


@dataclass(frozen=True, slots=True)
class Head:
    """Number and hash of the last entry of a job."""

    seq: int
    hash: str


def canonical(value: Any) -> str:
    """Canonical JSON text (RFC 8785). Raises NotRecordedError for what JSON cannot hold (NaN, 2**60...)."""
    try:
        return rfc8785.dumps(value).decode("utf-8")
    except (rfc8785.CanonicalizationError, UnicodeError) as error:
        raise NotRecordedError(
            f"this value cannot be recorded as JSON: {error}; got {value!r:.200}"
        ) from None


def digest(text: str | bytes) -> str:
    """SHA-256 as 64 hexadecimal digits; text is taken as UTF-8."""
    return sha256(text.encode("utf-8") if isinstance(text, str) else text).hexdigest()


def hash_of(job: str, seq: int, at_ms: int, kind: str, data_json: str, prev: str) -> str:
    """Hash of an entry whose data are already canonical text.

    The names are sorted as RFC 8785 asks for, so the canonical text of the whole is put together
    around the data instead of being computed again (a test compares both ways).
    """
    return digest(
        f'{{"at_ms":{at_ms},"data":{data_json},"job":{canonical(job)},"kind":{canonical(kind)},'
        f'"prev":"{prev}","seq":{seq}}}'
    )


def follow(job: str, seq: int, at_ms: int, kind: str, data: Mapping[str, Any], prev: str) -> Entry:
    """The entry numbered `seq` that follows the one whose hash is `prev`."""
    data_json = canonical(dict(data))
    return Entry(job, seq, at_ms, kind, data_json, prev, hash_of(job, seq, at_ms, kind, data_json, prev))
