"""Where speech begins and ends, by its level: all of it, and what a gate lets through."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

#: What opens a gate, as a share of the loudest 5 ms.
GATES = (0.08, 0.15, 0.25, 0.4)
_SPEECH = 0.05
_STEP = 80  # samples: 5 ms


def extent(x: NDArray[np.int16]) -> tuple[int, int]:
    """First and last sample of the speech (5 % of the peak in 5 ms steps)."""
    return _above(_peaks(x), _SPEECH, len(x))


def gated(x: NDArray[np.int16]) -> list[tuple[int, int]]:
    """First and last sample that a gate lets through, for each of GATES: a voice-operated microphone or a
    trimmer that goes by level eats the s of "six", most of all where only a telephone's band is heard. A gate
    once open is held, so the end goes by the next lower one."""
    # a mean over four samples: a third gone at 2 kHz, nearly all at 4 kHz
    peaks = _peaks(np.convolve(x.astype(np.float32), np.full(4, 0.25, np.float32), "same"))
    kept = [_above(peaks, share, len(x)) for share in (_SPEECH, *GATES)]
    return [(first, last) for (_, last), (first, _) in itertools.pairwise(kept)]


def _peaks(x: NDArray) -> NDArray:
    n = len(x) // _STEP
    return np.abs(x[: n * _STEP].reshape(n, _STEP).astype(np.float32)).max(1) if n >= 2 else np.zeros(0)


def _above(peaks: NDArray, share: float, length: int) -> tuple[int, int]:
    on = np.flatnonzero(peaks > max(60, share * peaks.max(initial=0)))
    return (0, length) if len(on) == 0 else (int(on[0]) * _STEP, int(on[-1] + 1) * _STEP)
