"""The microphone: blocks of 16 kHz mono audio in a queue, by device name, watched for loss.

PortAudio through PulseAudio raises no error when a microphone goes away: the blocks stop, or the sound
server moves the recording to the loudspeaker's monitor and the program hears itself. Hence the watch.
"""

from __future__ import annotations

import contextlib
import queue
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from types import TracebackType
from typing import Any

import numpy as np

from sayso.hearing.errors import HearingError
from sayso.hearing.lateness import Lateness
from sayso.hearing.recording_source import RecordingWatch

SAMPLE_RATE = 16_000
#: The delay of the input is about twice the block (measured: 30 ms blocks gave 44-81 ms, 100 ms 194-289).
BLOCK_MS = 30
#: No block for this long and the device counts as lost. A busy machine may stall for half a second
#: (seen with a load of 10 on 2 cores), and a job must not hold for that.
LOST_AFTER_S = 1.5
#: Waits between tries to open a lost device again; the last one repeats.
BACKOFF_S = (0.2, 0.4, 0.8, 1.5, 3.0)
#: Samples missing against the clock before it counts as a loss (a stalled machine, an overrun).
MISSING_S = 0.25


class MicrophoneError(HearingError):
    """No such device, no device at all, or PortAudio cannot be used; one line, with what to do."""


@dataclass(frozen=True, slots=True)
class Block:
    """16 kHz mono 16-bit audio. `lost_s` seconds of sound went missing just before it."""

    pcm: bytes
    at: float  # time.monotonic() when it came
    lost_s: float = 0.0
    #: seconds that it came later than sound does when the machine is idle
    late_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Lost:
    """The device went away (or the recording was moved off it); `reason` is for people."""

    device: str
    reason: str


@dataclass(frozen=True, slots=True)
class Back:
    device: str


MicrophoneEvent = Block | Lost | Back


def sound_library() -> Any:
    """The sounddevice module. Raises MicrophoneError with one line when PortAudio is missing or broken."""
    try:
        import sounddevice
    except OSError as error:
        raise MicrophoneError(
            f"no sound: the PortAudio library is missing or broken ({error}); "
            "on Debian or Ubuntu run 'sudo apt install libportaudio2'"
        ) from error
    except Exception as error:  # PortAudioError comes from the import itself when the ALSA setup is wrong
        raise MicrophoneError(f"no sound: the audio setup of this machine has an error ({error})") from error
    return sounddevice


def input_names() -> tuple[str, ...]:
    """Names of all devices that can record."""
    library = sound_library()
    return tuple(d["name"] for d in library.query_devices() if d["max_input_channels"] > 0)


def _find(library: Any, name: str | None) -> tuple[int | None, dict[str, Any]]:
    """Index and description of the device whose name is or contains `name` (None: the default)."""
    devices = list(library.query_devices())
    inputs = [(i, d) for i, d in enumerate(devices) if d["max_input_channels"] > 0]
    if not inputs:
        raise MicrophoneError(
            "no microphone: this machine has no device that records; plug one in or use --typed"
        )
    if name is None:
        try:
            return None, dict(library.query_devices(None, "input"))
        except Exception:
            index, device = inputs[0]
            return index, dict(device)
    exact = [(i, d) for i, d in inputs if d["name"] == name]
    partly = exact or [(i, d) for i, d in inputs if name.lower() in d["name"].lower()]
    if not partly:
        listed = "; ".join(d["name"] for _, d in inputs)
        raise MicrophoneError(f"no microphone called '{name}'; there are: {listed}")
    if len(partly) > 1 and not exact:
        listed = "; ".join(d["name"] for _, d in partly)
        raise MicrophoneError(f"more than one microphone is called '{name}'; write one of: {listed}")
    index, device = partly[0]
    return index, dict(device)


def _offered(library: Any, index: int | None, own_rate: int) -> tuple[int, int]:
    """Rate and channels to open a device with: 16 kHz and one channel where it can, else its own rate, else
    both its channels. A device that refuses all says why when it is opened."""
    for channels in (1, 2):
        for rate in (SAMPLE_RATE, own_rate):
            try:
                library.check_input_settings(device=index, samplerate=rate, channels=channels, dtype="int16")
            except Exception:
                continue
            return rate, channels
    return own_rate, 1


class _Stream:
    """One opened PortAudio stream; resamples to 16 kHz when the device does not offer it."""

    def __init__(self, name: str | None, block_ms: int) -> None:
        library = sound_library()
        index, device = _find(library, name)
        self.name = str(device["name"])
        self.blocks: queue.SimpleQueue[tuple[float, float, bytes]] = queue.SimpleQueue()
        self.ended = False
        self._resampler: Any = None
        rate, self._channels = _offered(library, index, int(device["default_samplerate"]))
        if rate != SAMPLE_RATE:
            import soxr

            self._resampler = soxr.ResampleStream(rate, SAMPLE_RATE, 1, dtype="int16", quality="MQ")
        self.rate = rate
        self._lateness = Lateness(rate)
        try:
            self._stream = library.RawInputStream(
                samplerate=rate,
                blocksize=rate * block_ms // 1000,
                device=index,
                channels=self._channels,
                dtype="int16",
                callback=self._callback,
                finished_callback=self._finished,
                latency="low",
            )
            self._stream.start()
        except Exception as error:
            raise MicrophoneError(f"microphone '{self.name}' could not be opened: {error}") from error

    def _callback(self, data: Any, frames: int, when: Any, status: Any) -> None:
        taken = bytes(data)
        if self._channels > 1:  # the first: the second may be its reverse, or nothing
            taken = np.frombuffer(taken, "<i2")[:: self._channels].tobytes()
        at = time.monotonic()
        self.blocks.put((at, self._lateness.of(at, frames), taken))

    def _finished(self) -> None:
        self.ended = True

    def to_16k(self, pcm: bytes) -> bytes:
        if self._resampler is None:
            return pcm
        out = self._resampler.resample_chunk(np.frombuffer(pcm, dtype="<i2"))
        return bytes(np.asarray(out, dtype="<i2").tobytes())

    def close(self) -> None:
        with contextlib.suppress(Exception):
            self._stream.abort(ignore_errors=True)
            self._stream.close(ignore_errors=True)


