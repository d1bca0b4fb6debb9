"""A letter explained by a word that begins with it, as people spell: "c for charlie", "k as in king".

No grammar has these words, for each would make every serial a little harder to hear. Typed they are plain.
Spoken, "for" comes as "four": of 7 synthetic voices in quiet "k for kilo p for papa one two three" was
understood of all where the pattern has two letters and three digits; "as in" was asked again of all.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from sayso.answers.words import UNKNOWN

#: Between the letter and the word, as it is typed: nothing else can be meant.
_TYPED: Final = (("for",), ("as", "in"), ("is", "for"), ("like",), ("like", "in"))
#: As the recogniser may hear it. "K four kilo" may be K4K too: only the pattern can tell.
_HEARD: Final = (("four",), (UNKNOWN,), (UNKNOWN, UNKNOWN))


def without_explanations(words: Sequence[str], *, heard: bool = False) -> tuple[str, ...]:
    """The letters alone where a word explains them; `heard` takes what the ear makes of "for" and "as in"."""
    connectors = (*_TYPED, *_HEARD) if heard else _TYPED
    kept: list[str] = []
    at = 0
    while at < len(words):
        kept.append(words[at])
        at += 1 + _explanation(words, at, connectors)
    return tuple(kept)


def _explanation(words: Sequence[str], at: int, connectors: Sequence[tuple[str, ...]]) -> int:
    """How many words behind the letter at `at` explain it; 0 where none do."""
    letter = words[at].lower()
    if len(letter) != 1 or not letter.isalpha():
        return 0
    for connector in connectors:
        end = at + 1 + len(connector)
        between = tuple(word.lower() for word in words[at + 1 : end])
        explained = words[end].lower().strip(".,;") if end < len(words) else ""
        if between == connector and len(explained) > 1 and explained.isalpha() and explained[0] == letter:
            return len(connector) + 1
    return 0
