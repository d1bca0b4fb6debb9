""" "Five degrees below zero": a temperature with its sign said behind it."""

from __future__ import annotations

from collections.abc import Sequence

from sayso.answers.unit_words import known_unit
from sayso.answers.words import lowered, split_words, without_fillers

BELOW_ZERO = ("below", "zero")


def can_be_below_zero(unit: str, low: float | None) -> bool:
    """Whether a question in this unit may be answered so: scales of temperature that have a below."""
    return str(known_unit(unit)) in ("degree_Celsius", "degree_Fahrenheit") and (low is None or low < 0)


def sign_in_front(words: Sequence[str], unit: str) -> tuple[str, ...]:
    """ "five degrees below zero" -> "minus five degrees"; the words as they are where nothing is said so.

    A number that has its sign already stays with both, and is no number: "minus five below zero"."""
    if not can_be_below_zero(unit, None):
        return tuple(words)
    said = without_fillers(split_words(words))  # as written: C is not c where it is typed
    for at in range(1, len(said) - 1):
        if lowered(said[at : at + 2]) == BELOW_ZERO:
            return ("minus", *said[:at], *said[at + 2 :])
    return tuple(words)
