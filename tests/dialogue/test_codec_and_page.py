"""Events and states as JSON, the plan of a job, and what the page is shown."""

from __future__ import annotations

import json
import typing

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sayso.dialogue import begin, snapshot
from sayso.dialogue.codec import EventError, event_from_json, event_to_json
from sayso.dialogue.events import Event, Heard, Started
from sayso.dialogue.plan import plan_of
from sayso.dialogue.view import View
from sayso.procedure.model import END, AskCount, AskTorque, AskWitness

from .bench_job import BenchJob, branches, procedure, step, warning

_any_event = st.one_of([st.from_type(kind) for kind in typing.get_args(Event)])


@settings(deadline=None, max_examples=200)
@given(_any_event)
def test_every_event_comes_back_from_json_as_it_was(event: Event) -> None:
    data = event_to_json(event)
    assert data["type"] == type(event).__name__
    try:
        text = json.dumps(data, allow_nan=False)
    except ValueError:
        return  # a confidence that is not a number is nothing that a recogniser gives
    assert event_from_json(json.loads(text)) == event


@pytest.mark.parametrize(
    ("data", "told"),
    [
        ({"type": "Shouted", "at_ms": 1}, "no event; known are"),
        ({"type": "Heard", "at_ms": 1}, "Heard needs words"),
        ({"type": "Heard", "at_ms": "noon", "words": []}, "Heard.at_ms must be int"),
        ({"type": "Heard", "at_ms": 1, "words": [3]}, "Heard.words must be str"),
        ({"type": "Heard", "at_ms": 1, "words": "four"}, "must be a list"),
        ({"type": "NoInput", "at_ms": 1, "mood": "bad"}, "NoInput has no field 'mood'"),
        ({"type": "Started", "at_ms": 1, "job": "J", "level": "loud"}, "must be one of full, normal, brief"),
        ({"type": "NoInput", "at_ms": True}, "NoInput.at_ms must be int"),
    ],
)
def test_what_is_no_event_is_refused_in_plain_words(data: dict[str, object], told: str) -> None:
    with pytest.raises(EventError, match=told):
        event_from_json(data)


def test_whole_numbers_of_a_journal_become_fractions_where_the_event_has_them() -> None:
    event = event_from_json({"type": "Heard", "at_ms": 1, "words": ["four"], "confidence": 1})
    assert event == Heard(1, ("four",), 1.0)


def test_a_snapshot_of_another_text_is_refused() -> None:
    job = BenchJob(step("one"))
    other = type(job.procedure)("bench", "Bench job", 3, job.procedure.steps, "1" * 64, "bench.yaml")
    with pytest.raises(snapshot.SnapshotError, match="open it with the text"):
        snapshot.from_json(other, job.state.as_json())


def test_nothing_happens_before_the_job_is_started() -> None:
    state = begin(procedure(step("one")))
    from sayso.dialogue import advance

    assert advance(state, Heard(1, ("done",))) == (state, ())


def test_a_job_is_started_once() -> None:
    job = BenchJob(step("one"), step("two")).hears("done")
    before = job.state
    job.happens(Started(job.now, "J-8"))
    assert job.state is before


# --- how far it is ------------------------------------------------------------------------------


def test_the_way_ahead_is_counted_on_its_longest_branch_and_called_so() -> None:
    plan = plan_of(
        procedure(
            step("pins", ask=AskCount("pins", 1, 20), then=branches(_8="short", _12="long")),
            step("short", then=branches("cover")),
            step("long"),
            step("longer"),
            step("cover", then=branches(END)),
        )
    )
    assert plan.remaining == (4, 2, 3, 2, 1)
    assert plan.certain == (False, True, True, True, True)


def test_a_repair_that_leads_back_is_as_far_from_the_end_as_where_it_leads() -> None:
    plan = plan_of(
        procedure(
            step("ask", then=branches("ok", _8="repair")), step("repair", then=branches("ask")), step("ok")
        )
    )
    assert plan.remaining == (2, 3, 1)


