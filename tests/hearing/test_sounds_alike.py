"""Answers that can be taken for one another are found before the job, by sound and by measurement."""

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sayso.arpabet import ARPABET
from sayso.hearing.phones import CONSONANTS, VOWELS, phone_distance
from sayso.hearing.pronunciations import pronounce
from sayso.hearing.sounds_alike import (
    TOO_NEAR,
    alike_pairs,
    distance,
    measured_confusions,
    phones_distance,
)
from sayso.hearing.speech_model import SpeechModel

#: Known to be mixed up: -teen/-ty and letters of the E set are named in radio practice, which is why
#: numbers are said digit by digit and letters by the ICAO alphabet (Annex 10; from memory).
MIXED_UP = [
    "fifteen fifty",
    "thirteen thirty",
    "sixteen sixty",
    "m n",
    "b d",
    "b p",
    "e p",
    "d t",
    "on off",
    "done none",
]
APART = ["yes no", "left right", "repeat stop", "nine zero", "back help", "slower skip", "hold undo"]

phones = st.lists(st.sampled_from(ARPABET), min_size=1, max_size=8).map(tuple)


def apart(pair: str, model: SpeechModel) -> float:
    a, b = pair.split()
    said = {w: s.pronunciations for w, s in pronounce((a, b), {}, model).items()}
    return distance(a, b, said)


@pytest.mark.parametrize("pair", MIXED_UP)
def test_pairs_that_people_mix_up_are_near(pair: str, model: SpeechModel) -> None:
    assert apart(pair, model) < TOO_NEAR


@pytest.mark.parametrize("pair", APART)
def test_pairs_that_are_told_apart_are_far(pair: str, model: SpeechModel) -> None:
    assert apart(pair, model) > TOO_NEAR


@given(phones, phones)
def test_distance_is_symmetric_and_zero_only_for_the_same(a: tuple[str, ...], b: tuple[str, ...]) -> None:
    d = phones_distance(a, b)
    assert d == pytest.approx(phones_distance(b, a))
    assert 0 <= d <= 1
    assert (d == 0) == (a == b)


def test_every_phone_has_features() -> None:
    assert set(CONSONANTS) | set(VOWELS) == set(ARPABET)
    assert all(phone_distance(a, b) > 0 for a in ARPABET for b in ARPABET if a != b)


def test_only_different_answers_are_compared(model: SpeechModel) -> None:
    said = {
        w: s.pronunciations
        for w, s in pronounce(["yes", "yeah", "no", "fifteen", "fifty"], {}, model).items()
    }
    pairs = alike_pairs([["yes", "yeah"], ["no"], ["fifteen"], ["fifty"]], said)
    assert [(p.first, p.second) for p in pairs] == [("fifteen", "fifty")]
    assert "sound alike" in str(pairs[0])


def test_a_measured_confusion_is_reported_however_far_it_sounds(model: SpeechModel, tmp_path: Path) -> None:
    (tmp_path / "confusions.json").write_text(
        json.dumps({"heard_as": {"five": {"nine": 0.08, "four": 0.01}}})
    )
    said = {w: s.pronunciations for w, s in pronounce(["five", "nine", "four"], {}, model).items()}
    pairs = alike_pairs([["five"], ["nine"], ["four"]], said, measured_confusions(tmp_path))
    assert [(p.first, p.second, p.confused) for p in pairs if p.confused == 0.08] == [("five", "nine", 0.08)]


def test_a_model_without_measurements_has_none(tmp_path: Path) -> None:
    assert measured_confusions(tmp_path) == {}
