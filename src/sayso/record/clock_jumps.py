"""Entries that tell by how much the clock went forward without that time being spent awake."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

_WHY: Final = {
    "set_forward_ms": "the clock was set forward by",
    "asleep_ms": "the machine was asleep for",
    "jumped_ms": "the clock was set forward by, or the machine asleep for,",
}


def jumps(data: Mapping[str, Any]) -> list[tuple[int, str]]:
    """(milliseconds, what stands before them) of an entry 'clock'; [] of one that only marks how long the
    machine has run."""
    found = ((data.get(name), why) for name, why in _WHY.items())
    return [(ms, why) for ms, why in found if isinstance(ms, int) and ms > 0]
