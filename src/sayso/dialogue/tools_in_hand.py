"""The measuring tools of a job: which they are, and how long their calibration holds."""

from __future__ import annotations

from collections.abc import Sequence

from sayso.dialogue import wording
from sayso.dialogue.events import ToolInHand
from sayso.dialogue.turn import Turn


def take(turn: Turn, tools: Sequence[ToolInHand]) -> None:
    """Record them. What a tool shows after its calibration has ended proves little, so that is told before
    the work; it is a deviation, which a second person may let stand."""
    for name, until, overdue in tools:
        turn.record("tool", tool=name, until=until, overdue=overdue)
        if overdue:
            turn.say(
                f"The calibration of {name} ended on {wording.day(until)}. Take another tool.", "caution"
            )
