"""The job that the crash tests kill: a real dialogue over a real record, telling each moment it is in.

Runs in a process of its own. It takes up the open job, or begins one, and goes on until it is killed.
"""

from __future__ import annotations

import hashlib
import json
import random
import time
from dataclasses import replace
from multiprocessing.connection import Connection
from pathlib import Path

from sayso import procedure
from sayso.dialogue.effects import Effect, Listen, Say
from sayso.dialogue.snapshot import as_json
from sayso.dialogue.state import State
from sayso.procedure.model import Procedure
from sayso.record import open_store
from sayso.record.report import ReportOptions, write_report
from sayso.session.job import Job
from sayso.session.opening import JobOptions, open_job
from tests.record.technician import PROCEDURES, Technician

DEMO = "wren-48-drive-controller"
#: What a killed moment can be; each is told before it begins and lasts at least this long, in seconds.
MOMENTS = {"speaking": 0.004, "listening": 0.004, "writing": 0.0, "reporting": 0.0}


def read_procedure() -> Procedure:
    return procedure.read(PROCEDURES / f"{DEMO}.yaml")


def state_hash(state: State) -> str:
    """One value for the whole state: equal states, equal hashes."""
    return hashlib.sha256(json.dumps(as_json(state), sort_keys=True).encode()).hexdigest()


def run(folder: str, seed: int, parent: Connection) -> None:
    """Until killed: (moment) and (ack) messages go to the parent; an ack is sent after a commit returned."""
    luck = random.Random(seed)
    path = Path(folder)
    found = read_procedure()
    with open_store(path / "r.db") as store:
        while True:
            still_open = store.open_jobs()
            if still_open:
                journal = store.resume(still_open[-1].job)
                job = Job.replayed(found, journal)
                parent.send(("resumed", journal.job, journal.head.seq, state_hash(job.state)))
            else:
                job, started = open_job(store, found, JobOptions("W-017", "Ada Finch", "2"))
                parent.send(("ack", job.journal.job, 0, state_hash(job.state)))
                _carry_out(parent, job.handle(started))
                _ack(parent, job)
            technician = Technician(int(time.time() * 1000), luck, mishaps=0.15)
            turns = 0
            while job.outcome is None:
                technician.at_ms = max(technician.at_ms, int(time.time() * 1000))
                event = technician.next_event(job.state)
                parent.send(("moment", "writing"))
                effects = job.handle(replace(event, at_ms=int(time.time() * 1000)))
                _ack(parent, job)
                _carry_out(parent, effects)
                turns += 1
                if turns % 12 == 0:
                    parent.send(("moment", "reporting"))
                    write_report(store, job.journal.job, path / "report.html", ReportOptions(text=False))
            job.journal.close()


def _ack(parent: Connection, job: Job) -> None:
    parent.send(("ack", job.journal.job, job.journal.head.seq, state_hash(job.state)))  # type: ignore[attr-defined]


def _carry_out(parent: Connection, effects: tuple[Effect, ...]) -> None:
    """The shell speaks and listens here; the test only needs the time that this takes."""
    for moment, kind in (("speaking", Say), ("listening", Listen)):
        if any(isinstance(effect, kind) for effect in effects):
            parent.send(("moment", moment))
            time.sleep(MOMENTS[moment])
