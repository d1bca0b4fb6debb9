"""Times as people of this place read them."""

from __future__ import annotations

from datetime import UTC, datetime


def minute(at_ms: int) -> str:
    """'2026-11-25 14:05' by this machine's zone; `at_ms` in milliseconds since 1970."""
    return datetime.fromtimestamp(at_ms / 1000, UTC).astimezone().strftime("%Y-%m-%d %H:%M")
