"""Done, yes and no, choices, notes and witnesses, in the words that people use."""

import pytest

from sayso.answers import (
    Answer,
    NotUnderstood,
    choices,
    completeness,
    confirmation_phrases,
    confusable,
    phrases,
    read_back,
    understand,
    yes_or_no,
)
from sayso.answers.answer import Completeness
from sayso.procedure.model import AskChoice, AskDone, AskNote, AskWitness, AskYesNo, Option

DONE = AskDone("done")
YES_NO = AskYesNo("leak")
COLOUR = AskChoice(
    "colour",
    (
        Option("red", ("red", "the red one")),
        Option("dark-red", ("dark red", "maroon")),
        Option("24v", ("24 volt", "24-V pack")),
        Option("right", ("right",)),
        Option("not-fitted", ("not fitted", "missing")),
    ),
)
LEAD = AskWitness(
    "lead", "lead hand", codes=(("4271", "Ann Moss"), ("0815", "Bob Reed"), ("427", "Ann Field"))
)


@pytest.mark.parametrize(
    "said",
    [
        "done", "finished", "ready", "all done", "complete", "okay done", "it's done", "done done",
        "that's it", "right all done", "Done.",
    ],
)  # fmt: skip
def test_done_in_plain_words(said: str) -> None:
    answer = understand(DONE, said.split())
    assert isinstance(answer, Answer)
    assert answer.value is True


@pytest.mark.parametrize(
    "said", ["not done", "nearly done", "not yet", "no", "", "twelve", "all", "half done", "okay"]
)
def test_what_is_not_done(said: str) -> None:
    assert isinstance(understand(DONE, said.split()), NotUnderstood)


def test_done_beside_an_unknown_sound_is_read_back() -> None:
    answer = understand(DONE, ("[unk]", "done"))
    assert isinstance(answer, Answer)
    assert confusable(DONE, answer)


@pytest.mark.parametrize(
    "said",
    [
        "yes", "yeah", "yep", "affirmative", "correct", "right", "that's right", "yes it is", "y", "Yes.",
        "yes yes", "yeah that's right", "okay yes",
    ],
)  # fmt: skip
def test_yes_in_plain_words(said: str) -> None:
    assert yes_or_no(said.split()) is True


@pytest.mark.parametrize(
    "said",
    [
        "no",
        "nope",
        "negative",
        "wrong",
        "n",
        "no that's wrong",
        "not right",
        "it is not",
        "no no",
        "[unk] no",
    ],
)
def test_no_in_plain_words(said: str) -> None:
    assert yes_or_no(said.split()) is False


@pytest.mark.parametrize(
    "said", ["", "yes no", "no four", "twelve", "[unk] yes", "[unk] right", "[unk]", "maybe"]
)
def test_neither_yes_nor_no(said: str) -> None:
    assert yes_or_no(said.split()) is None
    assert isinstance(understand(YES_NO, said.split()), NotUnderstood)


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("red", "red"), ("the red one", "red"), ("it's red", "red"), ("dark red", "dark-red"),
        ("maroon", "dark-red"),
        ("it's the dark red one", "dark-red"), ("twenty four volt", "24v"), ("24 volt", "24v"),
        ("24v", "24v"),
        ("right", "right"), ("not fitted", "not-fitted"), ("RED", "red"), ("dark-red", "dark-red"),
    ],
)  # fmt: skip
def test_a_choice_by_any_of_its_phrases(said: str, value: str) -> None:
    answer = understand(COLOUR, said.split())
    assert isinstance(answer, Answer)
    assert answer.value == value


@pytest.mark.parametrize(
    ("said", "reason"),
    [
        ("not red", "no_match"), ("red or right", "ambiguous"), ("dark", "incomplete"), ("blue", "no_match"),
        ("", "no_match"), ("no red", "no_match"), ("don't red", "no_match"),
        ("i don't see the red one", "no_match"),
        ("it doesn't look red", "no_match"), ("isn't red", "no_match"), ("never red", "no_match"),
    ],
)  # fmt: skip
def test_what_is_no_choice(said: str, reason: str) -> None:
    result = understand(COLOUR, said.split())
    assert isinstance(result, NotUnderstood)
    assert result.reason == reason


LINING = AskChoice("lining", (Option("good", ("good", "like new")), Option("oily", ("oil", "oily"))))


@pytest.mark.parametrize(
    ("said", "sure"),
    [
        ("good", True), ("like new", True), ("they all look good", True), ("it's oily", True),
        ("GOOD.", True), ("anything but good", False), ("almost like new", False),
        ("oil free", False), ("far from good", False), ("oily, worn", False),
    ],
)  # fmt: skip
def test_an_option_among_words_that_may_turn_it_round_is_read_back(said: str, sure: bool) -> None:
    """English as it is spoken; no source. "Oil free" was recorded as oily, "anything but good" as good."""
    answer = understand(LINING, tuple(said.split()))
    assert isinstance(answer, Answer)
    assert confusable(LINING, answer) is not sure


def test_two_options_with_one_phrase_are_asked_about() -> None:
    ask = AskChoice("x", (Option("a", ("left", "front")), Option("b", ("left", "rear"))))
    result = understand(ask, ("left",))
    assert isinstance(result, NotUnderstood)
    assert [a.value for a in result.choices] == ["a", "b"]
    first, second = result.choices
    assert read_back(ask, first) != read_back(ask, second)


def test_every_phrase_of_an_option_comes_back_as_that_option() -> None:
    for option in COLOUR.options:
        for words in option.words:
            answer = understand(COLOUR, (words,))
            assert isinstance(answer, Answer)
            assert answer.value == option.value
            assert completeness(COLOUR, (words,)).complete


