"""Words that an order may have been instead: the model's words that sound most like it.

A grammar of orders makes an order of anything near it ("repair" becomes "repeat"). Heard again against its
rivals, an order that was said still wins and talk mostly does not (measured: see the model's card).
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from sayso.arpabet import ARPABET
from sayso.hearing.phones import gap_cost, phone_distance

#: So many rivals, none further away than this (distances of `sounds_alike`).
MOST, FARTHEST = 15, 0.5
#: How much likelier the order is taken to be than each rival. Of 75 single orders of six synthetic voices 1
#: lost five, 5 and 20 none; of seven answers taken from talk (half A of the bench) each took four away.
ADVANTAGE = 20
#: Numbers have no rivals: many of theirs are said alike by many people ("one", "once"), of 116 digits cut out
#: of real sentences ten were lost, and a number that matters is read back.
_NUMBERS = """
zero oh one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen
seventeen eighteen nineteen twenty thirty forty fifty sixty seventy eighty ninety hundred
"""
NUMBERS = frozenset(_NUMBERS.split())

Lexicon = Mapping[str, tuple[str, ...]]
Costs = npt.NDArray[np.float32]


class Rivals:
    """Rivals of any word of `lexicon`: the first use takes 30 ms, then 2-6 ms a word (24,000 words)."""

    def __init__(self, lexicon: Lexicon) -> None:
        self._lexicon = lexicon
        self._groups: dict[int, tuple[npt.NDArray[np.intp], list[str]]] | None = None
        self._found: dict[str, tuple[str, ...]] = {}

    def of(self, word: str) -> tuple[str, ...]:
        """The rivals of `word`, nearest first; none for numbers, letters and words that the lexicon lacks."""
        if word in NUMBERS or len(word) == 1 or word not in self._lexicon:
            return ()
        if word not in self._found:
            self._found[word] = self._search(word)
        return self._found[word]

    def _search(self, word: str) -> tuple[str, ...]:
        near: dict[str, float] = {}
        for said in self._lexicon[word]:
            phones = [_INDEX[p] for p in said.split()]
            for length, (rows, words) in self._sorted().items():
                if abs(length - len(phones)) > 2:
                    continue
                far = _distances(phones, rows)
                for at in np.flatnonzero(far < FARTHEST):
                    near[words[at]] = min(near.get(words[at], 1.0), float(far[at]))
        # the same sounds cannot be told apart; "enters" and "twentieth" are ways to say the word itself
        others = (w for w, d in near.items() if d > 0 and len(w) > 1 and not _same_stem(w, word))
        return tuple(sorted(others, key=lambda w: (near[w], w))[:MOST])

    def _sorted(self) -> dict[int, tuple[npt.NDArray[np.intp], list[str]]]:
        if self._groups is None:
            by_length: dict[int, tuple[list[list[int]], list[str]]] = {}
            for word, ways in self._lexicon.items():
                for said in ways:
                    phones = [_INDEX[p] for p in said.split()]
                    rows, words = by_length.setdefault(len(phones), ([], []))
                    rows.append(phones)
                    words.append(word)
            self._groups = {n: (np.array(rows), words) for n, (rows, words) in by_length.items() if n}
        return self._groups


def _same_stem(a: str, b: str) -> bool:
    """One is the other with an ending: repeat, repeats, repeated; twenty, twentieth."""
    short, long = sorted((a, b), key=len)
    stem = short[:-1] if short.endswith(("e", "y")) and len(short) > 3 else short
    return long.startswith(stem) and len(long) - len(stem) <= 4


_INDEX = {phone: n for n, phone in enumerate(ARPABET)}


@lru_cache(maxsize=1)
def _costs() -> tuple[Costs, Costs]:
    """Of leaving each phone out, and of taking each for each."""
    gaps = np.array([gap_cost(p) for p in ARPABET], dtype=np.float32)
    pairs = np.array([[phone_distance(p, q) for q in ARPABET] for p in ARPABET], dtype=np.float32)
    return gaps, pairs


def _distances(phones: list[int], rows: npt.NDArray[np.intp]) -> Costs:
    """`sounds_alike.phones_distance` of one word to many of one length at once."""
    gaps, pairs = _costs()
    own, theirs = gaps[phones], gaps[rows]
    before = np.concatenate((np.zeros((len(rows), 1), np.float32), np.cumsum(theirs, axis=1)), axis=1)
    for phone in phones:
        now = np.empty_like(before)
        now[:, 0] = before[:, 0] + gaps[phone]
        taken = before[:, :-1] + pairs[phone][rows]
        for j in range(rows.shape[1]):
            now[:, j + 1] = np.minimum(
                np.minimum(before[:, j + 1] + gaps[phone], now[:, j] + theirs[:, j]), taken[:, j]
            )
        before = now
    whole = np.maximum(float(own.sum()), theirs.sum(axis=1))
    return np.asarray(np.minimum(1.0, before[:, -1] / whole))
