"""Which record and which job a command is about: the options that many commands share."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from sayso.record.errors import RecordError
from sayso.record.place import default_place

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from sayso.record.store import JobRow, Store

#: Exit code of `verify` and `deliver` when something is wrong; RecordError itself gives 2 in cli.py.
FOUND_FAULTS = 4

StoreOption = Annotated[
    str | None, typer.Option("--store", help="Record: a file or a postgresql:// address.", show_default=False)
]
Since = Annotated[
    str | None, typer.Option(help="Only jobs opened on or after this day, YYYY-MM-DD.", show_default=False)
]
Until = Annotated[
    str | None, typer.Option(help="Only jobs opened on or before this day.", show_default=False)
]
JobArgument = Annotated[
    str | None,
    typer.Argument(help="Its name, the beginning of it, or its number; the latest when not given."),
]


def open_record(
    place: str | None, *, read_only: bool = True, may_be_new: bool = False
) -> AbstractContextManager[Store]:
    """The record; where a command needs one that is there, a slip in its name makes no new one."""
    from sayso.record.opened import opened

    return opened(place or default_place(), read_only=read_only, may_be_new=may_be_new)


def find_job(store: Store, name: str | None) -> JobRow:
    """A job by its name, the beginning of its name, or its number; None takes the latest."""
    rows = store.jobs()
    if not rows:
        raise RecordError(f"{store.where}: there is no job in this record yet; begin one with `sayso run`")
    if name is None:
        return rows[-1]
    if any(row.job == name for row in rows) or store.was_removed(name):
        # Raises for a removed job: another one whose name begins alike must not stand in for it.
        return store.job(name)
    fits = [row for row in rows if str(row.number) == name] or [r for r in rows if r.job.startswith(name)]
    if len(fits) == 1:
        return fits[0]
    if not fits:
        store.job(name)  # raises: unknown, or removed by retention
    listed = ", ".join(row.job for row in fits[:8])
    raise RecordError(f"several jobs fit {name!r}: {listed}; write more of the name")
