"""Capability of a process against its limits, by the formulas of NIST/SEMATECH e-Handbook 6.1.6.

Cp = (USL - LSL) / 6s;  Cpk = min(USL - mean, mean - LSL) / 3s;  approximate limits of Cpk at 95 %:
Cpk +- 1.96 * sqrt(1 / 9n + Cpk^2 / (2 (n - 1))). Normal values are assumed; few values tell little.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np

#: Normal quantile for a two-sided 95 % interval.
_Z: Final = 1.959964


@dataclass(frozen=True, slots=True)
class Capability:
    """`s` is the sample standard deviation. Indices are None where they cannot be worked out."""

    n: int
    mean: float
    s: float | None
    cp: float | None
    cpk: float | None
    cpk_low: float | None
    cpk_high: float | None


def capability(values: Sequence[float], low: float | None, high: float | None) -> Capability:
    """Capability of `values` against limits; one limit gives Cpk only. Raises ValueError without values."""
    if not len(values):
        raise ValueError("no values, no capability")
    data = np.asarray(values, dtype=float)
    mean = float(data.mean())
    if len(data) < 2:
        return Capability(len(data), mean, None, None, None, None, None)
    return from_summary(len(data), mean, float(data.std(ddof=1)), low, high)


def from_summary(n: int, mean: float, s: float, low: float | None, high: float | None) -> Capability:
    """The same from mean and standard deviation."""
    if s <= 0 or (low is None and high is None):
        return Capability(n, mean, s, None, None, None, None)
    cp = (high - low) / (6 * s) if low is not None and high is not None else None
    sides = [(high - mean) / (3 * s)] if high is not None else []
    if low is not None:
        sides.append((mean - low) / (3 * s))
    cpk = min(sides)
    margin = _Z * sqrt(1 / (9 * n) + cpk**2 / (2 * (n - 1)))
    return Capability(n, mean, s, cp, cpk, cpk - margin, cpk + margin)
