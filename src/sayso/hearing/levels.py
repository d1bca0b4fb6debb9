"""Levels of 16-bit audio in dBFS (0 dBFS = a full-scale square wave, so a full-scale sine is -3)."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.int16]

#: What digital silence counts as.
NOTHING_DBFS = -100.0


def samples_of(pcm: bytes) -> Samples:
    return np.frombuffer(pcm, dtype="<i2")


def dbfs(samples: Samples) -> float:
    if not len(samples):
        return NOTHING_DBFS
    x = samples.astype(np.float64)
    power = float(np.dot(x, x)) / len(x) / 32768.0**2
    return max(NOTHING_DBFS, 10 * math.log10(power)) if power > 0 else NOTHING_DBFS


def clipped_share(samples: Samples) -> float:
    """Share of samples at (or one step from) full scale."""
    if not len(samples):
        return 0.0
    return float(np.count_nonzero(np.abs(samples.astype(np.int32)) >= 32766)) / len(samples)