class Microphone:
    """Iterate with `events()`; or take one event with `next_event(timeout)`. Use it in a with-block.

    device: full name or a part of it; None for the system's default. Raises MicrophoneError on entry when
    the device is not there; once it was open, loss is an event and it is reopened by name with backoff.
    rescan: called before each try, where the devices must be listed anew (see rescan_devices; through
    PulseAudio or PipeWire the names stay and none is needed).
    """

    def __init__(
        self,
        device: str | None = None,
        block_ms: int = BLOCK_MS,
        *,
        rescan: Callable[[], None] | None = None,
    ) -> None:
        self._wanted = device
        self._block_ms = block_ms
        self._rescan = rescan
        self._stream: _Stream | None = None
        self._watch: RecordingWatch | None = None
        self._last_block = 0.0
        self._tries = 0
        self._next_try = 0.0
        self._name = device or "default microphone"
        self._clock_start = 0.0
        self._samples = 0

    @property
    def name(self) -> str:
        return self._name

    @property
    def lost(self) -> bool:
        return self._stream is None

    def open(self) -> None:
        self._stream = _Stream(self._wanted, self._block_ms)
        self._name = self._stream.name
        now = time.monotonic()
        self._last_block = now
        self._clock_start, self._samples = now, 0
        self._watch = RecordingWatch()

    def close(self) -> None:
        if self._stream is not None:
            self._stream.close()
            self._stream = None
        if self._watch is not None:
            self._watch.close()
            self._watch = None

    def __enter__(self) -> Microphone:
        self.open()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def events(self) -> Iterator[MicrophoneEvent]:
        """Blocks, Lost and Back for ever."""
        while True:
            event = self.next_event(0.1)
            if event is not None:
                yield event

    def next_event(self, timeout: float = 0.1) -> MicrophoneEvent | None:
        """The next block or change; None when nothing came within `timeout` seconds."""
        if self._stream is None:
            return self._try_again(timeout)
        try:
            at, late, raw = self._stream.blocks.get(timeout=timeout)
        except queue.Empty:
            idle = time.monotonic() - self._last_block
            if self._stream.ended:
                return self._lose("the sound server closed the recording")
            if idle >= LOST_AFTER_S:
                return self._lose(f"no sound came for {idle:.1f} s")
            return None
        self._last_block = time.monotonic()
        if self._watch is not None and self._watch.moved:
            return self._lose(self._watch.moved)
        lost = self._missing(at, len(raw) // 2)
        return Block(self._stream.to_16k(raw), at, lost, late)

    def drain(self) -> int:
        """Throw away the blocks that wait; returns how many. For a consumer that was away."""
        dropped = 0
        while self._stream is not None:
            try:
                self._stream.blocks.get_nowait()
                dropped += 1
            except queue.Empty:
                break
        self._last_block = time.monotonic()
        return dropped

    def _missing(self, at: float, samples: int) -> float:
        """Seconds of sound that the clock says should have come and did not (overflows are not flagged)."""
        assert self._stream is not None
        self._samples += samples
        heard = self._samples / self._stream.rate
        gap = (at - self._clock_start) - heard
        if gap > MISSING_S + 2 * self._block_ms / 1000:
            self._clock_start, self._samples = at, 0
            return gap
        if gap < 0 or at - self._clock_start > 30:  # jitter, and the drift of two clocks over a long job
            self._clock_start, self._samples = at, 0
        return 0.0

    def _lose(self, reason: str) -> Lost:
        self.close()
        self._next_try = time.monotonic() + BACKOFF_S[0]
        self._tries = 0
        return Lost(self._name, reason)

    def _try_again(self, timeout: float) -> Back | None:
        wait = self._next_try - time.monotonic()
        if wait > 0:
            time.sleep(min(wait, timeout))
            return None
        try:
            if self._rescan is not None:
                self._rescan()
            self.open()
        except MicrophoneError:
            self._wait_longer()
            return None
        assert self._watch is not None
        self._watch.wait()
        if self._watch.moved:
            self.close()  # the name is there, but the sound server gives another source
            self._wait_longer()
            return None
        return Back(self._name)

    def _wait_longer(self) -> None:
        self._tries += 1
        self._next_try = time.monotonic() + BACKOFF_S[min(self._tries, len(BACKOFF_S) - 1)]


def rescan_devices() -> None:
    """Make PortAudio list the devices anew (it lists them once, when it starts).

    Ends every open stream of this process, so the caller closes its loudspeaker first and opens it after.
    """
    library = sound_library()
    library._terminate()
    library._initialize()
