"""Time of day for events: milliseconds since the Unix epoch that never run back and never stand still."""

from __future__ import annotations

import hashlib
import sys
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

#: A clock that is trimmed by the network moves by less than this at a time.
TRIMMED_MS = 1000


def since_boot_s() -> float:
    """Goes on while the machine sleeps (on Linux `time.monotonic` does not), and is never set."""
    if sys.platform == "linux":
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    return time.monotonic()


def asleep_s() -> float:
    """How long the machine has slept since it was started, as far as its system tells (Linux); 0.0 elsewhere.

    In this order: a process that is stopped between the two looks has seen no sleep that was none."""
    if sys.platform == "linux":
        return since_boot_s() - time.monotonic()
    return 0.0


def since_boot_mark() -> dict[str, Any]:
    """For the record: how long this machine has run, and which of its runs that is, so that a later start of
    the program knows how much time has passed whatever the clock was set to. {} where no system tells it."""
    try:
        run = Path("/proc/sys/kernel/random/boot_id").read_bytes()
    except OSError:
        return {}
    return {"boot": hashlib.sha256(run).hexdigest()[:16], "since_boot_ms": int(since_boot_s() * 1000)}


def true_ms(at_ms: int, mark: Mapping[str, Any]) -> int | None:
    """What time it is by a mark that was made at `at_ms`; None when the machine was started anew since (its
    clock may have been set meanwhile, and nothing can tell), or when it is another machine."""
    now = since_boot_mark()
    if not now or now["boot"] != mark.get("boot"):
        return None
    return at_ms + max(0, int(now["since_boot_ms"]) - int(mark["since_boot_ms"]))


class Clock:
    """The system's clock, as long as it goes forward. When it is set back, time goes on from where it was at
    its true pace: a wait that waited for the old hour to come again would last until then.

    `waiting`: a wait runs. When the clock is set forward meanwhile (a laptop that lost the time and found the
    network), time goes on at its true pace until the wait is over: capacitors discharge no sooner for it.
    `paced_ms`: the true time by a mark in the record (`true_ms`), for a wait that began before this start of
    the program: it counts where the system's clock is elsewhere.

    `lost`: what it went forward by though no such time was spent awake. The record keeps it, so that no
    step seems to have taken hours.

    `skip_to` moves it forward: a rehearsal lets waits pass at once. Never used so in a real job.
    """

    def __init__(self, not_before_ms: int = 0, paced_ms: int | None = None) -> None:
        self._skipped_ms = 0
        self._looked = since_boot_s()
        wall_ms = self._wall_ms()
        if paced_ms is not None and abs(wall_ms - paced_ms) > TRIMMED_MS:
            wall_ms = paced_ms
        self._last_ms = float(max(not_before_ms, wall_ms))
        self.waiting = False
        self._asleep_s = asleep_s()
        self._slept_ms = self._set_forward_ms = 0.0

    def now_ms(self) -> int:
        """Now, and never less than it said before."""
        wall_ms = self._wall_ms()  # first: a process stopped between the two looks has seen no clock set
        looked = since_boot_s()
        paced_ms = self._last_ms + (looked - self._looked) * 1000
        self._looked = looked
        set_forward = wall_ms > paced_ms + TRIMMED_MS
        if set_forward and not self.waiting:
            self._set_forward_ms += wall_ms - paced_ms
        self._last_ms = paced_ms if set_forward and self.waiting else max(paced_ms, wall_ms)
        slept = asleep_s()
        if slept > self._asleep_s:  # never less: the two looks behind it are not one moment
            self._slept_ms += (slept - self._asleep_s) * 1000
            self._asleep_s = slept
        return int(self._last_ms)

    def lost(self) -> dict[str, int]:
        """For the record, in milliseconds since `told_lost`; {} as a rule. `jumped_ms`: set forward or
        asleep, on a system that does not tell which."""
        set_forward = "set_forward_ms" if sys.platform == "linux" else "jumped_ms"
        found = {set_forward: self._set_forward_ms, "asleep_ms": self._slept_ms}
        return {name: int(ms) for name, ms in found.items() if ms > TRIMMED_MS}

    def told_lost(self) -> None:
        """It stands in the record."""
        self._slept_ms = self._set_forward_ms = 0.0

    def skip_to(self, at_ms: int) -> None:
        """Makes it at least `at_ms`."""
        self._skipped_ms += max(0, at_ms - self.now_ms())
        self._last_ms = max(self._last_ms, at_ms)

    def _wall_ms(self) -> int:
        return int(time.time() * 1000) + self._skipped_ms
