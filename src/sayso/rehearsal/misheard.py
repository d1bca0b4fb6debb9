"""The channel between a simulated technician and the dialogue: what is said comes out as it was measured.

A phrase that was tried at this question is drawn from its own tries; else from its tries at questions of
the same kind; else word by word, from what became of its words inside the phrases that were tried.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from random import Random
from typing import TypeVar

from rapidfuzz.distance import Levenshtein

from sayso.rehearsal.trials import NO_MATCH, NOTHING, Trials, TrialsError, Try

#: A phrase needs so many tries of its own; with fewer its words are drawn one by one.
ENOUGH = 2
#: Half of what a technician says is drawn from the tries of his own voice: who is misheard once is likely
#: to be misheard the same way again. Chosen.
OWN_VOICE = 0.5


@dataclass(frozen=True, slots=True)
class CameOut:
    """`heard` is words, NO_MATCH or NOTHING. `how`: drawn from the phrase, its kind, its words."""

    heard: str
    confidence: float
    noisy: bool
    how: str


@dataclass(frozen=True, slots=True)
class _Word:
    """What became of one word in one try: the words in its place ('' none), None where nothing was legal."""

    heard: tuple[str, ...] | None
    voice: int


_Tried = TypeVar("_Tried", Try, _Word)


@dataclass
class Channel:
    """`worse` multiplies every measured error rate (for tests: 1 is as measured)."""

    trials: Trials
    condition: str
    worse: float = 1.0
    _exact: dict[tuple[str, str], list[Try]] = field(default_factory=lambda: defaultdict(list), repr=False)
    _kind: dict[tuple[str, str], list[Try]] = field(default_factory=lambda: defaultdict(list), repr=False)
    _words: dict[tuple[str, str], list[_Word]] = field(default_factory=lambda: defaultdict(list), repr=False)
    _of_kind: dict[str, list[Try]] = field(default_factory=lambda: defaultdict(list), repr=False)

    def __post_init__(self) -> None:
        if self.condition not in self.trials.tries:
            raise TrialsError(
                f"nothing was measured at '{self.condition}'; measured: {list(self.trials.tries)}"
            )
        for t in self.trials.tries[self.condition]:
            for kind in _kinds(t.question):
                self._kind[kind, t.said].append(t)
            self._exact[t.question, t.said].append(t)
            self._of_kind[_kinds(t.question)[0]].append(t)
            for word, became in _aligned(t):
                for place in (*_kinds(t.question), ""):
                    self._words[place, word].append(became)

    def say(self, question: str, said: str, voice: int, rng: Random) -> CameOut:
        """What the ear makes of `said`. Pure but for `rng`."""
        exact = self._exact.get((question, said), ())
        if len(exact) >= ENOUGH:
            return self._drawn(exact, voice, rng, "phrase")
        for kind in _kinds(question):
            tries = self._kind.get((kind, said), ())
            if len(tries) >= ENOUGH:
                return self._drawn(tries, voice, rng, "kind")
        return self._by_words(question, said, voice, rng)

    def _drawn(self, tries: Sequence[Try], voice: int, rng: Random, how: str) -> CameOut:
        t = _one_of(tries, voice, rng)
        if self.worse > 1.0 and t.right:
            t = self._worsened(tries, t, rng)
        return CameOut(t.heard, t.confidence, t.noisy, how)

    def _worsened(self, tries: Sequence[Try], t: Try, rng: Random) -> Try:
        """Wrong so many times as often, in the ways measured; what was never misheard stays right."""
        wrong = [other for other in tries if not other.right]
        return rng.choice(wrong) if wrong and self._goes_wrong(len(wrong) / len(tries), rng) else t

    def _goes_wrong(self, share: float, rng: Random) -> bool:
        """For a try that came out right: whether it is one of those that the factor makes wrong."""
        return rng.random() < (min(0.9, self.worse * share) - share) / (1.0 - share)

    def _by_words(self, question: str, said: str, voice: int, rng: Random) -> CameOut:
        kinds = _kinds(question)
        heard: list[str] = []
        for word in said.split():
            for place in (*kinds, ""):
                tries = self._words.get((place, word), ())
                if tries:
                    break
            else:
                return CameOut(NO_MATCH, 0.0, False, "never tried")
            became = _one_of(tries, voice, rng)
            if self.worse > 1.0 and became.heard == (word,):
                wrong = [w for w in tries if w.heard != (word,)]
                if wrong and self._goes_wrong(len(wrong) / len(tries), rng):
                    became = rng.choice(wrong)
            if became.heard is None:
                return CameOut(NO_MATCH, 0.0, self._like(kinds[0], rng).noisy, "words")
            heard += became.heard
        like = self._like(kinds[0], rng)
        text = " ".join(heard) or NO_MATCH
        return CameOut(text, like.confidence if like.confidence else 0.9, like.noisy, "words")

    def _like(self, kind: str, rng: Random) -> Try:
        """Any try at this kind of question, for its confidence and its noise."""
        return rng.choice(self._of_kind[kind] or self._of_kind["answer done"])


@lru_cache(maxsize=1024)
def _kinds(question: str) -> tuple[str, ...]:
    """ "answer count 4..16" -> "answer count", "answer"; the nearest first."""
    what, _, rest = question.partition(" ")
    kind = rest.split(" ")[0]
    return (f"{what} {kind}", what) if kind else (what,)


def _one_of(tries: Sequence[_Tried], voice: int, rng: Random) -> _Tried:
    if rng.random() < OWN_VOICE:
        own = [t for t in tries if t.voice == voice]
        if own:
            return rng.choice(own)
    return rng.choice(tries)


def _aligned(t: Try) -> Iterable[tuple[str, _Word]]:
    """Each said word with the words heard in its place, by the shortest edits; more go with a neighbour."""
    said = t.said.split()
    if t.heard in (NO_MATCH, NOTHING):
        # one refusal is one word's doing: which one is not known, so each carries a share
        for index, word in enumerate(said):
            yield word, _Word(None if index == hash_of(t) % len(said) else (word,), t.voice)
        return
    heard = t.heard.split()
    places: list[list[str]] = [[] for _ in said]
    for code in Levenshtein.opcodes(said, heard):
        ours, theirs = range(code.src_start, code.src_end), heard[code.dest_start : code.dest_end]
        if code.tag == "insert":
            places[min(code.src_start, len(said) - 1)] += theirs
            continue
        for offset, place in enumerate(ours):
            if offset < len(theirs):
                places[place].append(theirs[offset])
    yield from ((word, _Word(tuple(place), t.voice)) for word, place in zip(said, places, strict=True))


def hash_of(t: Try) -> int:
    """The same in every process (Python's own hash of text is not)."""
    return sum(map(ord, f"{t.question}{t.said}")) + 7 * t.voice


def error_rates(tries: Iterable[Try]) -> Mapping[str, tuple[int, int, int]]:
    """By kind of question: tries, not right, of those refused or not noticed."""
    found: dict[str, list[int]] = {}
    for t in tries:
        row = found.setdefault(_kinds(t.question)[0], [0, 0, 0])
        row[0] += 1
        row[1] += not t.right
        row[2] += t.heard in (NO_MATCH, NOTHING)
    return {kind: (a, b, c) for kind, (a, b, c) in sorted(found.items())}
