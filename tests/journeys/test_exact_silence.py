"""A microphone that gives exact silence between words: it looks muted, but every word has to count."""

from __future__ import annotations

from pathlib import Path

import pytest

from sayso.bench.private_audio import PrivateAudio
from sayso.bench.technician import Reply
from sayso.record.store import open_store
from tests.journeys.rooms import technician_at
from tests.journeys.test_spoken_job import JOB, PUT_RIGHT, answers_of, kinds_of, number

pytestmark = [pytest.mark.audio, pytest.mark.long]


def test_words_after_exact_silence_are_answers(virtual_audio: PrivateAudio, tmp_path: Path) -> None:
    script = [
        Reply("understood to go on", "understood", times=4),
        Reply("isolate the pack|say done", "done", times=4),
        Reply(number("three volts"), "yes", times=3),
        Reply("volt", "three volts", times=4),
        *PUT_RIGHT,
    ]
    with PrivateAudio() as audio:  # without room tone
        store = tmp_path / "jobs.sqlite"
        with technician_at(audio, ["run", str(JOB), "--store", str(store)], tmp_path / "voice") as technician:
            technician.work(script, timeout_s=120, until="pins of the signal plug")
            technician.program.interrupt()
            technician.program.wait(10)
    with open_store(store) as record:
        (row,) = record.open_jobs()
        assert answers_of(record, row.job) == {"link_voltage": 3}, technician.transcript()
        assert not {"hold", "device"} & set(kinds_of(record, row.job)), technician.transcript()
