"""Libraries that take an echo away, each behind one call.

WebRTC's canceller (package livekit, Apache-2.0) and libspeexdsp (BSD licence; apt libspeexdsp1). What they
take away in simulated rooms is in DEVELOPERS.md.
"""

from __future__ import annotations

import ctypes
import ctypes.util
from functools import lru_cache
from importlib.util import find_spec
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

RATE = 16_000
FRAME = 160  # 10 ms
#: Length of libspeexdsp's filter: the room, and delay that is not known beforehand.
TAIL = int(0.25 * RATE)

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

    learned_frames = 200

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


class NoEcho:
    """Where neither library is installed: nothing is taken away, so the ear never opens beside the voice."""

    learned_frames = 1 << 62

    def frame(self, microphone: Samples, reference: Samples) -> Samples:
        return microphone

    def close(self) -> None:
        """Nothing is held."""


def best_for_noticing() -> EchoLibrary:
    """The one that leaves least of the voice: what is left is taken for somebody who speaks."""
    if webrtc_available():
        return WebRtcEcho()
    return SpeexEcho() if speex_available() else NoEcho()


def best_for_words() -> EchoLibrary | None:
    """The one that leaves the words whole; None: hear the words where speech is noticed.

    Of 18 first words over the voice 16-18 were taken so, 10-12 from WebRTC's own output (its suppressor
    takes bits out of the words) and 13 from libspeexdsp's alone (echo 6 dB below the voice, RT60 0.5 s)."""
    return SpeexEcho(suppress=False) if webrtc_available() and speex_available() else None
