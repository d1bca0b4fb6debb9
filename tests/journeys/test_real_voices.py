"""A short job answered only by real people: recordings of AN4's test part (CMU, free licence), whom the model
never heard, played into the microphone. Four speakers say yes, no, nineteen, repeat and stop."""

from __future__ import annotations

from pathlib import Path

import pytest

from sayso.bench.private_audio import PrivateAudio
from sayso.bench.speech_source import SpeechSource
from sayso.bench.technician import Reply
from sayso.record.store import open_store
from tests.journeys.rooms import technician_at
from tests.journeys.test_spoken_job import answers_of, kinds_of

pytestmark = pytest.mark.audio

RECORDINGS = Path(__file__).parents[1] / "recordings"
SAID_BY_PEOPLE = {
    "no": "an402-mdms2-b.flac",
    "yes": "an442-mmxg-b.flac",
    "nineteen": "cen3-mjwl-b.flac",
    "repeat": "an392-mjwl-b.flac",
    "stop": "an440-mjgm-b.flac",
}
JOB = """\
procedure: battery-room-look
title: Battery room look
revision: 1
steps:
  - id: leak
    say: Is there any liquid on the floor?
    ask: {yes_no: leak}
  - id: racks
    say: Count the batteries on the rack.
    ask: {count: batteries, from: 10, to: 30, read_back: true}
  - id: fan
    say: Does the fan run?
    ask: {yes_no: fan}
  - id: door
    say: Close the door.
"""


def test_people_the_model_never_heard_do_a_job(virtual_audio: PrivateAudio, tmp_path: Path) -> None:
    file, store = tmp_path / "look.yaml", tmp_path / "jobs.sqlite"
    file.write_text(JOB)
    script = [
        Reply("liquid on the floor", "repeat"),
        Reply(r"^(no|yes)\. yes\?", "yes", times=4),  # one of these is said so that sayso asks
        Reply("liquid|leak", "no", times=3),
        Reply(r"nineteen.*yes\?", "yes", times=3),
        Reply("batteries", "nineteen", times=3),
        Reply("fan", "yes", times=3),
        Reply("yes or no", "yes", times=3),
        Reply("close the door", "stop", times=3),
    ]
    with technician_at(virtual_audio, ["run", str(file), "--store", str(store)], tmp_path / "v") as people:
        recordings = tuple((text, RECORDINGS / name) for text, name in SAID_BY_PEOPLE.items())
        people.speech = SpeechSource(tmp_path / "v", engine="none", recordings=recordings)
        people.work(script, timeout_s=120)
        assert people.program.wait(15) == 5, people.transcript()  # stopped by the technician
    with open_store(store) as record:
        (row,) = record.jobs()
        assert answers_of(record, row.job) == {"leak": False, "batteries": 19, "fan": True}, (
            people.transcript()
        )
        assert "ended" in kinds_of(record, row.job)
