"""Heard or typed words made comparable: what is dropped, what is spelled out."""

from __future__ import annotations

import re
from collections.abc import Sequence

from sayso.plain_letters import plain_letters

#: What the recogniser returns for sound that is no word of the grammar.
UNKNOWN = "[unk]"

#: With no other number word, "oh", "oh volts": nought, or somebody who is surprised.
OH = frozenset({"oh", "o"})

#: Words that people put around an answer and that never change it. No single letter: it may be a serial's.
FILLERS = frozenset(
    {
        "um", "uh", "er", "erm", "ah", "well", "so", "okay", "ok", "right", "yeah", "please", "mate", "now",
        "just", "it", "its", "it's", "is", "was", "be", "should", "that", "that's", "thats", "the", "this",
        "there", "there's", "theres", "we", "i've", "ive", "got", "have", "get", "read", "reads",
        "reading", "shows", "say", "says", "about", "exactly", "answer", "equals", "are", "were",
    }
)  # fmt: skip

#: "Forty-seven", "foot-pounds": a dash between two words is how they are written. Not "x-ray" nor "HK-3".
_WRITTEN_TOGETHER = re.compile(r"[a-z]{2,}(-[a-z]{2,})+")
_NOT_WORD = re.compile(r"[^a-z' ]+")
_NUMBER = re.compile(r"\d+")


def split_words(words: Sequence[str]) -> tuple[str, ...]:
    """The words one by one, however they were grouped."""
    return tuple(" ".join(words).split())


def lowered(words: Sequence[str]) -> tuple[str, ...]:
    """Words in lower case without the marks that writing puts around them ("Yes." -> "yes")."""
    found: list[str] = []
    for word in split_words(words):
        bare = word.lower().strip('.,;:!?"')
        found += bare.split("-") if _WRITTEN_TOGETHER.fullmatch(bare) else [bare] if bare else []
    return tuple(found)


def without_fillers(words: Sequence[str]) -> tuple[str, ...]:
    """Drop fillers and unknown sounds at both ends; inside an answer every word counts."""
    kept = list(words)
    while kept and (kept[0] in FILLERS or kept[0] == UNKNOWN):
        kept.pop(0)
    while kept and (kept[-1] in FILLERS or kept[-1] == UNKNOWN):
        kept.pop()
    return tuple(kept)


def is_typed(words: Sequence[str]) -> bool:
    """Digits and "½" never come out of the recogniser: its vocabulary has words only."""
    return any(character.isnumeric() for word in words for character in word)


def speakable(text: str) -> str:
    """Text as words of a grammar: lower case, letters and apostrophes only, numbers spelled out.

    "24-volt pack" becomes "twenty four volt pack", "Öse" becomes "ose" and not "se".
    """
    from sayso.answers.number_words import cardinal

    spelled = _NUMBER.sub(lambda match: f" {' '.join(cardinal(int(match.group())))} ", plain_letters(text))
    return " ".join(_NOT_WORD.sub(" ", spelled).split())


def sentence(text: str) -> str:
    """First letter large and a full stop, for a voice that hears the end of a sentence by it."""
    text = text.strip()
    if not text:
        return ""
    closed = text if text[-1] in ".?!" else text + "."
    return closed[0].upper() + closed[1:]


def either(parts: Sequence[str]) -> str:
    """ "red, blue or green"."""
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} or {parts[-1]}"
