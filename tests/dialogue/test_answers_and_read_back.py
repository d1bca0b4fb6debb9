"""Answers: taken in one breath, read back when they matter, corrected in one breath.

Outside check: read-back practice (a critical value is repeated by the hearer and confirmed by the
speaker before it is acted on), as in aviation and radio work; common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from sayso.dialogue.events import NoiseChanged
from sayso.procedure.model import (
    Ask,
    AskChoice,
    AskCount,
    AskDone,
    AskMeasure,
    AskSerial,
    AskTime,
    AskTorque,
    AskWitness,
    AskYesNo,
    Option,
)

from .bench_job import BenchJob, step

PINS = AskCount("pins", 1, 60)
CRITICAL = AskCount("pins", 1, 60, read_back=True)
VOLTS = AskMeasure("volts", "V", below=5.0, high=60.0)


def test_a_plain_answer_is_echoed_and_the_next_step_follows_in_the_same_breath() -> None:
    job = BenchJob(step("pins", ask=PINS), step("fit", "Fit the harness."))
    job.hears("eight")
    assert job.said == "Eight. Fit the harness."
    assert job.recorded("answer")[0]["value"] == 8


def test_a_critical_answer_is_read_back_and_waits_for_yes() -> None:
    job = BenchJob(step("pins", ask=CRITICAL), step("fit", "Fit the harness."))
    job.hears("eight")
    assert job.said == "Eight. Yes?"
    assert job.recorded("answer") == []
    job.hears("yes")
    assert job.said == "Confirmed. Fit the harness."
    assert job.recorded("answer")[0]["confirmed"] == "yes"


@pytest.mark.parametrize(
    ("said", "value"),
    [("no good", "Good"), ("no longer good", "Good"), ("good, no oil", "Oil"), ("no, oil", "Oil")],
)
def test_a_no_before_an_option_may_deny_it_and_is_read_back(said: str, value: str) -> None:
    """ "No good" is "no, good" to the ear, and was recorded as good without a question."""
    lining = AskChoice("lining", (Option("good", ("good",)), Option("oily", ("oil",))))
    job = BenchJob(step("look", ask=lining), step("fit"))
    assert job.hears(said).said == f"{value}. Yes?"
    assert job.recorded("answer") == []


@pytest.mark.parametrize("said", ["about eight", "that should be eight", "should be 8"])
def test_a_value_that_is_guessed_or_expected_is_read_back(said: str) -> None:
    job = BenchJob(step("pins", ask=PINS), step("fit"))
    assert job.hears(said, typed=True).said == "Eight. Yes?"


def test_a_typed_value_that_was_rejected_before_is_read_back_again() -> None:
    """ "I keep hearing twenty four. Type it in figures" was told to somebody who had typed 24."""
    job = BenchJob(step("pins", ask=CRITICAL), step("fit"))
    for typed in ("24", "no", "23"):
        job.hears(typed, typed=True)
    assert job.hears("no, 24", typed=True).said == "Twenty four. Yes?"
    job.hears("yes", typed=True)
    assert job.recorded("answer")[0]["value"] == 24


@pytest.mark.parametrize("ask", [CRITICAL, AskMeasure("volts", "V", low=0, high=60, read_back=True)])
@pytest.mark.parametrize("typed", ["1", "no, 1"])
def test_a_one_typed_at_the_read_back_of_a_number_is_that_number_and_no_yes(ask: Ask, typed: str) -> None:
    """It confirmed eight, which was read back."""
    job = BenchJob(step("pins", ask=ask), step("fit"))
    job.hears("8", typed=True).hears(typed, typed=True)
    assert job.said in ("One. Yes?", "One volt. Yes?")
    assert job.recorded("answer") == []


def test_an_unsure_answer_is_read_back() -> None:
    job = BenchJob(step("pins", ask=PINS), step("fit"))
    assert job.hears("eight", confidence=0.5).said == "Eight. Yes?"


def test_two_unsure_yeses_to_the_same_read_back_are_one() -> None:
    job = BenchJob(step("pins", ask=CRITICAL), step("fit", "Fit the harness."))
    job.hears("eight")
    assert job.hears("yes", confidence=0.5).said == "Eight. Yes?"
    assert job.recorded("answer") == []
    assert job.hears("yes", confidence=0.5).said == "Confirmed. Fit the harness."


@pytest.mark.parametrize("between", ["no", "twelve", "no twelve"])
def test_an_unsure_yes_counts_for_its_own_read_back_only(between: str) -> None:
    job = BenchJob(step("pins", ask=CRITICAL), step("fit", "Fit the harness."))
    job.hears("eight").hears("yes", confidence=0.5)
    job.hears(between)
    if between == "no":
        job.hears("eight")
    job.hears("yes", confidence=0.5)
    assert job.recorded("answer") == []


def test_two_unsure_words_that_may_be_a_denial_are_no_yes() -> None:
    """ "that's wrong" was heard as "right" (see `sayso simulate`), so "right" is never half a yes."""
    job = BenchJob(step("pins", ask=CRITICAL), step("fit", "Fit the harness."))
    job.hears("eight").hears("right", confidence=0.5)
    job.hears("right", confidence=0.5)
    job.hears("yes", confidence=0.5)
    assert job.recorded("answer") == []


def test_an_unsure_done_is_read_back() -> None:
    job = BenchJob(step("one"), step("two"))
    job.hears("done", confidence=0.5)
    assert job.at == "one"
    job.hears("yes")
    assert job.at == "two"


def test_in_noise_everything_is_read_back() -> None:
    job = BenchJob(step("pins", ask=PINS), step("fit"))
    assert job.hears("eight", noisy=True).kinds_said == ["read_back"]


def test_noise_is_told_once_and_again_only_when_it_gets_worse() -> None:
    job = BenchJob(step("pins", ask=PINS), step("fit"))
    job.happens(NoiseChanged(job.now, True, 3.0))
    assert "3 decibels over" in job.said
    job.happens(NoiseChanged(job.now, True, 3.0))
    assert job.said == ""
    job.happens(NoiseChanged(job.now, True, 10.0))
    assert "louder still: 10 decibels over" in job.said
    job.happens(NoiseChanged(job.now, False))
    job.happens(NoiseChanged(job.now, True, 5.0))
    assert job.said == ""


def test_fifteen_is_read_back_because_it_sounds_like_fifty() -> None:
    job = BenchJob(step("pins", ask=PINS), step("fit"))
    job.hears("fifteen")
    assert job.kinds_said == ["read_back"]
    assert "one five" in job.said


def test_no_four_corrects_in_one_breath_and_is_read_back_in_its_turn() -> None:
    job = BenchJob(step("pins", ask=CRITICAL), step("fit"))
    job.hears_each("eight", "no four")
    assert job.said == "Four. Yes?"
    job.hears("yes")
    assert [a["value"] for a in job.recorded("answer")] == [4]


def test_twelve_no_thirteen_is_thirteen() -> None:
    job = BenchJob(step("pins", ask=PINS), step("fit"))
    job.hears_each("twelve no thirteen", "yes")
    assert job.recorded("answer")[0]["value"] == 13


def test_saying_the_value_once_more_in_the_same_words_confirms_nothing() -> None:
    """ "No, eighty eight" that loses its "no" and is misheard as before is the first value once more."""
    job = BenchJob(step("pins", ask=CRITICAL), step("fit"))
    job.hears_each("eight", "eight")
    assert job.recorded("answer") == []
    assert job.said == "Say yes or no."
    job.hears("yes")
    assert job.recorded("answer")[0]["confirmed"] == "yes"


@pytest.mark.parametrize("words", ["right", "that's right", "correct", "affirmative", "it is"])
def test_a_yes_that_a_denial_sounds_like_confirms_nothing(words: str) -> None:
    """ "That's wrong" was heard as "right" in noise; "incorrect" holds "correct"."""
    job = BenchJob(step("pins", ask=CRITICAL), step("fit"))
    job.hears_each("eight", words)
    assert job.recorded("answer") == []
    assert job.said == "Say yes or no."


@pytest.mark.parametrize("words", ["yes", "yeah", "yes that's right", "aye"])
def test_a_plain_yes_confirms(words: str) -> None:
    job = BenchJob(step("pins", ask=CRITICAL), step("fit"))
    job.hears_each("eight", words)
    assert job.recorded("answer")[0]["value"] == 8


def test_the_same_words_do_not_confirm_a_value_that_is_easily_misheard() -> None:
    job = BenchJob(step("pins", ask=CRITICAL), step("fit"))
    job.hears_each("fifty", "fifty")
    assert job.recorded("answer") == []
    job.hears("five zero")
    assert job.recorded("answer")[0]["value"] == 50


def test_another_value_without_no_is_read_back_anew() -> None:
    job = BenchJob(step("pins", ask=CRITICAL), step("fit"))
    job.hears_each("eight", "six")
    assert job.said == "Six. Yes?"
    assert job.recorded("answer") == []


def test_after_no_it_asks_again() -> None:
    job = BenchJob(step("pins", ask=CRITICAL), step("fit"))
    job.hears_each("eight", "no")
    assert job.said == "Again, please."
    job.hears_each("six", "yes")
    assert job.recorded("answer")[0]["value"] == 6


def test_a_value_rejected_twice_and_heard_again_leads_to_spelling_or_keys() -> None:
    job = BenchJob(step("pins", ask=CRITICAL), step("fit"))
    job.hears_each("fifty", "no", "fifty", "no", "fifty")
    assert "I keep hearing fifty. Say it digit by digit, or" in job.said
    assert "keys" in job.said
    assert job.recorded("answer") == []
    job.hears_each("one five", "yes")
    assert job.recorded("answer")[0]["value"] == 15


def test_a_half_heard_yes_does_not_confirm() -> None:
    job = BenchJob(step("pins", ask=CRITICAL), step("fit"))
    job.hears("eight")
    job.hears("yes", confidence=0.4)
    assert job.recorded("answer") == []


def test_a_critical_no_is_confirmed_by_yes() -> None:
    job = BenchJob(step("locked", "Is it locked?", AskYesNo("locked", read_back=True)), step("next"))
    job.hears_each("no", "yes")
    assert job.recorded("answer")[0]["value"] is False


def test_a_serial_is_read_back_in_groups() -> None:
    job = BenchJob(step("serial", ask=AskSerial("controller", "[A-Z]{2}[0-9]{6}")), step("next"))
    job.hears("kilo delta one two three four five six")
    assert job.said == "Kilo delta, one two three, four five six. Yes?"
    assert job.hears("yes").recorded("answer")[0]["value"] == "KD123456"
    assert job.recorded("answer")[0]["critical"] is True


def test_a_less_likely_but_legal_reading_is_offered_for_confirmation() -> None:
    job = BenchJob(step("pins", ask=PINS), step("fit"))
    job.hears("ate", alternatives=(("hate",), ("eight",)))
    assert job.said == "Eight. Yes?"


def test_done_where_a_value_is_asked_is_explained() -> None:
    job = BenchJob(step("pins", ask=PINS), step("fit"))
    assert "This step asks for a count." in job.hears("done").said


def test_an_answer_word_wins_over_a_control_word() -> None:
    side = AskChoice("side", (Option("back", ("back",)), Option("front", ("front",))))
    job = BenchJob(step("side", ask=side), step("fit"))
    job.hears("back")
    assert job.recorded("answer")[0]["value"] == "back"


# --- limits -------------------------------------------------------------------------------------


def test_a_value_over_the_limit_is_read_back_with_the_limit_and_never_taken_silently() -> None:
    job = BenchJob(step("volts", ask=VOLTS), step("next"))
    job.hears("twelve")
    assert "limit of five volts" in job.said
    assert job.recorded("answer", "deviation") == []


def test_confirmed_it_is_a_deviation_and_is_measured_again() -> None:
    job = BenchJob(step("volts", ask=VOLTS), step("next"))
    job.hears_each("twelve", "yes")
    assert job.recorded("deviation")[0]["value"] == 12.0
    assert job.recorded("answer") == []
    assert "Measure again" in job.said
    assert "call the lead" in job.said
    assert "skip" not in job.said
    job.hears("three point two")
    assert job.recorded("answer")[0]["value"] == 3.2
    assert job.at == "next"


def test_skip_is_offered_for_a_deviation_only_where_the_step_allows_it() -> None:
    job = BenchJob(step("volts", ask=VOLTS, may_skip=True), step("next"))
    job.hears_each("twelve", "yes")
    assert "say skip" in job.said
    job.hears_each("skip", "the lead said so")
    assert job.at == "next"


def test_the_procedure_may_say_where_an_out_of_limits_value_leads() -> None:
    job = BenchJob(step("volts", ask=VOLTS, out_of_limits="wait"), step("next", ends="ok"), step("wait"))
    job.hears_each("twelve", "yes")
    assert job.at == "wait"
    assert job.recorded("deviation")[0]["below"] == 5.0
    assert job.recorded("answer")[0]["within"] is False


# --- torque -------------------------------------------------------------------------------------


def test_a_torque_is_told_and_taken_in_the_unit_of_the_wrench() -> None:
    """9 N.m is 80 lbf.in: 9 / 0.1129848 (NIST SP 811 conversion factor, from memory) = 79.66."""
    busbar = AskTorque("busbar", 9.0, 8.1, 9.9, fasteners=2)
    job = BenchJob(step("busbar", "Torque the busbar screws.", busbar), step("next"), wrench="lbf.in")
    assert "eighty inch pounds, each of the 2 fasteners" in job.said
    job.hears_each("eighty", "yes")
    answer = job.recorded("answer")[0]
    assert answer["value"] == pytest.approx(80 * 0.1129848, rel=1e-5)
    assert (answer["said_value"], answer["said_unit"]) == (80.0, "lbf.in")
    assert (answer["target"], answer["low"], answer["high"], answer["fasteners"]) == (9.0, 8.1, 9.9, 2)


def test_the_wrench_is_changed_by_voice() -> None:
    job = BenchJob(step("busbar", ask=AskTorque("busbar", 9.0, 8.1, 9.9)), step("next"))
    assert "nine newton metres" in job.said
    job.hears("foot pound wrench")
    assert "foot pounds" in job.said
    assert job.recorded("wrench_changed") == [{"wrench": "lbf.ft"}]
    assert job.shown["torque"]["unit"] == "lbf.ft"


def test_several_fasteners_are_asked_once() -> None:
    job = BenchJob(step("busbar", ask=AskTorque("busbar", 9.0, 8.1, 9.9, fasteners=4)), step("next"))
    job.hears_each("nine", "yes")
    assert job.at == "next"


def test_quiet_mode_drops_the_echo_of_done_but_not_of_a_value() -> None:
    job = BenchJob(step("one"), step("pins", "Count the pins.", PINS), step("two", "Go on."), quiet=True)
    assert job.hears("done").said == "Count the pins."
    assert job.hears("eight").said.startswith("Eight.")


def test_done_twice_is_two_steps_not_one() -> None:
    job = BenchJob(step("one", ask=AskDone("one")), step("two"), step("three"))
    job.hears_each("done", "done")
    assert [a["step"] for a in job.recorded("answer")] == ["one", "two"]


def test_a_correction_right_after_an_answer_is_never_taken_for_the_next_one_unasked() -> None:
    """ "no, nine" was meant for the front pins; as an answer to the rear ones both counts would be wrong."""
    front, rear = AskCount("front_pins", 1, 60), AskCount("rear_pins", 1, 60)
    job = BenchJob(step("front", "Count in front.", ask=front), step("rear", "Count behind.", ask=rear))
    job.hears("eight")
    job.hears("no nine")
    assert job.said == "For rear pins. If you mean front pins, say no, then undo. Nine. Yes?"
    job.hears_each("no", "undo")
    assert "Taken back: Eight." in job.said
    job.hears_each("ten", "twelve")
    assert [entry["value"] for entry in job.recorded("answer")] == [8, 10, 12]
    assert [entry["was"]["value"] for entry in job.recorded("answer_undone")] == [8]


def test_a_correction_at_a_step_that_takes_no_value_is_told_the_way_back() -> None:
    job = BenchJob(step("pins", ask=PINS), step("fit", "Fit the harness."))
    job.hears("eight")
    assert job.hears("no nine").said == "If you mean pins, say undo."
    assert job.recorded("answer_undone") == []


@pytest.mark.parametrize("first", ["spanner", "no forty"])
def test_a_correction_of_what_was_just_said_to_this_question_stays_one_breath(first: str) -> None:
    job = BenchJob(step("a", ask=AskCount("a", 1, 60)), step("b", ask=AskCount("b", 1, 20)))
    job.hears("eight")
    job.hears(first)
    assert "If you mean a" not in job.hears("no nine").said


# --- a no beside an answer, and a correction of a part --------------------------------------------

LEAK = AskChoice("seal", (Option("leak", ("leak", "leaking")), Option("dry", ("no leak", "dry"))))


def test_no_done_may_be_what_is_left_of_not_done() -> None:
    job = BenchJob(step("chock"), step("lift"))
    for said in ("no done", "wrong done", "sorry ready"):
        job.hears(said)
    assert job.at == "chock"


@pytest.mark.parametrize("said", ["no correct", "no that's correct", "no sure", "wrong correct", "no yes"])
@pytest.mark.parametrize("critical", [False, True])
def test_yes_behind_a_no_is_no_answer(said: str, critical: bool) -> None:
    job = BenchJob(step("locked", "Is it locked?", AskYesNo("locked", read_back=critical)), step("next"))
    assert job.hears(said).recorded("answer") == []
    if critical:
        job.hears_each("yes", said)
        assert job.recorded("answer") == []


@pytest.mark.parametrize("said", ["no leak", "there is no leak", "dry, no leak", "no-leak"])
def test_an_option_that_begins_with_no_is_not_its_opposite(said: str) -> None:
    """ "No leak" was read back as "Leak. Yes?", and again when it was said again."""
    job = BenchJob(step("look", ask=LEAK), step("next"))
    assert job.hears(said).said == "No leak. Yes?"
    assert job.hears("yes").recorded("answer")[0]["value"] == "dry"


def test_at_the_read_back_of_such_an_option_its_name_is_neither_a_yes_nor_a_no() -> None:
    job = BenchJob(step("look", ask=LEAK), step("next"))
    job.hears_each("no leak", "no leak")
    assert job.recorded("answer") == []
    assert job.hears("yes").recorded("answer")[0]["value"] == "dry"


def test_its_name_corrects_the_opposite_that_was_read_back() -> None:
    job = BenchJob(step("look", ask=replace(LEAK, read_back=True)), step("next"))
    job.hears_each("leaking", "no leak")
    assert job.said == "No leak. Yes?"
    assert job.hears("yes").recorded("answer")[0]["value"] == "dry"


def test_an_option_that_is_heard_wrong_again_and_again_has_no_digits() -> None:
    job = BenchJob(step("look", ask=replace(LEAK, read_back=True)), step("next"))
    job.hears_each("leak", "no", "dry", "no", "leak")
    assert job.said == "I keep hearing leak. Say it in other words, or use the keys."


@pytest.mark.parametrize(
    ("ask", "said", "value"),
    [
        (AskMeasure("volts", "V", high=60.0), "twelve point five no six", "Six volts."),
        (AskMeasure("volts", "V", high=60.0), "twelve no point six", "Zero point six volts."),
        (AskMeasure("volts", "V", high=60.0), "forty eight volts no seven", "Seven volts."),
        (PINS, "twenty three no four", "Four."),
        (PINS, "no four", "Four."),  # what is left of "not four"
        (AskMeasure("outside", "degC", low=-30.0, high=60.0), "minus sorry nine", "Nine degrees celsius."),
        (AskMeasure("volts", "V", high=200.0), "hundred sorry eight", "Eight volts."),
        (AskTime("begun"), "fourteen fifteen no twenty", "Twenty hundred, eight o'clock in the evening."),
    ],
)
def test_a_correction_that_may_put_right_a_part_only_is_read_back(ask: Ask, said: str, value: str) -> None:
    """Six, or twelve point six? Twenty hundred, or fourteen twenty? They were taken at once."""
    job = BenchJob(step("ask", ask=ask), step("next"))
    assert job.hears(said).said == f"{value} Yes?"


@pytest.mark.parametrize("said", ["[unk] no twelve", "twenty [unk] no twelve", "twelve [unk]"])
def test_a_sound_that_is_no_word_has_the_value_behind_it_read_back(said: str) -> None:
    """ "There is no twelve" was twelve; without the "no" it was read back before."""
    job = BenchJob(step("pins", ask=PINS), step("next"))
    assert job.hears(said).said == "Twelve. Yes?"


def test_a_correction_of_a_whole_value_is_taken_in_one_breath() -> None:
    job = BenchJob(step("pins", ask=PINS), step("next"))
    assert job.hears("twenty three no twenty four").recorded("answer")[0]["value"] == 24


@pytest.mark.parametrize(
    ("unit", "said", "value"),
    [
        ("V", "four four", "Four volts"),
        ("mm", "nine nine inches", "Nine inches, that is two hundred and twenty nine"),
    ],
)
def test_a_number_said_twice_may_have_lost_its_point(unit: str, said: str, value: str) -> None:
    """44 V and 99 inches cannot be here: four, or four point four? Its first half passed for all that was
    said."""
    job = BenchJob(step("ask", ask=AskMeasure("value", unit, low=0.0, high=40.0 if unit == "V" else 500.0)))
    job.hears(said)
    assert job.said.startswith(value)
    assert job.said.endswith("Yes?")


@pytest.mark.parametrize(
    "said", ["half a volt", "five volts", "two and a half volts", "five point two volts"]
)
def test_words_of_a_unit_behind_a_number_are_no_second_number(said: str) -> None:
    job = BenchJob(step("ask", ask=AskMeasure("value", "V", low=0.0, high=40.0)), step("next"))
    assert len(job.hears(said).recorded("answer")) == 1


@pytest.mark.parametrize("said", ["stop no five", "hold it sorry five", "stop wrong left"])
@pytest.mark.parametrize(
    "ask", [PINS, AskChoice("side", (Option("left", ("left",)), Option("other", ("other",))))]
)
def test_stop_before_a_correction_is_no_slip_of_the_tongue(ask: Ask, said: str) -> None:
    job = BenchJob(step("ask", ask=ask), step("next"))
    job.hears_each(said, "yes")
    assert job.recorded("answer") == []


@pytest.mark.parametrize("said", ["oh", "no oh", "um oh"])
@pytest.mark.parametrize("ask", [AskCount("leaks", 0, 9), AskMeasure("volts", "V", high=60.0)])
def test_oh_alone_may_be_surprise_and_no_nought(ask: Ask, said: str) -> None:
    job = BenchJob(step("ask", ask=ask), step("next"))
    assert job.hears(said).said.startswith("Zero")
    assert job.recorded("answer") == []


def test_a_value_again_beside_a_sound_that_is_no_word_does_not_confirm() -> None:
    """The sound may have been "not": beside a yes it keeps that from counting, too."""
    job = BenchJob(step("pins", ask=CRITICAL), step("next"))
    job.hears_each("fifteen", "[unk] one five")
    assert job.recorded("answer") == []
    assert job.hears("one five").recorded("answer")[0]["value"] == 15


def test_a_wrong_code_is_not_taken_for_the_right_one_that_sounds_like_it() -> None:
    job = BenchJob(step("release", ask=AskWitness("released", "lead hand")), step("next"))
    right = ("four", "four", "seven", "one")
    job.hears("four four seven nine", alternatives=(right,))
    assert job.said == "I do not know that code."
    job.hears("yes")
    assert job.at == "release"
    job.hears_each(" ".join(right), "yes")
    assert job.recorded("witness")[0]["name"] == "Meg Hale"
