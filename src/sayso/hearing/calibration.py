"""Turns what is known about a result into the probability that it is right.

A logistic map fitted on held-out recordings by `sayso evaluate --calibrate`; kept beside the model in
calibration.json. Under a grammar vosk's own word confidence is near 1 even for wrong words.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from sayso.hearing.grammar import UNKNOWN
from sayso.hearing.recogniser import HeardWord, Result

FILE_NAME = "calibration.json"
#: Share of right answers that may be asked for again so that other talk is kept out.
LOST_RIGHT_ANSWERS = 0.01


@dataclass(frozen=True, slots=True)
class Features:
    """What the map is made from, but for `words`: it made the map turn a third of all long answers down.

    confidence: the least certain word's, 0..1; seconds_per_word: length of the shortest word;
    snr_db: speech over floor; unknown: share of [unk]; words: how many; coverage: share of the voiced time
    that the words account for (talk in which one word was spotted leaves most of it over)."""

    confidence: float
    seconds_per_word: float
    snr_db: float
    unknown: float
    words: int
    coverage: float = 1.0

    def vector(self) -> tuple[float, ...]:
        p = min(max(self.confidence, 0.01), 0.999)
        return (
            math.log(p / (1 - p)) / 3,
            min(self.seconds_per_word, 1.0),
            min(max(self.snr_db, -5.0), 40.0) / 20,
            self.unknown,
            min(max(self.coverage, 0.0), 1.0),
        )


def features_of(words: tuple[HeardWord, ...], result: Result, snr_db: float, voiced_s: float) -> Features:
    """Of an answer of `words` that was heard in `result`, in `voiced_s` seconds of voice."""
    unknown = sum(w.word == UNKNOWN for w in result.words)
    return Features(
        confidence=min((w.confidence for w in words), default=0.0),
        seconds_per_word=min((w.end - w.start for w in words), default=0.0),
        snr_db=snr_db,
        unknown=unknown / max(1, len(result.words)),
        words=len(words),
        coverage=sum(w.end - w.start for w in words) / max(voiced_s, 0.05),
    )


NAMES = (
    "log odds of the least certain word / 3",
    "shortest word (s)",
    "SNR (dB / 20)",
    "share of [unk]",
    "coverage",
)


@dataclass(frozen=True, slots=True)
class Calibration:
    weights: tuple[float, ...]
    bias: float
    #: how many results it was fitted on, and how far its promises were off (expected calibration error).
    fitted_on: int = 0
    calibration_error: float = 0.0
    #: results below this are taken for talk that was not meant for sayso.
    reject_below: float = 0.0

    def confidence(self, features: Features) -> float:
        z = self.bias + sum(w * x for w, x in zip(self.weights, features.vector(), strict=True))
        return 1 / (1 + math.exp(-max(-30.0, min(30.0, z))))


def read_calibration(model: Path) -> Calibration | None:
    """The model's map, or None when it has none (then vosk's own confidence is used)."""
    file = model / FILE_NAME
    if not file.is_file():
        return None
    data = json.loads(file.read_text(encoding="utf-8"))
    if len(data["weights"]) != len(NAMES):
        return None
    return Calibration(
        tuple(data["weights"]),
        data["bias"],
        data.get("fitted_on", 0),
        data.get("calibration_error", 0.0),
        data.get("reject_below", 0.0),
    )


def write_calibration(model: Path, calibration: Calibration) -> Path:
    file = model / FILE_NAME
    data = {
        "features": NAMES,
        "weights": [round(w, 5) for w in calibration.weights],
        "bias": round(calibration.bias, 5),
        "fitted_on": calibration.fitted_on,
        "calibration_error": round(calibration.calibration_error, 4),
        "reject_below": round(calibration.reject_below, 4),
    }
    file.write_text(json.dumps(data, indent=1) + "\n", encoding="utf-8")
    return file


def fit(features: Sequence[Features], right: Sequence[bool], ridge: float = 1.0) -> Calibration:
    """Logistic regression by Newton steps with a ridge penalty (not on the bias)."""
    x = np.array([(*f.vector(), 1.0) for f in features], dtype=np.float64)
    y = np.array(right, dtype=np.float64)
    w = np.zeros(x.shape[1])
    penalty = np.diag([ridge] * (x.shape[1] - 1) + [1e-6])
    for _ in range(50):
        p = 1 / (1 + np.exp(-np.clip(x @ w, -30, 30)))
        gradient = x.T @ (p - y) + penalty @ w
        hessian = (x * (p * (1 - p))[:, None]).T @ x + penalty
        step = np.linalg.solve(hessian, gradient)
        w -= step
        if float(np.abs(step).max()) < 1e-8:
            break
    p = 1 / (1 + np.exp(-np.clip(x @ w, -30, 30)))
    error = calibration_error(p, y)
    return Calibration(
        tuple(float(v) for v in w[:-1]), float(w[-1]), len(y), error, rejection_threshold(p, y)
    )


def rejection_threshold(promised: npt.NDArray[np.float64], right: npt.NDArray[np.float64]) -> float:
    """The confidence below which results are not believed: it costs one right answer in a hundred."""
    believed = promised[right > 0.5]
    return float(np.quantile(believed, LOST_RIGHT_ANSWERS)) if len(believed) else 0.0


@dataclass(frozen=True, slots=True)
class Bin:
    """One bar of a reliability curve: what was promised, what came true, of how many."""

    promised: float
    right: float
    count: int


def reliability(
    promised: npt.NDArray[np.float64], right: npt.NDArray[np.float64], bins: int = 10
) -> tuple[Bin, ...]:
    index = np.minimum((promised * bins).astype(int), bins - 1)
    return tuple(
        Bin(float(promised[index == b].mean()), float(right[index == b].mean()), int((index == b).sum()))
        for b in range(bins)
        if (index == b).any()
    )


def calibration_error(promised: npt.NDArray[np.float64], right: npt.NDArray[np.float64]) -> float:
    """Expected calibration error (Naeini et al. 2015): mean |promised - right| weighted by bin size."""
    curve = reliability(promised, right)
    total = sum(b.count for b in curve)
    return sum(abs(b.promised - b.right) * b.count for b in curve) / max(1, total)
