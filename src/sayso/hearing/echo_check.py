"""How loud, how late and how long sayso's own voice comes back through the microphone, and what follows.

Measured at the start while the first words are spoken; no separate test sound is needed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

RATE = 16_000
Sound = npt.NDArray[np.float64]

#: Echo less than this over the noise is as good as none: a headset, or a far loudspeaker.
UNHEARD_DB = 3.0
#: Echo later than this is not looked for (Bluetooth loudspeakers are 0.1-0.3 s late).
LONGEST_DELAY_S = 0.6
#: A peak of the correlation this many times its median is an echo and not chance.
CERTAIN = 8.0
#: Bounds of the tail that is waited for.
SHORTEST_TAIL_S, LONGEST_TAIL_S = 0.10, 0.60

HowToListen = Literal["open", "canceller", "half_duplex"]


@dataclass(frozen=True, slots=True)
class Coupling:
    """heard: the voice comes back. level_db: echo over the room's noise. delay_s: from played to recorded.
    tail_s: how long after the voice the echo stays above the noise."""

    heard: bool
    level_db: float
    delay_s: float
    tail_s: float


def measure_coupling(played: Sound, recorded: Sound, noise_dbfs: float | None = None) -> Coupling:
    """`played` and `recorded` begin at the same moment, 16 kHz, -1..1; `recorded` goes on for 0.5 s or more.

    noise_dbfs: the room without the voice; None takes the quietest tenth of the recording.
    """
    correlation = np.abs(_whitened_correlation(played, recorded))[: int(LONGEST_DELAY_S * RATE)]
    peak = int(np.argmax(correlation))
    certain = bool(correlation[peak] > CERTAIN * max(float(np.median(correlation)), 1e-12))
    frame = 160
    levels = _frame_levels(recorded, frame)
    floor = float(np.percentile(levels, 10)) if noise_dbfs is None else noise_dbfs
    begin, end = peak // frame, (peak + len(played)) // frame
    speaking = levels[begin:end]
    # Sound that was there before the voice (talk; an echo that came late) must not pass for the room's noise:
    # beside it no voice would stand out, and a loudspeaker would be taken for a headset.
    least = min(floor, float(np.percentile(levels, 10)))
    level = float(np.percentile(speaking, 80)) - least if len(speaking) else 0.0
    heard = certain and level > UNHEARD_DB
    after = levels[end:]
    ringing = np.nonzero(after < floor + UNHEARD_DB)[0]
    tail = (int(ringing[0]) if len(ringing) else len(after)) * frame / RATE
    return Coupling(
        heard, round(level, 1), peak / RATE, float(np.clip(tail, SHORTEST_TAIL_S, LONGEST_TAIL_S))
    )


def _whitened_correlation(played: Sound, recorded: Sound) -> Sound:
    """Cross-correlation with the phase transform: one sharp peak at the delay (Knapp & Carter 1976)."""
    size = 1 << int(np.ceil(np.log2(len(played) + len(recorded))))
    cross = np.fft.rfft(recorded, size) * np.conj(np.fft.rfft(played, size))
    magnitude = np.abs(cross)
    # bins without the voice say nothing of the delay
    cross = np.where(magnitude > magnitude.max() * 1e-4, cross / np.maximum(magnitude, 1e-12), 0)
    return np.asarray(np.fft.irfft(cross, size))


def _frame_levels(sound: Sound, frame: int) -> Sound:
    rows = sound[: len(sound) // frame * frame].reshape(-1, frame)
    levels = 10 * np.log10(np.maximum((rows**2).mean(axis=1), 1e-10))
    padded = np.pad(levels, 1, mode="edge")
    return np.asarray(np.median(np.stack((padded[:-2], padded[1:-1], padded[2:])), axis=0))


def how_to_listen(coupling: Coupling, canceller: bool) -> HowToListen:
    """Open ear when the voice does not come back; else the canceller when there is one; else half-duplex."""
    if not coupling.heard:
        return "open"
    return "canceller" if canceller else "half_duplex"
