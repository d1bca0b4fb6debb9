"""The loop of a job: take what happened, commit it, carry out what follows; one event at a time.

Plain threads and one queue, because everything that blocks here is a thread already (PortAudio's callbacks,
vosk, the voice's child process, a keyboard), and because one queue gives events one order: the journal's.
"""

from __future__ import annotations

import queue
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from sayso.dialogue.effects import (
    CancelTimer,
    Effect,
    End,
    KeepClip,
    Listen,
    Record,
    Say,
    ShowStep,
    StartTimer,
    StopListening,
    StopVoice,
)
from sayso.dialogue.events import Event, Heard, NoInput, NoMatch, TimerDone
from sayso.dialogue.state import State
from sayso.record.errors import NotRecordedError, ReadOnlyError
from sayso.session.job import Job

#: Events after which the ear has closed.
HEARING = (Heard, NoMatch, NoInput)

#: How long to wait before an event that could not be made durable is tried again.
RETRY_S = 2.0
#: How long the sound of a note is tried again: somebody may make room. It is far larger than an entry, so the
#: job goes on without it where entries still fit; what was answered is never given up so.
KEEP_NOTE_S = 60.0

#: A key that comes so soon after a new question was meant for the one before (or is a bounce of the pedal, or
#: the second click of two): people need about a quarter of a second to react to what they see or hear
#: (simple reaction time, from memory of the literature on it).
REACTION_MS = 250


class Hands(Protocol):
    """What carries out effects: a voice and an ear, or a terminal. Called from the loop's thread only."""

    def say(self, effect: Say) -> None: ...
    def stop_voice(self) -> None: ...
    def listen(self, effect: Listen, question: int, state: State) -> None: ...
    def stop_listening(self) -> None: ...
    def keep_clip(self, effect: KeepClip) -> None: ...
    def may_press(self, event: Event) -> bool:
        """Whether a key, or words typed beside the voice, count at this moment."""

    def after(self, event: Event, state: State) -> None:
        """Every effect of `event` has been carried out."""

    def ready(self) -> None:
        """All that happened was handled; what comes next comes from the technician or the clock."""

    def alert(self, text: str) -> None:
        """Tell at once what the machine cannot know (the record fails)."""

    def finish(self) -> None:
        """Speak to the end what is waiting; the job is over."""


@dataclass(frozen=True, slots=True)
class Happened:
    """An event on its way in. `question` is the number of the Listen that it answers, 0 when it answers none:
    a word spoken to a question that is no longer open must not answer the next one. `pressed`: it is a key,
    or words typed beside the voice, which name no question but were meant for the one that was open then."""

    event: Event
    question: int = 0
    pressed: bool = False
    #: puts the sound of a note on the disk and gives the event that names it; `event` tells that it could not
    keep: Callable[[], Event] | None = None


