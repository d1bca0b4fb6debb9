"""Silence and words not understood.

Outside check: W3C VoiceXML 2.1 keeps a count of noinput and of nomatch events per field, set back when
the field is entered again (second hand: www-voice archive 2001OctDec/0077); the wording per count is ours.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from sayso.procedure.model import Ask, AskCount, AskMeasure, AskSerial, AskTime, AskTorque, AskYesNo

from .bench_job import BenchJob, step

PINS = step("pins", "Count the pins.", AskCount("pins", 6, 14))


def test_at_a_step_that_waits_for_done_it_asks_once_and_then_waits_quietly_for_hours() -> None:
    job = BenchJob(step("fit", "Fit the harness."))
    assert job.listening.no_input_s is not None
    assert job.silence().said == "Say done when it is done."
    assert job.listening.no_input_s is None
    assert job.silence().effects == ()
    job.later(3 * 3600).hears("are you there")
    assert "Yes, I am listening. Step 1 of 1." in job.said


def test_a_question_is_asked_in_changing_words_then_it_waits_quietly_and_still_listens() -> None:
    job = BenchJob(PINS)
    first = job.silence().said
    second = job.silence().said
    third = job.silence().said
    assert first == "Pins?"
    assert "six to fourteen" in second
    assert "keys" in third
    assert job.listening.no_input_s is None
    assert job.silence().effects == ()
    job.hears("eight")
    assert job.recorded("answer")[0]["value"] == 8


def test_two_no_matches_give_the_choices_and_three_offer_spelling_or_keys() -> None:
    job = BenchJob(PINS)
    job.noise()
    assert "six to fourteen" in job.noise().said
    assert job.noise().said == "Say it digit by digit, or use the keys."


DIGITS, WITH_UNIT = "Say it digit by digit", "Say it digit by digit, then the unit"
HOUR_FIRST = "Say the hour, then the minutes, such as fourteen thirty"
SPELLED = "Spell it, one letter or digit at a time"

#: The last resort of each kind, and words that do as it says.
PIECE_BY_PIECE = [
    (AskSerial("s", pattern="[A-Z]{2}[0-9]{2}"), SPELLED, "kilo delta one five", "KD15"),
    (AskCount("n", 6, 60), DIGITS, "one five", 15),
    (AskCount("n", 0, 4), "Say only the number", "four", 4),
    (AskMeasure("gap", "mm", at_most=60), WITH_UNIT, "one two point five millimetres", 12.5),
    (AskMeasure("clicks", "", at_most=60), DIGITS, "one five", 15),
    (AskTorque("stud", 50, 45, 55), WITH_UNIT, "five zero newton metres", 50),
    (AskTime("began"), HOUR_FIRST, "fourteen thirty", "14:30"),
]


@pytest.mark.parametrize(("ask", "said", "words", "value"), PIECE_BY_PIECE)
def test_the_last_resort_is_a_way_to_say_this_kind_of_answer_and_is_heard(
    ask: Ask, said: str, words: str, value: object
) -> None:
    job = BenchJob(step("a", "Read it.", ask), step("fit"))
    job.noise()
    job.noise()
    assert job.noise().said == f"{said}, or use the keys."
    pairs = {pair for phrase in job.listening.phrases for pair in pairwise(phrase.split())}
    if isinstance(ask, AskSerial):  # its grammar is of single letters and digits
        assert set(words.split()) <= set(job.listening.phrases)
    elif len(words.split()) > 1:
        assert set(pairwise(words.split())) <= pairs, "the recogniser's grammar must hear what is advised"
    job.hears(words)
    job.hears("yes")
    assert job.recorded("answer")[0]["value"] == value


def test_after_three_no_matches_tools_and_talk_do_not_make_it_chatter() -> None:
    job = BenchJob(PINS)
    for _ in range(3):
        job.noise()
    assert job.noise().said == ""
    assert job.listening.phrases


def test_silence_and_no_match_are_counted_apart() -> None:
    job = BenchJob(PINS)
    job.silence()
    job.noise()
    assert (job.state.tries.no_input, job.state.tries.no_match) == (1, 1)


def test_the_counts_start_anew_when_a_question_is_entered() -> None:
    job = BenchJob(PINS, step("locked", "Locked?", AskYesNo("locked")))
    job.silence()
    job.noise()
    job.hears("eight")
    assert (job.state.tries.no_input, job.state.tries.no_match) == (0, 0)
    job.silence()
    job.hears("repeat")
    assert job.state.tries.no_input == 0


def test_a_number_that_cannot_be_is_told_why() -> None:
    job = BenchJob(PINS)
    said = job.hears("forty").said
    assert "six" in said
    assert "fourteen" in said


def test_what_a_noise_cut_off_is_said_again() -> None:
    job = BenchJob(step("fit", "Fit the harness."))
    from sayso.dialogue.events import BargeIn

    job.happens(BargeIn(job.now))
    assert "Fit the harness." in job.noise().said


def test_every_silence_that_is_answered_is_recorded() -> None:
    job = BenchJob(PINS)
    for _ in range(5):
        job.silence()
    assert [r["count"] for r in job.recorded("no_input")] == [1, 2, 3]
