"""One process per job: the second one is refused at once, and a dead one leaves no lock behind."""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path
from typing import Protocol

from filelock import FileLock, Timeout

from sayso.record.errors import JobInUseError, ReadOnlyError


class JobLock(Protocol):
    def release(self) -> None: ...


class FileJobLock:
    """A lock file beside the SQLite file. The operating system frees it when its process dies."""

    def __init__(self, record: Path, job: str) -> None:
        folder = record.with_name(record.name + "-locks")
        self._path = folder / f"{sha256(job.encode()).hexdigest()[:16]}.lock"
        try:
            folder.mkdir(exist_ok=True)
            self._lock = FileLock(self._path, timeout=0)
            self._lock.acquire()
        except Timeout:
            raise in_use(job) from None
        except OSError as error:
            raise ReadOnlyError(f"{folder}: no lock can be written here: {error.strerror}") from None

    def release(self) -> None:
        self._lock.release()


def in_use(job: str) -> JobInUseError:
    return JobInUseError(
        f"job {job} is being run by another process; go on there, or close that one first and resume here"
    )
