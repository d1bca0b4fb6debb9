"""Takes sayso's own voice out of what the microphone hears (see echo_libraries).

The player tells what it plays and when it is heard; the microphone's blocks carry their time; both are put
on one time line, so that the libraries see them aligned to within their filters' length.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from sayso.hearing.echo_libraries import (
    FRAME,
    RATE,
    EchoLibrary,
    Samples,
    best_for_noticing,
    best_for_words,
)
from sayso.hearing.levels import NOTHING_DBFS, dbfs

#: The reference that is kept.
KEPT_S = 5.0
#: Time lines that drift apart by more than this are set anew.
RESYNC_S = 0.04

#: The voice counts as silent below this.
SILENT_VOICE_DBFS = -55.0
#: What is left over is learned while it is louder than this.
LOUD_VOICE_DBFS = -35.0
#: After the voice its echo falls at least this fast (60 dB in 0.6 s, per frame of 10 ms).
RINGING_DB_PER_FRAME = 1.0
#: Frames over which the leftover is learned.
LEFT_FRAMES = 800
LEFT_PERCENTILE, LEFT_MARGIN_DB = 75, 6.0
#: No more than this of the voice may be left for the ear to open beside it.
CLEAN_DB = -20.0
#: With fewer frames than this the leftover is taken for as loud as the voice.
ENOUGH_LEFT = 80
#: An echo this late needs no help; what is later is a loudspeaker that is late itself (Bluetooth).
USUAL_DELAY_S = 0.1


@dataclass(frozen=True, slots=True)
class Cleaned:
    """One block: `words` for the recogniser, `watched` for the voice detector."""

    words: bytes
    watched: bytes


class EchoCanceller:
    """played() from the player's thread, clean() from the ear's. Keep one for a whole job: it learns.

    Times are time.monotonic().
    """

    def __init__(self, noticing: EchoLibrary | None = None, words: EchoLibrary | None = None) -> None:
        """None takes the best there is; `noticing` without `words` serves both."""
        self._noticing = noticing or best_for_noticing()
        self._words = words if noticing is not None else best_for_words()
        #: told of each frame: what was played and what the microphone gave, on one time line
        self.aligned: Callable[[Samples, Samples], None] = lambda played, heard: None
        self._late = 0
        self._lock = threading.Lock()
        self._reference = np.zeros(int(KEPT_S * RATE), np.int16)
        self._zero: float | None = None  # time of sample 0 of the reference's line
        self._written = 0  # samples of the line that are known
        self._rest = b""
        self._position: int | None = None  # where on the line the microphone is
        self._voice_level = NOTHING_DBFS  # of the reference, falling no faster than a room rings
        self._left: deque[float] = deque(maxlen=LEFT_FRAMES)
        self._taken: deque[float] = deque(maxlen=LEFT_FRAMES)
        self.leftover_dbfs = NOTHING_DBFS

    def played(self, samples: Samples, heard_at: float) -> None:
        """16 kHz samples whose first leaves the loudspeaker at `heard_at`. Silence need not be told."""
        with self._lock:
            if self._zero is None:
                self._zero = heard_at - 1.0
            at = round((heard_at - self._zero) * RATE)
            if abs(at - self._written) < int(RESYNC_S * RATE):
                at = self._written  # the callback's jitter must not tear the reference
            if at > self._written:
                self._fill(
                    self._written, np.zeros(min(at - self._written, len(self._reference)), np.int16), at
                )
            self._fill(at, samples, at + len(samples))

    def _fill(self, at: int, samples: Samples, written: int) -> None:
        size = len(self._reference)
        kept = samples[-size:]
        begin = written - len(kept)
        index = np.arange(begin, begin + len(kept)) % size
        self._reference[index] = kept
        self._written = max(self._written, written)

    def _reference_at(self, at: int) -> Samples:
        size = len(self._reference)
        index = np.arange(at, at + FRAME)
        out = self._reference[index % size].copy()
        out[(index >= self._written) | (index < self._written - size) | (index < 0)] = 0
        return out

    def expect_delay(self, seconds: float) -> None:
        """The echo comes so late: a Bluetooth loudspeaker's delay is longer than the filters."""
        late = max(0.0, seconds - USUAL_DELAY_S / 2) if seconds > USUAL_DELAY_S else 0.0
        with self._lock:
            self._late = round(late * RATE)

    def clean(self, pcm: bytes, at: float) -> Cleaned:
        """The block without the voice; whole frames, the rest comes with the next block.

        `at`: when the block arrived. It was recorded some tens of milliseconds before, so the echo in it is
        always later than the reference, as the filter needs.
        """
        words, watched = b"", b""
        with self._lock:
            self.leftover_dbfs = NOTHING_DBFS
            for heard, position in self._frames(pcm, at):
                for_words, noticed = self._frame(heard, position)
                words += for_words.astype("<i2").tobytes()
                watched += noticed.astype("<i2").tobytes()
        return Cleaned(words, watched)

    def watch(self, pcm: bytes, at: float) -> None:
        """Only tells `aligned`; nothing is taken out and nothing learned. `at` as in `clean`."""
        with self._lock:
            for heard, position in self._frames(pcm, at):
                self.aligned(self._reference_at(position), heard)

    def _frames(self, pcm: bytes, at: float) -> Iterator[tuple[Samples, int]]:
        """Whole frames of what was heard and their place on the time line; the lock is held."""
        data = self._rest + pcm
        whole = len(data) // (2 * FRAME) * (2 * FRAME)
        self._rest = data[whole:]
        samples = np.frombuffer(data[:whole], "<i2")
        if self._zero is None:
            self._zero = at - 1.0
        first = round((at - self._zero) * RATE) - len(data) // 2
        if self._position is None or abs(first - self._position) > int(RESYNC_S * RATE):
            self._position = first
        for begin in range(0, len(samples), FRAME):
            yield samples[begin : begin + FRAME], self._position
            self._position += FRAME

    def _frame(self, heard: Samples, position: int) -> tuple[Samples, Samples]:
        self.aligned(self._reference_at(position), heard)
        played = self._reference_at(position - self._late)
        noticed = self._noticing.frame(heard, played)
        for_words = noticed if self._words is None else self._words.frame(heard, played)
        if not heard.any():  # a muted microphone stays silent: a canceller adds comfort noise
            noticed, for_words = heard, heard
        self._follow(dbfs(played), dbfs(heard), dbfs(noticed))
        return for_words, noticed

    def _follow(self, played: float, heard: float, left: float) -> None:
        """Learn how much of the voice gets through; `leftover_dbfs` is what must not be taken for speech."""
        self._voice_level = max(played, self._voice_level - RINGING_DB_PER_FRAME)
        if self._voice_level < SILENT_VOICE_DBFS:
            return
        if self._voice_level > LOUD_VOICE_DBFS:  # beside a faint voice the room's own noise would count
            self._left.append(left - self._voice_level)
        if played > LOUD_VOICE_DBFS:
            self._taken.append(heard - left)
        # most frames hold the voice alone, so a high percentile is what it leaves at its worst
        usual = float(np.percentile(self._left, LEFT_PERCENTILE)) if len(self._left) >= ENOUGH_LEFT else 0.0
        self.leftover_dbfs = max(self.leftover_dbfs, self._voice_level + usual + LEFT_MARGIN_DB)

    @property
    def attenuation_db(self) -> float:
        """How much of the voice is taken away: median over the last seconds in which it spoke."""
        return float(np.median(self._taken)) if self._taken else 0.0

    @property
    def learned(self) -> bool:
        """False while the room is still being learned, and where too much of the voice is left (a machine so
        busy that sound is lost): then the ear is better closed."""
        if len(self._left) < self._noticing.learned_frames:
            return False
        return float(np.percentile(self._left, LEFT_PERCENTILE)) < CLEAN_DB

    def close(self) -> None:
        self._noticing.close()
        if self._words is not None:
            self._words.close()
