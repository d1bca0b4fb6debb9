"""A clock set forward, or a machine asleep, during a job: told, and no time at work."""

from __future__ import annotations

import re
from datetime import UTC
from pathlib import Path

import pytest

from sayso.dialogue.events import Event, Heard, Started, VoiceFinished
from sayso.record.export import rows_of
from sayso.record.figures import figures_of
from sayso.record.report import ReportOptions, render
from sayso.record.store import Store
from sayso.record.story_telling import story_of
from sayso.record.verify import verify_job
from sayso.session.clock import Clock
from sayso.session.opening import JobOptions, open_job, read_procedure, resume_job

TWO_STEPS = """\
procedure: two-steps
title: Two steps
revision: 1
steps:
  - id: cover
    say: Take off the cover.
  - id: pins
    say: Count the pins.
    ask: {count: pins, from: 1, to: 20}
"""


class Machine:
    """Its time of day, how long it has run, and how long of that it was awake, as a test sets them."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, *, system: str = "linux") -> None:
        self.wall, self.ran, self.awake = 1_764_080_000.0, 500.0, 500.0
        monkeypatch.setattr("sayso.session.clock.sys.platform", system)
        monkeypatch.setattr("sayso.session.clock.time.time", lambda: self.wall)
        monkeypatch.setattr("sayso.session.clock.time.monotonic", lambda: self.awake)
        monkeypatch.setattr(
            "sayso.session.clock.since_boot_s", lambda: self.ran if system == "linux" else self.awake
        )

    def work(self, seconds: float) -> None:
        self.wall += seconds
        self.ran += seconds
        self.awake += seconds

    def sleep(self, seconds: float) -> None:
        self.wall += seconds
        self.ran += seconds


class Shop:
    """A job on TWO_STEPS whose technician says one thing after the other."""

    def __init__(self, store: Store, folder: Path) -> None:
        file = folder / "two-steps.yaml"
        file.write_text(TWO_STEPS)
        self.store = store
        options = JobOptions("Wren 48", "Ada Finch", questions=False)
        self.job, started = open_job(store, read_procedure(file, "en", {}), options)
        self.handle(started)
        for _ in range(3):
            if self.job.state.at < 0:
                self.say("ready")

    def handle(self, event: Event | Started) -> None:
        self.job.handle(event)
        if self.job.state.speaking:
            self.job.handle(VoiceFinished(self.job.clock.now_ms(), self.job.state.utterance))

    def say(self, words: str) -> None:
        self.handle(Heard(self.job.clock.now_ms(), tuple(words.split()), 0.99))

    def report(self) -> str:
        told = render(self.store, self.job.journal.job, ReportOptions(zone=UTC))
        return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", told))

    def took_ms(self) -> dict[str, int | None]:
        story = story_of(self.store.entries(self.job.journal.job))
        return {visit.step: visit.working_ms for visit in story.visits}

    def finish(self) -> None:
        """To the end of the job, from the count of pins on: it is read back."""
        self.say("eight")
        if self.job.outcome is None:
            self.say("yes")
        assert self.job.outcome == "complete"
        self.job.journal.close()


@pytest.mark.parametrize(
    ("system", "happens", "why"),
    [
        ("linux", "set", "the clock was set forward by"),
        ("linux", "sleep", "the machine was asleep for"),
        ("darwin", "sleep", "the clock was set forward by, or the machine asleep for,"),
    ],
)
def test_hours_that_only_the_clock_went_on_are_told_and_are_no_time_at_work(
    any_store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, system: str, happens: str, why: str
) -> None:
    """It stood in report, figures and export as three hours at a step that took half a minute."""
    machine = Machine(monkeypatch, system=system)
    shop = Shop(any_store, tmp_path)
    machine.work(10)
    if happens == "set":
        machine.wall += 3 * 3600
    else:
        machine.sleep(3 * 3600)
    machine.work(20)
    shop.say("done")
    machine.work(5)
    shop.finish()

    entries = any_store.entries(shop.job.journal.job)
    assert entries[-1].at_ms - entries[0].at_ms >= 3 * 3_600_000  # what was recorded stands
    assert shop.took_ms() == {"cover": 30_000, "pins": 5_000}
    seconds = {s.step: s.seconds.p50 for s in figures_of(any_store).steps if s.seconds}
    assert seconds == {"cover": 30, "pins": 5}
    (person,) = figures_of(any_store, people=True).people or ()
    assert person.minutes == pytest.approx(35 / 60)
    rows = rows_of(any_store, [shop.job.journal.job])
    assert [row["seconds"] for row in rows if row["row"] == "answer"] == [30.0, 5.0]
    told = shop.report()
    assert f": {why} 3 h 00 min, no time at work" in told
    assert "Time at work 35 s" in told
    verdict = verify_job(any_store, shop.job.journal.job)
    assert verdict.sound
    assert [remark for remark in verdict.remarks if remark.startswith(f"{why} 10800 s before entry")]


def test_a_hold_in_which_the_clock_was_set_is_taken_off_once(
    any_store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    machine = Machine(monkeypatch)
    shop = Shop(any_store, tmp_path)
    machine.work(10)
    shop.say("hold")
    machine.work(60)
    machine.wall += 7200
    machine.work(60)
    shop.say("carry on")
    machine.work(20)
    shop.say("done")
    shop.finish()
    assert shop.took_ms()["cover"] == 30_000
    seconds = {s.step: s.seconds.p50 for s in figures_of(any_store).steps if s.seconds}
    assert seconds["cover"] == 30


def test_a_job_without_such_a_jump_has_no_entry_for_it(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    machine = Machine(monkeypatch)
    shop = Shop(store, tmp_path)
    machine.work(30)
    machine.wall += 0.4  # trimmed by the network
    shop.say("done")
    machine.wall -= 3600  # set back and right again: nothing is lost
    machine.work(5)
    shop.job.clock.now_ms()
    machine.wall += 3600
    shop.finish()
    assert not store.entries(shop.job.journal.job, kinds=("clock",))


def test_a_job_whose_clock_jumped_is_taken_up_again_where_it_was(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    machine = Machine(monkeypatch)
    shop = Shop(store, tmp_path)
    machine.wall += 7200
    shop.say("done")
    shop.job.journal.close()
    again = resume_job(store, None)
    assert again.state == shop.job.state
    again.journal.close()


def test_a_clock_set_forward_in_a_wait_is_lost_when_the_wait_is_over(monkeypatch: pytest.MonkeyPatch) -> None:
    machine = Machine(monkeypatch)
    clock = Clock()
    clock.waiting = True
    machine.wall += 3600
    machine.work(300)
    clock.now_ms()
    assert clock.lost() == {}
    clock.waiting = False
    clock.now_ms()
    assert clock.lost() == {"set_forward_ms": 3_600_000}
    clock.told_lost()
    assert clock.lost() == {}


def test_a_step_of_more_than_four_hours_is_said_to_be_in_no_figure(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Left over night without a hold; or the clock was set, in a record of the sayso before this one."""
    machine = Machine(monkeypatch)
    shop = Shop(store, tmp_path)
    machine.work(14 * 3600)
    shop.say("done")
    shop.finish()
    assert "14 h 00 min more than 4 h: not in the figures" in shop.report()
    assert figures_of(store).left_out == 1
