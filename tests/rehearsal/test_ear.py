"""What the checks hear, with the real pronunciations of the shipped model."""

from __future__ import annotations

import pytest

from sayso.procedure.model import AskChoice, Option
from sayso.rehearsal.ear import Ear
from tests.procedure.kept import problems


def choice(*words: str) -> AskChoice:
    return AskChoice("c", tuple(Option(word, (word,)) for word in words))


@pytest.fixture(scope="module")
def ear() -> Ear:
    return Ear()


@pytest.mark.parametrize(
    ("first", "second"),
    [("worn", "torn"), ("fifteen", "fifty"), ("tight", "light"), ("oil", "coil")],
)
def test_answers_one_sound_apart_are_told(ear: Ear, first: str, second: str) -> None:
    """Minimal pairs of English phonetics: one phoneme apart, so any listener may mix them up in noise."""
    pairs = [{pair.first, pair.second} for pair in ear.alike(choice(first, second))]
    assert {first, second} in pairs


def test_an_answer_like_a_control_word_is_told(ear: Ear) -> None:
    assert any({pair.first, pair.second} == {"cold", "hold"} for pair in ear.alike(choice("cold", "burning")))


def test_an_answer_that_is_a_control_word_is_told(ear: Ear) -> None:
    assert any(pair.first == pair.second == "repeat" for pair in ear.alike(choice("repeat", "burning")))


def test_answers_that_share_no_sounds_are_left_alone(ear: Ear) -> None:
    assert [
        p for p in ear.alike(choice("rust", "all good")) if {p.first, p.second} == {"rust", "all good"}
    ] == []


@pytest.mark.parametrize("words", ["stop", "hold on", "wait a minute"])
def test_an_answer_that_stops_or_holds_the_job_elsewhere_is_an_error(ear: Ear, words: str) -> None:
    """It was only a warning: at that one step nobody could have stopped the job by 'stop'."""
    steps = f"- {{id: a, say: Look., ask: {{choice: c, options: {{x: [{words}], y: [burning]}}}}}}"
    (error,) = [p for p in problems(steps, ear=ear) if p.severity == "error"]
    assert f"'{words}': it stops or holds the job everywhere else" in error.what
    assert [p for p in problems(steps.replace(words, "repeat"), ear=ear) if p.severity == "error"] == []


def test_other_words_are_suggested_and_do_not_sound_alike_themselves(ear: Ear) -> None:
    pair = next(p for p in ear.alike(choice("worn", "torn")) if {p.first, p.second} == {"worn", "torn"})
    assert pair.instead
    again = ear.alike(choice(pair.instead, "torn"))
    assert {pair.instead, "torn"} not in [{p.first, p.second} for p in again]


def test_a_made_up_word_is_guessed_unless_the_procedure_says_how_it_is_said(ear: Ear) -> None:
    assert list(ear.guessed("fernhillite")) == ["fernhillite"]
    assert list(Ear({"fernhillite": "F ER N HH IH L AY T"}).guessed("fernhillite")) == []
    assert list(ear.guessed("all good")) == []


def test_a_word_with_accents_is_looked_up_as_it_is_listened_for(ear: Ear) -> None:
    """It is in any English dictionary without them; what is said under `words` holds for it too."""
    assert list(ear.guessed("naïve")) == []
    assert list(ear.guessed("größe")) == ["grosse"]
    assert list(Ear({"Größe": "G R OW S AH"}).guessed("größe")) == []


@pytest.mark.parametrize("word", ["тормоз", "刹车"])
def test_a_word_of_another_alphabet_cannot_be_heard(ear: Ear, word: str) -> None:
    """It passed, and the question listened for nothing."""
    steps = f"- {{id: a, say: Look., ask: {{choice: c, options: {{x: [{word}], y: [burning]}}}}}}"
    (error,) = [p for p in problems(steps, ear=ear) if p.severity == "error"]
    assert f"'{word}' cannot be heard as it is written" in error.what
