"""Workshop noise made from a seed: compressor, impact wrench, grinder, babble. For measuring, not for show.

The spectra are common practice without a source: a piston compressor's low pulses with hiss, an impact
wrench's 20 blows a second, a grinder's whine with broadband hiss, and speech-shaped babble.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt
from scipy import signal

Sound = npt.NDArray[np.float64]
RATE = 16_000


def _band(rng: np.random.Generator, count: int, low: float, high: float) -> Sound:
    sos = signal.butter(4, [low, high], btype="bandpass", fs=RATE, output="sos")
    return np.asarray(signal.sosfilt(sos, rng.standard_normal(count)))


def compressor(rng: np.random.Generator, count: int) -> Sound:
    """Piston strokes at 12-18 a second with harmonics, and the hiss of air."""
    t = np.arange(count) / RATE
    stroke = rng.uniform(12, 18)
    wobble = np.cumsum(rng.standard_normal(count)) * 0.002
    pulses = sum(
        np.sin(2 * np.pi * stroke * k * t + k * wobble + rng.uniform(0, 6)) / k for k in range(1, 25)
    )
    pumping = 0.6 + 0.4 * np.sin(2 * np.pi * stroke * t)
    return np.asarray(pulses + 1.2 * _band(rng, count, 200, 6000) * pumping)


def impact_wrench(rng: np.random.Generator, count: int) -> Sound:
    """Bursts of 1-3 s: about 20 ringing blows a second over the exhaust's hiss."""
    out = 0.02 * rng.standard_normal(count)
    at = 0
    while at < count:
        length = int(rng.uniform(1.0, 3.0) * RATE)
        rate = rng.uniform(17, 24)
        blows = np.zeros(min(length, count - at))
        positions = np.arange(0, len(blows), RATE / rate) + rng.uniform(
            -60, 60, size=len(np.arange(0, len(blows), RATE / rate))
        )
        blows[np.clip(positions, 0, len(blows) - 1).astype(int)] = 1.0
        t = np.arange(int(0.04 * RATE)) / RATE
        ring = np.exp(-t * 120) * sum(np.sin(2 * np.pi * f * t) for f in rng.uniform(900, 5500, size=5))
        out[at : at + len(blows)] += np.convolve(blows, ring)[: len(blows)]
        out[at : at + len(blows)] += 0.25 * _band(rng, len(blows), 1000, 7000)
        at += length + int(rng.uniform(0.3, 1.0) * RATE)
    return np.asarray(out)


def grinder(rng: np.random.Generator, count: int) -> Sound:
    """A disc at 150-190 turns a second: whine with sidebands, hiss that comes and goes with the pressure."""
    t = np.arange(count) / RATE
    turn = rng.uniform(150, 190) * (1 + 0.01 * np.sin(2 * np.pi * rng.uniform(0.3, 1) * t))
    phase = 2 * np.pi * np.cumsum(turn) / RATE
    whine = sum(np.sin(k * phase + rng.uniform(0, 6)) / k**0.7 for k in range(1, 18))
    pressure = 0.7 + 0.3 * np.sin(2 * np.pi * rng.uniform(0.5, 2) * t + rng.uniform(0, 6))
    return np.asarray(whine + 2.5 * pressure * _band(rng, count, 1500, 7500))


def babble(rng: np.random.Generator, count: int) -> Sound:
    """Eight voices' worth of speech-shaped noise, each with syllables of its own (about 4 a second)."""
    total = np.zeros(count)
    t = np.arange(count) / RATE
    for _ in range(8):
        pitch = rng.uniform(90, 230) * (1 + 0.1 * np.sin(2 * np.pi * rng.uniform(0.2, 0.7) * t))
        phase = 2 * np.pi * np.cumsum(pitch) / RATE
        source = signal.sawtooth(phase) + 0.3 * rng.standard_normal(count)
        voice = np.zeros(count)
        for low, high in ((250, 850), (900, 2300), (2300, 3300)):
            centre = rng.uniform(low, high)
            b, a = signal.iirpeak(centre, 5, fs=RATE)
            voice += signal.lfilter(b, a, source)
        syllables = np.clip(np.sin(2 * np.pi * rng.uniform(3, 5) * t + rng.uniform(0, 6)) + 0.3, 0, None)
        phrases = np.clip(np.sin(2 * np.pi * rng.uniform(0.15, 0.4) * t + rng.uniform(0, 6)) + 0.6, 0, 1)
        total += voice * syllables * phrases
    return total


NOISES: dict[str, Callable[[np.random.Generator, int], Sound]] = {
    "compressor": compressor,
    "impact wrench": impact_wrench,
    "grinder": grinder,
    "babble": babble,
}


def speech_power(speech: Sound) -> float:
    """Mean power of the frames within 25 dB of the loudest: speech without its pauses."""
    frames = speech[: len(speech) // 320 * 320].reshape(-1, 320)
    power = (frames**2).mean(axis=1)
    if not len(power) or power.max() <= 0:
        return 0.0
    return float(power[power > power.max() * 10**-2.5].mean())


def with_noise(speech: Sound, kind: str, snr_db: float, seed: Sequence[int] | int) -> Sound:
    """`speech` (-1..1) with `kind` of noise so that speech power over noise power is `snr_db`.

    Lowered as a whole when it would clip, so the ratio stays.
    """
    rng = np.random.default_rng(seed)
    noise = NOISES[kind](rng, len(speech))
    power = float((noise**2).mean())
    wanted = speech_power(speech) / 10 ** (snr_db / 10)
    mixed = speech + noise * np.sqrt(wanted / max(power, 1e-12))
    peak = float(np.abs(mixed).max())
    return np.asarray(mixed / peak * 0.99 if peak > 0.99 else mixed)
