"""Times of day. Outside checks: Python's datetime for "p m" and "a m"; num2words for the numbers.

VoiceXML's builtin type "time" marks a time without a.m. or p.m. as open ("?"; from memory): sayso takes the
one in the working day and must then read it back.
"""

from datetime import datetime

import pytest

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
from sayso.procedure.model import AskTime
from tests.answers.ways_to_say import Words, digit_by_digit, full

ASK = AskTime("started")
every_minute = [(hour, minute) for hour in range(24) for minute in range(60)]


def value_of(words: Words) -> str:
    answer = understand(ASK, words)
    assert isinstance(answer, Answer), (words, answer)
    return str(answer.value)


def whole_clock(hour: int, minute: int) -> list[Words]:
    hours = [full(hour)] if hour > 12 else []
    if hour < 10:
        hours += [digit_by_digit(f"{hour:02}"), digit_by_digit(f"{hour:02}", zero="oh")]
    minutes: list[Words] = [("hundred",), ("hundred", "hours")] if minute == 0 else []
    if 0 < minute < 10:
        minutes.append(("oh", *full(minute)))
    if minute >= 10:
        minutes.append(full(minute))
    return [(*h, *m) for h in hours for m in minutes] + [digit_by_digit(f"{hour:02}{minute:02}")]


def on_the_dial(hour: int, minute: int) -> list[Words]:
    """Ways with two readings, to be settled by a.m. or p.m. (`hour` from 1 to 12)."""
    here, following = full(hour), full(hour % 12 + 1)
    ways: list[Words] = []
    if minute == 0:
        ways += [(*here, "o'clock"), here]
    elif minute < 10:
        ways.append((*here, "oh", *full(minute)))
    else:
        ways.append((*here, *full(minute)))
    if minute == 30:
        ways += [("half", "past", *here), ("half", *here)]
    if minute == 15:
        ways += [("quarter", "past", *here), ("a", "quarter", "past", *here)]
    if minute == 45:
        ways += [("quarter", "to", *following), ("a", "quarter", "to", *following)]
    if 0 < minute < 30:
        ways += [(*full(minute), "past", *here), (*full(minute), "minutes", "past", *here)]
    if minute > 30:
        ways += [(*full(60 - minute), "to", *following), (*full(60 - minute), "minutes", "to", *following)]
    return ways


def test_every_minute_of_the_day_comes_back_from_24_hour_words() -> None:
    for hour, minute in every_minute:
        for way in whole_clock(hour, minute):
            assert value_of(way) == f"{hour:02}:{minute:02}", way


def test_every_minute_comes_back_with_a_m_and_p_m_as_datetime_has_it() -> None:
    for hour in range(1, 13):
        for minute in range(60):
            for way in on_the_dial(hour, minute):
                for said, mark in ((("a", "m"), "AM"), (("p", "m"), "PM")):
                    # "ten to one p m" is 12:50 p.m.: the half of the day is that of the time itself
                    outside = datetime.strptime(f"{hour}:{minute:02} {mark}", "%I:%M %p")
                    assert value_of((*way, *said)) == outside.strftime("%H:%M"), way


def test_without_a_m_or_p_m_it_is_in_the_working_day_and_must_be_read_back() -> None:
    for hour in range(1, 13):
        for minute in range(60):
            for way in on_the_dial(hour, minute):
                answer = understand(ASK, way)
                assert isinstance(answer, Answer)
                said = str(answer.value)
                assert "06:00" <= said < "18:00"
                assert int(said[:2]) % 12 == hour % 12
                assert confusable(ASK, answer)


def test_every_minute_as_sayso_says_it_comes_back_and_none_is_said_like_another() -> None:
    said = {}
    for hour, minute in every_minute:
        text = f"{hour:02}:{minute:02}"
        assert value_of(tuple(spoken.clock(text).split())) == text or 10 <= hour <= 12
        back = read_back(ASK, Answer("time", text))
        assert said.setdefault(back, text) == text
        # the second half alone is enough too
        assert value_of(tuple(back.lower().removesuffix(". yes?").split(", ")[1].split())) == text


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("half past two", "14:30"), ("fourteen thirty", "14:30"), ("two fifteen p m", "14:15"),
        ("quarter to nine", "08:45"), ("noon", "12:00"), ("midnight", "00:00"), ("twelve thirty", "12:30"),
        ("twelve fifteen a m", "00:15"), ("seven o'clock in the evening", "19:00"), ("half two", "14:30"),
        ("six", "06:00"), ("five", "17:00"), ("oh six hundred hours", "06:00"), ("twenty one", "21:00"),
        ("double oh thirty", "00:30"), ("it's half past two", "14:30"), ("ten hundred hours", "10:00"),
        ("twelve at night", "00:00"), ("half past twelve at night", "00:30"), ("two at night", "02:00"),
        ("ten at night", "22:00"), ("eight thirty at night", "20:30"),
    ],
)  # fmt: skip
def test_the_habits_of_the_field(said: str, value: str) -> None:
    assert value_of(tuple(said.split())) == value


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("14:30", "14:30"),
        ("2:15pm", "14:15"),
        ("2:15 pm", "14:15"),
        ("1430", "14:30"),
        ("9.05", "09:05"),
        ("12am", "00:00"),
        ("14 30", "14:30"),
        ("half past 8", "08:30"),
        ("quarter to 9", "08:45"),
        ("08 05", "08:05"),
        ("8 30 in the evening", "20:30"),
    ],
)
def test_typed_times(typed: str, value: str) -> None:
    assert value_of(tuple(typed.split())) == value


def test_a_typed_time_is_read_back_where_morning_or_afternoon_was_guessed() -> None:
    for typed, guessed in (("half past 8", True), ("8 30", True), ("8:25", False), ("8 25 am", False)):
        answer = understand(ASK, tuple(typed.split()))
        assert isinstance(answer, Answer)
        assert confusable(ASK, answer) is guessed, typed


@pytest.mark.parametrize(
    "said", ["twenty five thirty", "24:00", "12:60", "fourteen sixty", "thirteen p m", "13pm"]
)
def test_times_that_cannot_be_are_refused(said: str) -> None:
    result = understand(ASK, said.split())
    assert isinstance(result, NotUnderstood)


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("half", Completeness(False, True)),
        ("half past", Completeness(False, True)),
        ("half past two", Completeness(True, True)),
        ("half past two p m", Completeness(True, False)),
        ("fourteen", Completeness(True, True)),
        ("fourteen fifteen", Completeness(True, False)),
        ("twenty", Completeness(True, True)),
    ],
)
def test_the_endpointer_learns_whether_a_time_can_go_on(said: str, expected: Completeness) -> None:
    assert completeness(ASK, said.split()) == expected


def test_no_part_of_a_time_is_cut_off() -> None:
    for hour, minute in every_minute:
        for way in [*whole_clock(hour, minute), *on_the_dial((hour - 1) % 12 + 1, minute)]:
            for length in range(1, len(way)):
                # "hours" behind a whole time may be cut off, it changes nothing
                assert completeness(ASK, way[:length]).can_grow or way[length:] == ("hours",), way[:length]


def test_the_grammar_has_the_words_of_every_way() -> None:
    words = {word for phrase in phrases(ASK) for word in phrase.split()}
    needed = {
        word
        for hour, minute in every_minute
        for way in [*whole_clock(hour, minute), *on_the_dial((hour - 1) % 12 + 1, minute)]
        for word in way
    }
    assert needed - words <= {"minutes"}
