"""From a command to a job that has ended: by voice or typed, new or resumed."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, TextIO

from sayso.dialogue.events import Event, Resumed, Started
from sayso.procedure.model import Procedure
from sayso.record.store import Store
from sayso.session.job import Job
from sayso.session.loop import JobLeftError, Loop
from sayso.session.opening import JobOptions, open_job, refuse_foreign_quiz, resume_job
from sayso.session.tools_in_hand import taken_up_with

if TYPE_CHECKING:  # the audio libraries are loaded only when a job is run by voice
    from sayso.session.equipment import Equipment
    from sayso.session.page import JobPage, PageOptions

Watch = Callable[[Mapping[str, Any]], None]


@dataclass(frozen=True, slots=True)
class Ended:
    """`outcome` is None when the job was left open; `why` then says how."""

    job: str
    outcome: str | None
    why: str = ""


@contextlib.contextmanager
def begun(store: Store, procedure: Procedure, options: JobOptions) -> Iterator[tuple[Job, Event]]:
    """A new job and its first event; the journal is let go at the end."""
    job, first = open_job(store, procedure, options)
    try:
        yield job, first
    finally:
        job.journal.close()


@contextlib.contextmanager
def taken_up(
    store: Store, name: str | None, tools: Sequence[tuple[str, str]] = (), person: str = ""
) -> Iterator[tuple[Job, Event]]:
    """An open job as it was left, and the event that takes it up, with `tools` in hand from here on.

    `person`: whose it is from here on, '' for the one it was. Raises UserError where it cannot be theirs.
    """
    job = resume_job(store, name)
    try:
        refuse_foreign_quiz(job, person)
        yield job, taken_up_with(store, job, tools, person)
    finally:
        job.journal.close()


def run_typed(
    job: Job,
    first: Event,
    *,
    lines: TextIO | None = None,
    out: TextIO | None = None,
    watch: Watch | None = None,
    waits_pass: bool = True,
    page: PageOptions | None = None,
) -> Ended:
    """The job on a keyboard. Ends at the end of the job or of the input. `page`: shown in a browser too."""
    from sayso.session.typed import TypedHands

    if isinstance(first, Started | Resumed):
        first = replace(first, at_keyboard=True)
    with _page(job, page) as shown:
        loop = Loop(job, shown.watch if shown else watch)
        hands = TypedHands(loop, lines, out)
        if shown is not None:
            shown.attach(loop)
        try:
            return _run(job, loop, first, hands, waits_pass)
        except BrokenPipeError:  # `sayso rehearse ... | head`
            return Ended(job.journal.job, None, "nobody reads what it says")


def run_spoken(
    job: Job,
    first: Event,
    open_equipment: Equipment,
    *,
    keys: TextIO | None = None,
    page: PageOptions | None = None,
) -> Ended:
    """The job by voice. `keys`: lines of a keyboard or pedal count as answers as well. `page`: shown in a
    browser too."""
    from sayso.session.keys import listen_to_keys
    from sayso.session.spoken import SpokenHands

    with _page(job, page) as shown:
        loop = Loop(job, shown.watch if shown else None)
        hands = SpokenHands(loop, open_equipment, job.journal.keep_clip)
        if shown is not None:
            shown.attach(loop, open_equipment.ear)
            hands.noticed = shown.notice
            hands.refused = shown.refuse
        if keys is not None:
            listen_to_keys(keys, loop)
        return _run(job, loop, first, hands, False)


def _page(job: Job, options: PageOptions | None) -> AbstractContextManager[JobPage | None]:
    if options is None:
        return contextlib.nullcontext()
    from sayso.session.page import job_page  # its web server costs a quarter of a second to load

    return job_page(job.procedure, options)


def _run(job: Job, loop: Loop, first: Event, hands: Any, waits_pass: bool) -> Ended:
    try:
        outcome = loop.run(first, hands, waits_pass=waits_pass)
    except JobLeftError as left:
        return Ended(job.journal.job, None, left.why)
    except KeyboardInterrupt:
        return Ended(job.journal.job, None, "interrupted")
    return Ended(job.journal.job, outcome)
