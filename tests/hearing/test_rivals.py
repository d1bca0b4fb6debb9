"""An order of one word is heard again against the words that sound most like it."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sayso.arpabet import ARPABET
from sayso.hearing.pronunciations import model_lexicon
from sayso.hearing.recogniser import Recogniser
from sayso.hearing.recordings import read_sound, to_pcm
from sayso.hearing.rivals import ADVANTAGE, FARTHEST, MOST, Rivals
from sayso.hearing.sounds_alike import phones_distance
from sayso.hearing.speech_model import find_model, load_model

words = st.lists(st.sampled_from(ARPABET), min_size=1, max_size=6).map(" ".join)


@given(st.lists(words, min_size=2, max_size=12, unique=True))
def test_rivals_are_the_nearest_words_by_the_distance_of_sounds_alike(said: list[str]) -> None:
    lexicon = {f"word{chr(97 + n)}x": (way,) for n, way in enumerate(said)}
    mine, way = "wordax", tuple(said[0].split())
    far = {w: phones_distance(way, tuple(p[0].split())) for w, p in lexicon.items() if w != mine}
    expected = {
        w for w, d in far.items()
        if 0 < d < FARTHEST and abs(len(lexicon[w][0].split()) - len(way)) <= 2
    }  # fmt: skip
    # exactly at the limit single precision may fall to either side (found by Hypothesis: "D AA HH", "Z AA")
    at_limit = {w for w, d in far.items() if abs(d - FARTHEST) < 1e-5}
    assert set(Rivals(lexicon).of(mine)) - at_limit == expected - at_limit


def test_an_order_has_its_sound_alikes_as_rivals_but_neither_its_own_endings_nor_itself() -> None:
    rivals = Rivals(model_lexicon(find_model()))
    assert {"old", "cold", "told"} <= set(rivals.of("hold"))
    assert not [word for word in rivals.of("repeat") if word.startswith("repeat")]
    assert len(rivals.of("stop")) == MOST


def test_numbers_and_letters_have_no_rivals() -> None:
    rivals = Rivals(model_lexicon(find_model()))
    assert [rivals.of(word) for word in ("one", "eight", "fifteen", "ninety", "b", "m")] == [()] * 6


def test_a_word_that_no_dictionary_has_has_no_rivals() -> None:
    assert Rivals({"done": ("D AH N",)}).of("flurb") == ()


@pytest.mark.skipif(shutil.which("flite") is None, reason="flite is not installed")
@pytest.mark.parametrize(
    ("said", "order", "stands"),
    [
        ("repeat", "repeat", True),
        ("repair", "repeat", False),
        ("done", "done", True),
        ("pose", "pause", False),
    ],
)
def test_what_sounds_like_an_order_does_not_stand_up_against_its_rivals(
    said: str, order: str, stands: bool, tmp_path: Path
) -> None:
    file = tmp_path / "said.wav"
    subprocess.run(["flite", "-voice", "slt", "-t", said, "-o", str(file)], check=True)
    model = load_model()
    rivals = Rivals(model_lexicon(model.path)).of(order)
    pcm = to_pcm(read_sound(file)) + bytes(16_000)
    assert Recogniser(model).stands_up(pcm, (order,), rivals, ADVANTAGE) is stands
