"""Word and sentence errors, confusion pairs and bootstrap intervals. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from rapidfuzz.distance import Levenshtein

#: Resamplings of a bootstrap; the interval's ends then move by less than a tenth of its width.
RESAMPLES = 1_000
SEED = 20


@dataclass(frozen=True, slots=True)
class Scored:
    """One utterance: words said, errors made against them (substitutions + deletions + insertions)."""

    said: tuple[str, ...]
    heard: tuple[str, ...]
    errors: int

    @property
    def right(self) -> bool:
        return self.said == self.heard


@dataclass(frozen=True, slots=True)
class Interval:
    """A share (0..1) with its 95 % bootstrap interval over utterances."""

    value: float
    low: float
    high: float

    def __str__(self) -> str:
        return f"{100 * self.value:.1f} ({100 * self.low:.1f}-{100 * self.high:.1f})"


def score(said: Sequence[str], heard: Sequence[str]) -> Scored:
    return Scored(tuple(said), tuple(heard), Levenshtein.distance(tuple(said), tuple(heard)))


def _bootstrap(
    scored: Sequence[Scored],
    share: Callable[[np.ndarray, np.ndarray], np.ndarray],
    a: np.ndarray,
    b: np.ndarray,
) -> Interval:
    rng = np.random.default_rng(SEED)
    picks = rng.integers(0, len(scored), size=(RESAMPLES, len(scored)))
    values = share(a[picks].sum(axis=1), b[picks].sum(axis=1))
    whole = float(share(a.sum(keepdims=True), b.sum(keepdims=True))[0])
    return Interval(whole, float(np.quantile(values, 0.025)), float(np.quantile(values, 0.975)))


def word_error(scored: Sequence[Scored]) -> Interval:
    """Errors over words said. Can exceed 1."""
    errors = np.array([s.errors for s in scored], dtype=float)
    words = np.array([len(s.said) for s in scored], dtype=float)
    return _bootstrap(scored, lambda e, w: e / np.maximum(w, 1), errors, words)


def sentence_error(scored: Sequence[Scored]) -> Interval:
    """Utterances with any error."""
    wrong = np.array([not s.right for s in scored], dtype=float)
    return _bootstrap(scored, lambda e, n: e / np.maximum(n, 1), wrong, np.ones(len(scored)))


def confusions(scored: Sequence[Scored], most: int | None = 12) -> tuple[tuple[str, str, int], ...]:
    """(said, heard, times), most frequent first; '' stands for a word dropped or made up."""
    counts: Counter[tuple[str, str]] = Counter()
    for s in scored:
        for edit in Levenshtein.editops(s.said, s.heard):
            said = "" if edit.tag == "insert" else s.said[edit.src_pos]
            heard = "" if edit.tag == "delete" else s.heard[edit.dest_pos]
            counts[(said, heard)] += 1
    return tuple((a, b, n) for (a, b), n in counts.most_common(most))


def heard_as(scored: Sequence[Scored]) -> dict[str, dict[str, float]]:
    """Share of times that each word was heard as each other word (the form of confusions.json)."""
    times: Counter[str] = Counter(word for s in scored for word in s.said)
    rows: dict[str, dict[str, float]] = {}
    for said, heard, count in confusions(scored, None):
        if said and heard:
            rows.setdefault(said, {})[heard] = round(count / times[said], 4)
    return rows
