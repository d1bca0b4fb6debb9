"""Phrases for the recogniser's soft bigram, so that every number of a range has a likely word order.

vosk estimates a bigram from the phrases: any order of their words can come out, the listed pairs of
words cheaply. So a phrase is worth listing when it brings a pair of words that no other phrase has.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import pairwise

from sayso.answers.confusions import NUMBER_PAIRS
from sayso.answers.number_words import TEENS, TENS, UNITS, cardinal, ways

#: The grammar is compiled per question: more phrases than this cost time before the ear opens.
MOST_PHRASES = 400
_WHOLE_RANGE = 60


def cover(candidates: Iterable[str], most: int = MOST_PHRASES) -> tuple[str, ...]:
    """The candidates that bring a new pair of neighbouring words, in order, at most `most`."""
    seen: set[tuple[str, str]] = set()
    kept: list[str] = []
    for phrase in dict.fromkeys(candidates):
        words = ("<s>", *phrase.split(), "</s>")
        pairs = set(pairwise(words))
        if len(words) > 2 and not pairs <= seen:
            seen |= pairs
            kept.append(phrase)
            if len(kept) == most:
                break
    return tuple(kept)


@lru_cache(maxsize=256)
def whole_number_phrases(low: int, high: int) -> tuple[str, ...]:
    """Every number of the range as it may be said; a long range by the pairs of words it needs."""
    if high - low < _WHOLE_RANGE:
        return tuple(dict.fromkeys(" ".join(way) for value in range(low, high + 1) for way in ways(value)))[
            :MOST_PHRASES
        ]
    return cover((" ".join(way) for value in _sample(low, high) for way in ways(value)), 300)


def decoys(low: int, high: int) -> tuple[str, ...]:
    """Numbers outside the range that a legal one sounds like, and its neighbours.

    Without them "fifteen" at a question for six to fourteen is forced into a legal number.
    """
    near = [*range(max(0, low - 3), low), *range(high + 1, high + 4)]
    if high - low < _WHOLE_RANGE:
        for value in range(low, high + 1):
            near += [NUMBER_PAIRS[value]] if value in NUMBER_PAIRS else []
            near += [value + 10, value * 10] if 3 <= value <= 9 else []
    return tuple(
        dict.fromkeys(" ".join(cardinal(value)) for value in near if not low <= value <= high and value >= 0)
    )


def pairs_of_digits() -> tuple[str, ...]:
    """A few long phrases in which every digit follows every digit once (also "oh" for zero)."""
    digits = (*UNITS, "oh")
    return tuple(
        " ".join(word for other in digits for word in (first, other)) + f" {first}" for first in digits
    )


def decimal_phrases(low: int, high: int) -> Iterable[str]:
    """ "nine point five" and "ten and a half" for whole parts of the range."""
    wholes = list(_sample(low, high))
    for index, value in enumerate(wholes):
        words = " ".join(cardinal(value))
        yield f"{words} point {UNITS[index % 10]}"
        yield f"{words} and a half"
    yield from (f"point {digit}" for digit in (*UNITS, "oh"))
    yield from (f"point {teen}" for teen in (*TEENS, *TENS))
    yield from ("and a quarter", "and three quarters", "three quarters", "a half", "a quarter", "half")
    yield from pairs_of_digits()


def _sample(low: int, high: int) -> Sequence[int]:
    """All numbers of a short range; of a long one enough to meet every pair of words."""
    if high - low <= 200:
        return range(low, high + 1)
    found = set(range(low, min(low + 101, high + 1)))
    for hundreds in range(0, min(high, 9999) // 100 + 1):
        if hundreds < 10 or hundreds % 10 == 0 or hundreds < 20:
            found |= {hundreds * 100 + step for step in (0, 1, 5, 7, 10, 12, 15, 20, 25, 50, 75)}
    found |= {100 + step for step in range(0, 100)}
    found |= {head * 100 + ten for head in range(1, 20) for ten in range(10, 100, 10)}
    found |= {1000 * (10**power) for power in range(0, 3)}
    return sorted(value for value in found if low <= value <= high)
