"""Time of day for events: milliseconds since the Unix epoch that never run backwards."""

from __future__ import annotations

import time


class Clock:
    """`skip` moves it forward: a rehearsal lets waits pass at once. Never used so in a real job."""

    def __init__(self, not_before_ms: int = 0) -> None:
        self._last_ms = not_before_ms
        self._skipped_ms = 0

    def now_ms(self) -> int:
        """Now, and never less than it said before (the system's clock may be set back)."""
        self._last_ms = max(self._last_ms, int(time.time() * 1000) + self._skipped_ms)
        return self._last_ms

    def skip_to(self, at_ms: int) -> None:
        """Makes it at least `at_ms`."""
        self._skipped_ms += max(0, at_ms - self.now_ms())
