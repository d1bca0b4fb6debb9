"""One voice on one machine: two would hear and answer each other."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from filelock import FileLock, Timeout

from sayso.session.errors import UserError
from sayso.session.places import voice_lock_file


@contextmanager
def only_voice() -> Iterator[None]:
    """Holds the voice of this machine. Raises UserError when another sayso holds it."""
    lock = FileLock(voice_lock_file(), timeout=0)
    try:
        lock.acquire()
    except Timeout:
        raise UserError(
            "another sayso is speaking on this machine; end that job first, "
            "or rehearse on the keyboard: sayso rehearse PROCEDURE"
        ) from None
    try:
        yield
    finally:
        lock.release()
