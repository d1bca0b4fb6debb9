"""A technician at a keyboard, for tests of the loop: knows the answers of the harness swap."""

from __future__ import annotations

import io
from pathlib import Path

from sayso.dialogue.events import Event
from sayso.procedure.model import Procedure
from sayso.record.store import Store
from sayso.session.job import Job
from sayso.session.opening import JobOptions
from sayso.session.running import Ended, begun, run_typed, taken_up

#: The whole job on the short branch; serials and torques are read back whatever they are.
WHOLE_JOB = (
    "understood", "done", "3 V", "yes", "8", "yes", "done", "HK1234", "yes", "9", "yes", "yes", "done",
)  # fmt: skip

#: What the record must hold after it: answer name -> value.
ANSWERS = {"link_voltage": 3.0, "pins": 8, "harness": "HK1234", "clamp": 9.0, "lights": True}


def typed(job: Job, first: Event, lines: tuple[str, ...]) -> tuple[Ended, str]:
    """Runs a job on these lines; what came of it and the transcript."""
    out = io.StringIO()
    ended = run_typed(job, first, lines=io.StringIO("".join(f"{line}\n" for line in lines)), out=out)
    return ended, out.getvalue()


def new_job(store: Store, procedure: Procedure, lines: tuple[str, ...]) -> tuple[Ended, str]:
    with begun(store, procedure, JobOptions(machine="Wren 48, number 7")) as (job, first):
        return typed(job, first, lines)


def go_on(store: Store, name: str | None, lines: tuple[str, ...]) -> tuple[Ended, str]:
    with taken_up(store, name) as (job, first):
        return typed(job, first, lines)


def recorded_answers(store: Store, job: str) -> dict[str, object]:
    """Answer name -> value, of the answers in the record, the last one of each name."""
    found: dict[str, object] = {}
    for entry in store.entries(job, kinds=("answer", "answer_changed")):
        if entry.data["kind"] != "done":
            found[str(entry.data["name"])] = entry.data["value"]
    return found


def copy_of(path: Path, folder: Path) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    target = folder / path.name
    target.write_bytes(path.read_bytes())
    return target
