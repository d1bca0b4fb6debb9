"""Whole demo jobs in a record, done by the Technician through the true dialogue and session."""

from __future__ import annotations

import io
import math
import random
import struct
import wave
from dataclasses import replace

from sayso import procedure
from sayso.dialogue.events import ClipKept, Heard
from sayso.dialogue.state import Awaiting
from sayso.record import Store
from sayso.session.clock import Clock
from sayso.session.opening import JobOptions, open_job
from tests.record.technician import PROCEDURES, Technician

START_MS = 1_795_600_000_000


def sound(seconds: float = 1.0) -> bytes:
    """A tone as a WAV file: 16 kHz, mono, 16 bit."""
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(16_000)
        samples = (int(9000 * math.sin(i * 0.17)) for i in range(int(16_000 * seconds)))
        file.writeframes(b"".join(struct.pack("<h", sample) for sample in samples))
    return out.getvalue()


class TheirClock(Clock):
    """Leaves the time to the Technician, so that a job has the same times on every day."""

    def now_ms(self) -> int:
        return 0


def do_job(
    store: Store,
    *,
    seed: int = 1,
    mishaps: float = 0.0,
    known: dict[str, str] | None = None,
    note: bool = False,
    stop_after: int | None = None,
    name: str = "wren-48-drive-controller",
    options: JobOptions | None = None,
) -> str:
    """Do a job to its end, or to `stop_after` events; with a spoken note when asked. Gives its name."""
    found = procedure.read(PROCEDURES / f"{name}.yaml")
    about = options or JobOptions("Wren 48 no. 17", "Ada Finch", "2", witnesses=(("4471", "Meg Hale"),))
    job, started = open_job(store, found, about)
    technician = Technician(START_MS, random.Random(seed), mishaps=mishaps, known=known)
    job.clock = TheirClock()
    job.handle(replace(started, at_ms=START_MS))
    events = 0
    while job.outcome is None and events < (stop_after or 900):
        events += 1
        state = job.state
        if (
            note
            and events > 40
            and not state.speaking
            and state.awaiting is Awaiting.ANSWER
            and not state.aside
        ):
            note = False
            job.handle(Heard(technician.at_ms + 2000, ("note",), 0.99))
            clip = job.journal.keep_clip(sound())
            job.handle(ClipKept(technician.at_ms + 6000, f"note {job.state.notes}", clip, 1.0))
            technician.at_ms += 7000
            continue
        job.handle(technician.next_event(state))
    job.journal.close()
    return job.journal.job
