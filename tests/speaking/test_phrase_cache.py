"""Phrases rendered ahead: what is needed now comes first, what nobody waits for any more is dropped."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import numpy as np
import pytest

from sayso.speaking.phrase_cache import Phrase, PhraseCache


class SlowEngine:
    """Renders one phrase at a time, each when the test lets it."""

    def __init__(self) -> None:
        self.rendered: list[str] = []
        self.may_go_on = threading.Semaphore(0)
        self.begun = threading.Semaphore(0)

    def render(self, text: str, rate: float) -> tuple[np.ndarray, int]:
        self.begun.release()
        assert self.may_go_on.acquire(timeout=5)
        self.rendered.append(text)
        if text == "broken":
            raise ValueError("the engine cannot say that")
        return np.full(100, 0.5, dtype=np.float32), 16_000


@pytest.fixture
def engine() -> SlowEngine:
    return SlowEngine()


@pytest.fixture
def cache(engine: SlowEngine) -> Iterator[PhraseCache]:
    made = PhraseCache(engine.render, 16_000)
    yield made
    engine.may_go_on.release(1000)
    made.close()


def test_what_is_needed_now_is_rendered_before_what_is_only_likely(
    engine: SlowEngine, cache: PhraseCache
) -> None:
    cache.prepare([Phrase("first"), Phrase("second"), Phrase("third")])
    assert engine.begun.acquire(timeout=5)
    now = cache.get(Phrase("now"))
    engine.may_go_on.release(2)
    now.result(timeout=5)
    assert engine.rendered == ["first", "now"]


def test_a_new_question_drops_what_was_likely_at_the_old_one(engine: SlowEngine, cache: PhraseCache) -> None:
    cache.prepare([Phrase("old one"), Phrase("old two")])
    assert engine.begun.acquire(timeout=5)
    cache.prepare([Phrase("new")])
    engine.may_go_on.release(3)
    last = cache.get(Phrase("last"))
    last.result(timeout=5)
    cache.get(Phrase("new")).result(timeout=5)
    assert "old two" not in engine.rendered


def test_a_phrase_rendered_ahead_is_there_at_once(engine: SlowEngine, cache: PhraseCache) -> None:
    engine.may_go_on.release(10)
    cache.get(Phrase("Eight. Yes?")).result(timeout=5)
    again = cache.get(Phrase("Eight. Yes?"))
    assert again.done()
    assert engine.rendered.count("Eight. Yes?") == 1


def test_the_same_words_slower_are_another_phrase(engine: SlowEngine, cache: PhraseCache) -> None:
    engine.may_go_on.release(10)
    cache.get(Phrase("Done.")).result(timeout=5)
    assert not cache.is_ready(Phrase("Done.", 0.7))


def test_a_phrase_that_cannot_be_said_does_not_stop_the_others(
    engine: SlowEngine, cache: PhraseCache
) -> None:
    engine.may_go_on.release(10)
    broken = cache.get(Phrase("broken"))
    assert isinstance(broken.exception(timeout=5), ValueError)
    assert cache.get(Phrase("well")).result(timeout=5).size > 0


def test_memory_is_bounded(engine: SlowEngine) -> None:
    cache = PhraseCache(engine.render, 16_000, keep_s=1000 / 16_000)
    engine.may_go_on.release(1000)
    for number in range(50):
        cache.get(Phrase(str(number))).result(timeout=5)
    assert sum(cache.is_ready(Phrase(str(n))) for n in range(50)) <= 10
    assert cache.is_ready(Phrase("49"))
    cache.close()
