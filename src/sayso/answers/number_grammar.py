"""Phrases for the recogniser's soft bigram, so that every number of a range has a likely word order.

vosk estimates a bigram from the phrases: any order of their words can come out, the listed pairs of
words cheaply. So a phrase is worth listing when it brings a pair of words that no other phrase has.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import pairwise

from sayso.answers.confusions import NUMBER_PAIRS
from sayso.answers.number_words import UNITS, cardinal, ways

#: The grammar is compiled per question: more phrases than this cost time before the ear opens.
MOST_PHRASES = 400
_WHOLE_RANGE = 60
_MOST_LISTED = 240


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


def walks(pairs: Iterable[tuple[str, str]], longest: int = 12) -> tuple[str, ...]:
    """Few long phrases that hold every one of the pairs of neighbouring words: trails along unused pairs."""
    following: dict[str, list[str]] = {}
    for first, second in sorted(set(pairs)):
        following.setdefault(first, []).append(second)
    phrases = []
    for start in sorted(following):
        while following[start]:
            phrase = [start]
            while following.get(phrase[-1]) and len(phrase) < longest:
                phrase.append(following[phrase[-1]].pop())
            phrases.append(" ".join(phrase))
    return tuple(phrases)


@lru_cache(maxsize=256)
def whole_number_phrases(low: int, high: int) -> tuple[str, ...]:
    """Every number of the range as it may be said; a long range as its first words and its pairs of words."""
    if high - low < _WHOLE_RANGE:
        listed = dict.fromkeys(" ".join(way) for value in range(low, high + 1) for way in ways(value))
        if len(listed) <= _MOST_LISTED:
            return tuple(listed)
    said = [way for value in _sample(low, high) for way in ways(value)]
    alone = dict.fromkeys(word for way in said for word in (way[0], way[-1]))
    return tuple(dict.fromkeys((*alone, *walks(pair for way in said for pair in pairwise(way)))))


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
    """ "nine point five" and "ten and a half" for whole parts of the range below a hundred.

    Two rarer forms are understood and not listed, because they were misheard: decimals behind hundreds and
    "point thirty" ("one hundred and thirty" came out as "one hundred point thirty").
    """
    wholes = range(low, min(high, low + 100, 99) + 1)
    for index, value in enumerate(wholes):
        words = " ".join(cardinal(value))
        yield f"{words} point {UNITS[index % 10]}"
        yield f"{words} and a half"
    if low <= 0:
        yield from (f"{zero} point five" for zero in ("nought", "oh", "zero"))
    yield from (f"point {digit}" for digit in (*UNITS, "oh"))
    yield from ("and a quarter", "and three quarters", "three quarters", "a half", "a quarter", "half")
    yield from pairs_of_digits()


def _sample(low: int, high: int) -> Sequence[int]:
    """All numbers of a shorter range; of a long one enough to meet every pair of words.

    What may follow a word depends on that word alone, so each number below a hundred is met once behind
    "hundred", once behind "thousand" and once behind each head of a pair ("twelve fifty").
    """
    if high - low <= 1000:
        return range(low, high + 1)
    below_hundred = range(100)
    found = {
        *below_hundred,
        *(100 + low_part for low_part in below_hundred),
        *(1000 + low_part for low_part in below_hundred),
        *(1000 + hundreds * 100 for hundreds in range(1, 10)),
        *(hundreds * 100 for hundreds in range(1, 100)),
        *(head * 100 + tail for head in range(1, 20) for tail in (5, *range(10, 20), *range(20, 100, 10))),
        *(thousands * 1000 for thousands in range(1, 100)),
        *(hundreds * 100_000 for hundreds in range(1, 10)),
    }
    return sorted(value for value in found if low <= value <= high)
