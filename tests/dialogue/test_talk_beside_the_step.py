"""Control words, holds, waits, notes, witnesses, levels: what may be said beside the answer."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sayso import answers
from sayso.dialogue import Settings
from sayso.dialogue.control_words import SYNONYMS, WAKE_PHRASES, Control, collisions, match
from sayso.dialogue.effects import Say, StopListening, StopVoice
from sayso.dialogue.events import ClipKept, DeviceBack, DeviceLost, NoiseChanged, Resumed
from sayso.dialogue.state import Awaiting
from sayso.procedure.model import (
    END,
    AskChoice,
    AskCount,
    AskDone,
    AskMeasure,
    AskNote,
    AskSerial,
    AskTorque,
    AskWitness,
    AskYesNo,
    Before,
    Option,
    Part,
)

from .bench_job import BenchJob, branches, procedure, step, warning

PINS = AskCount("pins", 1, 20)


def plain_job(**more: object) -> BenchJob:
    return BenchJob(
        step(
            "pins",
            "Count the pins.",
            PINS,
            question="How many?",
            why="Only the plug tells.",
            section="Find out",
        ),
        step("fit", "Fit the harness.", hint="Blue side up.", mistakes=("It is pulled by the wires.",)),
        step("label", "Stick the label on.", may_skip=True),
        step("end", "Sign the card."),
        **more,
    )


# --- the words themselves -----------------------------------------------------------------------


@pytest.mark.parametrize("control", list(Control))
def test_every_control_word_has_synonyms_and_each_means_it(control: Control) -> None:
    assert len(SYNONYMS[control]) >= 2
    for phrase in SYNONYMS[control]:
        words = f"{phrase} pins" if control in (Control.WHAT_WAS, Control.CHANGE) else phrase
        found = match(words.split())
        assert found is not None
        assert found.control is control


def test_no_phrase_means_two_things() -> None:
    phrases = [phrase for group in SYNONYMS.values() for phrase in group]
    assert len(phrases) == len(set(phrases))


def test_a_control_word_within_other_talk_is_not_one() -> None:
    assert match(["please", "do", "not", "stop", "now"]) is None


def test_a_shop_adds_its_own_words() -> None:
    job = plain_job(settings=Settings(control_words=(("hold", "tea break"),)))
    assert "tea break" in job.listening.phrases
    assert job.hears("tea break").state.held


def test_collisions_between_answers_and_control_words_are_found() -> None:
    side = AskChoice("side", (Option("back", ("back",)), Option("front", ("front",))))
    found = collisions(procedure(step("side", ask=side)), answers.phrases)
    assert [(c.step, c.phrase, c.control) for c in found] == [("side", "back", Control.BACK)]
    assert "bench.yaml:1:1: 'back' is an answer here" in str(found[0])


# --- short questions ----------------------------------------------------------------------------


def test_repeat_says_the_step_and_its_question_again() -> None:
    assert plain_job().hears("say again").said == "Count the pins. How many?"


def test_how_far() -> None:
    assert "Step 1 of 4. Find out. 3 to go after this." in plain_job().hears("how far am i").said


def test_why_gives_the_reason_and_asks_again() -> None:
    assert plain_job().hears("why").said == "Only the plug tells. How many?"


def test_what_was_by_name_and_by_kind() -> None:
    job = plain_job().hears("twelve")
    job.hears("yes")
    assert "Pins: Twelve." in job.hears("what was the pins").said
    assert "Pins: Twelve." in job.hears("what was the count").said
    assert "no answer called torque" in job.hears("what was the torque").said
    assert "what was pins" in job.listening.phrases


def test_an_answer_is_found_by_a_part_of_its_name() -> None:
    count = {"low": 1, "high": 20}
    job = BenchJob(
        step("one", ask=AskMeasure("line_pressure", "bar", low=0, high=9)),
        step("two", ask=AskMeasure("tank_pressure", "bar", low=0, high=9)),
        step("three", ask=AskCount("strokes", **count)),
        step("four", ask=AskCount("pedal_strokes", **count)),
        step("five"),
    ).hears_each("two", "three", "four", "five")
    assert "Tank pressure: Three bar." in job.hears("what was the pressure").said
    assert "Line pressure: Two bar." in job.hears("what was line").said
    assert "Strokes: Four." in job.hears("what was the strokes").said, "a whole name before a part of one"
    assert "no answer called press" in job.hears("what was the press").said
    assert "no answer called pressure" in job.hears("change pressure").said, "two could be meant"
    assert job.hears("change the line").at == "one"


def test_help_gives_the_choices_and_the_control_words() -> None:
    said = plain_job().hears("what can i say").said
    assert "from one to twenty" in said
    assert "repeat, back, undo" in said


def test_slower_and_louder_say_it_again_so() -> None:
    job = plain_job().hears("slower")
    says = [e for e in job.effects if isinstance(e, Say)]
    assert says[-1].text == "How many?"
    assert says[-1].rate < 1.0
    job.hears("louder")
    assert [e for e in job.effects if isinstance(e, Say)][-1].volume > 1.0


def test_faster_has_an_end() -> None:
    job = plain_job()
    for _ in range(30):
        job.hears("faster")
    assert job.state.rate == 1.75


def test_a_mumbled_control_word_is_not_acted_on_save_stop_and_hold() -> None:
    job = plain_job()
    job.hears("undo", confidence=0.3)
    assert "nothing" not in job.said
    assert job.kinds_said == ["no_match"]
    assert job.hears("hold", confidence=0.3).state.held


# --- how much is said ---------------------------------------------------------------------------


def test_full_adds_the_hint_the_reason_and_the_mistakes() -> None:
    job = plain_job(level="full").hears("eight")
    assert job.said == (
        "Eight. Fit the harness. Blue side up. Often gone wrong: It is pulled by the wires. "
        "Say done when it is done."
    )


def test_how_a_step_is_closed_is_told_at_the_first_two_only() -> None:
    job = BenchJob(*(step(f"bolt-{i}") for i in range(4)), level="full")
    heard = [job.said, job.hears("done").said, job.hears("done").said, job.hears("done").said]
    assert ["Say done when it is done." in said for said in heard] == [True, True, False, False]


def test_more_detail_tells_at_once_what_the_step_left_out() -> None:
    job = plain_job(level="brief")
    assert job.hears("more detail").said == "Normal detail. Count the pins. How many?"
    assert job.hears("more detail").said == "Full detail. Only the plug tells. How many?"
    job = plain_job().hears("eight")
    assert job.hears("more detail").said == (
        "Full detail. Blue side up. Often gone wrong: It is pulled by the wires. Fit the harness."
    )
    assert job.hears("tell me more").said == (
        "That is the most detail there is. Blue side up. Often gone wrong: It is pulled by the wires. "
        "Fit the harness."
    )
    assert job.hears("less detail").said == "Normal detail. Fit the harness."


def test_nothing_is_said_twice_to_a_word_that_is_not_understood() -> None:
    job = BenchJob(step("bolt"))
    assert job.hears("banana").said == "Say done when it is done."
    assert job.hears("banana").said == "Say done when it is done."


def test_parts_and_long_names_are_said_as_people_say_them() -> None:
    before = Before(parts=(Part("grease", 60, "g"), Part("hose", 3, "m"), Part("split pin")))
    long = "Measure the resistance between the two outer bus pins of your own service socket."
    job = BenchJob(step("bus", long, AskDone("bus"), may_skip=True), step("end"), before=before)
    assert "Parts: sixty grams of grease, three metres of hose and split pin." in job.said
    assert job.shown["before"] == ["60 g of grease", "3 m of hose", "split pin"]
    job.hears_each("ready", "skip", "no tool")
    assert job.said.startswith("Skipped Measure the resistance between the two outer bus pins, no tool.")
    assert ".." not in job.hears("done").said


def test_brief_says_the_question_only() -> None:
    job = plain_job(level="brief")
    assert "Count the pins" not in job.said
    assert job.said.endswith("How many?")


@pytest.mark.parametrize("how", [{"level": "brief"}, {"quiet": True}])
@pytest.mark.parametrize("question", ["", "What does the wrench read?"])
def test_with_few_words_too_a_torque_names_its_bolt_and_a_hold_point_its_work(
    how: dict[str, object], question: str
) -> None:
    """Two torques in a row were told as two targets, and nobody said on which bolts."""
    torque = AskTorque("busbar", 9.0, 8.1, 9.9)
    job = BenchJob(
        step("busbar", "Torque the busbar screws.", torque, question=question),
        step("feet", "Torque the four feet.", replace(torque, name="feet"), brief="The feet."),
        step("seen", "The lead hand looks at the busbar.", AskWitness("seen", "lead hand")),
        **how,
    )
    assert "Torque the busbar screws. Target nine newton metres." in job.said
    said = job.hears_each("nine newton metres", "yes").said
    assert "Torque the four feet." not in said
    assert "The feet. Target nine newton metres." in said
    assert (
        "The lead hand looks at the busbar. Hold point." in job.hears_each("nine newton metres", "yes").said
    )


def test_the_level_is_changed_by_voice() -> None:
    job = plain_job().hears("more detail")
    assert job.recorded("level_changed") == [{"level": "full", "quiet": False}]
    job.hears_each("less detail", "less detail")
    assert job.state.level == "brief"


def test_fewer_words_and_back() -> None:
    job = plain_job().hears("fewer words")
    assert job.state.quiet
    assert not job.hears("quiet mode off").state.quiet


# --- skip ---------------------------------------------------------------------------------------


def test_a_step_is_skipped_only_where_it_may_be() -> None:
    job = plain_job().hears("skip")
    assert "cannot be skipped" in job.said
    assert job.at == "pins"


def test_a_skip_asks_for_the_reason_and_records_it() -> None:
    job = plain_job().hears_each("eight", "done", "skip")
    assert "Why is it skipped?" in job.said
    assert "not fitted" in job.listening.phrases
    job.hears("not fitted")
    assert job.recorded("skipped")[0]["reason"] == "not fitted"
    assert job.at == "end"
    job.hears("done")
    assert "Skipped: Stick the label on, not fitted." in job.said


def test_a_typed_reason_is_taken_as_it_is() -> None:
    job = plain_job().hears_each("eight", "done", "skip")
    job.hears("label printer is out", typed=True)
    assert job.recorded("skipped")[0]["reason"] == "label printer is out"


@pytest.mark.parametrize("key", ["done", "hold", "repeat", "back", "yes"])
def test_a_key_pressed_while_a_reason_is_asked_for_is_no_reason(key: str) -> None:
    """The pedal's 'done' was recorded as why a step was skipped, and the page's 'hold' was not obeyed."""
    job = plain_job().hears_each("eight", "done", "skip")
    job.key(key)
    assert job.recorded("skipped") == []
    assert job.state.on_hold is (key == "hold")


@pytest.mark.parametrize("words", ["undo", "stop", "how far am i", "done", "yes", "nope"])
def test_typed_orders_and_answers_are_no_reason(words: str) -> None:
    job = plain_job().hears_each("eight", "done", "skip")
    job.hears(words, typed=True)
    assert job.recorded("skipped") == []
    job.hears("change ordered by the office", typed=True)
    assert job.recorded("skipped")[0]["reason"] == "change ordered by the office"


# --- hold and stop ------------------------------------------------------------------------------


def test_while_on_hold_talk_to_a_colleague_does_nothing_at_all() -> None:
    job = plain_job().hears("hold")
    before = job.state
    for words in ("eight", "yes", "stop", "skip", "repeat", "undo", "keep it", "i am back", "done"):
        job.hears(words)
        assert job.effects == ()
    job.silence()
    job.noise()
    job.key("done")
    assert job.state is before


def test_a_value_typed_while_on_hold_is_not_met_with_silence() -> None:
    job = plain_job().hears("hold")
    assert job.hears("12", typed=True).said == "On hold. Say carry on, or okay sayso."
    assert job.recorded("answer", "carried_on") == []
    assert job.key("done").said == ""


def test_on_hold_only_wake_phrases_are_listened_for_and_for_ever() -> None:
    job = plain_job().hears("hold")
    assert set(job.listening.phrases) == {p for group in WAKE_PHRASES.values() for p in group}
    assert job.listening.no_input_s is None


@pytest.mark.parametrize("wake", WAKE_PHRASES[Control.CARRY_ON])
def test_a_wake_phrase_carries_on_with_the_same_question(wake: str) -> None:
    job = plain_job().hears_each("hold", wake)
    assert job.said == "Carrying on. How many?"
    assert [len(job.recorded(k)) for k in ("hold", "carried_on")] == [1, 1]


def test_are_you_there_is_answered_while_on_hold_and_it_stays_on_hold() -> None:
    job = plain_job().hears_each("hold", "are you there")
    assert job.said.startswith("Yes. On hold.")
    assert job.state.held


def test_a_read_back_survives_a_hold() -> None:
    job = BenchJob(step("pins", ask=AskCount("pins", 1, 20, read_back=True)), step("fit"))
    job.hears_each("eight", "hold", "carry on")
    assert job.said == "Carrying on. Eight. Yes?"
    job.hears("yes")
    assert job.recorded("answer")[0]["value"] == 8


def test_stop_silences_the_voice_asks_once_and_ends() -> None:
    job = plain_job().hears("stop")
    assert isinstance(job.effects[0], StopVoice)
    assert "Yes or no" in job.said
    job.hears("yes")
    assert job.ended == "stopped"
    assert any(isinstance(e, StopListening) for e in job.effects)
    assert job.hears("eight").effects == ()


def test_stop_and_no_goes_on_with_the_question() -> None:
    assert plain_job().hears_each("stop", "no").said == "Going on. How many?"


def test_call_the_lead_holds_the_job() -> None:
    job = plain_job().hears("call the lead")
    assert job.state.held
    assert job.recorded("hold")[0]["why"] == "Call the lead."


# --- waits --------------------------------------------------------------------------------------

VOLTS = AskMeasure("volts", "V", below=5.0, high=60.0)


def waiting_job() -> BenchJob:
    return BenchJob(
        step(
            "wait",
            "Wait for the capacitors.",
            VOLTS,
            question="What is the voltage?",
            wait_s=300,
            why="They hold.",
        ),
        step("next"),
    )


def test_a_dwell_starts_a_timer_with_its_due_time_and_the_question_comes_after_it() -> None:
    job = waiting_job()
    (timer,) = job.timers_started
    assert timer.seconds == 300
    assert timer.due_ms == job.now + 300_000
    assert "What is the voltage?" not in job.said
    job.later(300).timers_done()
    assert job.said == "The time is up. What is the voltage?"
    job.hears("three")
    assert job.at == "next"


def test_talk_goes_on_during_the_dwell() -> None:
    job = waiting_job()
    assert "They hold." in job.hears("why").said
    assert job.hears("how long").said == "4 minutes 54 seconds left."
    assert "Wait for the capacitors." in job.hears("repeat").said


@pytest.mark.parametrize("early", ["done", "three"])
def test_an_early_answer_is_refused_with_the_time_left(early: str) -> None:
    job = waiting_job().hears(early)
    assert job.said == "Not yet. 4 minutes 57 seconds left."
    assert job.recorded("answer") == []


def test_a_dwell_that_ends_during_a_hold_is_remembered() -> None:
    job = waiting_job().hears("hold").later(300).timers_done()
    assert job.said == ""
    job.hears("carry on")
    assert "The time is up. What is the voltage?" in job.said


def test_a_dwell_that_ends_during_a_note_is_remembered() -> None:
    job = waiting_job().hears("note").later(300).timers_done()
    assert job.said == ""
    job.hears("scratched", typed=True)
    assert job.hears("three").at == "next"


def test_a_dwell_that_is_over_by_the_clock_needs_no_timer() -> None:
    assert waiting_job().later(301).hears("three").at == "next"


def test_going_back_and_forth_does_not_start_the_dwell_again() -> None:
    job = BenchJob(step("one"), step("wait", wait_s=60), step("two"))
    job.hears_each("done", "back", "keep it")
    assert len(job.recorded("timer_started")) == 1
    job.later(60).timers_done()
    job.hears("done")
    assert job.at == "two"


# --- notes --------------------------------------------------------------------------------------


def test_a_note_keeps_the_sound_and_the_job_goes_on_where_it_was() -> None:
    job = plain_job().hears("note")
    assert job.clips_wanted[0].seconds == 30
    assert (job.listening.pace, job.listening.keep_clip) == ("free", True)
    job.hears("stop the bus i want to get off")
    assert job.said == ""
    job.hears("end note")
    assert job.clips_wanted[0].seconds == 0
    job.happens(ClipKept(job.now, "note 1", "ab" * 32, 4.2))
    assert job.recorded("note")[0]["clip"] == "ab" * 32
    assert job.said == "Note kept. How many?"


def test_a_clip_that_comes_late_is_recorded_all_the_same() -> None:
    job = plain_job().hears_each("note", "end note", "end note", "eight")
    job.happens(ClipKept(job.now, "note 1", "cd" * 32, 4.2))
    assert job.recorded("note")[-1]["clip"] == "cd" * 32


def test_a_step_may_ask_for_a_note() -> None:
    job = BenchJob(step("damage", "Describe the damage.", AskNote("damage")), step("next"))
    assert job.clips_wanted[0].note == "damage"
    job.happens(ClipKept(job.now, "damage", "ef" * 32, 6.0))
    assert job.at == "next"
    assert job.recorded("answer")[0]["value"] == "ef" * 32


def test_the_second_step_that_asks_for_a_note_takes_it_as_the_first_did() -> None:
    """It took the first 'end note' of the second step for one said twice, and said 'No note was kept.'"""
    job = BenchJob(step("left", ask=AskNote("left")), step("right", ask=AskNote("right")), step("next"))
    for name in ("left", "right"):
        job.hears("end note")
        assert (job.clips_wanted[-1].note, job.clips_wanted[-1].seconds) == (name, 0)
        job.happens(ClipKept(job.now, name, "ef" * 32, 6.0))
    assert job.at == "next"


@pytest.mark.parametrize("key", ["done", "yes"])
def test_a_key_ends_a_spoken_note_and_is_not_the_note(key: str) -> None:
    """The pedal's 'done' was recorded as the note, and the page's 'hold' too."""
    job = plain_job().hears("note")
    job.key(key)
    assert (job.clips_wanted[-1].note, job.clips_wanted[-1].seconds) == ("note 1", 0)
    job.happens(ClipKept(job.now, "note 1", "ab" * 32, 4.2))
    assert [(note["clip"], note["text"]) for note in job.recorded("note")] == [("ab" * 32, "")]
    job = BenchJob(step("damage", ask=AskNote("damage")), step("next"))
    job.key(key)
    assert (job.at, job.clips_wanted[-1].note, job.clips_wanted[-1].seconds) == ("damage", "damage", 0)
    job.happens(ClipKept(job.now, "damage", "ef" * 32, 6.0))
    assert job.recorded("answer")[0]["value"] == "ef" * 32


def test_the_key_that_holds_also_holds_while_a_note_is_spoken() -> None:
    job = plain_job().hears("note")
    job.key("hold")
    job.happens(ClipKept(job.now, "note 1", "ab" * 32, 4.2))
    assert job.state.held
    assert job.recorded("note")[0]["clip"] == "ab" * 32
    job.hears("carry on")
    assert job.said == "Carrying on. How many?"


def test_a_step_that_asks_for_a_note_does_not_take_an_empty_one() -> None:
    job = BenchJob(step("damage", ask=AskNote("damage")), step("next"))
    job.hears("end note").happens(ClipKept(job.now, "damage", "", 0.0))
    assert "No note was kept." in job.said
    assert (job.at, job.clips_wanted[-1].seconds) == ("damage", 30)


def test_after_a_note_of_ones_own_the_note_that_the_step_asks_for_is_open_again() -> None:
    job = BenchJob(step("damage", ask=AskNote("damage")), step("next"))
    job.hears_each("note", "end note").happens(ClipKept(job.now, "note 1", "ab" * 32, 4.2))
    assert (job.clips_wanted[-1].note, job.clips_wanted[-1].seconds) == ("damage", 30)


# --- hold points --------------------------------------------------------------------------------


def hold_point() -> BenchJob:
    return BenchJob(
        step("brake", "Show the brake.", AskWitness("seen", "lead hand"), may_skip=True), step("next")
    )


@pytest.mark.parametrize("person", ["M. Hale", "m hale", " M  HALE ", "\uff2d Hale"])
def test_a_dot_a_capital_or_a_blank_makes_no_second_person(person: str) -> None:
    job = BenchJob(
        step("brake", ask=AskWitness("seen", "lead hand", (("4471", "M Hale"),))), step("next"), person=person
    )
    job.hears("four four seven one")
    assert "second person" in job.said
    assert job.recorded("witness") == []


def test_a_hold_point_needs_a_second_persons_code() -> None:
    job = hold_point()
    assert "Hold point." in job.said
    job.hears_each("four four seven one", "yes")
    assert job.recorded("witness")[0]["name"] == "Meg Hale"
    assert job.at == "next"


def test_the_person_at_work_cannot_be_the_witness() -> None:
    job = BenchJob(step("brake", ask=AskWitness("seen")), step("next"), person="meg hale")
    job.hears_each("four four seven one", "yes")
    assert job.at == "brake"
    assert job.recorded("answer") == []


def test_three_wrong_codes_call_the_lead() -> None:
    job = hold_point()
    job.hears_each("one one one one", "two two two two")
    assert "Call the lead" not in job.said
    assert "Call the lead" in job.hears("three three three three").said
    assert job.at == "brake"


def test_a_hold_point_cannot_be_skipped() -> None:
    assert "cannot be skipped" in hold_point().hears("skip").said


# --- devices, noise, restart --------------------------------------------------------------------


def test_a_lost_headset_holds_the_job_and_its_return_asks_the_same_question() -> None:
    job = plain_job()
    job.happens(DeviceLost(job.now, "headset"))
    assert "I lost the headset" in job.said
    assert job.shown["condition"] == "held"
    assert job.hears("eight").effects == ()
    job.happens(DeviceBack(job.now, "headset"))
    assert job.said == "The headset is back. How many?"


def test_a_key_carries_on_without_the_microphone() -> None:
    job = plain_job()
    job.happens(DeviceLost(job.now, "headset"))
    assert job.key("carry_on").said == "Carrying on. How many?"


def test_noise_is_told_once_and_everything_is_then_read_back() -> None:
    job = plain_job()
    job.happens(NoiseChanged(job.now, True, 3.0))
    assert "3 decibels over" in job.said
    assert job.hears("eight").kinds_said == ["read_back"]
    job.happens(NoiseChanged(job.now, False))
    job.happens(NoiseChanged(job.now, True, 6.0))
    assert job.said == ""
    assert len(job.recorded("noise")) == 3


def test_after_a_restart_it_says_where_the_job_is_and_asks_the_same_question() -> None:
    job = plain_job().hears("eight")
    job.happens(Resumed(job.now + 3_600_000))
    assert job.said == "Carrying on: Bench job, step 2 of 4. Fit the harness."
    assert job.hears("done").at == "label"


def test_after_a_restart_the_warning_of_the_step_is_told_again() -> None:
    job = BenchJob(step("lift", "Lift it.", cautions=warning("It falls."))).hears("understood")
    job.happens(Resumed(job.now))
    assert job.said == "Carrying on: Bench job, step 1 of 1. Warning. It falls. Lift it."


def test_after_a_restart_a_running_dwell_ends_when_it_was_due() -> None:
    job = waiting_job().later(100)
    due = job.state.visit.due_ms
    job.happens(Resumed(job.now))
    assert [(t.seconds, t.due_ms) for t in job.timers_started] == [(200.0, due)]
    job.later(500).happens(Resumed(job.now))
    assert "The time is up. What is the voltage?" in job.said


def test_after_a_restart_in_a_dwell_it_says_what_the_wait_is_for() -> None:
    """Also of a step without a question of its own: nobody knows after a lunch which step it was."""
    job = BenchJob(step("clip", "Clip the lead on.", wait_s=300.0)).later(100)
    job.happens(Resumed(job.now))
    assert "step 1 of 1. Clip the lead on. 3 minutes 20 seconds left." in job.said
    job.later(500).happens(Resumed(job.now))
    assert job.said.count("Clip the lead on.") == 1, "once, with the question, when the time is up"


def test_after_a_restart_in_the_middle_of_a_note_the_step_is_told_once() -> None:
    job = plain_job().hears("eight").hears("note")
    job.happens(Resumed(job.now))
    assert job.said == "Carrying on: Bench job, step 2 of 4. Fit the harness."


def test_a_job_on_hold_stays_on_hold_after_a_restart() -> None:
    job = plain_job().hears("hold")
    job.happens(Resumed(job.now))
    assert job.state.held
    assert "carry on" in job.said


# --- keys, and the end --------------------------------------------------------------------------


def test_keys_do_what_the_words_do() -> None:
    job = BenchJob(step("one", cautions=warning()), step("two", "Locked?", AskYesNo("locked")), step("three"))
    for key in ("understood", "done", "yes"):
        job.key(key)
    assert job.at == "three"
    assert job.key("how_far").said.startswith("Step 3 of 3.")


def test_the_summary_tells_deviations_first() -> None:
    job = BenchJob(
        step("fit", "Fit it.", AskDone("fit"), may_skip=True),
        step("volts", "Measure the link.", VOLTS, out_of_limits="last"),
        step("last", "Sign."),
    )
    job.hears_each("skip", "no part", "twelve", "yes", "done")
    assert job.said.startswith(
        "Done. Out of limits: Measure the link, twelve volts. Skipped: Fit it, no part."
    )
    assert job.recorded("ended")[0]["deviations"] == 1
    assert job.ended == "complete"


def test_what_was_put_right_is_not_told_as_out_of_limits_at_the_end() -> None:
    job = BenchJob(
        step("volts", "Measure the link.", VOLTS, out_of_limits="wait"),
        step("last", "Sign.", then=branches(otherwise=END)),
        step("wait", "Wait a minute.", then=branches(otherwise="volts")),
    )
    job.hears_each("twelve", "yes", "done", "three", "yes", "done")
    assert job.ended == "complete"
    assert "1 value was out of limits and put right. 4 steps done." in job.said
    assert "twelve" not in job.said
    assert job.recorded("ended")[0]["deviations"] == 0


def test_a_step_skipped_at_its_warning_is_not_answered_later_before_that_is_acknowledged() -> None:
    job = BenchJob(step("one", cautions=warning(), may_skip=True), step("two"))
    job.hears_each("skip", "not fitted", "back")
    assert job.state.awaiting is Awaiting.CAUTION
    job.hears("done")  # to the warning
    assert job.recorded("answer", "answer_changed") == []
    job.hears("done")
    assert len(job.recorded("caution_acknowledged")) == 1
    assert [data["step"] for data in job.recorded("answer_changed")] == ["one"]


HITCH = AskChoice("hitch", (Option("ball", ("ball",)), Option("hook", ("hook",))))


@pytest.mark.parametrize(
    "said", ["stop the hook slipped", "hold on hook", "note hook bent", "wait hook", "undo hook"]
)
@pytest.mark.parametrize("typed", [True, False])
def test_an_order_beside_an_option_is_never_that_option(said: str, typed: bool) -> None:
    """ "Stop, the hook slipped" was recorded as the answer hook, and the job went on."""
    job = BenchJob(step("kind", "Look at the hitch.", ask=HITCH), step("next"))
    job.hears(said, typed=typed)
    assert job.recorded("answer") == []
    assert job.at == "kind"


def test_typed_in_one_line_stop_and_hold_act_and_a_note_is_kept() -> None:
    job = BenchJob(step("kind", "Look at the hitch.", ask=HITCH))
    assert job.hears("stop, the hook slipped", typed=True).said == "Stop the job for good? Yes or no."
    job.hears("No.", typed=True)
    job.hears("Note: the hook is bent", typed=True)
    assert [entry["text"] for entry in job.recorded("note")] == ["the hook is bent"]
    assert job.said == "Note kept. Look at the hitch."
    assert job.hears("hold, the line is live", typed=True).state.on_hold


def test_where_a_note_is_asked_for_every_typed_word_is_the_note() -> None:
    job = BenchJob(step("tell", "Tell what you saw.", ask=AskNote("remark")), step("next"))
    job.hears("stop valve leaks", typed=True)
    assert [entry["value"] for entry in job.recorded("answer")] == ["stop valve leaks"]


@pytest.mark.parametrize("said", ["Stop!", "stop.", "stop stop stop"])
def test_stop_in_haste_or_with_a_mark_is_stop(said: str) -> None:
    job = BenchJob(step("fit", "Fit the harness."))
    assert job.hears(said, typed=True).said == "Stop the job for good? Yes or no."


def test_a_caution_is_acknowledged_with_a_full_stop_too() -> None:
    job = BenchJob(step("fit", "Fit the harness.", cautions=warning()))
    assert "Fit the harness." in job.hears("Understood.", typed=True).said


def test_an_answer_typed_with_a_question_mark_is_read_back() -> None:
    job = BenchJob(step("kind", "Look at the hitch.", ask=HITCH), step("next"))
    assert job.hears("hook?", typed=True).said == "Hook. Yes?"


@pytest.mark.parametrize("typed", [True, False])
@pytest.mark.parametrize("at_read_back", [True, False])
def test_an_order_is_no_serial_where_the_pattern_takes_any_letters(typed: bool, at_read_back: bool) -> None:
    """ "Stop", and the pedal's "done", were read back as the serials STOP and DONE."""
    plate = AskSerial("plate", "[A-Z0-9]{4,10}")
    job = BenchJob(step("plate", ask=plate), step("fit"))
    if at_read_back:
        job.hears("AB1234", typed=True)
    assert job.hears("stop", typed=typed).said == "Stop the job for good? Yes or no."
    job.hears("no", typed=typed)
    job.key("done")
    assert "oscar" not in job.said
    assert "hold" in job.hears("hold", typed=typed).said
    assert job.recorded("answer") == []
    assert len(job.recorded("hold")) == 1
