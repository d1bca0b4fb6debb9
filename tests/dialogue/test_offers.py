"""Guesses at what was not understood: asked about, and worth nothing without a yes."""

from __future__ import annotations

import json

import pytest

from sayso.dialogue import Settings, asking, snapshot
from sayso.dialogue.advance import replay
from sayso.dialogue.codec import event_from_json, event_to_json
from sayso.dialogue.events import NoMatch
from sayso.dialogue.state import Awaiting
from sayso.procedure.model import (
    Ask,
    AskChoice,
    AskCount,
    AskDone,
    AskMeasure,
    AskNote,
    AskSerial,
    AskTorque,
    AskWitness,
    AskYesNo,
    Option,
)

from .bench_job import BenchJob, step

PINS = step("pins", "Count the pins.", AskCount("pins", 0, 9))


def job(ask: Ask | None = None) -> BenchJob:
    made = BenchJob(step("look", "Look.", ask) if ask else PINS, step("fit"))
    return made.voice_finished()


def guess(made: BenchJob, *offers: str) -> BenchJob:
    made.now += 3000
    return made.happens(NoMatch(made.now, offers=tuple(tuple(o.split()) for o in offers)))


def answers(made: BenchJob) -> list[object]:
    return [r["value"] for r in made.recorded("answer")]


def test_a_guess_is_asked_about_and_a_yes_makes_it_the_answer() -> None:
    made = guess(job(), "five")
    assert made.said == "Did I hear five?"
    assert answers(made) == []
    assert answers(made.hears("yes")) == [5]
    assert made.recorded("answer")[0]["confirmed"] == "yes"


NO_YES = [
    "five",
    "done",
    "six",
    "no",
    "no five",
    "no six",
    "why",
    "stop",
    "banana",
    "hold",
    "ready",
    "ok so five",
]


@pytest.mark.parametrize("words", NO_YES)
@pytest.mark.parametrize("confidence", [0.2, 1.0])
def test_nothing_but_a_yes_makes_it_the_answer(words: str, confidence: float) -> None:
    assert answers(guess(job(), "five").hears(words, confidence)) == []


@pytest.mark.parametrize(
    ("ask", "offer", "other_words"),
    [
        (AskTorque("stud", 50, 45, 55), "fifty newton metres", "five zero"),
        (AskCount("n", 0, 60), "fifty", "five zero"),
    ],
)
def test_the_value_in_other_words_confirms_a_read_back_but_no_guess(
    ask: Ask, offer: str, other_words: str
) -> None:
    read_back = job(ask).hears(offer, 0.2).voice_finished().hears(other_words)
    assert len(answers(read_back)) == 1
    assert answers(guess(job(ask), offer).voice_finished().hears(other_words)) == []


def test_more_talk_and_silence_make_no_answer_of_it() -> None:
    made = guess(job(), "five")
    for _ in range(6):
        assert answers(guess(made, "five")) == []
        assert answers(made.silence()) == []


def test_a_guess_that_nobody_answers_is_dropped_and_the_question_is_open_again() -> None:
    made = guess(job(), "five")
    assert made.listening.no_input_s == Settings().no_input_s
    assert made.silence().state.awaiting is Awaiting.ANSWER
    assert made.said == "Pins?"
    assert answers(made.hears("yes")) == []  # to the question itself yes is no answer
    assert answers(made.hears("eight")) == [8]


def test_a_guess_lapses_even_where_the_question_waits_in_silence() -> None:
    made = job().silence().silence().silence().voice_finished()
    assert asking.patience(made.state) is None
    guess(made, "five")
    assert made.listening.no_input_s is not None
    assert made.silence().said == ""
    assert made.state.awaiting is Awaiting.ANSWER


def test_a_job_amid_talk_says_no_more_than_without_guesses() -> None:
    plain, guessing = job(), job()
    said = {id(plain): 0, id(guessing): 0}
    for _ in range(10):
        for made, offers in ((plain, ()), (guessing, ("five",))):
            guess(made, *offers)
            said[id(made)] += made.said != ""
            made.voice_finished()
    assert said[id(guessing)] <= said[id(plain)] == 3
    assert answers(guessing) == []


def test_a_guess_that_was_denied_is_not_made_again() -> None:
    made = guess(job(), "five").voice_finished().hears("no").voice_finished()
    assert "Did I hear" not in guess(made, "five").said
    assert guess(made.voice_finished(), "nine").said == "Did I hear nine?"


def test_a_correction_in_one_breath_is_read_back_in_its_turn() -> None:
    made = guess(job(), "five").voice_finished().hears("no nine")
    assert made.said == "Nine. Yes?"
    assert answers(made.voice_finished().hears("yes")) == [9]


def test_what_is_no_answer_to_this_question_is_no_guess() -> None:
    assert "Did I hear" not in guess(job(AskCount("n", 6, 14)), "stop", "twenty", "five").said
    assert guess(job(AskCount("n", 6, 14)), "stop", "twelve").said == "Did I hear twelve?"


def test_before_sayso_was_heard_to_its_end_there_is_no_guess() -> None:
    assert "Did I hear" not in guess(BenchJob(PINS, step("fit")), "five").said


CHOICE = AskChoice("colour", (Option("red", ("red",)), Option("green", ("green",))))
#: A guess at a code would tell it to whoever stands by; "done" and a note have nothing to be said back.
NEVER = [
    (AskDone("look"), "done"),
    (AskNote("look"), "five"),
    (AskWitness("look", "lead hand", (("4471", "Meg Hale"),)), "four four seven one"),
    (AskSerial("look", pattern="[A-Z]{2}[0-9]{2}"), "kilo delta one five"),
]


@pytest.mark.parametrize(("ask", "offer"), NEVER)
def test_these_are_never_guessed(ask: Ask, offer: str) -> None:
    made = job(ask)
    assert not asking.listen(made.state).offers
    guess(made, offer)
    assert "Did I hear" not in made.said
    assert answers(made.hears("yes")) in ([], [True])


@pytest.mark.parametrize(
    ("ask", "offer", "said"),
    [
        (CHOICE, "green", "Did I hear green?"),
        (AskYesNo("look"), "yes", "Did I hear yes?"),
        (AskMeasure("gap", "mm", at_most=60), "five", "Did I hear five millimetres?"),
        (
            AskTorque("stud", 50, 45, 55),
            "sixty",
            "Did I hear sixty, six zero newton metres, above the limit of ",
        ),
    ],
)
def test_values_of_a_step_are_guessed_with_what_is_wrong_with_them(ask: Ask, offer: str, said: str) -> None:
    made = job(ask)
    assert asking.listen(made.state).offers
    assert guess(made, offer).said.startswith(said)


def test_a_code_is_not_listened_for_as_a_guess_in_an_aside() -> None:
    made = job().hears("stop")
    assert made.state.aside is not None
    assert not made.listening.offers
    assert "Did I hear" not in guess(made, "yes").said


def test_the_journal_gives_the_same_job_again_with_its_guesses() -> None:
    made = guess(job(), "five").voice_finished().hears("yes")
    events = [event_from_json(json.loads(json.dumps(event_to_json(e)))) for e in made.events]
    assert replay(made.procedure, events) == made.state
    half = guess(job(), "five").state
    assert snapshot.from_json(half.procedure, json.loads(json.dumps(snapshot.as_json(half)))) == half


def test_a_journal_from_before_guesses_can_be_read() -> None:
    assert event_from_json({"type": "NoMatch", "at_ms": 1, "noisy": True}) == NoMatch(1, True)