# --- the page -----------------------------------------------------------------------------------


def test_the_page_is_shown_every_field_it_is_promised() -> None:
    job = BenchJob(step("one"))
    assert set(job.shown) == set(View.__annotations__)


def test_the_page_follows_the_job() -> None:
    job = BenchJob(
        step("lift", "Lift it. Slowly.", cautions=warning("It falls."), picture="lift.png", section="Axle"),
        step("busbar", "Torque the busbar.", AskTorque("busbar", 9.0, 8.1, 9.9, fasteners=2), wait_s=30),
    )
    shown = job.shown
    assert (shown["condition"], shown["awaiting"]) == ("speaking", "caution")
    assert shown["cautions"] == [{"level": "warning", "text": "It falls.", "acknowledged": False}]
    assert (shown["step_title"], shown["picture"], shown["section"]) == ("Lift it", "lift.png", "Axle")
    assert (shown["number"], shown["of"], shown["done"], shown["remaining"]) == (1, 2, 0, 2)
    shown = job.hears("understood", confidence=0.93).shown
    assert shown["heard"] == {"words": "understood", "confidence": 0.93, "used": True, "typed": False}
    assert shown["cautions"][0]["acknowledged"]
    assert job.voice_finished().shown["condition"] == "listening"
    shown = job.hears("mumble").shown
    assert shown["heard"]["used"] is False
    shown = job.hears("done").shown
    assert shown["torque"] == {"target": 9.0, "low": 8.1, "high": 9.9, "unit": "N.m", "fasteners": 2}
    assert shown["timer_due_ms"] == job.now + 30_000
    assert job.voice_finished().shown["condition"] == "waiting"
    job.later(30).timers_done()
    shown = job.hears("nine").shown
    assert shown["read_back"].startswith("Nine newton metres")
    shown = job.hears("yes").shown
    assert (shown["condition"], shown["outcome"], shown["remaining"]) == ("ended", "complete", 0)
    assert shown["answers"][-1]["said"] == "Nine newton metres."


def test_voice_finished_shows_the_page_and_does_not_open_the_ear_again() -> None:
    job = BenchJob(step("one")).voice_finished()
    assert [type(e).__name__ for e in job.effects] == ["ShowStep"]
    assert job.voice_finished().effects == ()


@pytest.mark.parametrize("read_back", [True, False])
@pytest.mark.parametrize("code", ["4471", "four four seven one"])
def test_the_page_does_not_show_the_code_of_a_second_person(code: str, read_back: bool) -> None:
    """Letters for four metres: whoever stands there could let the next value stand with it."""
    hold = AskWitness("seen", "lead hand", read_back=read_back)
    job = BenchJob(step("pins", ask=AskCount("pins", 6, 14)), step("seen", ask=hold), step("next"))
    job.hears("eight")
    assert job.shown["heard"]["words"] == "eight"  # the answer before stands in sight until one is heard here
    assert job.shown["code_asked"]
    assert job.hears("9999").shown["heard"]["words"] == "code"  # nor a slip of it
    shown = job.hears(code).shown
    assert shown["heard"]["words"] == "code"
    assert "Meg Hale" in (shown["read_back"] or shown["answers"][-1]["said"])
    if read_back:
        assert job.hears("yes").shown["heard"]["words"] == "yes"
    assert not job.shown["code_asked"]
    assert job.at == "next"
    assert job.recorded("answer")[-1]["said"] == code  # the record keeps what was said


def test_nor_the_code_that_lets_a_value_stand() -> None:
    clamp = step("clamp", ask=AskTorque("clamp", 9.0, 8.1, 9.9), not_met="lead hand")
    job = BenchJob(clamp, step("next"))
    job.hears_each("six", "yes", "not met", "damaged")
    assert job.shown["code_asked"]
    assert job.hears("4471").shown["heard"]["words"] == "code"
