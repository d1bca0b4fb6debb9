"""A job that another person takes over: whose it is from there on, and who can be its second person no more.

That nobody releases their own work is common practice, no source; that it counts for everybody who had a
hand in it follows from that.
"""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sayso.dialogue import replay
from sayso.dialogue.asked import same_person
from sayso.dialogue.codec import EventError, event_from_json, event_to_json
from sayso.dialogue.events import Resumed
from sayso.dialogue.snapshot import from_json
from sayso.dialogue.state import Awaiting
from sayso.procedure.model import AskMeasure, AskTorque, AskWitness

from .bench_job import BenchJob, step, warning

GAP = AskMeasure("gap", "mm", at_least=0.25, at_most=0.35, low=0.0, high=3.0, read_back=True)
BUSBAR = AskTorque("busbar", 9.0, 8.1, 9.9)
RELEASE = step("release", ask=AskWitness("released", "lead hand"))
ANN, MEG, TOM = "Ann Bell", "Meg Hale", "Tom Rudd"
MEGS_CODE, TOMS_CODE = "four four seven one", "one nine six two"


def taken_over(job: BenchJob, person: str) -> BenchJob:
    job.later(600)
    return job.happens(Resumed(job.now, person=person))


def test_the_job_is_the_other_ones_and_it_is_said_and_recorded() -> None:
    job = taken_over(BenchJob(step("one"), step("two")).hears("done"), "Bo Tarn")
    assert "Carrying on with Bo Tarn: Bench job, step 2 of 2." in job.said
    assert job.recorded("person_changed") == [{"step": "two", "from": ANN, "to": "Bo Tarn"}]
    assert (job.state.person, job.state.people) == ("Bo Tarn", (ANN, "Bo Tarn"))
    assert job.hears("done").state.outcome == "complete"


@pytest.mark.parametrize("person", ["", ANN, "ann  bell", "Ann. Bell"])
def test_the_same_person_takes_nothing_over(person: str) -> None:
    job = BenchJob(step("one"), step("two"))
    taken_over(job, person)
    assert "Carrying on: Bench job" in job.said
    assert job.recorded("person_changed") == []
    assert (job.state.person, job.state.people) == (ANN, (ANN,))


def test_who_comes_back_is_one_person_under_the_first_spelling() -> None:
    job = taken_over(taken_over(BenchJob(step("one")), "Bo Tarn"), "ann bell")
    assert [entry["to"] for entry in job.recorded("person_changed")] == ["Bo Tarn", ANN]
    assert (job.state.person, job.state.people) == (ANN, (ANN, "Bo Tarn"))


def test_a_job_without_a_name_may_get_one() -> None:
    job = taken_over(BenchJob(step("one"), person=""), "Bo Tarn")
    assert job.recorded("person_changed") == [{"step": "one", "from": "", "to": "Bo Tarn"}]
    assert job.state.people == ("Bo Tarn",)


def test_a_job_on_hold_says_whose_it_is_now_and_stays_on_hold() -> None:
    job = BenchJob(step("one", cautions=warning())).hears_each("understood", "hold")
    taken_over(job, "Bo Tarn")
    assert job.said.startswith("Now with Bo Tarn: Bench job, step 1 of 1. On hold.")
    assert job.hears("done").recorded("answer") == []
    job.hears("carry on")
    assert "Stored charge can burn" in job.said
    assert "Say understood" in job.said


# --- who is no second person --------------------------------------------------------------------


@pytest.mark.parametrize(("code", "who"), [(MEGS_CODE, MEG), ("Meg Hale", MEG), (TOMS_CODE, TOM)])
def test_nobody_who_worked_on_the_job_releases_it(code: str, who: str) -> None:
    """Meg began it and Tom went on: neither is a witness to it, whoever of them has it in hand."""
    job = BenchJob(RELEASE, step("next"), person=MEG)
    assert "must be a second person" in BenchJob(RELEASE, person=MEG).hears(MEGS_CODE).said
    taken_over(job, TOM)
    job.hears(code)
    told = "The witness must be a second person" + (
        ", who has not worked on this job." if who is MEG else "."
    )
    assert told in job.said
    assert job.hears("yes").recorded("witness") == []
    # given back to Meg, it is Tom who has worked on it
    assert ", who has not worked on this job." in taken_over(job, MEG).hears(TOMS_CODE).said


