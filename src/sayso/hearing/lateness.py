"""How late a block of sound came: a busy machine brings it up to a second late, then in a burst.

PortAudio's own times do not tell (through PulseAudio the age of a block is 0 or less in most callbacks, seen
under a load of 6). So the samples are the clock: sound arrives as fast as it is recorded, and the block that
was quickest on its way lately is the measure for the others.
"""

from __future__ import annotations

#: The quickest block is looked for in the last one to two of these. Sound that is lost makes all that follows
#: look late for as long; two clocks drift apart by far less than a millisecond in it.
WINDOW_S = 5.0


class Lateness:
    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._samples = 0
        self._least = self._least_before = float("inf")
        self._window_from = 0.0

    def of(self, at: float, samples: int) -> float:
        """Seconds that a block of so many samples, come `at` (time.monotonic()), took longer than the
        quickest."""
        self._samples += samples
        offset = at - self._samples / self._rate
        if at - self._window_from > WINDOW_S:
            self._least_before, self._least, self._window_from = self._least, offset, at
        self._least = min(self._least, offset)
        return offset - min(self._least, self._least_before)
