"""One call of `advance` in the making: the state so far and the effects so far."""

from __future__ import annotations

from dataclasses import fields, replace
from operator import attrgetter
from typing import Any

from sayso.dialogue.effects import CancelTimer, Effect, KeepClip, Record, Say, SayKind, StartTimer, StopVoice
from sayso.dialogue.in_writing import in_writing
from sayso.dialogue.state import State, Visit

_FIELDS = tuple(item.name for item in fields(State))
_values_of = attrgetter(*_FIELDS)


class Turn:
    """Lives within one call only; the functions of this folder take it, change it and let it go."""

    def __init__(self, state: State, at_ms: int) -> None:
        self.state = state
        self.at_ms = at_ms
        self.effects: list[Effect] = []

    def update(self, **changes: Any) -> None:
        """As dataclasses.replace, which takes four times as long for the many fields of a state."""
        self.state = State(**{**dict(zip(_FIELDS, _values_of(self.state), strict=True)), **changes})

    def update_visit(self, index: int, **changes: Any) -> None:
        trail = self.state.trail
        self.update(trail=trail.set(index, replace(trail[index], **changes)))

    def visit_added(self, visit: Visit) -> None:
        trail = self.state.trail.append(visit)
        self.update(trail=trail, at=len(trail) - 1)

    def say(self, text: str, kind: SayKind, *, interruptible: bool = True) -> None:
        text = " ".join(text.split())
        # one line typed in a job by voice is a change of way for the reply, and for no later question
        if self.state.at_keyboard or kind != "question":
            text = in_writing(self.state, text)
        if not text:
            return
        state = self.state
        number = state.utterance + 1
        self.update(utterance=number, cut=False, saying=text)
        self.effects.append(Say(number, text, kind, interruptible, state.rate, state.volume))

    def record(self, kind: str, /, **data: Any) -> None:
        self.effects.append(Record(kind, data))

    def silence(self) -> None:
        """Stop the voice if it may still be speaking."""
        if self.state.finished_utterance < self.state.utterance:
            self.effects.append(StopVoice())
            self.update(finished_utterance=self.state.utterance)

    def start_timer(self, name: str, index: int, due_ms: int) -> None:
        self.update(timers=self.state.timers.set(name, index))
        self.effects.append(StartTimer(name, max(0.0, (due_ms - self.at_ms) / 1000.0), due_ms))

    def cancel_timer(self, name: str) -> None:
        if name in self.state.timers:
            self.update(timers=self.state.timers.remove(name))
            self.effects.append(CancelTimer(name))

    def keep_clip(self, note: str, seconds: float) -> None:
        self.effects.append(KeepClip(note, seconds))