def test_a_third_one_releases_it() -> None:
    job = taken_over(BenchJob(RELEASE, step("next"), person=MEG), "Bo Tarn").hears(TOMS_CODE)
    if job.state.awaiting is Awaiting.CONFIRM:
        job.hears("yes")
    assert [entry["name"] for entry in job.recorded("witness")] == [TOM]


def test_who_takes_over_cannot_say_yes_to_being_the_witness() -> None:
    """Meg's code was read back when the program was stopped; then she takes the job over and says yes."""
    ask = AskWitness("released", "lead hand", read_back=True)
    job = BenchJob(step("release", ask=ask), step("next")).hears(MEGS_CODE)
    assert job.state.awaiting is Awaiting.CONFIRM
    taken_over(job, MEG).hears("yes")
    assert job.recorded("witness", "answer") == []
    assert job.at == "release"


@pytest.mark.parametrize("worked", [MEG, TOM])
def test_nor_by_a_correction_or_by_what_was_heard_less_likely(worked: str) -> None:
    """Both came past the question who it is: "no" and their own code at the read-back of another name."""
    own, other = (MEGS_CODE, TOMS_CODE) if worked is MEG else (TOMS_CODE, MEGS_CODE)
    ask = AskWitness("released", "lead hand", read_back=True)
    for handed in (False, True):
        for way in ("correction", "alternative"):
            job = BenchJob(step("release", ask=ask), step("next"), person=worked)
            if handed:
                taken_over(job, "Bo Tarn")
            if way == "correction":
                job.hears_each(other, f"no {own}")
            else:
                job.hears("banana", alternatives=(tuple(own.split()),))
            assert "The witness must be a second person" in job.said
            assert job.hears("yes").recorded("witness") == []
            assert job.at == "release"
            job.hears(other)
            if job.state.awaiting is Awaiting.CONFIRM:
                job.hears("yes")
            assert [entry["name"] for entry in job.recorded("witness")] == [MEG if worked is TOM else TOM]


def test_nobody_who_worked_on_it_lets_a_deviation_stand() -> None:
    job = BenchJob(step("busbar", ask=BUSBAR, not_met="lead hand"), step("next"), person=MEG)
    taken_over(job, "Bo Tarn").hears_each("six", "yes", "not met", "damaged", MEGS_CODE)
    assert "It must be a second person, who has not worked on this job." in job.said
    job.hears("yes")
    assert job.recorded("not_met") == []
    job.hears_each(TOMS_CODE, "yes")
    assert [entry["released_by"] for entry in job.recorded("not_met")] == [TOM]


def test_a_code_that_waits_for_its_yes_is_forgotten_when_its_person_takes_over() -> None:
    job = BenchJob(step("busbar", ask=BUSBAR, not_met="lead hand"), step("next"))
    job.hears_each("six", "yes", "not met", "damaged", MEGS_CODE)
    taken_over(job, MEG).hears("yes")
    assert job.recorded("not_met", "answer") == []


def test_with_nobody_left_to_let_it_stand_the_job_holds() -> None:
    job = BenchJob(step("busbar", ask=BUSBAR, not_met="lead hand"), step("next"), person=MEG)
    taken_over(job, TOM).hears_each("six", "yes", "not met", "damaged")
    assert [entry["released_by"] for entry in job.recorded("not_met")] == [""]
    assert job.state.held


# --- what the one who left had not finished -----------------------------------------------------


