"""The ear of a job beside a loudspeaker: its own voice's last words are no answer, however late they come.

Speech from espeak-ng, real listener and model; only the moments at which blocks come are made up.
"""

from __future__ import annotations

import queue
import subprocess
import time
from collections.abc import Iterator

import numpy as np
import pytest
import soundfile
import soxr

from sayso.hearing.endpoint import Whole
from sayso.hearing.hearing_events import Final
from sayso.hearing.microphone import Block
from sayso.hearing.speech_model import load_model
from sayso.session.ear import Ear, EarEvent, Request

RATE, BLOCK = 16_000, 480


class RecordedMicrophone:
    """Gives the blocks that were put in, each with the moment at which it is said to have come."""

    name, lost = "recorded", False

    def __init__(self) -> None:
        self.blocks: queue.SimpleQueue[Block] = queue.SimpleQueue()

    def put(self, sound: np.ndarray, first_at: float, late_s: float = 0.0) -> float:
        pcm = (sound * 32767).astype("<i2").tobytes()
        at = first_at
        for begin in range(0, len(pcm), 2 * BLOCK):
            at = first_at + (begin // 2 + BLOCK) / RATE
            self.blocks.put(Block(pcm[begin : begin + 2 * BLOCK], at, late_s=late_s))
        return at

    def next_event(self, timeout: float) -> Block | None:
        try:
            return self.blocks.get(timeout=timeout)
        except queue.Empty:
            return None

    def open(self) -> None: ...
    def close(self) -> None: ...


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> np.ndarray:
    file = tmp_path_factory.mktemp("said") / "done.wav"
    subprocess.run(["espeak-ng", "-v", "en-us", "-w", str(file), "done"], check=True)
    sound, rate = soundfile.read(file, dtype="float64")
    return np.asarray(soxr.resample(sound, rate, RATE)) * 0.6


def room(seconds: float) -> np.ndarray:
    return np.random.default_rng(5).standard_normal(int(seconds * RATE)) * 0.002


class Heard:
    def __init__(self) -> None:
        self.microphone = RecordedMicrophone()
        self.ear = Ear(load_model(), self.microphone)  # type: ignore[arg-type]
        self.words: list[tuple[str, ...]] = []
        self.ear.told = self._told
        self.ear.open()
        self.ear.listen(
            Request(1, ("done", "stop", "back"), "short", lambda w: Whole(len(w) == 1, False), None)
        )

    def _told(self, event: EarEvent, question: int) -> None:
        if isinstance(event, Final):
            self.words.append(event.words)

    def all_heard(self) -> list[tuple[str, ...]]:
        until = time.monotonic() + 20
        while not self.microphone.blocks.empty() and time.monotonic() < until:
            time.sleep(0.02)
        time.sleep(0.1)
        return self.words


@pytest.fixture
def heard() -> Iterator[Heard]:
    one = Heard()
    yield one
    one.ear.close()


def test_the_end_of_its_own_prompt_that_waits_to_be_heard_is_no_answer(
    heard: Heard, done: np.ndarray
) -> None:
    """The ear's thread is behind: the voice has ended, and its last word still lies in the queue."""
    heard.ear.voice_begins()
    heard.ear.voice_ended(103.0 + len(done) / RATE)
    at = heard.microphone.put(room(3.0), 100.0)
    at = heard.microphone.put(done, at)
    heard.microphone.put(room(2.0), at)
    assert heard.all_heard() == []


def test_nor_is_one_that_the_machine_brings_late(heard: Heard, done: np.ndarray) -> None:
    """Everything comes 0.8 s late: when "done" comes, the voice is said to have ended long ago."""
    heard.ear.voice_begins()
    heard.ear.voice_ended(102.2 + len(done) / RATE)
    at = heard.microphone.put(room(3.0), 100.0, late_s=0.8)
    at = heard.microphone.put(done, at, late_s=0.8)
    heard.microphone.put(room(2.0), at, late_s=0.8)
    assert heard.all_heard() == []


@pytest.mark.parametrize("late_s", [0.0, 0.8])
def test_an_answer_after_the_voice_is_taken(heard: Heard, done: np.ndarray, late_s: float) -> None:
    heard.ear.voice_begins()
    heard.ear.voice_ended(101.0)
    at = heard.microphone.put(room(3.0), 100.0, late_s=late_s)
    at = heard.microphone.put(done, at, late_s=late_s)
    heard.microphone.put(room(2.0), at, late_s=late_s)
    assert heard.all_heard() == [("done",)]
