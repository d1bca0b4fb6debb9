"""Words that people put around a number: "all twelve", "ninety each", "twelve in total", "a dozen".

For whoever types. No grammar has them for their own sake, and spoken most of them are asked again: of 7
synthetic voices in quiet 5 had "all twelve" understood, and none "twelve of them", "twelve in total" or
"a dozen" (none was taken for another number).
"""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from sayso.answers.words import without_fillers

_Phrases = tuple[tuple[str, ...], ...]

_BEFORE: Final = (
    ("i", "count"), ("i", "counted"), ("i", "make", "it"), ("i", "see"), ("makes",), ("only",), ("all",),
    ("a", "total", "of"), ("number",), ("looks", "like"), ("they", "are"), ("has",),
)  # fmt: skip
_BEHIND: Final = (
    ("each",), ("of", "them"), ("in", "total"), ("total",), ("altogether",), ("all", "told"), ("in", "all"),
    ("pieces",), ("pcs",), ("pc",),
)  # fmt: skip

#: Numbers that are said by a name. "A couple" is none: it may be a few.
_NAMED: Final = {
    "half a dozen": 6, "a half dozen": 6, "a dozen": 12, "one dozen": 12, "two dozen": 24, "three dozen": 36,
    "a pair": 2, "one pair": 2,
}  # fmt: skip


#: Where several fasteners are asked about at once ("each of the 4 fasteners").
_OF_ALL_BEFORE: Final = (
    ("they", "all"), ("all", "of", "them"), ("all", "at"), ("all",), ("each", "at"), ("each",),
)  # fmt: skip
_OF_ALL_BEHIND: Final = (("each",), ("all", "round"), ("all", "around"), ("on", "all", "of", "them"))


def bare_count(said: tuple[str, ...]) -> tuple[str, ...]:
    """The words of a count alone; `said` has no fillers at its ends."""
    return _without(said, _BEFORE, _BEHIND)


def bare_of_all(said: tuple[str, ...]) -> tuple[str, ...]:
    """What holds for each of several fasteners: "all at nine", "ninety six each", "they all clicked"."""
    return _without(said, _OF_ALL_BEFORE, _OF_ALL_BEHIND)


def _without(said: tuple[str, ...], before: _Phrases, behind: _Phrases) -> tuple[str, ...]:
    for phrase in before:
        if len(said) > len(phrase) and said[: len(phrase)] == phrase:
            said = without_fillers(said[len(phrase) :])
            break
    for phrase in behind:
        if len(said) > len(phrase) and said[-len(phrase) :] == phrase:
            return without_fillers(said[: -len(phrase)])
    return said


def named_number(said: tuple[str, ...]) -> tuple[Decimal, ...]:
    """ "A dozen": the number of a name that is none of a number's words; () for any other words."""
    number = _NAMED.get(" ".join(said))
    return () if number is None else (Decimal(number),)
