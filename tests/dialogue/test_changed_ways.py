"""Branches, going back, undo, and what a changed answer does to work that is already done."""

from __future__ import annotations

import json

from sayso.dialogue import snapshot
from sayso.procedure.model import (
    END,
    AskChoice,
    AskCount,
    AskSerial,
    AskYesNo,
    Branch,
    Branches,
    Caution,
    CautionLevel,
    Option,
)

from .bench_job import BenchJob, branches, step

PINS = AskCount("pins", 1, 20)
HITCHES = (Option("ball", ("ball",)), Option("hook", ("hook",)))


def harness_job() -> BenchJob:
    """8 pins: short harness, clip it; 12 pins: long harness; then both fit the cover."""
    return BenchJob(
        step("pins", "Count the pins.", PINS, then=branches(_8="short", _12="long", otherwise="lead")),
        step("short", "Fit the short harness."),
        step("clip", "Clip it to the frame.", then=branches("cover")),
        step("long", "Fit the long harness.", then=branches("cover")),
        step("cover", "Fit the cover.", AskYesNo("flush")),
        step("label", "Stick the label on.", then=branches(END)),
        step("lead", "Call the lead hand.", ends="lead called"),
    )


def test_an_answer_leads_down_its_branch() -> None:
    assert harness_job().hears("twelve").at == "long"
    assert harness_job().hears("eight").at == "short"
    assert harness_job().hears("three").at == "lead"


def test_a_serial_branches_on_its_prefix() -> None:
    job = BenchJob(
        step("serial", ask=AskSerial("s", "[A-Z]{2}[0-9]{3}"), then=branches("old", prefix=True, KD="new")),
        step("old", ends="done"),
        step("new"),
    )
    assert job.hears_each("kilo delta one two three", "yes").at == "new"


def test_a_choice_branches_on_its_value() -> None:
    axle = AskChoice("axle", (Option("heavy", ("heavy",)), Option("light", ("light one",))))
    job = BenchJob(step("axle", ask=axle, then=branches("b", light="c")), step("b"), step("c"))
    assert job.hears("light one").at == "c"


def test_a_condition_can_pick_the_branch() -> None:
    then = Branches((Branch("answers.pins > 10", "big", is_condition=True),), "small")
    job = BenchJob(step("pins", ask=PINS, then=then), step("small", ends="ok"), step("big"))
    assert job.hears("fourteen").at == "big"


def test_a_step_that_does_not_apply_is_passed_over_with_a_record() -> None:
    job = BenchJob(step("pins", ask=PINS), step("relay", when="answers.pins == 12"), step("cover"))
    job.hears("eight")
    assert job.at == "cover"
    assert job.recorded("step_passed_over")[0]["step"] == "relay"


def test_a_condition_that_cannot_be_worked_out_tells_the_step_and_shows_the_problem() -> None:
    job = BenchJob(step("pins", ask=PINS), step("relay", when="answers.pins == 'x' + 1"), step("cover"))
    job.hears("eight")
    assert job.at == "relay"
    assert job.shown["problem"]


def test_end_completes_the_job_and_ends_gives_its_own_words() -> None:
    job = harness_job().hears_each("twelve", "done", "yes", "done")
    assert job.ended == "complete"
    assert harness_job().hears_each("three", "done").ended == "lead called"


# --- back ---------------------------------------------------------------------------------------


def test_back_goes_to_the_step_before_and_its_answer_stands() -> None:
    job = harness_job().hears_each("eight", "back")
    assert "Eight" in job.said
    assert job.hears("keep it").at == "short"
    assert len(job.recorded("answer")) == 1


def test_back_at_the_first_step_says_so() -> None:
    assert "first step" in harness_job().hears("back").said


def test_the_same_answer_again_is_not_recorded_twice() -> None:
    job = harness_job().hears_each("eight", "back", "eight")
    assert len(job.recorded("answer", "answer_changed")) == 1


# --- undo ---------------------------------------------------------------------------------------


def test_undo_takes_the_last_answer_back_and_asks_again() -> None:
    job = harness_job().hears_each("eight", "undo")
    assert job.at == "pins"
    assert "pins" not in job.state.values
    assert job.recorded("answer_undone")[0]["was"]["value"] == 8
    job.hears_each("twelve", "undone")  # the short harness was begun: it has to be taken back
    assert job.at == "long"
    assert [a["value"] for a in job.recorded("answer")] == [8, 12]


def test_undo_during_a_read_back_drops_the_value() -> None:
    job = BenchJob(step("pins", ask=AskCount("pins", 1, 20, read_back=True)), step("fit"))
    job.hears_each("eight", "undo", "six", "yes")
    assert [a["value"] for a in job.recorded("answer")] == [6]


def test_undo_with_nothing_to_undo_says_so() -> None:
    assert "no answer to take back" in harness_job().hears("undo").said


def test_undo_twice_takes_back_two_answers() -> None:
    job = harness_job().hears_each("eight", "done", "undo", "undo")
    assert job.at == "pins"
    assert [u["step"] for u in job.recorded("answer_undone")] == ["short", "pins"]


