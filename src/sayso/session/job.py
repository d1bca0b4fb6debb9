"""One running job: state, journal and timers. An event is durable before anybody acts upon it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, Protocol

from sayso import dialogue
from sayso.dialogue.codec import event_from_json, event_to_json
from sayso.dialogue.effects import Effect, End, Record
from sayso.dialogue.events import Event, Resumed, TimerDone
from sayso.dialogue.state import State
from sayso.procedure.model import Procedure
from sayso.session.clock import Clock, since_boot_mark, true_ms
from sayso.session.timers import Timers


class JournalLike(Protocol):
    """What a job needs of the record (record.Journal is one)."""

    job: str

    def commit(self, event: Mapping[str, Any], records: Any = ()) -> None: ...
    def events(self) -> list[dict[str, Any]]: ...
    def keep_clip(self, audio: bytes, *, media_type: str = "audio/wav") -> str: ...
    def close(self) -> None: ...


class Job:
    """`handle` is the only way to change a job."""

    def __init__(self, procedure: Procedure, journal: JournalLike, clock: Clock | None = None) -> None:
        self.procedure = procedure
        self.journal = journal
        self.clock = clock or Clock()
        self.timers = Timers()
        self.state: State = dialogue.begin(procedure)
        self.outcome: str | None = None

    @classmethod
    def replayed(
        cls, procedure: Procedure, journal: JournalLike, seen: tuple[int, Mapping[str, Any]] | None = None
    ) -> Job:
        """The job as its journal left it: every event again, no effect carried out, timers still due.

        `seen`: the latest 'clock' entry, its time and data, by which a wait goes on at its true pace."""
        job = cls(procedure, journal)
        last_ms = 0
        for data in journal.events():
            event = event_from_json(data)
            last_ms = max(last_ms, event.at_ms)
            job._advance(event)
        waiting = job.timers.next is not None
        job.clock = Clock(last_ms, true_ms(*seen) if seen and waiting else None)
        job.clock.waiting = waiting
        return job

    def handle(self, event: Event) -> tuple[Effect, ...]:
        """Commits `event` with the record entries it leads to; returns the effects to carry out.

        Raises NotRecordedError when it could not be made durable: then nothing has changed, and the same
        event may be tried again.
        """
        event = replace(event, at_ms=max(event.at_ms, self.clock.now_ms()))
        state, effects = dialogue.advance(self.state, event)
        records: list[Record | Mapping[str, Any]] = [e for e in effects if isinstance(e, Record)]
        # Before the others: the time lost is the step's that was at work until now. At a new start of the
        # program it lies in the time away.
        if (lost := self.clock.lost()) and not isinstance(event, Resumed):
            records.insert(0, {"kind": "clock", "data": since_boot_mark() | lost})
        if (
            state.timers
            and (not self.state.timers or isinstance(event, Resumed))
            and (mark := since_boot_mark())
        ):
            # The clock may be set before the program is started again, and a wait must not end sooner for it.
            records.append({"kind": "clock", "data": mark})
        self.journal.commit(event_to_json(event), records)
        self.clock.told_lost()
        self._accept(state, event, effects)
        return effects

    def _advance(self, event: Event) -> None:
        state, effects = dialogue.advance(self.state, event)
        self._accept(state, event, effects)

    def _accept(self, state: State, event: Event, effects: Iterable[Effect]) -> None:
        self.state = state
        if isinstance(event, TimerDone):
            self.timers.done(event.name)
        self.timers.follow(effects)
        self.clock.waiting = self.timers.next is not None
        for effect in effects:
            if isinstance(effect, End):
                self.outcome = effect.outcome
