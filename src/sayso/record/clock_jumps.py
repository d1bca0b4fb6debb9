"""Entries that tell by how much the clock went forward without that time being spent awake."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

_WHY: Final = {
    "set_forward_ms": "the clock was set forward",
    "asleep_ms": "the machine was asleep",
    "jumped_ms": "the clock was set forward or the machine was asleep",
}


def jumps(data: Mapping[str, Any]) -> list[tuple[int, str]]:
    """(milliseconds, why) of an entry 'clock'; [] of one that only marks how long the machine has run."""
    found = ((data.get(name), why) for name, why in _WHY.items())
    return [(ms, why) for ms, why in found if isinstance(ms, int) and ms > 0]
