"""sayso proposes more or less detail from what it measured, says why, and leaves the choice to the person."""

from __future__ import annotations

from collections.abc import Callable

from sayso.dialogue import advance, begin, replay
from sayso.dialogue.effects import Say
from sayso.dialogue.events import DeviceBack, DeviceLost, Event, Heard, NoiseChanged, Resumed, Started
from sayso.dialogue.guidance import ENOUGH_STEPS, propose
from sayso.dialogue.snapshot import from_json
from sayso.dialogue.state import Effort
from sayso.procedure.model import AskCount, AskDone, AskTorque, Place, Procedure, Step

from .bench_job import BenchJob, step

STEPS = tuple(
    Step(f"bolt-{i}", f"Tighten bolt {i}.", AskDone(f"bolt_{i}"), Place("bolts.yaml", i, 1))
    for i in range(12)
)
BOLTS = Procedure("bolts", "Bolts", 1, STEPS, "0" * 64, "bolts.yaml")
USUAL = tuple((step.id, 20.0, 60.0) for step in STEPS)


def job(
    seconds_a_step: float, before_done: tuple[str, ...] = (), **started: object
) -> tuple[list[Event], list[str]]:
    """All events of the job and all that was said, with `before_done` spoken on each step."""
    at = 1_000
    events: list[Event] = [Started(at, "job", **started)]  # type: ignore[arg-type]
    for _ in STEPS:
        for words in before_done:
            events.append(Heard(at + 1, (words,), typed=True))
        at += int(seconds_a_step * 1000)
        events.append(Heard(at, ("done",), typed=True))
    state, said = begin(BOLTS), []
    for event in events:
        state, effects = advance(state, event)
        said += [effect.text for effect in effects if isinstance(effect, Say)]
    assert replay(BOLTS, events) == state
    assert from_json(BOLTS, state.as_json()) == state
    return events, said


def proposals(said: list[str]) -> list[str]:
    return [text for text in said if "detail if you want it" in text]


def test_who_asks_for_repeats_is_offered_more_detail_once_and_told_why() -> None:
    _, said = job(30, ("repeat",))
    assert proposals(said) == [
        "You asked for a repeat or for help in 5 of 5 steps. Say more detail if you want it."
    ]


def test_who_is_not_understood_twice_at_most_steps_is_offered_more_detail() -> None:
    _, said = job(30, ("banana", "banana"))
    assert proposals(said) == [
        "In 5 of 5 steps I did not understand you at once. Say more detail if you want it."
    ]
    assert proposals(job(30, ("banana",))[1]) == []  # a cough is nobody's fault


def test_what_is_not_understood_in_noise_is_not_held_against_anybody() -> None:
    job = BenchJob(*STEPS)
    job.happens(NoiseChanged(job.now, True, 8.0))
    for _ in range(ENOUGH_STEPS):
        job.hears_each("banana", "banana").key("done").key("yes")
    assert len(job.state.efforts) == ENOUGH_STEPS
    assert job.state.proposed == ()
    assert all(effort.missed == 0 for effort in job.state.efforts)


def test_words_missed_before_a_read_back_count_too() -> None:
    job = BenchJob(step("pins", "Count the pins.", AskCount("pins", 6, 14, read_back=True)), step("on"))
    job.hears_each("banana", "banana", "eight", "yes")
    assert [effort.missed for effort in job.state.efforts] == [2]


def test_a_step_that_was_interrupted_is_compared_with_nothing() -> None:
    """A lunch break is no slow work, and a step come back to after a crash no quick work."""
    usual = (("one", 20.0, 60.0), ("two", 20.0, 60.0))

    def efforts(interrupt: Callable[[BenchJob], object]) -> tuple[Effort, ...]:
        job = BenchJob(step("one"), step("two"), step("three"), usual=usual)
        interrupt(job)
        job.later(3600).hears("carry on")
        job.happens(DeviceBack(job.now, "headset"))
        return job.hears("done").hears("done").state.efforts

    for interrupt in (
        lambda job: job.hears("hold"),
        lambda job: job.happens(DeviceLost(job.now, "headset")),
        lambda job: job.happens(Resumed(job.now + 5_000_000)),
    ):
        first, second = efforts(interrupt)
        assert (first.seconds, first.upper_s) == (0, 0)
        assert (second.seconds, second.upper_s) == (3, 60)


def test_the_time_of_a_guess_is_no_time_at_the_step() -> None:
    nut = step("nut", "Torque the nut.", AskTorque("nut", 40.0, 36.0, 44.0))
    job = BenchJob(nut, step("next"), level="full", ask_first=("nut/torque",))
    job.later(600).hears("forty").later(20).hears("forty").hears("yes")
    assert [effort.seconds for effort in job.state.efforts] == [3 + 20 + 3]
    for words in ("questions off", "less detail", "tell me"):
        job = BenchJob(nut, step("next"), level="full", ask_first=("nut/torque",))
        job.later(600).hears(words).later(20).hears("forty").hears("yes")
        assert [effort.seconds for effort in job.state.efforts] == [3 + 20 + 3], words
        assert [data["outcome"] for data in job.recorded("prediction")] == ["told"]


def test_who_is_slower_than_the_shop_is_offered_more_detail() -> None:
    _, said = job(90, usual=USUAL)
    assert proposals(said) == [
        "5 of 5 steps took longer than they mostly do here. Say more detail if you want it."
    ]


def test_who_is_quicker_than_the_shop_is_offered_less() -> None:
    _, said = job(5, usual=USUAL)
    assert proposals(said) == [
        "5 of 5 steps were quicker than they mostly are here. Say less detail if you want it."
    ]


def test_an_ordinary_job_hears_no_proposal() -> None:
    assert proposals(job(30, usual=USUAL)[1]) == []
    assert proposals(job(5)[1]) == []
    assert proposals(job(30, ("repeat",), quiet=True)[1]) == []


def test_the_least_detail_is_never_lowered_and_the_most_never_raised() -> None:
    quick = (Effort(5, 0, 0, 20, 60),) * ENOUGH_STEPS
    asking = (Effort(30, 1, 0),) * ENOUGH_STEPS
    assert propose("brief", quick) is None
    assert propose("full", asking) is None


def test_missed_words_never_lead_to_less_detail() -> None:
    assert propose("normal", (Effort(5, 0, 1, 20, 60),) * ENOUGH_STEPS) is None