@pytest.mark.parametrize("said", [("point three",), ("two", "yes"), ("two", "yes", "point three")])
def test_a_value_that_the_first_one_read_is_no_answer_of_the_second(said: tuple[str, ...]) -> None:
    job = BenchJob(step("gap", ask=GAP), step("next")).hears_each(*said)
    deviations = job.recorded("deviation")
    taken_over(job, "Bo Tarn").hears("yes")
    assert job.recorded("answer") == []
    assert job.recorded("deviation") == deviations
    job.hears_each("point three", "yes")
    assert [entry["value"] for entry in job.recorded("answer")] == [0.3]


@pytest.mark.parametrize("said", [("eight", "yes"), ("eight", "yes", "not met", "another reason")])
def test_who_takes_over_is_told_of_a_value_out_of_limits_that_stands(said: tuple[str, ...]) -> None:
    """They were asked anew as if nothing had been: only the report told them."""
    job = taken_over(BenchJob(step("busbar", ask=BUSBAR)).hears_each(*said), "Bo Tarn")
    assert job.state.held is (len(said) > 2)
    assert "step 1 of 1. Recorded here as out of limits: Eight newton metres." in job.said
    assert job.recorded("answer") == []


def test_a_warning_is_acknowledged_by_who_works_at_it_now() -> None:
    job = BenchJob(step("one", cautions=warning()), step("two")).hears("understood")
    job.later(600).happens(Resumed(job.now))
    assert job.state.awaiting is Awaiting.ANSWER
    taken_over(job, "Bo Tarn")
    assert "Stored charge can burn." in job.said
    job.hears("done")  # which acknowledges, and is no answer to a step that was not told
    assert job.recorded("answer") == []
    assert "Do one." in job.said
    assert len(job.recorded("caution_acknowledged")) == 2
    assert job.hears("done").at == "two"


def test_a_wait_that_runs_goes_on_for_the_second_one() -> None:
    job = BenchJob(step("one", cautions=warning(), wait_s=1000.0), step("two")).hears("understood")
    taken_over(job, "Bo Tarn").hears("understood")
    assert len(job.recorded("timer_started")) == 1
    assert job.hears("done").recorded("answer") == []
    assert job.later(500).hears("done").at == "two"


# --- journals -----------------------------------------------------------------------------------


def test_a_journal_of_before_the_field_replays_as_it_was() -> None:
    old = {"type": "Resumed", "at_ms": 5, "tools": []}
    assert event_from_json(old) == Resumed(5)
    assert event_from_json(event_to_json(Resumed(5, person="Bo Tarn"))) == Resumed(5, person="Bo Tarn")
    with pytest.raises(EventError, match=r"Resumed\.person must be str"):
        event_from_json({**old, "person": 7})


def test_a_state_of_before_the_field_knows_its_one_person() -> None:
    job = taken_over(BenchJob(step("one"), step("two")), "Bo Tarn")
    data = job.state.as_json()
    assert from_json(job.procedure, data) == job.state
    del data["people"]
    assert from_json(job.procedure, data).people == ("Bo Tarn",)


@given(st.lists(st.sampled_from(["", ANN, "Bo Tarn", "bo  tarn", MEG, TOM, "done", "hold", "carry on"])))
def test_the_person_in_hand_is_the_last_one_named_and_all_are_kept(happenings: list[str]) -> None:
    """Whatever else happens, the journal gives the same again."""
    job = BenchJob(*(step(f"step-{n}") for n in range(3)))
    named = [ANN]
    for what in happenings:
        if what in ("done", "hold", "carry on"):
            job.hears(what)
        elif job.state.awaiting is not Awaiting.ENDED:
            taken_over(job, what)
            spelled = next((name for name in named if same_person(what, name)), what)
            named += [spelled] if what else []
    assert job.state.person == named[-1]
    assert job.state.people == tuple(dict.fromkeys(named))
    changes = [(entry["from"], entry["to"]) for entry in job.recorded("person_changed")]
    assert changes == [(a, b) for a, b in pairwise(named) if a != b]
    again = replay(job.procedure, [event_from_json(event_to_json(event)) for event in job.events])
    assert again == job.state