class JobLeftError(Exception):
    """The technician leaves; the job stays open. `why` is for people."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


class Loop:
    """Runs one job. `post` may be called from any thread."""

    def __init__(self, job: Job, watch: Callable[[Mapping[str, Any]], None] | None = None) -> None:
        self._job = job
        self._watch = watch
        self._inbox: queue.SimpleQueue[Happened | JobLeftError] = queue.SimpleQueue()
        self._question = 0
        #: what is asked: the context of the Listen and, at a read-back, the value that was read back
        self._context = ("", "")
        self._context_since_ms = 0
        self._read_back = ""
        self._listen: Listen | None = None
        self._contexts: dict[int, tuple[str, str]] = {}
        self._begun = False

    def now_ms(self) -> int:
        """Time stamp for an event that happens now."""
        return self._job.clock.now_ms()

    def post(self, event: Event, question: int = 0) -> None:
        self._inbox.put(Happened(event, question))

    def post_note(self, keep: Callable[[], Event], without: Event) -> None:
        """The sound of a note: `keep` puts it on the disk and names it, `without` tells that it could not."""
        self._inbox.put(Happened(without, keep=keep))

    def press(self, event: Event) -> None:
        """A key of the page, the keyboard or a pedal, or words typed there: `event` happens now."""
        self._inbox.put(Happened(event, pressed=True))

    def leave(self, why: str) -> None:
        """Ends the loop with JobLeftError after what came before."""
        self._inbox.put(JobLeftError(why))

    def run(self, first: Event, hands: Hands, *, waits_pass: bool = False) -> str:
        """Handles `first` and all that follows until the job ends; returns its outcome.

        `waits_pass`: timers are due at once (a rehearsal). Raises JobLeftError when the technician leaves.
        """
        self._handle(Happened(first), hands)
        while self._job.outcome is None:
            if waits_pass:
                self._pass_the_wait(hands)
            if self._inbox.empty():
                hands.ready()
            happened = self._next()
            if isinstance(happened, JobLeftError):
                raise happened
            if happened is not None:
                self._handle(happened, hands)
        hands.finish()
        return self._job.outcome

    def _next(self) -> Happened | JobLeftError | None:
        try:
            return self._inbox.get(timeout=self._job.timers.seconds_left(self.now_ms()))
        except queue.Empty:
            due = self._job.timers.next
            return Happened(TimerDone(self.now_ms(), due[0])) if due else None

    def _pass_the_wait(self, hands: Hands) -> None:
        due = self._job.timers.next
        if due is not None:
            self._job.clock.skip_to(due[1])
            self._handle(Happened(TimerDone(self.now_ms(), due[0])), hands)

    def _handle(self, happened: Happened, hands: Hands) -> None:
        if self._is_late(happened) or (happened.pressed and not hands.may_press(happened.event)):
            return
        event = (
            happened.event if happened.keep is None else self._note_kept(happened.keep, happened.event, hands)
        )
        effects = self._commit(event, hands)
        for effect in effects:
            self._carry_out(effect, hands)
        if isinstance(event, HEARING) and not any(isinstance(e, Listen | End) for e in effects):
            self._keep_listening(hands)
        hands.after(event, self._job.state)

    def _is_late(self, happened: Happened) -> bool:
        if happened.pressed:
            return happened.event.at_ms < self._context_since_ms + REACTION_MS
        if happened.question in (0, self._question):
            return False
        return self._contexts.get(happened.question) != self._context

    def _ask(self, listen: Listen) -> None:
        self._question += 1
        # "Nine. Yes?" and "Twelve. Yes?" are two questions: a yes to the one is none to the other.
        asked = (listen.context, self._read_back if listen.context.startswith("confirm ") else "")
        if asked != self._context:
            self._context_since_ms = self.now_ms()
        self._context = asked
        self._contexts = {n: was for n, was in self._contexts.items() if n > self._question - 50}
        self._contexts[self._question] = asked
        self._listen = listen

    def _keep_listening(self, hands: Hands) -> None:
        """What was heard led to nothing (talk while the job is on hold): the same question stays open."""
        if self._listen is not None:
            hands.listen(self._listen, self._question, self._job.state)

    def _note_kept(self, keep: Callable[[], Event], without: Event, hands: Hands) -> Event:
        told = False
        until = time.monotonic() + KEEP_NOTE_S
        while True:
            try:
                return keep()
            except NotRecordedError as failure:
                if not told:
                    hands.alert(f"The note is not kept yet. It is tried for a minute. {failure}")
                    told = True
                if time.monotonic() >= until:
                    return without
                time.sleep(RETRY_S)

    def _commit(self, event: Event, hands: Hands) -> tuple[Effect, ...]:
        told = False
        while True:
            try:
                effects = self._job.handle(event)
                self._begun = True
                return effects
            except NotRecordedError as failure:
                if isinstance(failure, ReadOnlyError) and not self._begun:
                    raise  # who may not write this record at all would wait for ever
                # Going on would speak the next step of a job whose last answer may be lost.
                if not told:
                    hands.alert(f"Not recorded. The job waits. {failure}")
                    told = True
                time.sleep(RETRY_S)

    def _carry_out(self, effect: Effect, hands: Hands) -> None:
        match effect:
            case Say():
                if effect.kind == "read_back":
                    self._read_back = effect.text
                hands.say(effect)
            case StopVoice():
                hands.stop_voice()
            case Listen():
                self._ask(effect)
                hands.listen(effect, self._question, self._job.state)
            case StopListening():
                self._listen = None
                hands.stop_listening()
            case KeepClip():
                hands.keep_clip(effect)
            case ShowStep():
                if self._watch is not None:
                    self._watch(effect.view)
            case Record() | StartTimer() | CancelTimer() | End():
                pass  # carried out by Job: durable already, timers followed, outcome kept
