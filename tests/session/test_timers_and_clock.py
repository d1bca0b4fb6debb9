"""Timers end by the time of day, so that a restart changes nothing; the clock never runs backwards."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sayso.dialogue.effects import CancelTimer, StartTimer
from sayso.dialogue.events import Resumed, TimerDone
from sayso.record.store import Store
from sayso.session.clock import Clock, since_boot_mark, true_ms
from sayso.session.opening import read_procedure, resume_job
from sayso.session.timers import Timers
from tests.session.typed_job import go_on, new_job

WAITING = """\
procedure: wait
title: Wait
revision: 1
steps:
  - id: discharge
    say: Wait for the capacitors.
    wait: 5 min
    ask: {measure: link_voltage, unit: V, below: 5, plausible: [0, 60]}
"""


@given(st.lists(st.tuples(st.sampled_from("abc"), st.integers(0, 1000)), min_size=1))
def test_the_next_timer_is_the_one_that_ends_first(starts: list[tuple[str, int]]) -> None:
    timers = Timers()
    timers.follow(StartTimer(name, 0.0, due) for name, due in starts)
    last = dict(starts)
    assert timers.next is not None
    assert timers.next[1] == min(last.values())
    assert last[timers.next[0]] == timers.next[1]


def test_a_cancelled_timer_never_ends() -> None:
    timers = Timers()
    timers.follow([StartTimer("dwell", 5.0, 5000), CancelTimer("dwell")])
    assert timers.next is None
    assert timers.seconds_left(0) is None


def test_a_timer_that_ended_while_the_program_was_away_is_due_at_once() -> None:
    timers = Timers()
    timers.follow([StartTimer("dwell", 5.0, 5000)])
    assert timers.seconds_left(60_000) == 0.0


def test_the_clock_never_runs_backwards(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = Clock()
    first = clock.now_ms()
    monkeypatch.setattr(time, "time", lambda: first / 1000 - 3600)
    assert clock.now_ms() >= first


def test_a_clock_that_was_set_back_an_hour_goes_on_at_its_true_pace(monkeypatch: pytest.MonkeyPatch) -> None:
    """A wait of 45 s must last 45 s, and not until the old hour has come again."""
    wall, since_boot = [1_795_600_000.0], [100.0]
    monkeypatch.setattr("time.time", lambda: wall[0])
    monkeypatch.setattr("sayso.session.clock.since_boot_s", lambda: since_boot[0])
    clock = Clock()
    start = clock.now_ms()
    wall[0] -= 3600
    for second in range(1, 46):
        wall[0] += 1
        since_boot[0] += 1
        assert clock.now_ms() == start + second * 1000
    wall[0] += 7200  # set right again: the true time counts at once
    assert clock.now_ms() == int(wall[0] * 1000)


def test_a_clock_set_forward_makes_no_wait_shorter(monkeypatch: pytest.MonkeyPatch) -> None:
    """A laptop whose clock was wrong finds the network in the middle of a discharge of 5 minutes."""
    wall, since_boot = [1_795_600_000.0], [100.0]
    monkeypatch.setattr("time.time", lambda: wall[0])
    monkeypatch.setattr("sayso.session.clock.since_boot_s", lambda: since_boot[0])
    clock = Clock()
    clock.waiting = True
    start = clock.now_ms()
    wall[0] += 3600
    for second in range(1, 301):
        wall[0] += 1
        since_boot[0] += 1
        assert clock.now_ms() == start + second * 1000
    clock.waiting = False  # the wait is over: the true time counts
    assert clock.now_ms() == int(wall[0] * 1000)
    clock.waiting = True
    wall[0] += 0.4  # trimmed by the network
    assert clock.now_ms() == int(wall[0] * 1000)
    wall[0] += 600
    since_boot[0] += 600  # the lid was closed: that time has passed
    assert clock.now_ms() == int(wall[0] * 1000)


def test_a_job_with_a_wait_in_it_tells_its_clock_so(store: Store, tmp_path: Path) -> None:
    file = tmp_path / "wait.yaml"
    file.write_text(WAITING)
    from sayso.session.opening import JobOptions
    from sayso.session.running import begun

    with begun(store, read_procedure(file, "en", {}), JobOptions()) as (job, first):
        assert not job.clock.waiting
        job.handle(first)
        assert job.clock.waiting
    again = resume_job(store, None)
    assert again.clock.waiting
    assert again.timers.next is not None
    name, due = again.timers.next
    again.clock.skip_to(due)
    again.handle(TimerDone(again.clock.now_ms(), name))
    assert not again.clock.waiting
    again.journal.close()


def test_a_clock_begins_no_earlier_than_the_job_it_takes_up() -> None:
    later = int(time.time() * 1000) + 86_400_000
    assert Clock(not_before_ms=later).now_ms() >= later


def test_a_wait_survives_a_restart_with_the_time_at_which_it_ends(store: Store, tmp_path: Path) -> None:
    file = tmp_path / "wait.yaml"
    file.write_text(WAITING)
    from sayso.session.opening import JobOptions
    from sayso.session.running import begun

    procedure = read_procedure(file, "en", {})
    with begun(store, procedure, JobOptions()) as (job, first):
        job.handle(first)
        due = job.timers.next
    assert due is not None
    again = resume_job(store, None)
    again.journal.close()
    assert again.timers.next == due


def test_in_a_rehearsal_a_wait_passes_at_once(store: Store, tmp_path: Path) -> None:
    file = tmp_path / "wait.yaml"
    file.write_text(WAITING)
    ended, transcript = new_job(store, read_procedure(file, "en", {}), ("2 volts", "yes"))
    assert ended.outcome == "complete", transcript
    waited = store.entries(ended.job)
    assert waited[-1].at_ms - waited[0].at_ms >= 300_000


def test_a_rehearsal_left_after_a_wait_goes_on(store: Store, tmp_path: Path) -> None:
    file = tmp_path / "wait.yaml"
    file.write_text(WAITING)
    new_job(store, read_procedure(file, "en", {}), ())
    ended, transcript = go_on(store, None, ("2 volts", "yes"))
    assert ended.outcome == "complete", transcript


class _Machine:
    """Its clock and how long it has run, as a test sets them. Boots have a name; 'no system tells' is ''."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.wall, self.ran, self.boot = 1_764_080_000.0, 500.0, "first"
        monkeypatch.setattr("sayso.session.clock.time.time", lambda: self.wall)
        monkeypatch.setattr("sayso.session.clock.since_boot_s", lambda: self.ran)
        for where in ("clock", "job"):
            monkeypatch.setattr(f"sayso.session.{where}.since_boot_mark", self.mark)

    def mark(self) -> dict[str, object]:
        return {"boot": self.boot, "since_boot_ms": int(self.ran * 1000)} if self.boot else {}


