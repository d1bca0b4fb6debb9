"""A rehearsal in the browser: the real dialogue, typed, without a record. Waits pass at once."""

from __future__ import annotations

import secrets
import threading
import time
from collections import OrderedDict
from dataclasses import dataclass, field

from sayso.dialogue import advance, begin
from sayso.dialogue.effects import Effect, End, Say, StartTimer
from sayso.dialogue.events import Event, Heard, Started, TimerDone, VoiceFinished
from sayso.dialogue.state import State
from sayso.procedure.model import Procedure

LEVELS = ("normal", "full", "brief")

#: Open rehearsals kept at once; the one unused for longest goes first.
MOST = 20


@dataclass
class Rehearsal:
    state: State
    at_ms: int
    said: list[tuple[str, str]] = field(default_factory=list)  #: (who, text), who is 'sayso' or 'you'
    outcome: str = ""


class Rehearsals:
    """All rehearsals of one server. Used from the server's threads only, one at a time."""

    def __init__(self) -> None:
        self._open: OrderedDict[str, Rehearsal] = OrderedDict()
        self._turn = threading.Lock()

    def start(self, procedure: Procedure, level: str = "normal") -> str:
        """Begins one; returns the key under which it goes on. At full detail every question before telling
        is asked, as a learner would be who knows nothing yet. Raises ValueError for an unknown level."""
        if level not in LEVELS:
            raise ValueError(f"level must be one of {', '.join(LEVELS)}, not {level!r}")
        key = secrets.token_urlsafe(8)
        rehearsal = Rehearsal(begin(procedure), int(time.time() * 1000))
        with self._turn:
            self._open[key] = rehearsal
            while len(self._open) > MOST:
                self._open.popitem(last=False)
            asked = tuple(q.id for questions in rehearsal.state.plan.questions for q in questions)
            first = Started(rehearsal.at_ms, f"rehearsal-{key}", level=level, ask_first=asked)  # type: ignore[arg-type]
            _give(rehearsal, first)
        return key

    def get(self, key: str) -> Rehearsal | None:
        with self._turn:
            return self._open.get(key)

    def say(self, key: str, words: str) -> Rehearsal | None:
        """The technician's words; None when the rehearsal is not (or no longer) there."""
        with self._turn:
            rehearsal = self._open.get(key)
            if rehearsal is None:
                return None
            self._open.move_to_end(key)
            if not rehearsal.outcome:
                rehearsal.said.append(("you", words))
                _give(rehearsal, Heard(rehearsal.at_ms, tuple(words.split()), typed=True))
        return rehearsal


def _give(rehearsal: Rehearsal, first: Event) -> None:
    """One event and all that follows from it: each utterance heard to its end, each timer run out."""
    waiting: list[Event] = [first]
    while waiting and not rehearsal.outcome:
        rehearsal.at_ms += 1
        rehearsal.state, effects = advance(rehearsal.state, waiting.pop(0))
        waiting += _follow(rehearsal, effects)


def _follow(rehearsal: Rehearsal, effects: tuple[Effect, ...]) -> list[Event]:
    events: list[Event] = []
    timers: list[Event] = []
    for effect in effects:
        if isinstance(effect, Say):
            rehearsal.said.append(("sayso", effect.text))
            events.append(VoiceFinished(rehearsal.at_ms, effect.utterance))
        elif isinstance(effect, StartTimer):
            rehearsal.at_ms = max(rehearsal.at_ms, effect.due_ms)
            timers.append(TimerDone(rehearsal.at_ms, effect.name))
        elif isinstance(effect, End):
            rehearsal.outcome = effect.outcome
    return events + timers
