"""A value that cannot be met, over real audio: a stripped thread that the lead hand lets stand by a spoken
code, and a torque that nobody may let stand, so that the job holds for the lead and is put right after.

The technician is a synthetic voice (espeak-ng). What is recorded must be what it said, whatever was misheard
and put right on the way; nothing outside its limits may be recorded as passed.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sayso.bench.private_audio import PrivateAudio
from sayso.bench.technician import Reply
from sayso.record.report import render
from sayso.record.store import open_store
from sayso.record.story_telling import story_of
from sayso.record.verify import verify
from tests.journeys.rooms import technician_at
from tests.journeys.test_spoken_job import PUT_RIGHT, QUICK, answers_of

pytestmark = pytest.mark.audio

JOB = Path(__file__).with_name("stripped-thread.yaml")
WHO = ("--person", "Ada Finch", "--witness", "4471=Meg Hale")

SCRIPT = (
    # Nobody may let the plate stand: the job holds, and the torque is reached after all.
    Reply("on hold", "carry on", times=6),
    Reply(r"seventeen, one seven newton metres.*yes\?", "yes", times=4),
    Reply(r"twenty four newton metres\. yes\?", "yes", times=4),
    # The clamp's thread is stripped. The first code is a slip of the tongue, and nobody's.
    Reply(r"meg hale lets it stand as not met: it keeps turning, zero newton metres.*yes\?", "yes", times=4),
    Reply(r"lets it stand.*yes\?", "no", times=4),
    Reply("says the code", "four four seven two"),
    Reply("says the code|do not know that code", "four four seven one", times=6),
    Reply(r"it keeps turning, zero.*yes\?", "yes", times=4),
    Reply("why is it not met", "damaged", times=6),
    Reply("carrying on", "twenty four newton metres", times=6),
    Reply("say not met", "not met", times=6),
    Reply("clamp|wrench read", "it keeps turning", times=1),
    Reply("plate|near twenty four", "seventeen newton metres", times=4),
    Reply("clamp|near nine", "it keeps turning", times=4),
    Reply("tools away|say done", "done", times=4),
    *PUT_RIGHT,
)


def test_a_stripped_thread_is_let_stand_by_a_code_and_what_nobody_may_let_stand_holds_the_job(
    virtual_audio: PrivateAudio, tmp_path: Path
) -> None:
    store = tmp_path / "jobs.sqlite"
    arguments = ["run", str(JOB), "--store", str(store), *WHO, *QUICK]
    with technician_at(virtual_audio, arguments, tmp_path / "voice") as technician:
        technician.work(SCRIPT, timeout_s=200)
        assert technician.program.wait(15) == 0, technician.transcript()
    told = technician.transcript()
    with open_store(store) as record:
        (row,) = record.jobs()
        assert answers_of(record, row.job) == {"clamp": 0, "plate": 24}, told
        unmet = record.entries(row.job, kinds=("not_met",))
        clamps = [entry for entry in unmet if entry.data["name"] == "clamp"]
        assert len(clamps) == 1, told
        clamp = clamps[0]
        # asked again for what it did not hear, the technician may come by the seventeen once more
        plates = [entry for entry in unmet if entry.data["name"] == "plate"]
        assert len(unmet) == 1 + len(plates), told
        assert (clamp.data["name"], clamp.data["value"], clamp.data["said"]) == (
            "clamp",
            0,
            "it keeps turning",
        )
        assert (clamp.data["released_by"], clamp.data["reason"]) == ("Meg Hale", "part is damaged"), told
        assert {(plate.data["value"], plate.data["released_by"]) for plate in plates} == {(17, "")}, told
        assert all(entry.data["within"] is False for entry in unmet)
        story = story_of(record.entries(row.job))
        (open_point,) = story.unsigned_deviations
        assert open_point.step == "clamp"
        assert {pause.why for pause in story.pauses} == {"Not met, part is damaged. Call the lead."}, told
        assert len(story.pauses) == len(plates), told
        assert verify(record).sound
        page = re.sub(r"<[^>]+>", "", render(record, row.job))
    assert "0 N·m (“it keeps turning”), not 8.1 to 9.9 N·m" in page
    assert "Meg Hale, lead hand, let work go on" in page
    assert "17 N·m, not 21.6 to 26.4 N·m" in page
    assert "put right: later 24 N·m" in page
    assert "I do not know that code" in told
    assert "Out of limits: Torque the clamp screw, it keeps turning" in told
