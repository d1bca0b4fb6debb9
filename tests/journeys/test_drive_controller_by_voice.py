"""The demo job, the drive controller of a Wren 48, by voice from its first word to its last over real audio.

The technician (synthetic speech, espeak-ng) reads what is asked and answers from what is true of the machine,
so whatever is misheard on the way, the record must hold the truth at the end: every branch that leads on,
values out of limits, a wrong torque, slips of the tongue, a break, a power cut and the lead hand's code.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from sayso.bench.private_audio import PrivateAudio
from sayso.record.report import write_report
from sayso.record.store import open_store
from sayso.record.story_telling import story_of
from sayso.record.verify import verify
from tests.journeys.drive_controller_job import ANSWERS, FACTS, WHIMS
from tests.journeys.reading_technician import Knowledge, by_voice
from tests.journeys.rooms import technician_at
from tests.journeys.test_spoken_job import answers_of, kinds_of

JOB = Path(__file__).parents[2] / "procedures" / "wren-48-drive-controller.yaml"
QUICK = ("--rate", "1.4")


def begin(store: Path) -> list[str]:
    return ["run", str(JOB), "--store", str(store), "--wrench", "lbf.in", "--person", "Sam", *QUICK]


def rounded(answers: dict[str, object]) -> dict[str, object]:
    return {name: round(value, 4) if isinstance(value, float) else value for name, value in answers.items()}


@pytest.mark.audio
def test_the_demo_job_is_made_safe_by_voice(virtual_audio: PrivateAudio, tmp_path: Path) -> None:
    store = tmp_path / "jobs.sqlite"
    with technician_at(virtual_audio, begin(store), tmp_path / "voice") as technician:
        by_voice(technician, Knowledge(FACTS), timeout_s=150, until="Measure the twelve volt test source")
        technician.program.interrupt()
        assert technician.program.wait(10) == 3, technician.transcript()
    with open_store(store) as record:
        (row,) = record.open_jobs()
        assert answers_of(record, row.job) == {"locked": True}, technician.transcript()
        assert kinds_of(record, row.job).count("caution_acknowledged") == 2  # 'ready', and the first warning


@pytest.mark.audio
@pytest.mark.long
def test_the_whole_demo_job_by_voice(
    virtual_audio: PrivateAudio, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    store, knowledge = tmp_path / "jobs.sqlite", Knowledge(FACTS, WHIMS)
    turns = 0
    with technician_at(virtual_audio, begin(store), tmp_path / "voice") as technician:
        by_voice(technician, knowledge, timeout_s=900, until="^Torque the screw of cable B plus")
        technician.program.kill()  # the battery of the laptop is empty
        turns += len(technician.turns)
    again = ["resume", "--store", str(store), *QUICK]
    with technician_at(virtual_audio, again, tmp_path / "voice") as technician:
        by_voice(technician, knowledge, timeout_s=900)
        assert technician.program.wait(90) == 0, technician.transcript()
        turns += len(technician.turns)
    with open_store(store) as record:
        (row,) = record.jobs()
        assert row.ended_ms is not None
        assert rounded(answers_of(record, row.job)) == rounded(ANSWERS), technician.transcript()
        assert verify(record).sound
        story = story_of(record.entries(row.job))
        page = write_report(record, row.job, tmp_path / "report.html").read_text(encoding="utf-8")
        no_matches = kinds_of(record, row.job).count("no_match")
        events = [entry.data["type"] for entry in record.entries(row.job, kinds=("event",))]
    assert {"hold", "resumed"} <= {pause.kind for pause in story.pauses}
    out_of_limits = {d.step for d in story.deviations if d.kind == "out of limits"}
    assert out_of_limits == {"prove-meter", "discharge", "cable-torque-u", "bus"}
    assert story.open_deviations == []
    assert [w.name for w in story.witnesses] == ["R Tarn"]
    assert knowledge.used == set(WHIMS), set(WHIMS) - knowledge.used
    for told in ("HK331406", "96 lbf·in", "300 lbf·in", "R Tarn", "sound when this report was made"):
        assert told in page
    with capsys.disabled():
        heard = events.count("Heard")
        print(
            f"\n{len(story.visits)} steps, {turns} spoken turns, {heard} utterances heard, "
            f"{no_matches} not understood, {len(story.corrections)} corrections after the answer"
        )
