"""Nothing is spoken, asked or timed before the event that led to it is durable."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from sayso.dialogue.effects import KeepClip, Listen, Say
from sayso.dialogue.events import ClipKept, Event, Heard, Started, VoiceFinished
from sayso.dialogue.state import State
from sayso.procedure.model import Procedure
from sayso.record.errors import NotRecordedError, ReadOnlyError
from sayso.session import loop as loop_module
from sayso.session.job import Job
from sayso.session.loop import JobLeftError, Loop


class FullDisk:
    """A journal that fails `failures` times before it takes an entry; `order` is shared with the hands."""

    job = "job-1"

    def __init__(self, order: list[str], failures: int = 0) -> None:
        self.order = order
        self.failures = failures
        self.kept: list[Mapping[str, Any]] = []

    def commit(self, event: Mapping[str, Any], records: Any = ()) -> None:
        if self.failures:
            self.failures -= 1
            self.order.append("not recorded")
            raise NotRecordedError("the disk is full")
        self.kept.append(event)
        self.order.append(f"recorded {event['type']}")

    def events(self) -> list[dict[str, Any]]:
        return [dict(event) for event in self.kept]

    def keep_clip(self, audio: bytes, *, media_type: str = "audio/wav") -> str:
        return ""

    def close(self) -> None:
        pass


class Hands:
    def __init__(self, order: list[str]) -> None:
        self.order = order

    def say(self, effect: Say) -> None:
        self.order.append("said")

    def stop_voice(self) -> None:
        self.order.append("stopped the voice")

    def listen(self, effect: Listen, question: int, state: State) -> None:
        self.order.append("listened")

    def stop_listening(self) -> None:
        self.order.append("closed the ear")

    def keep_clip(self, effect: KeepClip) -> None:
        self.order.append("kept a clip")

    def may_press(self, event: Event) -> bool:
        return True

    def after(self, event: Event, state: State) -> None:
        pass

    def ready(self) -> None:
        pass

    def alert(self, text: str) -> None:
        self.order.append(f"alert: {text}")

    def finish(self) -> None:
        pass


def run(job: Job, hands: Hands, *events: Event) -> None:
    loop = Loop(job)
    for event in events[1:]:
        loop.post(event)
    loop.leave("end of the test")
    with pytest.raises(JobLeftError):
        loop.run(events[0], hands)


STARTED = Started(1, "job-1")


def test_every_word_follows_its_commit(procedure: Procedure) -> None:
    order: list[str] = []
    run(Job(procedure, FullDisk(order)), Hands(order), STARTED, Heard(2, ("understood",)))
    assert order[0] == "recorded Started"
    heard = order.index("recorded Heard")
    assert {"said", "listened"} <= set(order[1:heard])
    assert {"said", "listened"} <= set(order[heard + 1 :])


def test_a_full_disk_is_told_once_and_nothing_else_happens_until_it_is_recorded(
    procedure: Procedure, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(loop_module, "RETRY_S", 0.01)
    order: list[str] = []
    run(Job(procedure, FullDisk(order, failures=3)), Hands(order), STARTED)
    assert order[0] == "not recorded"
    assert order[1].startswith("alert: Not recorded. The job waits.")
    assert order[2:5] == ["not recorded", "not recorded", "recorded Started"]
    assert sum(line.startswith("alert") for line in order) == 1


def test_a_disk_that_fills_up_while_the_voice_speaks_is_told_too(
    procedure: Procedure, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The end of an utterance most often meets the full disk first: a silent wait helps nobody."""
    monkeypatch.setattr(loop_module, "RETRY_S", 0.01)
    order: list[str] = []
    journal = FullDisk(order)
    job = Job(procedure, journal)
    job.handle(STARTED)
    journal.failures = 2
    loop = Loop(job)
    loop.leave("end of the test")
    with pytest.raises(JobLeftError):
        loop.run(VoiceFinished(5, 1), Hands(order))
    assert [line for line in order if line.startswith("alert: Not recorded. The job waits.")]