# --- a changed answer ---------------------------------------------------------------------------


def test_change_takes_the_name_also_with_the_new_value_behind_it() -> None:
    job = harness_job().hears_each("eight", "done", "change pins to twelve")
    assert job.at == "pins"
    assert job.said == "Count the pins. So far: Eight. Answer again, or say keep it."


def test_a_name_with_to_in_it_is_a_whole_name() -> None:
    job = BenchJob(
        step("a", ask=AskCount("turns_to_stop", 1, 9)), step("b", ask=AskCount("turns", 1, 9)), step("c")
    )
    job.hears_each("four", "five")
    assert job.hears("change turns to stop").at == "a"


def test_a_change_that_keeps_the_way_comes_back_to_where_the_job_was() -> None:
    job = BenchJob(step("pins", ask=PINS), step("two"), step("three"))
    job.hears_each("eight", "done", "change pins", "six")
    assert job.at == "three"
    changed = job.recorded("answer_changed")[0]
    assert (changed["before"]["value"], changed["value"]) == (8, 6)


def test_work_on_the_abandoned_branch_is_listed_and_taken_back_last_first() -> None:
    job = harness_job().hears_each("eight", "done", "done", "change pins", "twelve")
    assert "2 steps" in job.said
    assert "Fit the short harness and Clip it to the frame" in job.said
    assert job.recorded("to_undo")[0]["steps"] == ["short", "clip"]
    assert "Clip it to the frame. Say undone" in job.said
    job.hears("undone")
    assert "Fit the short harness. Say undone" in job.said
    job.hears("undone")
    assert job.at == "long"
    assert [u["step"] for u in job.recorded("undone")] == ["clip", "short"]


def test_work_may_be_kept_with_a_reason() -> None:
    job = harness_job().hears_each("eight", "done", "change pins", "twelve")
    job.hears_each("undone", "keep it")  # the clip was begun, the harness was fitted
    assert "Why is it kept?" in job.said
    job.hears("does no harm")
    assert job.recorded("undone")[-1] == {"step": "short", "how": "kept", "reason": "does no harm"}
    assert job.at == "long"


def test_a_step_that_was_only_begun_is_listed_too() -> None:
    job = harness_job().hears_each("eight", "change pins", "twelve")
    assert job.recorded("to_undo")[0]["steps"] == ["short"]


def test_a_correction_after_the_change_was_taken_back_looks_at_no_answer_of_the_abandoned_branch() -> None:
    """ "No, three" once stopped the program here: the answers that were given last had been cut off with the
    old branch."""
    job = harness_job().hears_each(
        "eight", "done", "done", "yes", "change pins", "twelve", "undone", "undone"
    )
    job.hears("undo")
    assert job.at == "pins"
    assert job.hears("no three").said == "Three. Yes?"
    assert "One step was done or begun on the other way." in job.hears("yes").said
    assert job.hears("undone").hears("undone").at == "lead"


def test_what_a_warning_was_given_for_is_not_taken_back_without_it() -> None:
    """The spring that is hooked off is hooked on again. Common practice, no source."""
    warning = Caution(CautionLevel.WARNING, "The spring can blind you. Wear goggles.")
    notice = Caution(CautionLevel.NOTICE, "The paint scratches.")
    job = BenchJob(
        step("hitch", ask=AskChoice("hitch", HITCHES), then=branches(ball="nut", hook="spring")),
        step("spring", "Hook the spring off.", cautions=(warning, notice)),
        step("plate", "Take the plate off.", then=branches("cover")),
        step("nut", "Take the nut off.", then=branches("cover")),
        step("cover", "Fit the cover."),
    )
    job.hears_each("hook", "understood", "done", "done", "change hitch", "ball")
    assert "Take the plate off. Say undone" in job.said
    assert "blind" not in job.said
    job.hears("undone")
    assert "Warning. The spring can blind you. Wear goggles. Hook the spring off. Say undone" in job.said
    assert "paint" not in job.said
    assert [told["again"] for told in job.recorded("caution_told") if told["level"] == "warning"] == [
        False,
        True,
    ]
    assert job.hears("undone").at == "nut"


def test_the_way_cannot_be_changed_again_before_the_work_is_settled() -> None:
    job = harness_job().hears_each("eight", "done", "change pins", "twelve", "back")
    assert "first the work on the other way" in job.said
    assert job.state.awaiting == "settle"


def test_work_after_the_branches_meet_is_asked_about_and_may_still_hold() -> None:
    job = harness_job().hears_each("eight", "done", "done", "yes", "change pins", "twelve")
    job.hears_each("undone", "undone", "done")
    assert "Done already: Fit the cover. Does that still hold?" in job.said
    assert "flush" not in job.state.values  # it does not count before it holds
    job.hears("yes")
    assert job.at == "label"
    assert job.state.values["flush"] is True


