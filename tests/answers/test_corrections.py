"""Corrections in one breath and the reply to a read-back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sayso.answers import (
    Answer,
    confirm,
    confirmation_completeness,
    confirmation_phrases,
    is_correction,
    split_correction,
)
from sayso.answers.answer import Completeness
from sayso.procedure.model import AskCount, AskMeasure, AskSerial
from tests.answers import ways_to_say

CELLS = AskCount("cells", 0, 60)
FIFTEEN = Answer("count", 15, said=("fifteen",))


@pytest.mark.parametrize(
    ("said", "counts"),
    [
        ("no four", "four"), ("no five zero", "five zero"), ("correction twelve", "twelve"),
        ("twelve no thirteen", "thirteen"), ("i mean thirteen", "thirteen"),
        ("twelve sorry thirteen", "thirteen"),
        ("no it's four", "four"), ("no wait four", "four"), ("twelve no thirteen no fourteen", "fourteen"),
        ("make that nine point five", "nine point five"), ("twelve scratch that", ""), ("twelve no", ""),
        ("twelve", "twelve"), ("no", "no"), ("no no", "no no"), ("no that's wrong", "no that's wrong"),
        ("negative five", "negative five"),
    ],
)  # fmt: skip
def test_the_words_behind_a_correction_count(said: str, counts: str) -> None:
    assert split_correction(said.split()) == tuple(counts.split())
    assert is_correction(said.split()) is (said != counts)


@given(
    st.integers(0, 60),
    st.integers(0, 60),
    st.sampled_from(["no", "correction", "i mean", "sorry", "make that"]),
)
def test_every_number_corrects_every_other_in_every_way(wrong: int, right: int, marker: str) -> None:
    for way in ways_to_say.whole_number(right):
        said = (*ways_to_say.full(wrong), *marker.split(), *way)
        assert split_correction(said) == way
        reply = confirm(CELLS, Answer("count", wrong), (*marker.split(), *way))
        assert reply.corrected is not None
        assert reply.corrected.value == right
        assert reply.yes is None


def test_the_reply_to_a_read_back() -> None:
    assert confirm(CELLS, FIFTEEN, ("yes",)).yes is True
    assert confirm(CELLS, FIFTEEN, ("that's", "right")).yes is True
    assert confirm(CELLS, FIFTEEN, ("no",)).yes is False
    assert confirm(CELLS, FIFTEEN, ("twelve", "no")).yes is False
    # the value once more is a yes; another value is a correction, even behind a yes
    assert confirm(CELLS, FIFTEEN, ("one", "five")).yes is True
    for said in ("fifty", "yes fifty", "no five zero", "no fifty five zero"):
        corrected = confirm(CELLS, FIFTEEN, said.split()).corrected
        assert corrected is not None
        assert corrected.value == 50
    # a denied value that is heard again is not taken for a yes
    again = confirm(CELLS, FIFTEEN, ("no", "fifteen"))
    assert again.yes is None
    assert again.corrected is not None
    mumbled = confirm(CELLS, FIFTEEN, ("no", "ninety"))
    assert mumbled.yes is False
    assert mumbled.problem is not None
    assert confirm(CELLS, FIFTEEN, ("banana",)).problem is not None
    assert confirm(CELLS, FIFTEEN, ("[unk]", "yes")).yes is None


def test_negative_before_a_measured_value_is_its_sign() -> None:
    ask = AskMeasure("x", "degC")
    reply = confirm(ask, Answer("measure", 5.0, "degC"), ("negative", "five"))
    assert reply.corrected is not None
    assert reply.corrected.value == -5


def test_no_may_go_on_and_yes_has_ended() -> None:
    assert confirmation_completeness(CELLS, ("yes",)) == Completeness(True, False)
    assert confirmation_completeness(CELLS, ("no",)) == Completeness(True, True)
    assert confirmation_completeness(CELLS, ("no", "four")).complete
    assert confirmation_completeness(CELLS, ("no", "twelve")) == Completeness(True, False)


def test_the_grammar_of_a_read_back_has_yes_no_corrections_and_the_answers() -> None:
    listed = confirmation_phrases(AskSerial("x", "[A-Z][0-9]"))
    assert {"yes", "no", "correction", "alfa", "nine"} <= set(listed)