def _note_spoken(
    procedure: Procedure, monkeypatch: pytest.MonkeyPatch, *, failures: int, patience_s: float
) -> tuple[list[str], list[Mapping[str, Any]], int]:
    """What happened, what is recorded, how often the sound was tried, after a note said into a full disk."""
    monkeypatch.setattr(loop_module, "RETRY_S", 0.01)
    monkeypatch.setattr(loop_module, "KEEP_NOTE_S", patience_s)
    order: list[str] = []
    journal = FullDisk(order)
    tried = 0

    def keep() -> Event:
        nonlocal tried
        tried += 1
        if tried <= failures:
            raise NotRecordedError("the disk is full")
        return ClipKept(4, "note 1", "ab" * 32, 3.5)

    loop = Loop(Job(procedure, journal))
    loop.post(Heard(2, ("understood",)))
    loop.post(Heard(3, ("note",)))
    loop.post_note(keep, ClipKept(4, "note 1", "", 0.0))
    loop.leave("end of the test")
    with pytest.raises(JobLeftError):
        loop.run(STARTED, Hands(order))
    return order, journal.kept, tried


def test_the_sound_of_a_note_is_kept_as_soon_as_there_is_room(
    procedure: Procedure, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It was given up at the first failure; what had been said was lost."""
    order, kept, _ = _note_spoken(procedure, monkeypatch, failures=3, patience_s=3600)
    assert kept[-1]["clip"] == "ab" * 32
    alerts = [line for line in order if line.startswith("alert")]
    assert alerts == ["alert: The note is not kept yet. It is tried for a minute. the disk is full"]


def test_a_note_that_never_fits_does_not_hold_the_job_up_for_ever(
    procedure: Procedure, monkeypatch: pytest.MonkeyPatch
) -> None:
    order, kept, tried = _note_spoken(procedure, monkeypatch, failures=10**6, patience_s=0.05)
    assert tried > 1
    assert (kept[-1]["type"], kept[-1]["clip"]) == ("ClipKept", "")  # the dialogue says that none was kept
    assert sum(line.startswith("alert") for line in order) == 1


class NotOurs(FullDisk):
    """A record that this user may only read."""

    def commit(self, event: Mapping[str, Any], records: Any = ()) -> None:
        if self.failures:
            self.failures -= 1
            raise ReadOnlyError("this user may not do that")
        super().commit(event, records)


def test_who_may_not_write_the_record_is_told_so_and_does_not_wait_for_ever(procedure: Procedure) -> None:
    with pytest.raises(ReadOnlyError):
        Loop(Job(procedure, NotOurs([], failures=1))).run(STARTED, Hands([]))


def test_a_record_that_becomes_read_only_in_the_middle_of_a_job_is_waited_for(
    procedure: Procedure, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sayso.session.loop.RETRY_S", 0.01)
    order: list[str] = []
    journal = NotOurs(order)

    def break_it(view: Mapping[str, Any]) -> None:
        journal.failures = 2 if len(journal.kept) == 1 else 0

    loop = Loop(Job(procedure, journal), break_it)
    loop.post(Heard(2, ("understood",)), 1)
    loop.leave("end of the test")
    with pytest.raises(JobLeftError):
        loop.run(STARTED, Hands(order))
    assert [event["type"] for event in journal.kept] == ["Started", "Heard"]
    assert any(line.startswith("alert: Not recorded.") for line in order)


def test_the_state_does_not_change_when_the_commit_fails(procedure: Procedure) -> None:
    job = Job(procedure, FullDisk([], failures=1))
    before = job.state
    with pytest.raises(NotRecordedError):
        job.handle(STARTED)
    assert job.state is before
    job.handle(STARTED)
    assert job.state is not before


def test_words_to_an_older_question_do_not_answer_the_next_one(procedure: Procedure) -> None:
    order: list[str] = []
    journal = FullDisk(order)
    job = Job(procedure, journal)
    loop = Loop(job)
    hands = Hands(order)
    first = 1  # the number of the question that `Started` opens
    loop.post(Heard(2, ("understood",)), first)  # acknowledges the caution: question 2 is 'isolate'
    loop.post(Heard(3, ("done",)), 2)  # question 3 is the voltage
    loop.post(Heard(4, ("three", "volts")), 1)  # said to question 1, came late
    loop.leave("end of the test")
    with pytest.raises(JobLeftError):
        loop.run(STARTED, hands)
    assert [event["type"] for event in journal.kept] == ["Started", "Heard", "Heard"]
    assert job.state.step.id == "voltage"
    assert job.state.pending is None


def test_a_replayed_job_equals_the_one_that_ran(procedure: Procedure) -> None:
    journal = FullDisk([])
    job = Job(procedure, journal)
    said = [
        STARTED,
        *(Heard(n, tuple(w.split()), typed=True) for n, w in enumerate(("understood", "done", "3 V"))),
    ]
    run(job, Hands([]), *said)
    assert Job.replayed(procedure, journal).state == job.state
