# ruff: noqa: SIM905
"""The shipped model in the unmodified vosk package, on real voices that it was neither trained nor tuned on.

Recordings: CMU's AN4 test part (tests/recordings/README.md). The bounds are what the model measured when it
was shipped, and about two standard errors more.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import jiwer
import numpy as np
import pytest
import soundfile
from vosk import KaldiRecognizer, Model, SetLogLevel

ROOT = Path(__file__).parents[2]
MODEL = ROOT / "models" / "shop-english"
RECORDINGS = ROOT / "tests" / "recordings"
DIGITS = "zero one two three four five six seven eight nine oh".split()
ORDERS = (
    "yes no stop go help repeat start next back done skip undo hold resume wait ready cancel confirm "
    "slower faster louder quieter left right on off up down open closed pass fail"
).split()


@pytest.fixture(scope="module")
def model() -> Model:
    SetLogLevel(-1)
    return Model(str(MODEL))


def said() -> dict[str, list[str]]:
    lines = (RECORDINGS / "transcripts.txt").read_text().splitlines()
    return {name: words for name, *words in (line.split() for line in lines if not line.startswith("#"))}


def heard(model: Model, sound: np.ndarray, grammar: Sequence[str]) -> list[str]:
    recogniser = KaldiRecognizer(model, 16_000, json.dumps(list(grammar)))
    words: list[str] = []
    for start in range(0, len(sound), 4000):
        if recogniser.AcceptWaveform(sound[start : start + 4000].tobytes()):
            words += json.loads(recogniser.Result())["text"].split()
    return words + json.loads(recogniser.FinalResult())["text"].split()


def recording(name: str) -> np.ndarray:
    return np.asarray(soundfile.read(RECORDINGS / name, dtype="int16")[0])


def test_sentences_of_unseen_speakers_in_a_loop_of_all_their_words(model: Model) -> None:
    """O and OH are one sound, so they count as one word."""
    words = sorted({word for spoken in said().values() for word in spoken})
    truth = [" ".join("o" if w == "oh" else w for w in spoken) for spoken in said().values()]
    guess = [
        " ".join("o" if w == "oh" else w for w in heard(model, recording(name), words)) for name in said()
    ]
    assert jiwer.wer(truth, guess) <= 0.09


def test_single_orders_among_thirty_two(model: Model) -> None:
    orders = {name: words[0] for name, words in said().items() if len(words) == 1 and words[0] in ORDERS}
    assert len(orders) >= 6
    wrong = {
        name: (word, got)
        for name, word in orders.items()
        if (got := heard(model, recording(name), [*ORDERS, "[unk]"])) != [word]
    }
    assert not wrong


def test_sentences_outside_the_grammar_are_not_taken_for_orders(model: Model) -> None:
    """Strings of three and more letters and numbers, with a grammar of nothing but orders."""
    others = [n for n, words in said().items() if len(words) >= 3 and not set(words) & set(ORDERS)]
    assert len(others) >= 30
    taken = []
    for name in others:
        got = heard(model, recording(name), [*ORDERS, "[unk]"])
        if got and "[unk]" not in got:
            taken.append((name, got))
    assert len(taken) <= 0.1 * len(others), taken


def test_silence_and_steady_noise_are_no_words(model: Model) -> None:
    noise = np.random.default_rng(7).standard_normal(16_000 * 4)
    for sound in (np.zeros(16_000 * 4), noise * 30, noise * 1500):
        assert [
            w for w in heard(model, sound.astype(np.int16), [*DIGITS, *ORDERS, "[unk]"]) if w != "[unk]"
        ] == []


def test_the_words_of_workshop_answers_are_in_the_vocabulary(model: Model) -> None:
    letters = list("abcdefghijklmnopqrstuvwxyz")
    phonetic = (
        "alfa bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike november oscar papa "
        "quebec romeo sierra tango uniform victor whiskey x-ray yankee zulu"
    ).split()  # ITU-R / ICAO spelling
    units = "newton metres foot pounds inch volts amps ohms degrees millimetres percent bar".split()
    wanted = [*DIGITS, *ORDERS, *letters, *phonetic, *units]
    missing = [word for word in wanted if model.vosk_model_find_word(word) < 0]
    assert missing == []


def test_the_lexicon_beside_the_graph_is_the_one_in_it() -> None:
    listed = {line.split()[0] for line in (MODEL / "graph" / "lexicon.txt").read_text().splitlines()}
    inside = {line.split()[0] for line in (MODEL / "graph" / "words.txt").read_text().splitlines()}
    assert inside - listed == {"<eps>", "[unk]"}
    assert listed <= inside


def test_the_model_stays_small() -> None:
    assert sum(p.stat().st_size for p in MODEL.rglob("*") if p.is_file()) <= 25e6
