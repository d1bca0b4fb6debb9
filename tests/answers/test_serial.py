"""Serials: letters, digits, alphabet words, doubles; the pattern decides what the words leave open.

Outside check: the spelling alphabet of ICAO Annex 10 volume II (written down here from memory, not taken
from sayso's table).
"""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from sayso.answers import (
    Answer,
    NotUnderstood,
    completeness,
    confusable,
    phrases,
    read_back,
    spoken,
    understand,
)
from sayso.answers.answer import Completeness
from sayso.procedure.model import AskSerial

ICAO = (
    "Alfa Bravo Charlie Delta Echo Foxtrot Golf Hotel India Juliett Kilo Lima Mike November Oscar Papa "
    "Quebec Romeo Sierra Tango Uniform Victor Whiskey Xray Yankee Zulu"
).lower().split()  # fmt: skip
KD = AskSerial("controller", "[A-Z]{2}[0-9]{6}")
OPEN = AskSerial("battery")


def value_of(ask: AskSerial, said: str) -> str:
    answer = understand(ask, said.split())
    assert isinstance(answer, Answer), f"{said}: {answer}"
    return str(answer.value)


def ways(text: str, draw: st.DataObject) -> list[str]:
    """One way to say a serial: each letter by name or alphabet, digits alone, doubled or in twos."""
    words: list[str] = []
    place = 0
    while place < len(text):
        character = text[place]
        run = len(text[place:]) - len(text[place:].lstrip(character))
        if run >= 2 and draw.draw(st.booleans()):
            times = 3 if run >= 3 and draw.draw(st.booleans()) else 2
            words.append("triple" if times == 3 else "double")
        else:
            times = 1
        two = text[place : place + 2]
        if times == 1 and re.fullmatch("[1-9][0-9]", two) and draw.draw(st.booleans()):
            words += num2words(int(two)).split("-")
            place += 2
            # "twenty" before a digit would be twenty-something
            if two[0] != "1" and two[1] == "0" and place < len(text) and text[place].isdigit():
                words[-1:] = [num2words(int(two[0])), "zero"]
            continue
        if character.isdigit():
            words.append(
                draw.draw(
                    st.sampled_from([num2words(int(character)), *(["nought"] if character == "0" else [])])
                )
            )
        else:
            words.append(draw.draw(st.sampled_from([character.lower(), ICAO[ord(character) - 65]])))
            if character == "O" or (character == "U" and times == 2):
                words[-1] = ICAO[ord(character) - 65]  # "oh" is zero and "double u" is W
        place += times
    return words


@given(st.from_regex(re.compile(r"[A-Z]{2}[0-9]{6}", re.ASCII), fullmatch=True), st.data())
def test_every_serial_of_a_pattern_comes_back_however_it_is_spelled(text: str, data: st.DataObject) -> None:
    words = ways(text, data)
    answer = understand(KD, words)
    assert isinstance(answer, Answer), (text, words)
    assert answer.value == text
    # a last "twenty" may still become "twenty one"
    assert completeness(KD, words) == Completeness(True, words[-1].endswith("ty"))
    for length in range(1, len(words)):
        assert completeness(KD, words[:length]).can_grow


@given(st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789", min_size=2, max_size=12), st.data())
def test_every_serial_comes_back_without_a_pattern(text: str, data: st.DataObject) -> None:
    answer = understand(OPEN, ways(text, data))
    assert isinstance(answer, Answer)
    assert answer.value == text


@given(st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789", min_size=2, max_size=14), st.booleans())
def test_a_serial_as_sayso_says_it_comes_back(text: str, spell: bool) -> None:
    assert value_of(OPEN, spoken.serial(text, spell=spell).replace(",", "").lower()) == text


@given(
    st.lists(st.text("ABDKO0158-", min_size=2, max_size=8), min_size=2, max_size=2, unique=True),
    st.booleans(),
)
def test_two_serials_never_have_the_same_read_back(texts: list[str], spell: bool) -> None:
    first, second = (read_back(OPEN, Answer("serial", text), spell=spell) for text in texts)
    assert first != second


@pytest.mark.parametrize("spelling", ["alpha", "juliet", "x-ray", "whisky", "zed", "zee"])
def test_other_spellings_of_the_alphabet_are_understood(spelling: str) -> None:
    letter = spelling[0].upper()
    assert value_of(OPEN, f"{spelling} {spelling}") == letter * 2
    assert value_of(OPEN, "x ray one") == "X1"


def test_the_alphabet_is_icaos() -> None:
    for index, word in enumerate(ICAO):
        letter = chr(65 + index)
        assert value_of(OPEN, f"{word} one") == f"{letter}1"
        assert spoken.serial(letter, spell=True) == word


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("k d oh oh twenty three forty five", "KD002345"),
        ("k d double oh triple one seven", "KD001117"),
        ("oh d one two three four five six", "OD123456"),
        ("k oh one two three four five six", "KO123456"),
        ("kilo delta one hundred two hundred", "KD100200"),
        ("kilo delta twelve thirty four fifty six", "KD123456"),
        ("double k one two three four five six", "KK123456"),
        ("serial number kilo delta one two three four five six", "KD123456"),
        ("kilo delta dash one two three four five six", "KD123456"),
        ("kilo delta twenty three forty five", None),
        ("kilo india twenty three four five one", None),
    ],
)
def test_the_pattern_settles_what_the_words_leave_open(said: str, value: str | None) -> None:
    if value is None:
        assert isinstance(understand(KD, said.split()), NotUnderstood)
    else:
        assert value_of(KD, said) == value


