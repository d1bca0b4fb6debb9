"""`sayso verify`: what was found, and what a record alone cannot show."""

from __future__ import annotations

from contextlib import ExitStack
from typing import Annotated

import typer

from sayso.record.errors import RecordError
from sayso.record.verify import verify as check
from sayso.record.which_record import FOUND_FAULTS, StoreOption, find_job, open_record

#: Said with every "sound" that had no witness: who relies on it must know what it cannot mean.
NOT_SEEN_ALONE = (
    "a record alone does not show that its newest entries or its newest job are gone, that it is an older "
    "copy, or that all of it was made anew: --head (printed on a report) and --against (another copy) do"
)


def _seals_told(sealed: int, jobs: int) -> str:
    """A seal that was taken out leaves nothing behind: who seals must see how many jobs bear one."""
    if not sealed:
        return f"no seal on {'any of the jobs' if jobs > 1 else 'this job'}"
    return f"{sealed} of {jobs} job{'s' * (jobs != 1)} sealed; --trust tells whether by the shop's key"


def verify(
    job: Annotated[str | None, typer.Argument(help="One job; the whole record when not given.")] = None,
    store: StoreOption = None,
    head: Annotated[
        str | None, typer.Option(help="Head hash known from elsewhere, a printed report say.")
    ] = None,
    trust: Annotated[
        list[str] | None,
        typer.Option(help="A public key that must have sealed each job; sign-offs by key must be by it too."),
    ] = None,
    against: Annotated[
        str | None, typer.Option(help="Another record with the same jobs, the shop's say.")
    ] = None,
) -> None:
    """Find any altered, removed, reordered or inserted entry, and say which. Exit code 4 if any."""
    if head and job is None:
        raise RecordError("--head is the head of one job; name the job as well")
    with ExitStack() as stack:
        record = stack.enter_context(open_record(store))
        name = find_job(record, job).job if job else None
        other = stack.enter_context(open_record(against)) if against else None
        if other is not None and other.path is not None and other.path == record.path:
            raise RecordError(f"--against {against} is the record itself; name another copy of it")
        verdict = check(record, name, head=head, trusted_keys=trust or (), against=other)
    for fault in verdict.faults:
        print(fault)
    for remark in (*verdict.remarks, *(f"job {j.job}: {r}" for j in verdict.jobs for r in j.remarks)):
        print(f"remark: {remark}")
    entries = sum(j.entries for j in verdict.jobs)
    if verdict.sound:
        if not (head or against):
            print(f"remark: {NOT_SEEN_ALONE}")
        if not trust and verdict.jobs:
            print(f"remark: {_seals_told(sum(one.sealed for one in verdict.jobs), len(verdict.jobs))}")
        print(f"sound: {len(verdict.jobs)} job{'s' * (len(verdict.jobs) != 1)}, {entries} entries")
        if name:
            print(f"head {verdict.jobs[0].head}")
        return
    print(f"NOT SOUND: {len(verdict.faults)} fault{'s' * (len(verdict.faults) != 1)} in {entries} entries")
    raise typer.Exit(FOUND_FAULTS)
