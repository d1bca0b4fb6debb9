"""How much to say: sayso proposes another guidance level from what it measured, and says why.

It only proposes, once per job and direction; the technician or the apprentice decides by voice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sayso.dialogue.state import Effort, Level
from sayso.dialogue.turn import Turn

LEVELS: tuple[Level, ...] = ("brief", "normal", "full")

#: How many steps must be seen before anything is proposed: fewer say nothing about a person.
ENOUGH_STEPS = 5
#: How many of the last steps count: what was hard an hour ago is learnt by now.
LOOK_BACK = 8


@dataclass(frozen=True, slots=True)
class Proposal:
    direction: Literal["more", "less"]
    why: str


def propose(level: Level, steps: tuple[Effort, ...]) -> Proposal | None:
    """More or less detail for what the last steps show, or None.

    More when a repeat or help was asked for in at least half of the last steps, or when most of them were
    slower than three quarters of the shop's. Less when nothing was asked for and most were quicker than three
    quarters of the shop's. Words not understood are not the person's fault (noise, accent): with several of
    them less detail is not proposed, since each missed word costs more there.
    """
    last = steps[-LOOK_BACK:]
    if len(last) < ENOUGH_STEPS:
        return None
    place = LEVELS.index(level)
    asked = sum(1 for s in last if s.asked)
    known = [s for s in last if s.upper_s > 0]
    slow = sum(1 for s in known if s.seconds > s.upper_s)
    quick = sum(1 for s in known if s.seconds < s.lower_s)
    timed = len(known) >= ENOUGH_STEPS
    if place < len(LEVELS) - 1:
        if 2 * asked >= len(last):
            return Proposal("more", f"You asked for a repeat or for help in {asked} of {len(last)} steps.")
        if timed and 2 * slow > len(known):
            return Proposal("more", f"{slow} of {len(known)} steps took longer than they mostly do here.")
    if place > 0 and not asked and sum(s.missed for s in last) <= 1 and timed and 2 * quick > len(known):
        return Proposal("less", f"{quick} of {len(known)} steps were quicker than they mostly are here.")
    return None


def step_entered(turn: Turn) -> None:
    turn.update(asked_here=0, entered_ms=turn.at_ms)


def asked_for_help(turn: Turn) -> None:
    """A repeat or help on the step being talked about."""
    turn.update(asked_here=turn.state.asked_here + 1)


def step_done(turn: Turn) -> None:
    """Keep what this step showed and, when it is time, say what might suit better."""
    state = turn.state
    lower, upper = next(
        ((low, high) for step, low, high in state.usual if step == state.visit.step), (0.0, 0.0)
    )
    effort = Effort(
        seconds=(turn.at_ms - state.entered_ms) / 1000.0,
        asked=state.asked_here,
        missed=state.tries.no_match,
        lower_s=lower,
        upper_s=upper,
    )
    turn.update(efforts=(*state.efforts, effort)[-LOOK_BACK:])
    found = propose(state.level, turn.state.efforts)
    if found is None or state.quiet or found.direction in state.proposed:
        return
    turn.update(proposed=(*state.proposed, found.direction))
    turn.say(f"{found.why} Say {found.direction} detail if you want it.", "reply")
