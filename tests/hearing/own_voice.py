"""A room in which sayso's own prompts come back through the microphone, made of numbers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.signal import fftconvolve

from sayso.hearing.recordings import RATE, to_pcm

PROMPTS = (
    "Torque the M ten bolts to forty five newton metres. Start at the top, say done when all are complete.",
    "Warning. Key out, battery connector apart, locked and tagged. Say yes when you have understood.",
    "Count the populated pins of the signal plug. How many?",
    "Fifteen, one five. Is that right, yes or no?",
    "I did not catch that. You can say a number, repeat, or stop.",
    "Measure the link voltage. It must be below five volts.",
)
#: Words that a job would listen for meanwhile; the prompts are full of them.
WORDS = (
    "done",
    "yes",
    "no",
    "stop",
    "repeat",
    "hold",
    "help",
    "skip",
    "one",
    "five",
    "ten",
    "fifteen",
    "right",
    "back",
)
BLOCK = 480
PAUSE_S = 1.2


@dataclass(frozen=True)
class Room:
    """echo_db: echo against the voice as played; ring_s: RT60."""

    echo_db: float = -12.0
    delay_s: float = 0.05
    ring_s: float = 0.4
    noise: float = 0.001

    def echo(self, played: np.ndarray, seed: int = 1) -> np.ndarray:
        rng = np.random.default_rng(seed)
        n = np.arange(int(self.ring_s * RATE))
        response = rng.standard_normal(len(n)) * 10 ** (-3 * n / RATE / self.ring_s) * 0.05
        response[0] = 1.0
        late = np.concatenate((np.zeros(int(self.delay_s * RATE)), response))
        heard = fftconvolve(played, late)[: len(played)] * 10 ** (self.echo_db / 20)
        return heard + rng.standard_normal(len(played)) * self.noise


@dataclass(frozen=True)
class Moment:
    """One block: what is played, what the microphone gives, when it arrives, whether the voice speaks."""

    played: np.ndarray
    pcm: bytes
    at: float
    speaking: bool


def moments(voice: np.ndarray, microphone: np.ndarray) -> Iterator[Moment]:
    pcm = to_pcm(microphone)
    samples = (np.clip(voice, -1, 1) * 32767).astype(np.int16)
    for at in range(0, len(voice) - BLOCK + 1, BLOCK):
        recent = samples[max(0, at - 3200) : at + BLOCK]
        yield Moment(
            samples[at : at + BLOCK],
            pcm[2 * at : 2 * (at + BLOCK)],
            1000.0 + (at + BLOCK) / RATE,
            bool(np.abs(recent).max() > 50),
        )
