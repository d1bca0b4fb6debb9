"""A technician who does a demo job of Fernhill Depot from end to end, to make records worth looking at.

`answer(state, luck)` gives the next event: the right one for most questions, and now and then what a
shop brings: a torque out of limits, a mumble, silence, a skipped step, a hold, a spoken note.
"""

from __future__ import annotations

import random
from pathlib import Path

from sayso.dialogue.events import ClipKept, Event, Heard, NoInput, NoMatch, TimerDone, VoiceFinished
from sayso.dialogue.state import Aside, Awaiting, State
from sayso.procedure.conditions import evaluate
from sayso.procedure.model import (
    AskChoice,
    AskCount,
    AskMeasure,
    AskNote,
    AskSerial,
    AskTime,
    AskTorque,
    AskWitness,
    AskYesNo,
)

PROCEDURES = Path(__file__).parents[2] / "procedures"
DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")

#: answers by name where the kind alone does not say what fits
KNOWN = {
    "pins": "8",
    "controller": "HK204518",
    "link_voltage": "2.1",
    "battery_voltage": "0",
    "wheel_diameter": "406",
}


class Technician:
    """`at_ms` is this person's clock; `mishaps` the share of questions at which something else happens."""

    def __init__(
        self,
        at_ms: int,
        luck: random.Random,
        *,
        mishaps: float = 0.0,
        known: dict[str, str] | None = None,
        bias: float = 0.0,
        spread: float = 0.02,
    ) -> None:
        self.at_ms = at_ms
        self.luck = luck
        self.mishaps = mishaps
        self.known = {**KNOWN, **(known or {})}
        self.bias, self.spread = bias, spread

    def _pass(self, low_s: float, high_s: float) -> int:
        self.at_ms += round(self.luck.uniform(low_s, high_s) * 1000)
        return self.at_ms

    def _heard(self, words: str, low_s: float = 2.0, high_s: float = 9.0) -> Heard:
        confidence = round(min(1.0, self.luck.gauss(0.97, 0.03)), 3)
        return Heard(self._pass(low_s, high_s), tuple(words.split()), confidence, typed=False)

    def next_event(self, state: State) -> Event:
        """What happens next to a job that is in this state."""
        if state.speaking:
            return VoiceFinished(self._pass(1.0, 3.0), state.utterance)
        if state.held:
            return self._heard("carry on", 60, 900)
        if state.aside is Aside.SKIP_REASON:
            return self._heard("not fitted")
        if state.aside is Aside.NOTE:
            return ClipKept(self._pass(4, 8), f"note {state.notes}", "", 5.0)
        match state.awaiting:
            case Awaiting.READY:
                return self._heard("ready", 20, 60)
            case Awaiting.CAUTION:
                return self._heard("understood")
            case Awaiting.WAIT:
                name = next(iter(state.timers))
                self.at_ms = max(self.at_ms, state.visit.due_ms)
                return TimerDone(self.at_ms, name)
            case Awaiting.CONFIRM:
                return self._heard("yes", 1.0, 3.0)
            case Awaiting.DEVIATION:
                return self._heard("carry on" if self.luck.random() < 0.3 else self._right(state), 10, 40)
            case Awaiting.SETTLE:
                return self._heard("undone", 10, 60)
            case Awaiting.KEEP_REASON:
                return self._heard("not needed")
            case Awaiting.STILL_HOLDS:
                return self._heard("yes")
        return self._mishap(state) or self._heard(self._right(state), 6, 45)

    def _mishap(self, state: State) -> Event | None:
        if self.luck.random() >= self.mishaps:
            return None
        what = self.luck.choice(("no match", "no match", "no input", "hold", "repeat", "off"))
        if what == "no match":
            return NoMatch(self._pass(3, 9))
        if what == "no input":
            return NoInput(self._pass(12, 12))
        if what == "off" and isinstance(state.step.ask, AskTorque):
            ask = state.step.ask
            return self._heard(f"{ask.target * self.luck.choice((0.84, 1.16)):.1f} N.m", 10, 30)
        return self._heard("hold" if what == "hold" else "repeat")

    def _right(self, state: State) -> str:
        ask = state.step.ask
        if ask.name in self.known:
            return self.known[ask.name]
        match ask:
            case AskTorque():
                value = ask.target * (1 + self.bias + self.luck.gauss(0, self.spread))
                return f"{value:.1f} N.m"
            case AskCount():
                return str((ask.low + ask.high) // 2)
            case AskMeasure() if state.step.expect:
                return f"{float(evaluate(state.step.expect, dict(state.values))):.2f}"
            case AskMeasure():
                limits = [x for x in (ask.below, ask.above, ask.at_least, ask.at_most) if x is not None]
                return (
                    f"{sum(limits) / len(limits):.2f}"
                    if len(limits) > 1
                    else f"{(limits or [1.0])[0] * 0.9:.1f}"
                )
            case AskSerial():
                return "KD204518"
            case AskTime():
                return "14:05"
            case AskYesNo():
                return "yes"
            case AskChoice():
                return ask.options[0].words[0]
            case AskWitness():
                code = ask.codes[0][0] if ask.codes else "4471"
                return " ".join(DIGITS[int(digit)] for digit in code)
            case AskNote():
                return "noted"
        return "done"
