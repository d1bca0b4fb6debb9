"""Whole jobs by voice: real PulseAudio, pyttsx3, sounddevice and vosk; a technician that listens and speaks.

The technician is a synthetic voice (espeak-ng). What is in the record at the end must be what it said,
whatever was misheard and put right on the way.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from sayso.bench.private_audio import PrivateAudio
from sayso.bench.technician import Reply
from sayso.record.report import write_report
from sayso.record.store import Store, open_store
from sayso.record.story_telling import story_of
from tests.journeys.rooms import technician_at

pytestmark = pytest.mark.audio

JOB = Path(__file__).with_name("harness-swap.yaml")
#: Somebody who does the job every day: faster talk, so that a whole job fits into the test run.
QUICK = ("--rate", "1.5")


def number(words: str) -> str:
    """A read-back of `words`, which is right; any other read-back is wrong."""
    return rf"{words}.*yes\?"


def answers_of(store: Store, job: str) -> dict[str, object]:
    found: dict[str, object] = {}
    for entry in store.entries(job, kinds=("answer", "answer_changed")):
        if entry.data["kind"] != "done":
            found[str(entry.data["name"])] = entry.data["value"]
    return found


def kinds_of(store: Store, job: str) -> list[str]:
    return [entry.kind for entry in store.entries(job)]


#: Answers to what may go wrong with any recogniser: it is asked again, or the wrong thing is read back.
PUT_RIGHT = (
    Reply(r"(done|understood)\. yes\?", "yes", times=8),
    Reply(r"yes\?|is it what you read", "no", times=8),
    Reply(r"\byes or no\b", "yes", times=4),
)


def with_headset(store: Path) -> list[str]:
    return ["run", str(JOB), "--store", str(store), *QUICK, "--headset"]


def test_a_job_by_voice_with_a_mistake_a_correction_a_break_and_a_power_cut(
    virtual_audio: PrivateAudio, tmp_path: Path
) -> None:
    store = tmp_path / "jobs.sqlite"
    voice = tmp_path / "voice"
    turns = 0

    # First half: a mumbled answer, a correction of a wrong value, then the program dies.
    first_half = [
        Reply("understood to go on", "understood", times=4),
        Reply("isolate the pack", "repeat"),
        Reply("isolate the pack|say done", "done", times=4),
        Reply("link voltage", "banana bicycle"),  # no answer at all: it has to be asked again
        Reply(number("three volts"), "yes", times=2),
        Reply("volt", "three volts", times=4),
        Reply("pins of the signal plug", "fourteen"),  # a slip of the tongue, put right at the read-back
        Reply(number("fourteen"), "no eight"),
        Reply(number("eight"), "yes", times=2),
        Reply("pins", "eight", times=4),
        *PUT_RIGHT,
    ]
    run = ["run", str(JOB), "--store", str(store), "--person", "Ada Finch", *QUICK]
    with technician_at(virtual_audio, run, voice) as technician:
        technician.work(first_half, timeout_s=120, until="fit the short harness")
        technician.program.kill()
        turns += len(technician.turns)
    with open_store(store) as record:
        (row,) = record.open_jobs()
        before = answers_of(record, row.job)
        assert before == {"link_voltage": 3, "pins": 8}, technician.transcript()
        assert "no_match" in kinds_of(record, row.job)

    # Second half: another person takes over at the same question, a break, the rest of the job.
    second_half = [
        Reply("fit the short harness", "hold"),
        Reply("on hold", "carry on", times=3),
        Reply("short harness|say done", "done", times=4),
        Reply("serial number", "say again"),
        Reply("serial number", "hotel kilo one two three four", times=4),
        Reply(number("hotel kilo, one two, three four"), "yes", times=3),
        Reply(number("nine newton metres"), "yes", times=3),
        Reply("clamp|wrench read", "nine newton metres", times=4),
        Reply("lights", "how far am i"),
        Reply("lights", "yes", times=3),
        Reply("tools away", "what was the pins"),
        Reply("tools away", "done", times=3),
        *PUT_RIGHT,
    ]
    resume = ["resume", "--store", str(store), "--person", "Bo Tarn", *QUICK]
    with technician_at(virtual_audio, resume, voice) as technician:
        technician.work(second_half, timeout_s=150)
        assert technician.program.wait(15) == 0, technician.transcript()
        turns += len(technician.turns)
    with open_store(store) as record:
        assert answers_of(record, row.job) == {
            "link_voltage": 3,
            "pins": 8,
            "harness": "HK1234",
            "clamp": 9,
            "lights": True,
        }, technician.transcript()
        kinds = kinds_of(record, row.job)
        story = story_of(record.entries(row.job))
        by = {given.name: story.person_at(given.seq) for given in story.answers if given.kind != "done"}
        assert by == {
            "link_voltage": "Ada Finch",
            "pins": "Ada Finch",
            "harness": "Bo Tarn",
            "clamp": "Bo Tarn",
            "lights": "Bo Tarn",
        }
        page = write_report(record, row.job, tmp_path / "report.html").read_text(encoding="utf-8")
    for told in (
        "HK1234",
        "9 N·m",
        "3 V",
        "pins: 12 leads to long-harness",
        "sound when this report was made",
    ):
        assert told in page
    assert {"resumed", "hold", "carried_on", "caution_acknowledged", "ended"} <= set(kinds), (
        technician.transcript()
    )
    assert turns >= 20, technician.transcript()


def test_with_a_headset_the_voice_is_cut_off_and_the_other_branch_taken(
    virtual_audio: PrivateAudio, tmp_path: Path
) -> None:
    store = tmp_path / "jobs.sqlite"
    script = [
        # Said before the caution was spoken to its end: that is no acknowledgement.
        Reply("the pack stays live", "understood", during=0.5),
        Reply("understood to go on", "understood", times=4),
        Reply("isolate the pack", "done", times=3),
        Reply("measure the link voltage", "hold", during=0.5),
        Reply("on hold", "carry on", times=3),
        Reply(number("four volts"), "yes", times=3),
        Reply("volt", "four volts", times=4),
        Reply(number("twelve"), "yes", times=3),
        Reply("pins", "twelve", times=4),
        *PUT_RIGHT,
    ]
    with technician_at(virtual_audio, with_headset(store), tmp_path / "voice") as technician:
        technician.work(script, timeout_s=120, until="fit the long harness")
        technician.program.interrupt()
        assert technician.program.wait(10) == 3, technician.transcript()
    with open_store(store) as record:
        (row,) = record.open_jobs()
        assert answers_of(record, row.job) == {"link_voltage": 4, "pins": 12}, technician.transcript()
        events = [e.data for e in record.entries(row.job, kinds=("event",))]
        assert any(e["type"] == "BargeIn" for e in events), technician.transcript()
        assert any(e["type"] == "VoiceFinished" and e["cut"] for e in events), technician.transcript()
        assert_heard_before_acknowledged(record, row.job)
    assert any("too early" in line.text for line in technician.program.lines), technician.transcript()


def assert_heard_before_acknowledged(record: Store, job: str) -> None:
    """Two sentences come before the caution, so it is the third utterance that must have been heard whole."""
    entries = record.entries(job)
    acknowledged = next(e.seq for e in entries if e.kind == "caution_acknowledged")
    heard = {
        e.data["utterance"]
        for e in entries
        if e.seq < acknowledged and e.data.get("type") == "VoiceFinished" and not e.data["cut"]
    }
    assert 3 in heard


@pytest.mark.long
def test_beside_a_loudspeaker_it_is_interrupted_by_a_person_and_never_by_itself(
    virtual_audio: PrivateAudio, tmp_path: Path
) -> None:
    # The room: what the loudspeaker says comes back to the microphone 60 ms later, 10 dB weaker.
    with PrivateAudio() as audio:
        audio.add_room_tone()
        audio.add_room(delay_ms=60, gain=0.3)
        store = tmp_path / "jobs.sqlite"
        script = [
            Reply("understood to go on", "understood", times=4),
            # A short word over the loudspeaker is not always heard; of three tries one has to cut it off.
            Reply("pins of the signal plug", "hold", during=0.7, times=3),
            Reply("on hold", "carry on", times=6),
            Reply("isolate the pack", "done", times=3),
            Reply(number("four volts"), "yes", times=3),
            Reply("volt", "four volts", times=4),
            Reply(number("eight"), "yes", times=3),
            Reply("pins", "eight", times=4),
            *PUT_RIGHT,
        ]
        arguments = ["run", str(JOB), "--store", str(store), *QUICK, "--open-ear"]
        with technician_at(audio, arguments, tmp_path / "voice") as technician:
            technician.work(script, timeout_s=120, until="fit the short harness")
            spoken = len(technician.turns)
            technician.program.interrupt()
            technician.program.wait(10)
        with open_store(store) as record:
            (row,) = record.open_jobs()
            events = [e.data for e in record.entries(row.job, kinds=("event",))]
            assert answers_of(record, row.job) == {"link_voltage": 4, "pins": 8}, technician.transcript()
    heard = [e for e in events if e["type"] == "Heard"]
    assert len(heard) <= spoken, technician.transcript()
    assert any(e["type"] == "BargeIn" for e in events), technician.transcript()


@pytest.mark.long
def test_a_headset_that_is_pulled_holds_the_job_until_it_is_back(
    virtual_audio: PrivateAudio, tmp_path: Path
) -> None:
    with PrivateAudio() as audio:
        audio.add_room_tone()
        store = tmp_path / "jobs.sqlite"
        with technician_at(audio, with_headset(store), tmp_path / "voice") as technician:
            script = [Reply("understood to go on", "understood", times=4), *PUT_RIGHT]
            technician.work(script, timeout_s=60, until="isolate the pack")
            audio.unplug_microphone()
            lost = technician.program.wait_for(lambda line: "lost the microphone" in line.text, 20.0)
            assert lost is not None, technician.transcript()
            audio.plug_microphone()
            audio.add_room_tone()
            mark = len(technician.program.lines)
            back = technician.program.wait_for(lambda line: "microphone is back" in line.text, 20.0, mark - 1)
            assert back is not None, technician.transcript()
            technician.loudspeaker.wait_for_silence(0.6, 15.0)
            technician.say("done")
            done = technician.program.wait_for(lambda line: "link voltage" in line.text, 20.0, mark)
            assert done is not None, technician.transcript()
        with open_store(store) as record:
            (row,) = record.open_jobs()
            assert [e.data["lost"] for e in record.entries(row.job, kinds=("device",))] == [True, False]
