"""One spelling for each sound of a grammar, and back to how a phrase is written.

"four" is an answer and "for" ends "what for": the recogniser cannot tell them apart, gives each half of the
confidence, and may give back the one that is no answer (measured: every "four" of five real speakers). So
within one grammar the word that is an answer of its own lends its spelling to those that sound the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from sayso.hearing.grammar import UNKNOWN, normalise

Words = tuple[str, ...]
Lexicon = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class OneSpelling:
    """`phrases` and `decoys` as the recogniser gets them."""

    phrases: tuple[Words, ...]
    decoys: tuple[Words, ...]
    _back: Mapping[Words, Words] = field(default_factory=dict)

    def as_written(self, heard: Words) -> Words:
        """What was heard, as the phrase that it is (or begins) is written. [unk] stays where it is."""
        words = tuple(word for word in heard if word != UNKNOWN)
        written = iter(self._back.get(words, words))
        return tuple(word if word == UNKNOWN else next(written) for word in heard)


def one_spelling(phrases: Iterable[str], decoys: Iterable[str], lexicon: Lexicon) -> OneSpelling:
    """`lexicon`: word -> pronunciations, the usual one first."""
    asked = tuple(dict.fromkeys(words for phrase in phrases if (words := normalise(phrase))))
    beside = tuple(dict.fromkeys(words for phrase in decoys if (words := normalise(phrase))))
    same = _same_sounds((*asked, *beside), {words[0] for words in asked if len(words) == 1}, lexicon)
    if not same:
        return OneSpelling(asked, beside)
    lines = (*asked, *beside)
    whole, answers = set(lines), set(asked)
    taken = whole | {words[:n] for words in lines if not same.keys() & set(words) for n in _lengths(words)}
    back: dict[Words, Words] = {}
    for words in lines:  # a whole phrase is meant rather than the beginning of a longer one
        spelled = _spelled(words, same)
        if spelled != words and spelled not in (answers if words in answers else whole):
            back.setdefault(spelled, words)
    for words in lines:
        spelled = _spelled(words, same)
        for n in _lengths(words):
            if spelled[:n] != words[:n] and spelled[:n] not in taken:
                back.setdefault(spelled[:n], words[:n])
    return OneSpelling(
        tuple(dict.fromkeys(_spelled(words, same) for words in asked)),
        tuple(dict.fromkeys(_spelled(words, same) for words in beside)),
        back,
    )


def _same_sounds(lines: Iterable[Words], answers: set[str], lexicon: Lexicon) -> dict[str, str]:
    """word -> the answer that sounds like it. A word in the midst of its phrases only, that people slur
    ("quarter to one"), is held apart by that and keeps its ways; one that nobody can tell from the answer
    ("i know this") is heard as it wherever it stands."""
    sounds = {lexicon[word][0]: word for word in sorted(answers, reverse=True) if lexicon.get(word)}
    every = {word for words in lines for word in words} - answers
    outer = {word for words in lines for word in (words[0], words[-1])}
    found = {}
    for word in every:
        for way in reversed(lexicon.get(word, ())):
            answer = sounds.get(way)
            if answer and (word in outer or set(lexicon[word]) <= set(lexicon[answer])):
                found[word] = answer
    return found


def _spelled(words: Words, same: Mapping[str, str]) -> Words:
    return tuple(same.get(word, word) for word in words)


def _lengths(words: Words) -> Iterator[int]:
    yield from range(1, len(words) + 1)
