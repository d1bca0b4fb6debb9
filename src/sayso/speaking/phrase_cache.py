"""Phrases rendered ahead of need: what is likely to be said next is ready before it is asked for."""

from __future__ import annotations

import itertools
import queue
import threading
from collections import OrderedDict
from collections.abc import Callable, Iterable
from concurrent.futures import Future
from dataclasses import dataclass, field

import numpy as np

from sayso.speaking.loudness import Samples, trim

#: Seconds of speech kept; as float32 at 48 kHz this is 17 MB. Rendering anew costs 15 ms.
KEEP_S = 90.0

NOW, AHEAD = 0, 1


@dataclass(frozen=True, slots=True)
class Phrase:
    """One text at one speaking rate (a factor on the normal one)."""

    text: str
    rate: float = 1.0


@dataclass(order=True)
class _Request:
    urgency: int
    number: int
    phrase: Phrase = field(compare=False)
    batch: int = field(compare=False)


class PhraseCache:
    """Renders phrases in one background thread, the one needed now before those likely later.

    render:      text, rate factor -> samples and their rate in hertz (Voice.render).
    device_rate: the rate in hertz that the player needs; phrases are kept at that rate.
    """

    def __init__(
        self,
        render: Callable[[str, float], tuple[Samples, int]],
        device_rate: int,
        keep_s: float = KEEP_S,
    ) -> None:
        self._render = render
        self._device_rate = device_rate
        self._keep = int(keep_s * device_rate)
        self._lock = threading.Lock()
        self._ready: OrderedDict[Phrase, Samples] = OrderedDict()
        self._samples_kept = 0
        self._waiting: dict[Phrase, list[Future[Samples]]] = {}
        self._requests: queue.PriorityQueue[_Request] = queue.PriorityQueue()
        self._numbers = itertools.count()
        self._batch = 0
        self.hits = 0
        self.misses = 0
        self._thread = threading.Thread(target=self._work, name="phrase cache", daemon=True)
        self._thread.start()

    def get(self, phrase: Phrase) -> Future[Samples]:
        """The samples of `phrase` at the device's rate: done at once when it was rendered ahead."""
        future: Future[Samples] = Future()
        with self._lock:
            samples = self._ready.get(phrase)
            if samples is not None:
                self._ready.move_to_end(phrase)
                self.hits += 1
                future.set_result(samples)
                return future
            self.misses += 1
            self._waiting.setdefault(phrase, []).append(future)
        self._requests.put(_Request(NOW, next(self._numbers), phrase, -1))
        return future

    def prepare(self, phrases: Iterable[Phrase]) -> None:
        """Renders `phrases` in the background. A new call drops what an older call has not reached yet."""
        with self._lock:
            self._batch += 1
            batch = self._batch
        for phrase in phrases:
            self._requests.put(_Request(AHEAD, next(self._numbers), phrase, batch))

    def add(self, phrases: Iterable[Phrase]) -> None:
        """As `prepare`, but beside what is already waiting (the words heard so far make a reply likely)."""
        for phrase in phrases:
            self._requests.put(_Request(AHEAD, -next(self._numbers), phrase, self._batch))

    def is_ready(self, phrase: Phrase) -> bool:
        with self._lock:
            return phrase in self._ready

    def close(self) -> None:
        self._requests.put(_Request(NOW - 1, -1, Phrase(""), -2))
        self._thread.join(timeout=2.0)

    def _work(self) -> None:
        while True:
            request = self._requests.get()
            if request.batch == -2:
                return
            phrase = request.phrase
            with self._lock:
                overtaken = request.urgency == AHEAD and request.batch != self._batch
                known = self._ready.get(phrase)
            if known is None and not overtaken:
                try:
                    known = self._samples(phrase)
                except Exception as failure:
                    self._fail(phrase, failure)
                    continue
                self._keep_phrase(phrase, known)
            if known is not None:
                self._deliver(phrase, known)

    def _samples(self, phrase: Phrase) -> Samples:
        samples, rate = self._render(phrase.text, phrase.rate)
        samples = trim(samples, rate)
        if rate == self._device_rate or samples.size == 0:
            return samples
        import soxr

        return np.asarray(soxr.resample(samples, rate, self._device_rate, quality="MQ"), dtype=np.float32)

    def _keep_phrase(self, phrase: Phrase, samples: Samples) -> None:
        with self._lock:
            if phrase in self._ready:
                return
            self._ready[phrase] = samples
            self._samples_kept += samples.size
            while self._samples_kept > self._keep and len(self._ready) > 1:
                _, dropped = self._ready.popitem(last=False)
                self._samples_kept -= dropped.size

    def _deliver(self, phrase: Phrase, samples: Samples) -> None:
        with self._lock:
            futures = self._waiting.pop(phrase, [])
        for future in futures:
            if future.set_running_or_notify_cancel():
                future.set_result(samples)

    def _fail(self, phrase: Phrase, failure: Exception) -> None:
        with self._lock:
            futures = self._waiting.pop(phrase, [])
        for future in futures:
            if future.set_running_or_notify_cancel():
                future.set_exception(failure)
