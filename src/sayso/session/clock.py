"""Time of day for events: milliseconds since the Unix epoch that never run back and never stand still."""

from __future__ import annotations

import time


class Clock:
    """The system's clock, as long as it goes forward. When it is set back, time goes on from where it was at
    its true pace: a wait that waited for the old hour to come again would last until then.

    `skip_to` moves it forward: a rehearsal lets waits pass at once. Never used so in a real job.
    """

    def __init__(self, not_before_ms: int = 0) -> None:
        self._last_ms = float(not_before_ms)
        self._looked = time.monotonic()
        self._skipped_ms = 0

    def now_ms(self) -> int:
        """Now, and never less than it said before."""
        looked = time.monotonic()
        passed_ms = (looked - self._looked) * 1000
        self._looked = looked
        self._last_ms = max(self._last_ms + passed_ms, int(time.time() * 1000) + self._skipped_ms)
        return int(self._last_ms)

    def skip_to(self, at_ms: int) -> None:
        """Makes it at least `at_ms`."""
        self._skipped_ms += max(0, at_ms - self.now_ms())
