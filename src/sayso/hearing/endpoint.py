"""When has the technician finished? Decided from silence, the partial words and what may still come.

People leave about 0.2 s between turns (Stivers et al. 2009, PNAS 106(26) 10587), and VoiceXML 2.1 speaks of
completetimeout for a whole answer and incompletetimeout for the beginning of one; so does this.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Literal, Protocol

Pace = Literal["short", "number", "spelled", "free"]


class Completeness(Protocol):
    """May these words be a whole answer, and could it go on? (answers.Completeness fits.)"""

    @property
    def complete(self) -> bool: ...
    @property
    def can_grow(self) -> bool: ...


@dataclass(frozen=True, slots=True)
class Whole:
    """The simplest Completeness."""

    complete: bool
    can_grow: bool


CompletenessOf = Callable[[Sequence[str]], Completeness]


def anything_goes(words: Sequence[str]) -> Completeness:
    """For a question without structure: any word is an answer and more may come."""
    return Whole(complete=bool(words), can_grow=True)


@dataclass(frozen=True, slots=True)
class Silences:
    """Seconds of silence that end an utterance; `longest` seconds end it whatever happens."""

    settled: float  # a whole answer that cannot go on
    growable: float  # a whole answer that could go on: "twenty" ... "three"
    incomplete: float  # the beginning of one
    wordless: float  # speech without a word of the grammar
    longest: float


#: Chosen on recordings with pauses (cut-offs against delay): `sayso evaluate --as-in-a-job` measures both.
SILENCES: dict[Pace, Silences] = {
    "short": Silences(settled=0.22, growable=0.40, incomplete=0.9, wordless=0.7, longest=6.0),
    "number": Silences(settled=0.25, growable=0.50, incomplete=1.1, wordless=0.8, longest=10.0),
    "spelled": Silences(settled=0.35, growable=1.1, incomplete=1.4, wordless=1.2, longest=25.0),
    "free": Silences(settled=1.3, growable=1.3, incomplete=1.3, wordless=1.8, longest=60.0),
}

#: In steady noise the voice detector may never fall silent; then words that stay the same for this much
#: longer than the silence asked for end the utterance too.
STABLE_INSTEAD_OF_SILENT_S = 0.5
#: The beginning of an answer has to stay the same for longer: after a pause the next word shows only when it
#: has been said, and a slow speaker's takes a second (serials at 80 words a minute were cut off at 0.5).
STABLE_BEGINNING_S = 1.5
#: Sound that is no louder than the noise before the speech is nearly silence: it ends speech so much later.
HUSH_INSTEAD_OF_SILENCE_S = 0.2
#: Words that changed less than this ago are not yet believed.
SETTLING_S = 0.03


class Verdict(Enum):
    GO_ON = "go on"
    END = "end"
    #: The longest utterance was reached; what was heard may be cut.
    CUT = "cut"


@dataclass(frozen=True, slots=True)
class Observation:
    """Seconds, counted in samples. `stable_s`: since the partial words last changed."""

    pace: Pace
    words: bool
    complete: bool
    can_grow: bool
    silence_s: float
    stable_s: float
    length_s: float
    #: since it was last louder than the noise before it
    hush_s: float = 0.0

    @property
    def quiet_s(self) -> float:
        """Silence, or what stands for it once there are words."""
        return max(self.silence_s, self.hush_s - HUSH_INSTEAD_OF_SILENCE_S) if self.words else self.silence_s


def silence_needed(pace: Pace, *, words: bool, complete: bool, can_grow: bool) -> float:
    silences = SILENCES[pace]
    if not words:
        return silences.wordless
    if not complete:
        return silences.incomplete
    return silences.growable if can_grow else silences.settled


def decide(seen: Observation) -> Verdict:
    """Pure: has the utterance ended?"""
    needed = silence_needed(seen.pace, words=seen.words, complete=seen.complete, can_grow=seen.can_grow)
    if seen.length_s >= SILENCES[seen.pace].longest:
        return Verdict.CUT
    if seen.quiet_s >= needed and seen.stable_s >= SETTLING_S:
        return Verdict.END
    longer = STABLE_INSTEAD_OF_SILENT_S if seen.complete else STABLE_BEGINNING_S
    if seen.words and seen.pace != "free" and seen.stable_s >= needed + longer:
        return Verdict.END
    return Verdict.GO_ON


class Endpointer:
    """Carries the partial words and their age over an utterance."""

    def __init__(self, pace: Pace, completeness: CompletenessOf = anything_goes) -> None:
        self._pace = pace
        self._completeness = completeness
        self._words: tuple[str, ...] = ()
        self._whole: Completeness = Whole(False, True)
        self._changed_s = 0.0

    def words(self, words: tuple[str, ...], at_s: float) -> None:
        """New partial words at `at_s` seconds of the utterance."""
        if words != self._words:
            self._words = words
            self._whole = self._completeness(words) if words else Whole(False, True)
            self._changed_s = at_s

    def observe(self, silence_s: float, at_s: float, hush_s: float = 0.0) -> Observation:
        return Observation(
            pace=self._pace,
            words=bool(self._words),
            complete=self._whole.complete,
            can_grow=self._whole.can_grow,
            silence_s=silence_s,
            stable_s=at_s - self._changed_s,
            length_s=at_s,
            hush_s=hush_s,
        )
