"""Every phrase equally loud: engines and voices differ by more than 10 dB, a workshop needs one level."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]

#: Root mean square of the speech itself, in dB of full scale. Speech peaks lie about 12-15 dB above its
#: mean, so -18 dB leaves the peaks just under full scale. Common practice, no source.
TARGET_DB = -18.0
PEAK = 0.97
#: Blocks quieter than this do not count as speech (pauses would pull the mean down).
FLOOR_DB = -50.0
#: Silence kept in front of and behind the words: engines add up to 0.3 s, which the listener waits for.
LEAD_S = 0.0
TAIL_S = 0.02


def level(samples: Samples, target_db: float = TARGET_DB) -> Samples:
    """`samples` with the mean of its speech at `target_db`, never above full scale. Silence stays silence."""
    loud = _speech(samples)
    if loud.size == 0:
        return samples
    mean = float(np.sqrt(np.mean(np.square(loud, dtype=np.float64))))
    gain = 10 ** (target_db / 20) / mean
    gain = min(gain, PEAK / float(np.max(np.abs(samples))))
    return (samples * np.float32(gain)).astype(np.float32)


def trim(samples: Samples, rate: int, tail_s: float = TAIL_S) -> Samples:
    """`samples` without the engine's silence at both ends, so that the reply starts when it is played."""
    heard = np.flatnonzero(np.abs(samples) > 10 ** (FLOOR_DB / 20))
    if heard.size == 0:
        return samples[:0]
    start = max(0, int(heard[0]) - int(LEAD_S * rate))
    end = min(samples.size, int(heard[-1]) + 1 + int(tail_s * rate))
    return samples[start:end]


def _speech(samples: Samples, block: int = 512) -> Samples:
    whole = samples[: samples.size - samples.size % block]
    if whole.size == 0:
        return samples[np.abs(samples) > 10 ** (FLOOR_DB / 20)]
    blocks = whole.reshape(-1, block)
    means = np.sqrt(np.mean(np.square(blocks, dtype=np.float64), axis=1))
    return np.asarray(blocks[means > 10 ** (FLOOR_DB / 20)].ravel(), dtype=np.float32)
