"""`sayso jobs`: the jobs of a record, or some of them."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Annotated

import typer

from sayso.record.local_time import minute
from sayso.record.which_record import Since, StoreOption, Until, open_record

if TYPE_CHECKING:
    from sayso.record.store import JobRow

#: Columns that the table of jobs needs to be read.
WIDE_ENOUGH = 150


def jobs(
    store: StoreOption = None,
    only_open: Annotated[bool, typer.Option("--open", help="Only jobs that can be resumed.")] = False,
    procedure: Annotated[str | None, typer.Option(help="Only this procedure.")] = None,
    machine: Annotated[str | None, typer.Option(help="Only this machine.")] = None,
    person: Annotated[str | None, typer.Option(help="Only jobs that this person had in hand.")] = None,
    since: Since = None,
    until: Until = None,
) -> None:
    """All jobs in the record, or those that are asked for, oldest first."""
    from rich.console import Console
    from rich.table import Table

    from sayso.record.hands import people_of_jobs
    from sayso.record.rehearsals import rehearsed_jobs
    from sayso.record.which_jobs import Wanted

    wanted = Wanted(procedure, machine, person, since, until)
    with open_record(store) as record:
        every = record.jobs()
        found = wanted.among(record, every)
        rows = [row for row in found if row.ended_ms is None or not only_open]
        rehearsed = rehearsed_jobs(record)
        people = {job: ", ".join(names) for job, names in people_of_jobs(record, rows).items()}
    if not rows:
        such = " of those" if wanted != Wanted() else ""
        print(f"no open job{such}" if only_open else f"no job{such}" if such else "no job yet")
        return
    # Each laptop counts its own jobs: a number that several bear names none of them.
    bearers = Counter(row.number for row in every)
    number = {row.job: str(row.number) if bearers[row.number] == 1 else "" for row in rows}
    if Console().width < WIDE_ENOUGH:
        # In a narrow window a table would cut every cell to a letter or two.
        for row in rows:
            mark = ", rehearsed" if row.job in rehearsed else ""
            print(f"{number[row.job]:>3}  {row.job}  {_ended(row)}{mark}")
            about = ", ".join(
                text for text in (row.machine, people[row.job], row.bay and f"bay {row.bay}") if text
            )
            print(f"     {row.procedure}, rev. {row.revision}{', ' if about else ''}{about}")
            print(f"     began {minute(row.opened_ms)}")
            if how := _not_complete(row):
                print(f"     {how}")
        return
    table = Table("no.", "job", "procedure", "machine", "person", "bay", "began", "ended")
    for row in rows:
        table.add_row(
            number[row.job],
            row.job,
            f"{row.procedure}, rev. {row.revision}",
            row.machine,
            people[row.job],
            row.bay,
            minute(row.opened_ms),
            ", ".join(
                text
                for text in (_ended(row), _not_complete(row), row.job in rehearsed and "rehearsed")
                if text
            ),
        )
    # A name cut off by a narrow terminal could not be typed into the next command.
    table.columns[1].no_wrap = True
    Console().print(table)


def _ended(row: JobRow) -> str:
    return "open" if row.ended_ms is None else minute(row.ended_ms)


def _not_complete(row: JobRow) -> str:
    """How a job ended that was not done to its end: stopped, it must not look like one that was done."""
    return "" if row.outcome == "complete" else row.outcome
