"""Takes sayso's own voice out of what the microphone hears.

By WebRTC's canceller (package livekit, Apache-2.0) or, where that has no wheel, by libspeexdsp (BSD licence;
apt libspeexdsp1), which takes away about half as many decibels (figures in DEVELOPERS.md).

The player tells what it plays and when it is heard; the microphone's blocks carry their time; both are put
on one time line, so that the library sees them aligned to within its filter's length.
"""

from __future__ import annotations

import ctypes
import ctypes.util
import threading
from collections import deque
from functools import lru_cache
from importlib.util import find_spec
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from sayso.hearing.levels import NOTHING_DBFS, dbfs

RATE = 16_000
FRAME = 160  # 10 ms
#: Length of the filter: delay that is not known beforehand, and the room.
TAIL = int(0.25 * RATE)
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
LEFT_PERCENTILE, LEFT_MARGIN_DB = 90, 6.0
#: With fewer frames than this the leftover is taken for as loud as the voice.
ENOUGH_LEFT = 80

# request numbers of speex/speex_echo.h and speex/speex_preprocess.h, version 1.2
_ECHO_SET_SAMPLING_RATE = 24
_PREPROCESS_SET_DENOISE = 0
_PREPROCESS_SET_ECHO_STATE = 24
_PREPROCESS_SET_ECHO_SUPPRESS = 20
_PREPROCESS_SET_ECHO_SUPPRESS_ACTIVE = 22

Samples = npt.NDArray[np.int16]


@lru_cache(maxsize=1)
def _library() -> Any:
    """libspeexdsp, or None when it is not on this machine."""
    name = ctypes.util.find_library("speexdsp")
    for candidate in (name, "libspeexdsp.so.1", "libspeexdsp.1.dylib", "libspeexdsp.dll"):
        if candidate is None:
            continue
        try:
            library = ctypes.CDLL(candidate)
        except OSError:
            continue
        library.speex_echo_state_init.restype = ctypes.c_void_p
        library.speex_preprocess_state_init.restype = ctypes.c_void_p
        return library
    return None


def webrtc_available() -> bool:
    return find_spec("livekit") is not None


def speex_available() -> bool:
    return _library() is not None


def canceller_available() -> bool:
    return webrtc_available() or speex_available()


class EchoLibrary(Protocol):
    """Whole frames of FRAME samples in, the same out."""

    #: Frames of its own voice that must have been heard before the room counts as learned.
    learned_frames: int

    def frame(self, microphone: Samples, reference: Samples) -> Samples: ...
    def close(self) -> None: ...


class WebRtcEcho:
    """WebRTC's third canceller. It finds the echo's delay by itself (0-0.5 s tried) and suppresses what is
    left; its noise suppression and gain control stay off."""

    learned_frames = 100

    def __init__(self) -> None:
        from livekit.rtc.apm import AudioProcessingModule
        from livekit.rtc.audio_frame import AudioFrame

        self._frame = AudioFrame
        self._library = AudioProcessingModule(echo_cancellation=True, high_pass_filter=True)

    def frame(self, microphone: Samples, reference: Samples) -> Samples:
        played = self._frame(bytearray(reference.astype("<i2").tobytes()), RATE, 1, FRAME)
        self._library.process_reverse_stream(played)
        heard = self._frame(bytearray(microphone.astype("<i2").tobytes()), RATE, 1, FRAME)
        self._library.set_stream_delay_ms(0)
        self._library.process_stream(heard)
        return np.frombuffer(heard.data, np.int16).copy()

    def close(self) -> None:
        """Freed with the object."""


class SpeexEcho:
    """The library's canceller and residual suppressor."""

    learned_frames = 400

    def __init__(self, *, suppress: bool = True) -> None:
        """suppress: False leaves what the adaptive filter does not take away, and every word whole."""
        self._suppress = suppress
        library = _library()
        if library is None:
            raise RuntimeError("libspeexdsp is not installed (apt install libspeexdsp1)")
        self._library = library
        self._echo = ctypes.c_void_p(library.speex_echo_state_init(FRAME, TAIL))
        rate = ctypes.c_int(RATE)
        library.speex_echo_ctl(self._echo, _ECHO_SET_SAMPLING_RATE, ctypes.byref(rate))
        self._suppressor = ctypes.c_void_p(library.speex_preprocess_state_init(FRAME, RATE))
        # only the echo is suppressed: noise reduction takes more from speech than from noise here
        off = ctypes.c_int(0)
        library.speex_preprocess_ctl(self._suppressor, _PREPROCESS_SET_DENOISE, ctypes.byref(off))
        library.speex_preprocess_ctl(self._suppressor, _PREPROCESS_SET_ECHO_STATE, self._echo)
        for request, value in (
            (_PREPROCESS_SET_ECHO_SUPPRESS, -45),
            (_PREPROCESS_SET_ECHO_SUPPRESS_ACTIVE, -15),
        ):
            decibels = ctypes.c_int(value)
            library.speex_preprocess_ctl(self._suppressor, request, ctypes.byref(decibels))

    def frame(self, microphone: Samples, reference: Samples) -> Samples:
        heard = np.ascontiguousarray(microphone, dtype=np.int16)
        played = np.ascontiguousarray(reference, dtype=np.int16)
        out = np.zeros(FRAME, np.int16)
        pointer = ctypes.c_void_p
        self._library.speex_echo_cancellation(
            self._echo,
            heard.ctypes.data_as(pointer),
            played.ctypes.data_as(pointer),
            out.ctypes.data_as(pointer),
        )
        if self._suppress:
            self._library.speex_preprocess_run(self._suppressor, out.ctypes.data_as(pointer))
        return out

    def close(self) -> None:
        if self._echo:
            self._library.speex_preprocess_state_destroy(self._suppressor)
            self._library.speex_echo_state_destroy(self._echo)
            self._echo = ctypes.c_void_p()

    def __del__(self) -> None:
        self.close()


class EchoCanceller:
    """played() from the player's thread, clean() from the ear's. Keep one for a whole job: it learns.

    Times are time.monotonic().
    """

    def __init__(self, library: EchoLibrary | None = None) -> None:
        """`library`: None takes the best there is. Raises RuntimeError when there is none."""
        self._library = library or (WebRtcEcho() if webrtc_available() else SpeexEcho())
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

    def clean(self, pcm: bytes, at: float) -> bytes:
        """The block without the voice; whole frames, the rest comes with the next block.

        `at`: when the block arrived. It was recorded some tens of milliseconds before, so the echo in it is
        always later than the reference, as the filter needs.
        """
        data = self._rest + pcm
        whole = len(data) // (2 * FRAME) * (2 * FRAME)
        self._rest = data[whole:]
        if not whole:
            return b""
        samples = np.frombuffer(data[:whole], "<i2")
        with self._lock:
            if self._zero is None:
                self._zero = at - 1.0
            first = round((at - self._zero) * RATE) - len(data) // 2
            if self._position is None or abs(first - self._position) > int(RESYNC_S * RATE):
                self._position = first
            out = []
            self.leftover_dbfs = NOTHING_DBFS
            for begin in range(0, len(samples), FRAME):
                heard, played = samples[begin : begin + FRAME], self._reference_at(self._position)
                out.append(self._library.frame(heard, played))
                self._position += FRAME
                self._follow(dbfs(played), dbfs(heard), dbfs(out[-1]))
        return np.concatenate(out).astype("<i2").tobytes()

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
        """False while the room is still being learned: until then the ear is better closed."""
        return len(self._left) >= self._library.learned_frames

    def close(self) -> None:
        self._library.close()
