"""A value typed in two units, a larger and a smaller one: "5 ft 6 in", 10'6", "5 min 30 s", "1h30"."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from sayso.answers.words import split_words

#: larger unit as it is typed, smaller one as it is typed (or nothing), the smaller by name, how many make one
_PAIRS: Final = (
    (r"ft|foot|feet|['′]", r"in|inch|inches|[\"″]|''", "inch", 12),
    (r"h|hr|hrs|hours?", r"min|mins|minutes?|m", "minute", 60),
    (r"min|mins|minutes?", r"s|sec|secs|seconds?", "second", 60),
)
_TYPED: Final = tuple(
    (re.compile(rf"(\d+) ?(?:{large}) ?(\d+(?:\.\d+)?) ?(?:{small})?", re.ASCII | re.IGNORECASE), name, many)
    for large, small, name, many in _PAIRS
)


def typed_in_two(words: Sequence[str]) -> tuple[float, str] | None:
    """The value in the smaller unit and that unit's name; None for anything else.

    The smaller part stays below one of the larger: "5 ft 13 in" is a slip.
    """
    text = " ".join(split_words(words)).rstrip(".")
    for pattern, name, many in _TYPED:
        found = pattern.fullmatch(text)
        if found is not None and float(found[2]) < many:
            return int(found[1]) * many + float(found[2]), name
    return None
