"""Takes sayso's own voice out of the microphone: a job with a loudspeaker can be interrupted by talking."""

from __future__ import annotations

import queue

import numpy as np
import soxr

from sayso.hearing.echo_canceller import Cleaned, EchoCanceller
from sayso.hearing.echo_check import Coupling
from sayso.hearing.echo_libraries import NoEcho
from sayso.hearing.levels import Samples as Heard
from sayso.hearing.recogniser import SAMPLE_RATE
from sayso.session.room_check import RoomCheck
from sayso.speaking.loudness import Samples

#: Blocks of the voice further apart than this are two stretches of speech.
GAP_S = 0.05


class OwnVoice:
    """`played` from the player's thread; `taken_out_of`, or `only_watched`, from the ear's.

    `takes_out`: False measures the room and takes nothing out; then only `only_watched` is of use.
    """

    def __init__(self, device_rate: int, *, takes_out: bool) -> None:
        self.takes_out = takes_out
        self._rate = device_rate
        # a canceller's library costs 43 MB: none where nothing is taken out
        self._canceller = EchoCanceller() if takes_out else EchoCanceller(NoEcho())
        self._canceller.aligned = self._check
        self._room = RoomCheck()
        self._found: Coupling | None = None
        self._blocks: queue.SimpleQueue[tuple[Samples, float]] = queue.SimpleQueue()
        self._resampler: soxr.ResampleStream | None = None
        self._next_at = 0.0
        self._told_to = 0.0

    def played(self, samples: Samples, heard_at: float) -> None:
        """A block at the device's rate; `heard_at` is time.monotonic() of its first sample."""
        self._blocks.put((samples, heard_at))

    def taken_out_of(self, pcm: bytes, at: float) -> Cleaned:
        """The microphone's block that arrived `at`, without the voice (whole frames of 10 ms)."""
        self._tell_all()
        return self._canceller.clean(pcm, at)

    def only_watched(self, pcm: bytes, at: float) -> None:
        """The microphone's block that arrived `at` tells about the room and stays as it is."""
        self._tell_all()
        self._canceller.watch(pcm, at)

    def coupling(self) -> Coupling | None:
        """What the last stretch of talk told about the room, once."""
        found, self._found = self._found, None
        return found

    def expect_delay(self, seconds: float) -> None:
        """The voice comes back so late."""
        self._canceller.expect_delay(seconds)

    def _check(self, played: Heard, heard: Heard) -> None:
        self._found = self._room.feed(played, heard) or self._found

    @property
    def least_dbfs(self) -> float:
        """Sound below this may be what is left of the voice and is not speech."""
        return self._canceller.leftover_dbfs

    @property
    def learned(self) -> bool:
        """The room is known well enough to listen while the voice speaks."""
        return self._canceller.learned

    def close(self) -> None:
        self._canceller.close()

    def _tell_all(self) -> None:
        while not self._blocks.empty():
            self._tell(*self._blocks.get_nowait())

    def _tell(self, samples: Samples, heard_at: float) -> None:
        if self._resampler is None or abs(heard_at - self._next_at) > GAP_S:
            self._resampler = soxr.ResampleStream(self._rate, SAMPLE_RATE, 1, dtype="float32", quality="QQ")
            self._told_to = heard_at
        self._next_at = heard_at + samples.size / self._rate
        reference = self._resampler.resample_chunk(samples)
        if reference.size:
            self._canceller.played((np.clip(reference, -1, 1) * 32767).astype(np.int16), self._told_to)
            self._told_to += reference.size / SAMPLE_RATE
