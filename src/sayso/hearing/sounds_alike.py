"""How far apart two phrases sound, and which answers of a question can be taken for one another."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from pathlib import Path

from sayso.hearing.grammar import normalise
from sayso.hearing.phones import gap_cost, phone_distance

#: Pairs nearer than this are reported. Between the distances of pairs that are known to be mixed up (fifteen/
#: fifty, M/N, E/P, on/off) and pairs that are not (yes/no, left/right); tests name them.
TOO_NEAR = 0.40

#: Measured confusions beside the model: {"heard-as pairs": {"fifteen": {"fifty": 0.12}}}.
CONFUSIONS_FILE = "confusions.json"
#: A share of measured confusions from which a pair is reported however far apart it should sound.
OFTEN_CONFUSED = 0.03

Pronunciations = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class AlikePair:
    """`distance` 0 (same sounds) .. 1; `confused` is the measured share, None when never measured."""

    first: str
    second: str
    distance: float
    confused: float | None = None

    def __str__(self) -> str:
        measured = f", confused {self.confused:.0%} of the time" if self.confused else ""
        return f"'{self.first}' and '{self.second}' sound alike (distance {self.distance:.2f}{measured})"


@lru_cache(maxsize=100_000)
def phones_distance(a: tuple[str, ...], b: tuple[str, ...]) -> float:
    """Weighted edit distance over phones, as a share of the longer phrase's cost: 0 same, 1 nothing alike."""
    previous = [0.0]
    for phone in b:
        previous.append(previous[-1] + gap_cost(phone))
    for p in a:
        current = [previous[0] + gap_cost(p)]
        for j, q in enumerate(b, 1):
            current.append(
                min(
                    previous[j] + gap_cost(p),
                    current[j - 1] + gap_cost(q),
                    previous[j - 1] + phone_distance(p, q),
                )
            )
        previous = current
    whole = max(sum(gap_cost(p) for p in a), sum(gap_cost(q) for q in b))
    return min(1.0, previous[-1] / whole) if whole else 0.0


def _ways(phrase: Sequence[str], said: Pronunciations) -> list[tuple[str, ...]]:
    ways: list[tuple[str, ...]] = [()]
    for word in phrase:
        ways = [(*way, *option.split()) for way in ways for option in said.get(word, ("",))][:8]
    return ways


def distance(a: str, b: str, said: Pronunciations) -> float:
    """Distance of the nearest pronunciations of two phrases. Words not in `said` count as silent."""
    return min(phones_distance(x, y) for x in _ways(normalise(a), said) for y in _ways(normalise(b), said))


def measured_confusions(model: Path) -> dict[tuple[str, str], float]:
    """Share of times that the first was heard as the second; {} when the model carries no measurement."""
    file = model / CONFUSIONS_FILE
    if not file.is_file():
        return {}
    data = json.loads(file.read_text(encoding="utf-8"))
    return {(a, b): float(share) for a, row in data.get("heard_as", {}).items() for b, share in row.items()}


def alike_pairs(
    groups: Iterable[Sequence[str]],
    said: Pronunciations,
    confusions: Mapping[tuple[str, str], float] | None = None,
    limit: float = TOO_NEAR,
) -> tuple[AlikePair, ...]:
    """Pairs of phrases from *different* groups that sound too much alike, nearest first.

    A group holds the phrases that mean the same answer ("yes", "yeah"): those may sound as they like.
    """
    confusions = confusions or {}
    listed = [(phrase, index) for index, group in enumerate(groups) for phrase in group]
    out = []
    for (a, group_a), (b, group_b) in combinations(listed, 2):
        if group_a == group_b or normalise(a) == normalise(b):
            continue
        share = max(confusions.get((a, b), 0.0), confusions.get((b, a), 0.0)) or None
        far = distance(a, b, said)
        if far < limit or (share or 0.0) >= OFTEN_CONFUSED:
            out.append(AlikePair(a, b, round(far, 3), share))
    return tuple(sorted(out, key=lambda pair: (pair.distance, pair.first, pair.second)))
