"""Speech for these tests is made by espeak-ng on the spot; everything downstream of it is real."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr

from sayso.hearing.recogniser import Recogniser
from sayso.hearing.speech_model import SpeechModel, load_model

RATE = 16_000
DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
Say = Callable[..., bytes]


@pytest.fixture(scope="session")
def model() -> SpeechModel:
    return load_model()


@pytest.fixture
def recogniser(model: SpeechModel) -> Recogniser:
    return Recogniser(model)


@pytest.fixture(scope="session")
def say(tmp_path_factory: pytest.TempPathFactory) -> Say:
    """say("two five", before=1.0, after=0.3): 16 kHz PCM of the words in a quiet room (-54 dBFS of noise)."""
    folder = tmp_path_factory.mktemp("spoken")

    @lru_cache(maxsize=64)
    def spoken(text: str, voice: str) -> np.ndarray:
        file = folder / "spoken.wav"
        subprocess.run(["espeak-ng", "-v", voice, "-w", str(file), text], check=True)
        sound, rate = soundfile.read(file, dtype="float64")
        return np.asarray(soxr.resample(sound, rate, RATE)) * 0.6

    def make(
        *texts: str, pause: float = 0.0, before: float = 0.8, after: float = 0.1, voice: str = "en-us"
    ) -> bytes:
        parts = [np.zeros(int(before * RATE))]
        for index, text in enumerate(texts):
            if index:
                parts.append(np.zeros(int(pause * RATE)))
            parts.append(spoken(text, voice))
        parts.append(np.zeros(int(after * RATE)))
        sound = np.concatenate(parts)
        return to_pcm(sound + np.random.default_rng(7).standard_normal(len(sound)) * 0.002)

    return make


def to_pcm(sound: np.ndarray) -> bytes:
    return (np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes()


def quiet(seconds: float, level: float = 0.002, seed: int = 3) -> bytes:
    """A quiet room."""
    return to_pcm(np.random.default_rng(seed).standard_normal(int(seconds * RATE)) * level)


@pytest.fixture
def copied_model(tmp_path: Path, model: SpeechModel) -> Path:
    """A copy of the shipped model that a test may spoil."""
    import shutil

    return Path(shutil.copytree(model.path, tmp_path / "spoiled"))
