"""Compiles phrases into the JSON that vosk takes as a run-time grammar, in a bounded size."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass

UNKNOWN = "[unk]"

#: vosk estimates a bigram from the phrases; past some thousands it only gets slower, not better.
MAX_PHRASES = 5_000


@dataclass(frozen=True, slots=True)
class Grammar:
    """`phrases` are lower-case word tuples without duplicates; `words` all words in them.

    vosk makes a bigram of the phrases, so any mixture of their words can come back at a cost: the caller
    checks every result against what is legal.
    """

    phrases: tuple[tuple[str, ...], ...]
    words: frozenset[str]
    json: str


def normalise(phrase: str) -> tuple[str, ...]:
    """Lower-case words of a phrase: hyphens split words, apostrophes stay, other punctuation goes."""
    kept = "".join(c if c.isalnum() or c in "'[]" else " " for c in phrase.lower().replace("’", "'"))
    return tuple(word for word in (w.strip("'") for w in kept.split()) if word)


def compile_grammar(phrases: Iterable[str], decoys: Iterable[str] = ()) -> Grammar:
    """Grammar of `phrases` plus `decoys` (likely confusions that must not pass as answers) plus [unk].

    Raises ValueError when nothing is left to listen for.
    """
    seen: dict[tuple[str, ...], None] = {}
    for phrase in phrases:
        words = normalise(phrase)
        if words and words != (UNKNOWN,):
            seen.setdefault(words)
    if not seen:
        raise ValueError("a grammar needs at least one phrase")
    wanted = tuple(seen)
    for decoy in decoys:
        words = normalise(decoy)
        if words:
            seen.setdefault(words)
    lines = list(seen)
    if len(lines) > MAX_PHRASES:
        lines = _shrink(lines)
    vocabulary = frozenset(word for words in wanted for word in words)
    text = json.dumps([" ".join(words) for words in lines] + [UNKNOWN], ensure_ascii=False)
    return Grammar(phrases=wanted, words=vocabulary, json=text)


def _shrink(lines: list[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """Keep every word pair (all that a bigram can learn) but not every phrase."""
    pairs: set[tuple[str, str]] = set()
    kept: list[tuple[str, ...]] = []
    for words in lines:
        own = set(zip(("", *words), (*words, ""), strict=True))
        if not own <= pairs:
            pairs |= own
            kept.append(words)
    return kept
