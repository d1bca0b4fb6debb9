"""The power fails between any two effects of a job: before the commit, after it, after each word, anywhere.

What was committed is there, nothing is there twice, and the job ends with the answers it has without the cut.
A technician who reads the state of the job (as a person reads the question) goes on where it was taken up.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from sayso import dialogue
from sayso.dialogue.codec import event_from_json
from sayso.dialogue.events import Event, Heard, Resumed, Started, TimerDone, VoiceFinished
from sayso.dialogue.state import Awaiting, State
from sayso.procedure.model import AskTorque, Procedure
from sayso.record.store import Store
from sayso.record.verify import verify
from sayso.session.job import Job
from sayso.session.loop import Loop
from sayso.session.note_taking import as_wav
from sayso.session.opening import JobOptions, read_procedure, resume_job
from sayso.session.running import begun
from tests.session.test_commit_before_acting import FullDisk, Hands

DEMO = Path(__file__).parents[2] / "procedures" / "wren-48-drive-controller.yaml"
STARTED = Started(1, "job-1", witnesses=(("4471", "Meg Hale"),))
SAID = {
    "link_voltage": "3",
    "pins": "12",
    "harness": "HK1234",
    "clamp": "9",
    "known_source": "13",
    "machine_side": "30",
    "controller": "HK331406",
    "mounting": "96 lbf.in",
    "earth_strap": "9.5",
    "bus_resistance": "60",
    "wheel_diameter": "400",
    "ratio": "20",
    "speed": "3.8",
    "checked_by": "two seven four six",
}


class PowerCut(BaseException):
    """Nothing may catch it: the program is gone."""


class Reading(Hands):
    """Answers whatever the state asks; the power fails at the effect numbered `cut_at`."""

    def __init__(self, loop: Loop, job: Job, cut_at: int | None) -> None:
        super().__init__([])
        self.loop, self.job, self.left = loop, job, cut_at

    def _effect(self) -> None:
        if self.left is not None:
            if self.left == 0:
                raise PowerCut
            self.left -= 1

    def say(self, effect: Any) -> None:
        self._effect()
        self.loop.post(VoiceFinished(self.loop.now_ms(), effect.utterance))

    def stop_voice(self) -> None:
        self._effect()

    def listen(self, effect: Any, question: int, state: State) -> None:
        self._effect()
        self.question = question

    def stop_listening(self) -> None:
        self._effect()

    def after(self, event: Event, state: State) -> None:
        self._effect()

    def ready(self) -> None:
        state = self.job.state
        if state.awaiting is Awaiting.WAIT:
            self.loop.post(TimerDone(state.visit.due_ms, next(iter(state.timers))))
            return
        words = _reply(state)
        self.loop.post(Heard(self.loop.now_ms(), tuple(words.split()), typed=True), self.question)


def _reply(state: State) -> str:
    if state.on_hold:
        return "carry on"
    match state.awaiting:
        case Awaiting.READY:
            return "ready"
        case Awaiting.CAUTION:
            return "understood"
        case Awaiting.CONFIRM:
            return "yes"
    ask = state.step.ask
    if isinstance(ask, AskTorque):
        return SAID.get(ask.name) or f"{ask.target:g} N.m"
    return SAID.get(ask.name) or ("yes" if ask.kind == "yes_no" else "done")


class CutCommits(FullDisk):
    """A journal in which the power may fail just before or just after an entry is durable."""

    def __init__(self, before: int | None = None, after: int | None = None) -> None:
        super().__init__([])
        self.before, self.after_, self.commits = before, after, 0
        self.was_cut = False

    def commit(self, event: Any, records: Any = ()) -> None:
        self.commits += 1
        if self.commits == self.before:
            raise PowerCut
        super().commit(event, records)
        self.records = [*getattr(self, "records", []), *records]
        if self.commits == self.after_:
            raise PowerCut


def run(journal: CutCommits, procedure: Procedure, cut_at: int | None, first: Event, job: Job) -> Job:
    loop = Loop(job)
    loop.run(first, Reading(loop, job, cut_at))
    return job


def finished_after(procedure: Procedure, cut_at: int | None, journal: CutCommits) -> tuple[Job, CutCommits]:
    """The job with one power cut, taken up again and done to its end."""
    job = Job(procedure, journal)
    try:
        return run(journal, procedure, cut_at, STARTED, job), journal
    except PowerCut:
        journal.was_cut = True
    journal.before = journal.after_ = None
    durable = [event_from_json(data) for data in journal.events()]
    again = Job.replayed(procedure, journal)
    assert again.state == dialogue.replay(procedure, durable)
    if not durable:  # not even the start was durable: there is no job to take up
        return run(journal, procedure, None, STARTED, again), journal
    if again.outcome is not None:
        return again, journal
    return run(journal, procedure, None, Resumed(again.clock.now_ms()), again), journal


def answers_in(journal: CutCommits) -> dict[tuple[int, str], object]:
    found: dict[tuple[int, str], object] = {}
    for record in journal.records:
        if record.kind == "answer":
            key = (record.data["visit"], record.data["name"])
            assert key not in found, f"{key} stands there twice"
            found[key] = record.data["value"]
    return found


def every_cut(procedure: Procedure, step: int) -> int:
    whole, journal = finished_after(procedure, None, CutCommits())
    assert whole.outcome == "complete"
    wanted, commits = answers_in(journal), journal.commits
    cuts = 0
    for number in range(1, commits + 1, step):
        for faulty in (CutCommits(before=number), CutCommits(after=number)):
            job, journal = finished_after(procedure, None, faulty)
            assert job.outcome == "complete"
            assert answers_in(journal) == wanted, number
            cuts += 1
    effect = 0
    while True:
        journal = CutCommits()
        job, journal = finished_after(procedure, effect, journal)
        assert job.outcome == "complete"
        assert answers_in(journal) == wanted, effect
        if not journal.was_cut:
            return cuts  # that many effects the job does not have
        cuts += 1
        effect += step


def test_a_cut_between_any_two_effects_of_a_job_changes_nothing_of_its_answers(procedure: Procedure) -> None:
    assert every_cut(procedure, 1) >= 150


@pytest.mark.long
def test_the_same_through_the_demo_job(capsys: pytest.CaptureFixture[str]) -> None:
    cuts = every_cut(read_procedure(DEMO, "en", {}), 40)
    with capsys.disabled():
        print(f"\n{cuts} power cuts, each at another effect or commit: no answer lost, none doubled")
    assert cuts > 20


def test_the_sound_of_a_note_kept_just_before_a_crash_gets_its_entry_when_the_job_is_taken_up(
    store: Store, procedure: Procedure
) -> None:
    audio = as_wav(b"\1\2" * 16_000)
    with begun(store, procedure, JobOptions()) as (job, first):
        job.handle(first)
        job.handle(Heard(2, ("understood",)))
        job.handle(Heard(3, ("note",)))
        clip = job.journal.keep_clip(audio)  # and here the power fails
    again = resume_job(store, None)
    again.journal.close()
    (note,) = store.entries(again.journal.job, kinds=("note",))
    assert (note.data["clip"], note.data["seconds"], note.data["step"]) == (clip, 1.0, "isolate")
    verdict = verify(store)
    assert verdict.sound
    assert not any("no entry names it" in r for j in verdict.jobs for r in j.remarks)
    resume_job(store, None).journal.close()
    assert len(store.entries(again.journal.job, kinds=("note",))) == 1


def test_a_page_that_sends_after_the_end_changes_nothing(procedure: Procedure) -> None:
    journal = CutCommits()
    job = Job(procedure, journal)
    loop = Loop(job)
    loop.run(STARTED, Reading(loop, job, None))
    kept, outcome = len(journal.kept), job.outcome
    loop.press(Heard(loop.now_ms() + 10_000, ("stop",), typed=True))
    loop.post(Heard(loop.now_ms(), ("stop",), 1.0), 3)
    assert (len(journal.kept), job.outcome) == (kept, outcome)
    assert job.handle(Heard(loop.now_ms(), ("stop",))) == ()
    assert job.outcome == outcome == "complete"
