"""A record opened to be told of: one that was tampered with is named as that, and no command crashes."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from sayso.record.errors import NotARecordError
from sayso.record.store import Store, open_store

#: What reading an entry that sayso never wrote ends in: a text for a number, a list for an object.
_NOT_AS_WRITTEN: Final = (TypeError, ValueError, LookupError, AttributeError)


@contextmanager
def opened(place: str | Path, *, read_only: bool = True, may_be_new: bool = False) -> Iterator[Store]:
    """The record, closed at the end. Raises NotARecordError with the first fault where what was done with it
    failed and it is not sound; where it is sound the mistake is sayso's own, and passes as it is."""
    with open_store(place, read_only=read_only, may_be_new=may_be_new) as store:
        try:
            yield store
        except _NOT_AS_WRITTEN as error:
            if fault := _first_fault(store):
                raise NotARecordError(
                    f"{store.where}: this record is not as sayso wrote it: {fault}; see `sayso verify`"
                ) from error
            raise


def _first_fault(store: Store) -> str:
    from sayso.record.verify import verify

    faults = verify(store).faults
    # what is wrong with a job says more here than a guard that is gone
    return str(next((fault for fault in faults if fault.job), faults[0])) if faults else ""