def test_oh_where_both_fit_is_the_digit_and_the_read_back_tells() -> None:
    answer = understand(OPEN, ["a", "oh", "b"])
    assert isinstance(answer, Answer)
    assert answer.value == "A0B"
    assert confusable(OPEN, answer)
    assert read_back(OPEN, answer) == "Alfa, zero, bravo. Yes?"
    assert value_of(OPEN, "a oscar b") == "AOB"


def test_double_u_is_the_letter_w() -> None:
    tug = AskSerial("tug", "W48[0-9]{4}")
    for said in ("double u four eight twelve thirty four", "whiskey forty eight one two three four"):
        assert value_of(tug, said) == "W481234"
    assert value_of(AskSerial("x", "U{2}1"), "double u one") == "UU1"
    assert value_of(OPEN, "double uniform one") == "UU1"
    answer = understand(OPEN, ("double", "u", "one"))
    assert isinstance(answer, Answer)
    assert confusable(OPEN, answer)


def test_two_serials_that_both_fit_are_asked_about() -> None:
    ask = AskSerial("x", "2?0?3?K|203L")
    assert value_of(ask, "twenty three k") == "23K"
    # 23 does not fit before an L, 203 does
    assert value_of(ask, "twenty three l") == "203L"
    both = AskSerial("x", "23405K|20345K")
    result = understand(both, ["twenty", "three", "forty", "five", "k"])
    assert isinstance(result, NotUnderstood)
    assert result.reason == "ambiguous"
    assert {a.value for a in result.choices} == {"20345K", "23405K"}
    assert "two zero three, four five, kilo" in result.say


def test_twenty_three_that_could_go_on_is_not_stretched_to_203() -> None:
    """Whoever pauses after "twenty three, forty five" has not said 203405."""
    result = understand(KD, ["kilo", "delta", "twenty", "three", "forty", "five"])
    assert isinstance(result, NotUnderstood)
    assert result.reason == "incomplete"


def test_a_dash_that_the_pattern_demands_may_be_left_out() -> None:
    ask = AskSerial("pack", "W[0-9]{2}-[0-9]{3,4}[BD]?")
    assert value_of(ask, "whiskey one two three four five") == "W12-345"
    assert value_of(ask, "whiskey one two dash three four five six bravo") == "W12-3456B"
    assert value_of(ask, "W12345") == "W12-345"
    assert completeness(ask, ["w", "one", "two", "three", "four", "five"]) == Completeness(True, True)
    assert completeness(ask, ["w", "one", "two", "three", "four", "five", "six", "b"]) == Completeness(
        True, False
    )
    assert completeness(ask, ["w", "one", "two", "three", "four"]) == Completeness(False, True)
    assert completeness(ask, ["w", "one", "two", "three", "four", "double"]) == Completeness(False, True)


def test_a_letter_that_cannot_be_is_named_with_the_one_it_sounds_like() -> None:
    ask = AskSerial("x", "[BK][0-9]{2}")
    result = understand(ask, ["d", "one", "two"])
    assert isinstance(result, NotUnderstood)
    assert result.reason == "pattern"
    assert [a.value for a in result.choices] == ["B12"]
    assert "delta, one two" in result.say
    assert "bravo, one two" in result.say


@pytest.mark.parametrize("typed", ["KD123456", "kd123456", "kd-123456", "KD 123 456", "Kd 123456"])
def test_typed_serials_are_understood(typed: str) -> None:
    assert value_of(KD, typed) == "KD123456"


@pytest.mark.parametrize("typed", ["kilo delta 123456", "Kilo Delta 12 34 56", "kilo delta double 1 3456"])
def test_digits_may_be_typed_beside_words_of_the_alphabet(typed: str) -> None:
    """It heard the letters of the words: 'kilo oscar tango, echo lima kilo ...'."""
    assert value_of(KD, typed) == ("KD113456" if "double" in typed else "KD123456")
    assert value_of(OPEN, typed) == value_of(KD, typed)
    assert value_of(AskSerial("tag", "GOLF[0-9]"), "golf 7") == "GOLF7"


@pytest.mark.parametrize(
    ("typed", "serial"),
    [
        ("a b triple 7", "AB777"),
        ("ab double 7 1", "AB771"),
        ("AB dash 123", "AB123"),
        ("serial number AB 123", "AB123"),
        ("Mike 1 2 3 4", "M1234"),
    ],
)
def test_a_word_typed_for_characters_is_not_spelled_out_where_the_pattern_takes_any(
    typed: str, serial: str
) -> None:
    """It was ABTRIPLE7, ABDASH123: nine letters and digits fit the pattern too."""
    assert value_of(AskSerial("tag", "[A-Z0-9]{5,9}"), typed) == serial


