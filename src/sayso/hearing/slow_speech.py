"""Answers by people who pause: single words of one speaker joined with pauses inside and between groups.

For measuring cut-offs. Pauses are drawn evenly between bounds, so the set is harder than usual speech.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from sayso.hearing.errors import HearingError
from sayso.hearing.recordings import RATE, Recording, read_sound


@dataclass(frozen=True, slots=True)
class Manner:
    """How an answer is said: words a group, pause inside a group and between groups (seconds, from-to)."""

    name: str
    groups: tuple[int, ...]
    inside: tuple[float, float]
    between: tuple[float, float]

    @property
    def words(self) -> int:
        return sum(self.groups)


#: A number of two words said haltingly, and a serial of eight said in groups.
HALTING_NUMBER = Manner("halting number", (2,), (0.05, 0.35), (0.0, 0.0))
GROUPED_SERIAL = Manner("serial in groups", (2, 3, 3), (0.02, 0.25), (0.4, 0.9))


def trimmed(sound: np.ndarray, below_peak_db: float = 35.0) -> np.ndarray:
    """The sound without the silence at its ends."""
    frames = sound[: len(sound) // 160 * 160].reshape(-1, 160)
    power = (frames**2).mean(axis=1)
    if not len(power):
        return sound
    loud = np.nonzero(power > power.max() * 10 ** (-below_peak_db / 10))[0]
    return sound[loud[0] * 160 : (loud[-1] + 1) * 160] if len(loud) else sound


def slow_answers(
    recordings: Sequence[Recording], manner: Manner, count: int, into: Path, seed: int = 8
) -> tuple[Recording, ...]:
    """`count` answers written to `into`, each of one speaker where speakers are known.

    Raises HearingError when there are too few single-word recordings.
    """
    single = [r for r in recordings if r.words is not None and len(r.words) == 1]
    by_speaker: dict[str, list[Recording]] = {}
    for recording in single:
        by_speaker.setdefault(recording.speaker, []).append(recording)
    speakers = sorted(s for s, own in by_speaker.items() if len(own) >= 3)
    if not speakers:
        raise HearingError("pauses need recordings of single words, at least three by one speaker")
    rng = np.random.default_rng(seed)
    out = []
    for index in range(count):
        own = by_speaker[speakers[index % len(speakers)]]
        chosen = [own[int(rng.integers(len(own)))] for _ in range(manner.words)]
        parts: list[np.ndarray] = []
        at = 0
        for group, size in enumerate(manner.groups):
            for place in range(size):
                if place or group:
                    low, high = manner.inside if place else manner.between
                    parts.append(np.zeros(int(rng.uniform(low, high) * RATE)))
                sound = trimmed(read_sound(chosen[at].path))
                parts.append(sound * (0.1 / max(float(np.sqrt(np.mean(sound**2))), 1e-6)))
                at += 1
        joined = np.concatenate(parts)
        path = into / f"{index:04d}.wav"
        soundfile.write(path, np.clip(joined, -1, 1), RATE)
        words = tuple((r.words or ("",))[0] for r in chosen)
        out.append(Recording(path.stem, path, words, speakers[index % len(speakers)]))
    return tuple(out)