def test_work_that_does_not_hold_any_more_is_done_again() -> None:
    job = harness_job().hears_each("eight", "done", "done", "yes", "change pins", "twelve")
    job.hears_each("undone", "undone", "done", "no")
    assert job.at == "cover"
    assert job.recorded("undone")[-1] == {"step": "cover", "how": "to be done again"}


def test_work_that_the_new_way_never_comes_to_is_settled_before_the_job_ends() -> None:
    job = harness_job().hears_each("eight", "done", "done", "yes", "change pins", "three")
    assert job.recorded("to_undo")[0]["steps"] == ["short", "clip", "cover", "label"]
    job.hears_each("undone", "undone", "undone", "undone")
    assert job.at == "lead"


def harness_job_with_a_way_back(back_to: str) -> BenchJob:
    """As `harness_job`; a cover that is not flush leads back."""
    return BenchJob(
        step("pins", "Count the pins.", PINS, then=branches(_8="short", _12="long", otherwise="mend")),
        step("short", "Fit the short harness."),
        step("clip", "Clip it to the frame.", then=branches("cover")),
        step("long", "Fit the long harness.", then=branches("cover")),
        step("cover", "Fit the cover.", AskYesNo("flush"), then=branches(yes="label", no=back_to)),
        step("label", "Stick the label on.", then=branches(END)),
        step("mend", "Straighten the pins.", then=branches("pins")),
    )


def test_work_on_an_abandoned_branch_is_listed_at_once_though_a_loop_leads_back_to_the_fork() -> None:
    """It counted as met again, by way of the loop, and was asked about at the end of the job."""
    job = harness_job_with_a_way_back("pins").hears_each("eight", "done", "done", "change pins", "twelve")
    assert job.recorded("to_undo")[0]["steps"] == ["short", "clip"]
    job.hears_each("undone", "undone")
    assert job.at == "long"


def test_a_loop_to_a_step_behind_the_fork_can_still_meet_the_work_again() -> None:
    job = harness_job_with_a_way_back("clip").hears_each("eight", "done", "done", "change pins", "twelve")
    assert job.recorded("to_undo")[0]["steps"] == ["short"]
    assert "clip" in job.state.carried


def test_a_mending_that_leads_back_to_the_question_leaves_the_work_behind_it_as_it_is() -> None:
    """Nobody is told to take the cover off because the pins are straightened first."""
    job = harness_job_with_a_way_back("pins").hears_each("eight", "done", "done", "yes", "change pins", "one")
    assert job.at == "mend"
    assert job.recorded("to_undo") == []
    assert set(job.state.carried) >= {"short", "clip", "cover"}


def forked_twice() -> BenchJob:
    """After the first fork the ways meet at 'second', which may lead past 'painted'."""
    return BenchJob(
        step("first", "Left side?", AskYesNo("left"), then=branches(yes="a", no="b")),
        step("a", then=branches("second")),
        step("b"),
        step("second", "Paint it?", AskYesNo("paint"), then=branches(yes="painted", no="last")),
        step("painted", "Paint the bracket."),
        step("last"),
    )


def test_carried_work_that_a_later_branch_leaves_behind_is_settled_there() -> None:
    job = forked_twice().hears_each("yes", "done", "yes", "done", "change left", "no", "undone", "done")
    job.hears("no")  # 'second' does not hold: it is answered anew, and leads past the painted bracket
    assert job.at == "second"
    job.hears("no")
    assert job.recorded("to_undo")[-1]["steps"] == ["painted"]
    job.hears("undone")
    assert job.at == "last"


def test_a_run_of_steps_that_still_hold_survives_a_restart() -> None:
    job = forked_twice().hears_each("yes", "done", "yes", "done", "change left", "no", "undone", "done")
    assert job.state.again == ("second", "painted")
    stored = json.loads(json.dumps(job.state.as_json()))
    job.state = snapshot.from_json(job.procedure, stored)
    assert job.hears("yes").at == "last"


def test_a_job_stopped_before_the_work_is_settled_says_so() -> None:
    job = harness_job().hears_each("eight", "done", "change pins", "twelve", "stop", "yes")
    assert "Left unsettled after a change" in job.said
    assert job.recorded("ended")[0]["unsettled"] == ["clip", "short"]


def test_answers_of_the_abandoned_branch_do_not_steer_the_new_way() -> None:
    job = BenchJob(
        step("pins", ask=PINS, then=branches(_8="a", _12="b")),
        step("a", "Is the relay in?", AskYesNo("relay"), then=branches("c")),
        step("b"),
        step("c", when="has(answers.relay) && answers.relay"),
        step("d"),
    )
    job.hears_each("eight", "yes")
    assert job.at == "c"
    job.hears_each("change pins", "twelve", "undone", "done")
    assert job.at == "d"


def test_in_a_loop_undo_brings_the_earlier_answer_back() -> None:
    job = BenchJob(step("pins", ask=PINS, then=branches("ok", _8="pins")), step("ok"))
    job.hears_each("eight", "six", "undo")
    assert job.state.values["pins"] == 8
