"""Corrections in one breath: "no, four", "twelve, no, thirteen", "I mean thirteen"."""

from __future__ import annotations

from collections.abc import Sequence

from sayso.answers.number_words import MINUS_WORDS, POINT_WORDS, REPEATS
from sayso.answers.words import FILLERS, UNKNOWN, lowered, without_fillers

#: "negative" is left out on purpose: before a number it is a minus sign.
MARKERS: tuple[tuple[str, ...], ...] = tuple(
    tuple(phrase.split())
    for phrase in (
        "no", "nope", "correction", "wrong", "sorry", "rather", "i mean", "i meant", "make that", "make it",
        "scratch that", "no wait", "wait no", "oops", "change that to", "that's wrong", "not that",
    )
)  # fmt: skip

#: Beginnings of a number, which the value behind a correction may go on with.
_GOES_ON = frozenset({*MINUS_WORDS, *POINT_WORDS, *REPEATS, "hundred", "thousand", "and", "half"})

_MARKER_WORDS = frozenset(word for marker in MARKERS for word in marker)

#: Phrases for the grammar wherever a correction may come.
PHRASES: tuple[str, ...] = ("no", "correction", "i mean", "sorry", "make that", "scratch that", "wrong")


def split_correction(words: Sequence[str]) -> tuple[str, ...]:
    """The words that count: those behind the last correction word; all of them when there is none.

    "no four" -> four; "twelve no thirteen" -> thirteen; "twelve no" -> () (withdrawn, nothing in its
    place). Words that are nothing but a denial ("no", "no that's wrong") come back unchanged: whether
    that is an answer is for the question to say.
    """
    said = lowered(words)
    end = _last_marker(said)
    if end is None:
        return tuple(words)
    after = without_fillers(said[end:])
    if after:
        return after
    return () if _has_value(said) else tuple(words)


def is_correction(words: Sequence[str]) -> bool:
    """True when a correction word is followed by a value ("no four") or withdraws one ("four no")."""
    return split_correction(words) != tuple(words)


def begins_with_correction(words: Sequence[str]) -> bool:
    """True when the first thing said is a correction word and a value follows: "no, four", "I meant four"."""
    said = without_fillers(lowered(words))
    starts = any(said[: len(marker)] == marker for marker in MARKERS)
    return starts and is_correction(said) and bool(split_correction(said))


def is_unsure_correction(words: Sequence[str]) -> bool:
    """ "Twelve point five, no, six": six, or twelve point six? Behind the correction stands less than before
    it, or what begins with a point, or what goes on with what was begun ("minus, sorry, nine"). And "no,
    four" with nothing before it may be what is left of "not four"."""
    after = split_correction(words)
    if not is_correction(words) or not after:
        return False
    said = lowered(words)
    before = said[: len(said) - len(after)]
    values = [w for w in before if w not in _MARKER_WORDS and w not in FILLERS and w != UNKNOWN]
    return (
        not values
        or len(values) > len(after)
        or after[0] in POINT_WORDS
        or bool(_GOES_ON.intersection(values))
    )


def _last_marker(said: tuple[str, ...]) -> int | None:
    """The place behind the last correction word; the words behind "no" in "no wait" are part of it."""
    ends = [
        start + len(marker)
        for marker in MARKERS
        for start in range(len(said) - len(marker) + 1)
        if said[start : start + len(marker)] == marker
    ]
    return max(ends, default=None)


def _has_value(said: tuple[str, ...]) -> bool:
    """True when something is left once the correction words and fillers are taken out."""
    text = f" {' '.join(said)} "
    for marker in sorted(MARKERS, key=len, reverse=True):
        phrase = f" {' '.join(marker)} "
        while phrase in text:
            text = text.replace(phrase, "  ").replace("   ", "  ")
    return bool(without_fillers(text.split()))
