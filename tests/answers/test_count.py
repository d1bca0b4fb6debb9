"""A count of pins, studs or cells: the whole range, and what lies beside it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sayso.answers import (
    Answer,
    NotUnderstood,
    completeness,
    confusable,
    echo,
    phrases,
    read_back,
    understand,
)
from sayso.answers.answer import Completeness
from sayso.procedure.model import AskCount, AskMeasure
from tests.answers import ways_to_say

PINS = AskCount("pins", 6, 14)


@given(st.integers(0, 300), st.integers(0, 200), st.data())
def test_every_count_of_any_range_comes_back_in_every_way(low: int, more: int, data: st.DataObject) -> None:
    ask = AskCount("cells", low, low + more)
    value = data.draw(st.integers(low, low + more))
    for way in ways_to_say.whole_number(value):
        answer = understand(ask, way)
        assert isinstance(answer, Answer)
        assert answer.value == value
        assert completeness(ask, way).complete


@given(st.integers(0, 2_000))
def test_a_count_outside_the_range_is_refused_and_said(value: int) -> None:
    for way in ways_to_say.whole_number(value):
        result = understand(PINS, way)
        if 6 <= value <= 14:
            assert isinstance(result, Answer)
        elif isinstance(result, NotUnderstood):
            assert result.reason == "out_of_range"
            assert "six to fourteen" in result.say
        else:
            # a legal number said twice ("twelve twelve" is 1212 elsewhere) must be read back
            assert confusable(PINS, result)


def test_fifteen_is_not_forced_into_the_range() -> None:
    assert "fifteen" in phrases(PINS)
    result = understand(PINS, ("fifteen",))
    assert isinstance(result, NotUnderstood)
    assert result.reason == "out_of_range"


def test_every_legal_number_is_a_phrase_of_the_grammar() -> None:
    for value in range(6, 15):
        assert " ".join(ways_to_say.full(value)) in phrases(PINS)


@pytest.mark.parametrize(
    ("ask", "said", "expected"),
    [
        (PINS, "twelve", Completeness(True, False)),
        (PINS, "six", Completeness(True, False)),
        (PINS, "one", Completeness(False, True)),
        (AskCount("cells", 6, 30), "twenty", Completeness(True, True)),
        (AskCount("cells", 6, 30), "twenty four", Completeness(True, False)),
        (AskCount("cells", 6, 30), "thirty", Completeness(True, False)),
        (AskCount("cells", 1, 200), "one hundred", Completeness(True, True)),
        (AskCount("cells", 1, 200), "one hundred and", Completeness(False, True)),
        (PINS, "banana", Completeness(False, False)),
        (PINS, "", Completeness(False, True)),
    ],
)
def test_the_endpointer_learns_whether_a_number_can_go_on(
    ask: AskCount, said: str, expected: Completeness
) -> None:
    assert completeness(ask, said.split()) == expected


@given(st.integers(0, 60), st.data())
def test_what_cannot_go_on_has_no_longer_legal_number(high: int, data: st.DataObject) -> None:
    """Cutting the endpoint short never cuts a number in two."""
    ask = AskCount("cells", 0, high)
    value = data.draw(st.integers(0, high))
    for way in ways_to_say.whole_number(value):
        for length in range(1, len(way)):
            assert completeness(ask, way[:length]).can_grow, way[:length]


@pytest.mark.parametrize("typed", ["12", " 12 ", "12.0", "+12"])
def test_typed_counts_are_understood(typed: str) -> None:
    answer = understand(PINS, (typed,))
    assert isinstance(answer, Answer)
    assert (answer.value, type(answer.value)) == (12, int)


@pytest.mark.parametrize("typed", ["12.5", "5", "15", "12a", "1 2", "--9", "9 9"])
def test_typed_nonsense_is_refused(typed: str) -> None:
    assert isinstance(understand(PINS, typed.split()), NotUnderstood)


def test_small_words_around_a_count_do_not_change_it() -> None:
    for said in ("it's twelve", "um twelve", "there are twelve", "okay twelve please"):
        answer = understand(PINS, said.split())
        assert isinstance(answer, Answer)
        assert answer.value == 12


def test_a_digit_that_was_misheard_between_is_not_dropped() -> None:
    assert isinstance(understand(AskCount("cells", 0, 99), ("one", "[unk]", "two")), NotUnderstood)


def test_counts_that_sound_alike_are_read_back_digit_by_digit() -> None:
    ask = AskCount("cells", 1, 60)
    fifteen = understand(ask, ("fifteen",))
    assert isinstance(fifteen, Answer)
    assert confusable(ask, fifteen)
    assert read_back(ask, fifteen) == "Fifteen, one five. Yes?"
    assert echo(ask, fifteen) == "Fifteen."
    twelve = understand(ask, ("twelve",))
    assert isinstance(twelve, Answer)
    assert not confusable(ask, twelve)
    # fifty cannot be here, so fifteen is plain
    narrow = AskCount("cells", 10, 20)
    assert not confusable(narrow, fifteen)


def test_none_is_zero_where_zero_can_be() -> None:
    answer = understand(AskCount("leaks", 0, 5), ("none",))
    assert isinstance(answer, Answer)
    assert answer.value == 0
    assert isinstance(understand(PINS, ("none",)), NotUnderstood)


@pytest.mark.parametrize(
    ("name", "said", "value"),
    [
        ("pins", "12 pins", 12),
        ("pins", "twelve pins", 12),
        ("lamp_pins", "twelve lamp pins", 12),
        ("lamp_pins", "twelve pins", 12),
    ],
)
def test_what_is_counted_may_be_said_with_the_count(name: str, said: str, value: int) -> None:
    answer = understand(AskCount(name, 6, 14), said.split())
    assert isinstance(answer, Answer)
    assert answer.value == value


@pytest.mark.parametrize(
    "said", ["pins", "twelve bolts", "twelve lamp", "pins twelve pins", "twelve pins pins"]
)
def test_other_words_beside_a_count_are_none(said: str) -> None:
    assert isinstance(understand(AskCount("lamp_pins", 6, 14), said.split()), NotUnderstood)


def test_a_number_in_the_name_is_part_of_no_answer() -> None:
    answer = understand(AskCount("row_two", 1, 99), ("twenty", "two"))
    assert isinstance(answer, Answer)
    assert answer.value == 22


@pytest.mark.parametrize(
    "said",
    ["all twelve", "all 12", "12 pcs", "twelve pieces", "twelve in total", "i count twelve", "a total of 12",
     "only twelve", "twelve of them", "i make it twelve", "twelve each", "there are 12 altogether", "a dozen",
     "one dozen"],
)  # fmt: skip
def test_what_people_put_around_a_count_is_understood_and_in_no_grammar(said: str) -> None:
    answer = understand(PINS, said.split())
    assert isinstance(answer, Answer)
    assert answer.value == 12
    assert said not in phrases(PINS)


@pytest.mark.parametrize(
    "said", ["all but twelve", "twelve left", "twelve missing", "a couple", "six dozen of 12"]
)
def test_words_that_change_a_count_are_not_left_out(said: str) -> None:
    assert isinstance(understand(PINS, said.split()), NotUnderstood)


def test_a_sum_is_no_number_said_twice() -> None:
    """ "Six plus six" was taken for six, as "six six" is."""
    assert isinstance(understand(PINS, ["six", "plus", "six"]), NotUnderstood)
    assert isinstance(understand(AskMeasure("gap", "mm"), ["six", "plus", "six", "mm"]), NotUnderstood)
    twice = understand(PINS, ["six", "six"])
    assert isinstance(twice, Answer)
    assert twice.value == 6


@pytest.mark.parametrize("typed", ["7 or 8", "8 of 12", "12-4", "4 x 2", "8 + 1", "8, 9"])
def test_more_than_one_number_typed_is_said_back(typed: str) -> None:
    result = understand(PINS, (typed,))
    assert isinstance(result, NotUnderstood)
    assert f"I cannot read {typed} as one number" in result.say
