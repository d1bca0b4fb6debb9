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

    More when in at least half of the last steps a repeat or help was asked for, or two answers were not
    understood, or when most steps were slower than three quarters of the shop's. Less when nothing was asked
    for and most steps were quicker than three quarters of the shop's. Words not understood while it is loud
    say nothing of the person and are not counted. With more than one of the others less detail is not
    proposed, since each missed word costs more there.
    """
    last = steps[-LOOK_BACK:]
    if len(last) < ENOUGH_STEPS:
        return None
    place = LEVELS.index(level)
    asked = sum(1 for s in last if s.asked)
    missed = sum(1 for s in last if s.missed > 1)
    known = [s for s in last if s.upper_s > 0]
    slow = sum(1 for s in known if s.seconds > s.upper_s)
    quick = sum(1 for s in known if s.seconds < s.lower_s)
    timed = len(known) >= ENOUGH_STEPS
    if place < len(LEVELS) - 1:
        if 2 * asked >= len(last):
            return Proposal("more", f"You asked for a repeat or for help in {asked} of {len(last)} steps.")
        if 2 * missed >= len(last):
            return Proposal("more", f"In {missed} of {len(last)} steps I did not understand you at once.")
        if timed and 2 * slow > len(known):
            return Proposal("more", f"{slow} of {len(known)} steps took longer than they mostly do here.")
    if place > 0 and not asked and sum(s.missed for s in last) <= 1 and timed and 2 * quick > len(known):
        return Proposal("less", f"{quick} of {len(known)} steps were quicker than they mostly are here.")
    return None


def step_entered(turn: Turn) -> None:
    """The step is about to be told: its time and its counts begin."""
    turn.update(asked_here=0, missed_here=0, entered_ms=turn.at_ms)


def interrupted(turn: Turn) -> None:
    """A break, a lost device, a step gone back to: how long the step in hand takes now says nothing."""
    turn.update(entered_ms=0)


def asked_for_help(turn: Turn) -> None:
    """A repeat or help on the step being talked about."""
    turn.update(asked_here=turn.state.asked_here + 1)


def not_understood(turn: Turn) -> None:
    """Something was said to the step in hand that is no answer."""
    if turn.state.at_step and not turn.state.noisy:
        turn.update(missed_here=turn.state.missed_here + 1)


def step_done(turn: Turn) -> None:
    """Keep what this step showed and, when it is time, say what might suit better."""
    state = turn.state
    timed = state.entered_ms > 0
    usual = ((low, high) for step, low, high in state.usual if timed and step == state.visit.step)
    lower, upper = next(usual, (0.0, 0.0))
    effort = Effort(
        seconds=(turn.at_ms - state.entered_ms) / 1000.0 if timed else 0.0,
        asked=state.asked_here,
        missed=state.missed_here,
        lower_s=lower,
        upper_s=upper,
    )
    turn.update(efforts=(*state.efforts, effort)[-LOOK_BACK:])
    found = propose(state.level, turn.state.efforts)
    if found is None or state.quiet or found.direction in state.proposed:
        return
    turn.update(proposed=(*state.proposed, found.direction))
    turn.say(f"{found.why} Say {found.direction} detail if you want it.", "reply")
