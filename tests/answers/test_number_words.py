"""Every number comes back as itself, however it is said, and no words mean two numbers.

Outside check: num2words (PyPI) names the numbers; sayso's own tables are not used to make the words.
"""

from decimal import Decimal
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from num2words import num2words

from sayso.answers import spoken
from sayso.answers.number_words import NUMBER_WORDS, cardinal, legal_readings, readings, repeated, ways
from tests.answers import ways_to_say


def test_every_whole_number_to_9999_comes_back_in_every_way_of_saying_it() -> None:
    heard_as: dict[tuple[str, ...], int] = {}
    for number in range(10_000):
        for way in ways_to_say.whole_number(number):
            assert readings(way) == (Decimal(number),), f"{' '.join(way)} is {number}"
            assert heard_as.setdefault(way, number) == number


def test_whole_numbers_to_999999_are_named_as_num2words_names_them() -> None:
    for number in [*range(2_000), *range(2_000, 1_000_000, 997)]:
        assert cardinal(number) == ways_to_say.full(number)


@pytest.mark.parametrize("number", [*range(0, 3000, 7), 9999, -3, -120])
def test_each_way_that_the_grammar_lists_is_understood(number: int) -> None:
    for way in ways(number):
        assert readings(way) == (Decimal(number),)


@given(st.integers(0, 999_999))
def test_the_full_name_of_any_number_comes_back(number: int) -> None:
    assert readings(ways_to_say.full(number)) == (Decimal(number),)


@given(st.integers(0, 2_000), st.text("0123456789", min_size=1, max_size=3))
def test_every_decimal_comes_back(whole: int, decimals: str) -> None:
    for way, value in ways_to_say.decimal_number(whole, decimals):
        assert readings(way) == (value,), " ".join(way)
        assert readings(("minus", *way)) == (-value,)


@given(st.integers(0, 2_000))
def test_halves_quarters_eighths_sixteenths_and_tenths_come_back(whole: int) -> None:
    for way, value in ways_to_say.with_part(whole):
        assert readings(way) == (value,), " ".join(way)


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("twenty three", "23"), ("two point five", "2.5"), ("point five", "0.5"), ("one twenty", "120"),
        ("one oh five", "105"), ("one hundred and five", "105"), ("a hundred", "100"),
        ("ten and a half", "10.5"), ("two and a quarter", "2.25"), ("three quarters", "0.75"),
        ("minus three", "-3"), ("nine decimal five", "9.5"), ("one two zero", "120"),
        ("twelve hundred", "1200"), ("fifteen hundred", "1500"), ("nine niner", "99"),
        ("nought point five", "0.5"),
        ("half", "0.5"), ("double four", "44"), ("triple seven", "777"), ("zero five", "5"),
        ("two thousand and five", "2005"), ("negative two point five", "-2.5"),
    ],
)  # fmt: skip
def test_the_habits_of_the_field_are_understood(said: str, value: str) -> None:
    assert readings(said.split()) == (Decimal(value),)


@pytest.mark.parametrize(
    "said",
    [
        "", "point", "and", "hundred", "twenty twelve five", "five twenty one two", "twenty hundred",
        "three halves", "five quarters", "minus", "minus minus three", "two point", "point point five",
        "twelve five", "banana", "one and", "and a half", "ten five", "a", "double", "double double four",
        "one quarters", "three quarter",
    ],
)  # fmt: skip
def test_words_that_are_no_number_are_not_made_one(said: str) -> None:
    assert readings(said.split()) == ()


def test_no_short_run_of_number_words_means_two_numbers() -> None:
    """All runs of up to three of the words; longer ones are met at random below."""
    for length in (1, 2, 3):
        for words in product(sorted(NUMBER_WORDS), repeat=length):
            assert len(readings(words)) <= 1, words


@settings(max_examples=1000)
@given(st.lists(st.sampled_from(sorted(NUMBER_WORDS)), min_size=4, max_size=9))
def test_no_longer_run_of_number_words_means_two_numbers(words: list[str]) -> None:
    assert len(readings(words)) <= 1


@settings(max_examples=500)
@given(st.data())
def test_no_number_with_words_put_in_means_two_numbers(data: st.DataObject) -> None:
    words = list(data.draw(st.sampled_from(ways_to_say.whole_number(data.draw(st.integers(0, 9999))))))
    for _ in range(data.draw(st.integers(0, 3))):
        words.insert(data.draw(st.integers(0, len(words))), data.draw(st.sampled_from(sorted(NUMBER_WORDS))))
    assert len(readings(words)) <= 1


def test_a_number_said_twice_is_that_number_only_where_nothing_else_can_be() -> None:
    assert repeated(["fifteen", "one", "five"]) == (Decimal(15),)
    assert repeated(["fifty", "five", "zero"]) == (Decimal(50),)
    assert repeated(["fifteen", "five", "zero"]) == ()
    twelve_twelve = ("twelve", "twelve")
    assert legal_readings(twelve_twelve, lambda v: v < 20) == (Decimal(12),)
    assert legal_readings(twelve_twelve, lambda v: v < 2000) == (Decimal(1212),)


@given(st.integers(-99_999, 99_999), st.integers(0, 999))
def test_a_number_as_sayso_says_it_comes_back(whole: int, thousandths: int) -> None:
    value = float(f"{whole}.{thousandths:03}")
    for careful in (False, True):
        words = spoken.number(value, careful=careful).replace(",", "").split()
        assert legal_readings(words, lambda v: v == Decimal(str(value))), words
        # read without knowing the answer, nothing else is primary
        assert set(readings(words)) <= {Decimal(str(value))}


@given(st.integers(0, 9_999), st.integers(0, 99))
def test_sayso_says_decimals_as_num2words_does(whole: int, hundredths: int) -> None:
    value = float(f"{whole}.{hundredths:02}")
    shown = int(value) if value == int(value) else value
    outside = num2words(shown).replace("-", " ").replace(",", "")
    assert spoken.number(value) == outside


@given(st.lists(st.floats(-1e5, 1e5, allow_nan=False), min_size=2, max_size=2, unique=True))
def test_two_numbers_are_never_said_alike(values: list[float]) -> None:
    assert spoken.number(values[0]) != spoken.number(values[1]) or values[0] == values[1]


def test_teens_and_tens_are_told_apart_digit_by_digit() -> None:
    assert spoken.number(15, careful=True) == "fifteen, one five"
    assert spoken.number(50, careful=True) == "fifty, five zero"
    assert spoken.number(115.5, careful=True) == "one hundred and fifteen point five, one one five point five"
    assert spoken.number(12, careful=True) == "twelve"
