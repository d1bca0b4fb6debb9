"""Sound that is kept while an ear listens: a little from before speech is noticed, then the speech itself."""

from __future__ import annotations

from collections import deque

from sayso.hearing.recogniser import SAMPLE_RATE

#: Sound kept from before speech is noticed, so that the first word is whole.
PRE_ROLL_S = 0.5
#: Longest clip kept.
LONGEST_CLIP_S = 65.0

_PRE_ROLL_BYTES = int(PRE_ROLL_S * SAMPLE_RATE) * 2
_LONGEST_CLIP_BYTES = int(LONGEST_CLIP_S * SAMPLE_RATE) * 2


class KeptSound:
    """Whole blocks of 16-bit audio. `clip` is empty until `begin()`."""

    def __init__(self) -> None:
        self._before: deque[bytes] = deque()
        self._before_bytes = 0
        self._clip: list[bytes] = []
        self._clip_bytes = 0

    @property
    def clip(self) -> bytes:
        return b"".join(self._clip)

    @property
    def clip_samples(self) -> int:
        return self._clip_bytes // 2

    def keep_before(self, pcm: bytes) -> None:
        """A block in which nobody speaks yet."""
        self._before.append(pcm)
        self._before_bytes += len(pcm)
        while self._before_bytes - len(self._before[0]) >= _PRE_ROLL_BYTES:
            self._before_bytes -= len(self._before.popleft())

    def forget_before(self) -> None:
        self._before.clear()
        self._before_bytes = 0

    def begin(self) -> None:
        """Speech was noticed in the last block: the clip begins with what was kept before it."""
        self._clip = list(self._before)
        self._clip_bytes = self._before_bytes
        self.forget_before()

    def keep(self, pcm: bytes) -> None:
        """A block of the speech that goes on."""
        if self._clip_bytes < _LONGEST_CLIP_BYTES:
            self._clip.append(pcm)
            self._clip_bytes += len(pcm)

    def begin_anew(self) -> None:
        """Speech began only now, over sound that passed for speech: the clip is cut to a pre-roll."""
        while self._clip and self._clip_bytes - len(self._clip[0]) >= _PRE_ROLL_BYTES:
            self._clip_bytes -= len(self._clip.pop(0))

    def forget_clip(self) -> None:
        self._clip = []
        self._clip_bytes = 0
