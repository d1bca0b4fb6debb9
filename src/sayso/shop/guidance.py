"""How much to say: sayso proposes another guidance level from what it measured, and says why.

It only proposes; the technician or the apprentice decides by voice.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median
from typing import Literal

Level = Literal["full", "normal", "brief"]
LEVELS: tuple[Level, ...] = ("brief", "normal", "full")

#: How many steps must be seen before anything is proposed: fewer say nothing about a person.
ENOUGH_STEPS = 5
#: How many of the last steps count: what was hard an hour ago is learnt by now.
LOOK_BACK = 8


@dataclass(frozen=True, slots=True)
class StepDone:
    """What was measured on one step. Seconds. The shop's quartiles are None where too few jobs are known."""

    seconds: float
    repeats: int
    helps: int
    no_matches: int
    shop_lower_quartile_s: float | None = None
    shop_upper_quartile_s: float | None = None


@dataclass(frozen=True, slots=True)
class Proposal:
    level: Level
    why: str


def propose(level: Level, steps: tuple[StepDone, ...]) -> Proposal | None:
    """A better level for what the last steps show, or None.

    More guidance when help or repeats were asked for in at least half of the last steps, or most were slower
    than three quarters of the shop's. Less when none was asked for and most were quicker than the shop's
    median half. No-matches are not the person's fault (noise, accent): they never lower anything, but with
    many the brief level is not proposed since each missed word costs more there.
    """
    if len(steps) < ENOUGH_STEPS:
        return None
    last = steps[-LOOK_BACK:]
    asked = sum(1 for s in last if s.repeats + s.helps > 0)
    known = [s for s in last if s.shop_upper_quartile_s is not None and s.shop_lower_quartile_s is not None]
    slow = sum(1 for s in known if s.seconds > (s.shop_upper_quartile_s or 0.0))
    quick = sum(1 for s in known if s.seconds < (s.shop_lower_quartile_s or 0.0))
    missed = sum(s.no_matches for s in last)
    place = LEVELS.index(level)
    if place < 2 and 2 * asked >= len(last):
        return Proposal(
            LEVELS[place + 1], f"you asked for a repeat or for help in {asked} of the last {len(last)} steps"
        )
    if place < 2 and len(known) >= ENOUGH_STEPS and 2 * slow > len(known):
        return Proposal(
            LEVELS[place + 1],
            f"{slow} of the last {len(known)} steps took longer than three quarters of this shop's jobs",
        )
    if place > 0 and asked == 0 and missed <= 1 and len(known) >= ENOUGH_STEPS and 2 * quick > len(known):
        return Proposal(
            LEVELS[place - 1],
            f"{quick} of the last {len(known)} steps were in the shop's quickest quarter without a repeat",
        )
    return None


def typical_seconds(steps: tuple[StepDone, ...]) -> float:
    """Median time of the steps, seconds; 0 when there are none."""
    return median([s.seconds for s in steps]) if steps else 0.0