def test_choices_are_said() -> None:
    assert choices(COLOUR) == "You can say red, dark red, twenty four volt, right or not fitted."
    assert "twenty four v pack" in phrases(COLOUR)
    assert completeness(COLOUR, ("dark",)) == Completeness(False, True)
    assert completeness(COLOUR, ("red",)) == Completeness(True, False)


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("four two seven one", "Ann Moss"), ("forty two seventy one", "Ann Moss"), ("4271", "Ann Moss"),
        ("oh eight fifteen", "Bob Reed"), ("zero eight one five", "Bob Reed"), ("bob", "Bob Reed"),
        ("bob reed", "Bob Reed"), ("ann moss", "Ann Moss"), ("it's moss", "Ann Moss"),
        ("four two seven", "Ann Field"),
    ],
)  # fmt: skip
def test_a_witness_by_code_or_name(said: str, name: str) -> None:
    answer = understand(LEAD, said.split())
    assert isinstance(answer, Answer)
    assert answer.value == name
    assert read_back(LEAD, answer) == f"Lead hand {name}. Yes?"


@pytest.mark.parametrize(
    ("said", "reason"),
    [
        ("one one one one", "no_match"), ("four two", "incomplete"), ("ann", "ambiguous"),
        ("hello", "no_match"),
        ("four two [unk] seven one", "no_match"), ("four two seven one one", "no_match"), ("", "no_match"),
        ("4 2 7 1 1", "no_match"),
    ],
)  # fmt: skip
def test_who_is_no_witness(said: str, reason: str) -> None:
    result = understand(LEAD, said.split())
    assert isinstance(result, NotUnderstood)
    assert result.reason == reason


def test_a_code_that_begins_another_waits_for_more() -> None:
    assert completeness(LEAD, "four two seven".split()) == Completeness(True, True)  # noqa: SIM905
    assert completeness(LEAD, "four two seven one".split()) == Completeness(True, False)  # noqa: SIM905


def test_the_shops_list_is_used_when_the_step_names_no_codes() -> None:
    ask = AskWitness("second", "witness")
    people = (("12", "Cy Dale"),)
    answer = understand(ask, ("one", "two"), witnesses=people)
    assert isinstance(answer, Answer)
    assert answer.value == "Cy Dale"
    assert "cy dale" in phrases(ask, witnesses=people)
    assert isinstance(understand(ask, ("one", "two")), NotUnderstood)


def test_a_note_keeps_its_words() -> None:
    answer = understand(AskNote("n"), ("hose", "looks", "worn"))
    assert isinstance(answer, Answer)
    assert answer.value == "hose looks worn"
    assert phrases(AskNote("n")) == ()


@pytest.mark.parametrize(
    "said",
    [
        "they aren't",
        "they are not",
        "no they aren't",
        "i haven't",
        "no i haven't",
        "I have not",
        "they're not",
    ],
)
def test_every_state_has_its_denial(said: str) -> None:
    """ "They are" was in the grammar and "they aren't" was not: the ear made the one of the other."""
    assert yes_or_no(said.split()) is False


def test_denials_of_states_are_heard_at_a_question_and_not_at_a_read_back() -> None:
    assert {"they aren't", "they are not", "i haven't"} <= set(phrases(YES_NO))
    assert completeness(YES_NO, ["they", "are"]) == Completeness(True, True)
    assert "they aren't" not in confirmation_phrases(AskDone("done"))


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("of course", True),
        ("Absolutely.", True),
        ("yes definitely", True),
        ("they don't", False),
        ("no there isn't", False),
        ("of course not", None),
        ("absolutely not", None),
        ("definitely maybe", None),
        ("they do", None),
    ],
)
def test_typed_words_for_yes_and_no(typed: str, meant: bool | None) -> None:
    assert yes_or_no(typed.split()) is meant
    assert typed.lower().strip(".") not in phrases(YES_NO)


# --- words of other languages -----------------------------------------------------------------------


def test_a_word_with_accents_is_asked_for_and_said_whole() -> None:
    """ "Größe" was listened for as the two words "gr" and "e", and said so; "Öse" was "se"."""
    ask = AskChoice("part", (Option("größe", ("Größe",)), Option("öse", ("Öse",)), Option("café", ("café",))))
    assert phrases(ask) == ("grosse", "ose", "cafe")
    assert choices(ask) == "You can say grosse, ose or cafe."
    for said, value in (("grosse", "größe"), ("Größe", "größe"), ("o\u0308se", "öse"), ("CAFÉ", "café")):
        found = understand(ask, (said,))
        assert isinstance(found, Answer), said
        assert found.value == value
    assert isinstance(understand(ask, ("se",)), NotUnderstood)


def test_a_second_person_with_an_accent_is_no_single_letter() -> None:
    """Who said "e", or the ear that made a letter of a noise, released a hold point as Renée."""
    ask = AskWitness("seen", "lead hand", (("2746", "Renée Ågren"), ("1188", "Jörg Thal")))
    for said in ("e", "j", "rg", "ren"):
        assert isinstance(understand(ask, (said,)), NotUnderstood), said
    for name in ("renee", "renee agren", "Ågren"):
        found = understand(ask, name.split())
        assert isinstance(found, Answer), name
        assert found.value == "Renée Ågren"


def test_an_initial_is_not_enough_of_a_name() -> None:
    ask = AskWitness("seen", "lead hand", (("2746", "R. Tarn"),))
    assert isinstance(understand(ask, ("r",)), NotUnderstood)
    for name in ("tarn", "r tarn"):
        assert isinstance(understand(ask, name.split()), Answer), name