@pytest.mark.parametrize(
    ("set_by", "boot", "left"),
    [
        (0, "first", 200),  # 100 s have passed of 300
        (3600, "first", 200),  # it was over at once: the capacitors were 'discharged' after 100 s
        (-3600, "first", 200),
        (3600, "second", 0),  # started anew meanwhile: nothing can tell that the clock was set
        (3600, "", 0),
    ],
)
def test_a_clock_set_between_two_starts_makes_no_wait_shorter_nor_longer(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, set_by: int, boot: str, left: int
) -> None:
    from sayso.session.opening import JobOptions
    from sayso.session.running import begun

    file = tmp_path / "wait.yaml"
    file.write_text(WAITING)
    machine = _Machine(monkeypatch)
    with begun(store, read_procedure(file, "en", {}), JobOptions()) as (job, first):
        job.handle(first)
    machine.wall += 100 + set_by
    machine.ran, machine.boot = (600.0, "first") if boot == "first" else (20.0, boot)
    again = resume_job(store, None)
    again.handle(Resumed(again.clock.now_ms()))
    waits = again.timers.next is not None
    assert waits is bool(left)
    if waits:
        assert again.timers.seconds_left(again.clock.now_ms()) == pytest.approx(left, abs=0.01)
        machine.wall += left
        machine.ran += left
        assert again.timers.seconds_left(again.clock.now_ms()) == 0
    again.journal.close()


def test_a_mark_of_another_run_of_the_machine_tells_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    machine = _Machine(monkeypatch)
    noted = int(machine.wall * 1000), {"boot": "first", "since_boot_ms": 400_000}
    assert true_ms(*noted) == noted[0] + 100_000
    machine.boot = "second"
    assert true_ms(*noted) is None


def test_this_machine_tells_how_long_it_has_run() -> None:
    """On Linux, whose kernel names each of its runs (random(4)); elsewhere nothing is noted."""
    first, later = since_boot_mark(), since_boot_mark()
    assert bool(first) is Path("/proc/sys/kernel/random/boot_id").exists()
    if first:
        assert first["boot"] == later["boot"]
        assert first["since_boot_ms"] <= later["since_boot_ms"]
        noted = true_ms(1_000_000, first)
        assert noted is not None
        assert noted >= 1_000_000