@pytest.mark.parametrize("typed", ["HK double 3 1 4 0 6", "hk double 3 1406", "HK triple 3 406"])
def test_letters_typed_together_go_with_a_repeat(typed: str) -> None:
    expected = "HK333406" if "triple" in typed else "HK331406"
    assert value_of(AskSerial("tag", "[A-Z]{2}[0-9]{6}"), typed) == expected


def test_typed_letters_without_digits() -> None:
    assert value_of(OPEN, "KDXY") == "KDXY"
    assert value_of(AskSerial("x", "[A-Z]{4}"), "kdxy") == "KDXY"
    assert isinstance(understand(OPEN, ("banana",)), NotUnderstood)


def test_read_back_speaks_in_groups_and_by_the_alphabet_where_letters_are_misheard() -> None:
    assert spoken.serial("KD123456") == "kilo delta, one two three, four five six"
    assert spoken.serial("L1234567") == "L, one two three, four five six seven"
    assert spoken.serial("L1234567", spell=True) == "lima, one two three, four five six seven"
    assert spoken.serial("W12-34") == "W, one two, dash, three four"


@pytest.mark.parametrize(
    "typed",
    [
        "K for kilo D for delta 123456",
        "k as in king d as in dog one two three four five six",
        "k like kilo, d like delta, 1 2 3 4 5 6",
        "k is for king d is for david 123456",
    ],
)
def test_a_letter_may_be_explained_by_a_word(typed: str) -> None:
    assert value_of(KD, typed) == "KD123456"


def test_an_explained_letter_is_not_spelled_out_where_any_serial_may_be() -> None:
    """It was CF0RC12: the letters of "for", and of "charlie" the first."""
    assert value_of(OPEN, "C for Charlie 12") == "C12"
    assert value_of(OPEN, "c for kilo 12") != "C12"


def test_what_the_ear_makes_of_an_explanation_counts_only_where_the_pattern_leaves_nothing_else() -> None:
    """No grammar has "for" and "as in": they come as "four" and as a sound that is no word."""
    heard = ["k", "four", "kilo", "d", "[unk]", "delta", "one", "two", "three", "four", "five", "six"]
    answer = understand(KD, heard)
    assert isinstance(answer, Answer)
    assert answer.value == "KD123456"
    assert answer.said == tuple(heard)
    assert confusable(KD, answer)
    assert completeness(KD, heard[:-1]) == Completeness(False, True)
    assert value_of(AskSerial("tag", "K4K[0-9]{2}"), "k four kilo one two") == "K4K12"
    assert isinstance(understand(OPEN, ["a", "[unk]", "alfa", "one"]), NotUnderstood)


@pytest.mark.parametrize(
    "typed", ["SN KD123456", "S/N: KD123456", "sn:kd123456", "No. KD 123456", "KD\u2013123456"]
)
def test_a_serial_typed_as_it_stands_on_the_plate(typed: str) -> None:
    assert value_of(KD, typed) == "KD123456"


def test_a_serial_that_begins_like_a_label_keeps_its_letters() -> None:
    assert value_of(AskSerial("tag", "[A-Z]{2}[0-9]{3}"), "SN 123") == "SN123"
    assert value_of(AskSerial("tag", "[A-Z]{2}-[0-9]{3}"), "NO\u2011123") == "NO-123"


def test_an_unknown_sound_inside_a_serial_is_not_dropped() -> None:
    assert isinstance(understand(OPEN, ["a", "one", "[unk]", "two"]), NotUnderstood)
    answer = understand(KD, ["[unk]", "kilo", "delta", "one", "two", "three", "four", "five", "six"])
    assert isinstance(answer, Answer)
    assert confusable(KD, answer)


@pytest.mark.parametrize("letter", "iadso")
def test_no_letter_at_either_end_is_taken_for_a_filler(letter: str) -> None:
    word = "oscar" if letter == "o" else letter
    assert value_of(OPEN, f"{word} one {word}") == f"{letter}1{letter}".upper()


def test_the_grammar_holds_every_word_and_the_pairs_of_the_pattern() -> None:
    listed = phrases(KD)
    words = {word for phrase in listed for word in phrase.split()}
    assert {
        "a",
        "z",
        "alfa",
        "alpha",
        "juliet",
        "juliett",
        "xray",
        "double",
        "triple",
        "oh",
        "zero",
        "niner",
    } <= words
    assert "three five" in listed
    assert len(listed) <= 400


def test_a_dash_is_in_the_grammar_only_where_a_serial_may_have_one() -> None:
    assert "dash" not in phrases(KD)
    assert "dash" in phrases(AskSerial("pack", "W[0-9]{2}-[0-9]{3}"))
    assert "dash" in phrases(OPEN)
