"""The loudspeaker: one output stream, open from start to end of a job, that can fall silent at once.

It knows when each utterance was heard: the moment the first and the last sample leave the loudspeaker, with
the device's own delay added.
"""

from __future__ import annotations

import contextlib
import queue
import threading
import time
from collections import deque
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from sayso.speaking.loudness import Samples
from sayso.speaking.output_device import Output, sound_library

BLOCK_S = 0.010
FADE_S = 0.005
#: Pause between two utterances that are both waiting: a full stop's worth. Common practice, no source.
GAP_S = 0.18
#: No block asked for in this time means that the device is gone (pulse raises no error; a null sink with
#: rewinds may sleep for 2 s and be well).
LOST_AFTER_S = 2.5
RETRY_S = 1.0


@dataclass(frozen=True, slots=True)
class PlayerEvent:
    """`at` is time.monotonic() of the moment it was heard. `why` explains 'failed' and 'lost'."""

    kind: Literal["started", "finished", "cut", "failed", "lost", "back"]
    at: float
    utterance: int = -1
    why: str = ""


@dataclass(slots=True)
class _Utterance:
    number: int
    samples: Future[Samples]
    volume: float
    played: int = 0
    unwanted: bool = False


class Player:
    """Plays utterances in the order given. `notify` is called from the player's own thread, in time order.

    `played` gets each block with sound in it and the moment at which it is heard, in PortAudio's thread.
    """

    def __init__(
        self,
        output: Output,
        notify: Callable[[PlayerEvent], None],
        played: Callable[[Samples, float], None] | None = None,
    ) -> None:
        self._output = output
        self._notify = notify
        self._played = played
        self.rate = output.rate
        self._fade_length = max(1, int(FADE_S * self.rate))
        self._lock = threading.Lock()
        self._waiting: deque[_Utterance] = deque()
        self._silent_for = self.rate
        #: seconds between two utterances that are both waiting
        self.gap_s = GAP_S
        self._held_until = 0.0
        self._news: queue.SimpleQueue[PlayerEvent | None] = queue.SimpleQueue()
        self._last_block = 0.0
        self._latency = 0.0
        self._closed = False
        self._stream: Any = None
        self._teller = threading.Thread(target=self._tell, name="player news", daemon=True)

    def __enter__(self) -> Player:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def start(self) -> None:
        """Opens the stream (0.3-0.5 s the first time). Raises OutputError when the device does not open."""
        self._open()
        self._teller.start()

    def play(self, utterance: int, samples: Future[Samples], volume: float = 1.0) -> None:
        """Plays `samples` (mono float32 at `rate`) after what is already waiting, once they are there."""
        with self._lock:
            self._waiting.append(_Utterance(utterance, samples, volume))

    def stop(self) -> None:
        """Silence at once (5 ms fade). Everything waiting is dropped and reported as 'cut'."""
        with self._lock:
            for utterance in self._waiting:
                utterance.unwanted = True

    def hold(self, at_most_s: float) -> None:
        """Begins no further utterance for so long, or until `go_on`: somebody speaks in the gap."""
        self._held_until = time.monotonic() + at_most_s

    def go_on(self) -> None:
        self._held_until = 0.0

    @property
    def busy(self) -> bool:
        """Something is being played or waits to be."""
        with self._lock:
            return bool(self._waiting)

    def close(self) -> None:
        self._closed = True
        self._news.put(None)
        if self._teller.is_alive():
            self._teller.join(timeout=2.0)
        self._close_stream()

    # --- the stream ----------------------------------------------------------------------------

    def _open(self) -> None:
        self._stream = self._output.open(self._fill, int(self.rate * BLOCK_S))
        self._last_block = time.monotonic()
        self._stream.start()
        self._latency = float(self._stream.latency)

    def _close_stream(self) -> None:
        stream, self._stream = self._stream, None
        if stream is None:
            return
        # Closing a stream whose server was killed can block for good, so it never holds up the job.
        closer = threading.Thread(target=_abort, args=(stream,), daemon=True)
        closer.start()
        closer.join(timeout=1.0)

    def _fill(self, out: Any, frames: int, times: Any, status: Any) -> None:
        """PortAudio's callback: never waits, never prints."""
        now = time.monotonic()
        self._last_block = now
        block = np.zeros(frames, dtype=np.float32)
        delay = times.outputBufferDacTime - times.currentTime
        if not 0.0 < delay < 1.0:
            delay = self._latency
        with self._lock:
            self._mix(block, now + delay)
        if self._played is not None and block.any():
            self._played(block, now + delay)
        out[:] = block[:, np.newaxis]

    def _mix(self, block: Samples, heard_at: float) -> None:
        at = 0
        while at < block.size:
            if not self._waiting:
                self._silent_for += block.size - at
                return
            current = self._waiting[0]
            if current.unwanted:
                at = self._fall_silent(block, at, heard_at)
                continue
            if current.played == 0:
                gap = int(self.gap_s * self.rate) - self._silent_for
                if gap <= 0 and self._last_block < self._held_until:
                    gap = block.size
                if gap > 0:
                    step = min(gap, block.size - at)
                    self._silent_for += step
                    at += step
                    continue
                if not current.samples.done():
                    self._silent_for += block.size - at
                    return
                failure = current.samples.exception()
                if failure is not None:
                    self._waiting.popleft()
                    self._put("failed", heard_at, current.number, str(failure))
                    continue
                self._put("started", heard_at + at / self.rate, current.number)
            samples = current.samples.result()
            part = samples[current.played : current.played + block.size - at]
            block[at : at + part.size] = part * np.float32(current.volume)
            current.played += part.size
            at += part.size
            if current.played >= samples.size:
                self._waiting.popleft()
                self._silent_for = 0
                self._put("finished", heard_at + at / self.rate, current.number)

    def _fall_silent(self, block: Samples, at: int, heard_at: float) -> int:
        """Fades out what is being played and drops what is unwanted; returns where the block goes on."""
        current = self._waiting[0]
        if current.played > 0:
            samples = current.samples.result()
            part = samples[current.played : current.played + min(self._fade_length, block.size - at)]
            fade = np.linspace(1.0, 0.0, part.size, dtype=np.float32)
            block[at : at + part.size] = part * fade * np.float32(current.volume)
            at += part.size
        while self._waiting and self._waiting[0].unwanted:
            self._put("cut", heard_at + at / self.rate, self._waiting.popleft().number)
        self._silent_for = 0
        return at

    def _put(self, kind: Any, at: float, utterance: int, why: str = "") -> None:
        self._news.put(PlayerEvent(kind, at, utterance, why))

    # --- telling, and watching the device ---------------------------------------------------------

    def _tell(self) -> None:
        while not self._closed:
            try:
                event = self._news.get(timeout=0.25)
            except queue.Empty:
                if time.monotonic() - self._last_block > LOST_AFTER_S:
                    self._recover()
                continue
            if event is None:
                return
            wait = event.at - time.monotonic()
            if wait > 0:
                time.sleep(min(wait, 1.0))
            self._notify(event)

    def _recover(self) -> None:
        with self._lock:
            dropped = list(self._waiting)
            self._waiting.clear()
        for utterance in dropped:
            self._notify(PlayerEvent("cut", time.monotonic(), utterance.number))
        self._notify(
            PlayerEvent("lost", time.monotonic(), why=f"the loudspeaker {self._output.name} is gone")
        )
        self._close_stream()
        while not self._closed:
            try:
                self._open()
            except sound_library().PortAudioError:
                time.sleep(RETRY_S)
                continue
            time.sleep(0.1)
            if self._stream is not None and self._stream.active:
                self._notify(PlayerEvent("back", time.monotonic()))
                return


def _abort(stream: Any) -> None:
    with contextlib.suppress(Exception):
        stream.abort()
        stream.close()
