"""What stands at the edges of an answer and is no part of it: noise that was taken for words, an "er"."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from sayso.answers.denials import DENIALS
from sayso.hearing.grammar import UNKNOWN
from sayso.hearing.levels import NOTHING_DBFS, dbfs, samples_of
from sayso.hearing.recogniser import SAMPLE_RATE, HeardWord, Result

#: An "er" before the answer: [unk] at the very start, no longer than this, is passed over. It may have been
#: "not" just as well (both take 0.15-0.3 s in synthetic speech), so the answer is sure of itself no longer.
HESITATION_S = 0.4
#: Said softly before an order or a value they still make it none. "No" too: without it the rest of
#: "no, eighty" may be heard as the value that was read back.
_KEPT = frozenset((*DENIALS, "no"))


def without_noise(result: Result, pcm: bytes, noise_dbfs: float) -> Result:
    """Words at the ends that are no louder than the noise before the speech were heard in that noise."""
    words = list(result.words)
    while words and words[0].word not in _KEPT and _word_dbfs(words[0], pcm) <= noise_dbfs:
        del words[0]
    while words and _word_dbfs(words[-1], pcm) <= noise_dbfs:
        del words[-1]
    return Result(tuple(words), result.alternatives)


def _word_dbfs(word: HeardWord, pcm: bytes) -> float:
    """The loudest 50 ms of it."""
    said = samples_of(pcm)[int(word.start * SAMPLE_RATE) : int(word.end * SAMPLE_RATE)]
    step = SAMPLE_RATE // 20
    return max(
        (dbfs(said[at : at + step]) for at in range(0, max(1, len(said) - step), step // 5)),
        default=NOTHING_DBFS,
    )


def without_hesitation(result: Result) -> tuple[HeardWord, ...]:
    words = result.words
    while words and words[0].word == UNKNOWN and words[0].end - words[0].start <= HESITATION_S:
        words = words[1:]
    return words


def order_at_end(result: Result, orders: Collection[tuple[str, ...]]) -> tuple[HeardWord, ...]:
    """The longest of `orders` that the words end with, where bits of sayso's own voice may stand before it;
    all words where there is none or it was denied ("don't stop")."""
    words = result.words
    at = where_order_begins(result.text, orders)
    return words if at is None or any(w.word in _KEPT for w in words[:at]) else words[at:]


def where_order_begins(words: Sequence[str], orders: Collection[tuple[str, ...]]) -> int | None:
    """The place of the longest of `orders` that the words end with."""
    return next((at for at in range(len(words)) if tuple(words[at:]) in orders), None)
