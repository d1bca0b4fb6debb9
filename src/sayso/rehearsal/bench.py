"""A job on the bench: events are given to the real dialogue, what it says is kept, time passes when told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from sayso import dialogue
from sayso.dialogue import asked
from sayso.dialogue.effects import CancelTimer, Effect, End, KeepClip, Listen, Record, Say, StartTimer
from sayso.dialogue.events import ClipKept, Event, Heard, Started, TimerDone, VoiceFinished
from sayso.dialogue.state import Aside, Awaiting, State
from sayso.procedure.model import AskNote, Procedure

#: 1 June 2026, 07:00 UTC: a bench has no clock of its own, and every rehearsal starts at the same time.
START_MS = 1_780_297_200_000
WITNESSES = (("1122", "Bench Witness"),)


class BenchError(RuntimeError):
    """The job did not go on though a legal answer was given."""


@dataclass(frozen=True)
class Bench:
    """A frozen job: giving it an event makes a new one, so a walk can go on from any point twice."""

    state: State
    at_ms: int = START_MS
    said: tuple[str, ...] = ()
    records: tuple[Record, ...] = ()
    timers: tuple[StartTimer, ...] = ()
    outcome: str = ""
    listening: Listen | None = field(default=None, repr=False)
    keeping: KeepClip | None = None

    @property
    def ended(self) -> bool:
        return self.outcome != ""

    @property
    def step(self) -> str:
        return self.state.visit.step if self.state.at_step else ""


def start(
    procedure: Procedure,
    *,
    person: str = "Bench",
    wrench: str = "N.m",
    level: str = "normal",
    witnesses: tuple[tuple[str, str], ...] = WITNESSES,
) -> Bench:
    bench = Bench(dialogue.begin(procedure))
    event = Started(START_MS, "bench", person=person, wrench=wrench, level=level, witnesses=witnesses)  # type: ignore[arg-type]
    return give(bench, lambda at: replace(event, at_ms=at))


def give(bench: Bench, event: Callable[[int], Event]) -> Bench:
    """The job after an event (made for the time at which it happens) and after sayso has spoken.

    `said` and `records` hold only what this event brought.
    """
    at = bench.at_ms + 1000
    state, effects = dialogue.advance(bench.state, event(at))
    after = _carried_out(replace(bench, state=state, at_ms=at, said=(), records=()), effects)
    for effect in effects:
        if isinstance(effect, Say):
            state, more = dialogue.advance(after.state, VoiceFinished(after.at_ms, effect.utterance))
            after = _carried_out(replace(after, state=state), more)
    return after


def hear(bench: Bench, words: str, *, typed: bool = True) -> Bench:
    return give(bench, lambda at: Heard(at, tuple(words.split()), typed=typed))


def let_time_pass(bench: Bench) -> Bench:
    """To the end of the timer that is due first. Raises BenchError when none runs."""
    if not bench.timers:
        raise BenchError("no timer runs")
    first = min(bench.timers, key=lambda timer: timer.due_ms)
    waiting = replace(
        bench, at_ms=max(bench.at_ms, first.due_ms - 1000), timers=_without(bench.timers, first.name)
    )
    return give(waiting, lambda at: TimerDone(at, first.name))


def settle(bench: Bench) -> Bench:
    """Through cautions, waits and 'are you ready' to the next question of a step, or to the end.

    `said` and `records` gather all that happened on the way.
    """
    said, records = list(bench.said), list(bench.records)
    for _ in range(200):
        state = bench.state
        if bench.ended or (state.awaiting is Awaiting.ANSWER and state.aside is None):
            return replace(bench, said=tuple(said), records=tuple(records))
        if state.aside is Aside.NOTE:
            bench = hear(bench, "end note")
        elif state.awaiting is Awaiting.READY:
            bench = hear(bench, "ready")
        elif state.awaiting is Awaiting.CAUTION:
            bench = hear(bench, "understood")
        elif state.awaiting is Awaiting.WAIT:
            bench = let_time_pass(bench)
        elif state.awaiting is Awaiting.CONFIRM:
            bench = hear(bench, "yes")
        else:
            raise BenchError(f"the job asks for '{state.awaiting.value}' and the bench has no answer to that")
        said += bench.said
        records += bench.records
    raise BenchError("the job goes round without a question")


def answer(bench: Bench, words: str, *, typed: bool = True) -> Bench:
    """The job after a legal answer to the question of the step, read-back confirmed, at its next question."""
    before = len(bench.state.trail)
    at = bench.state.at
    if isinstance(bench.state.step.ask, AskNote):
        name = bench.state.step.ask.name
        after = give(bench, lambda now: ClipKept(now, name, "0" * 64, 2.0))
    else:
        after = hear(bench, words, typed=typed)
    after = settle(after)
    if not after.ended and len(after.state.trail) == before and after.state.at == at:
        raise BenchError(
            f"'{words}' did not take the step '{bench.step}' further; sayso said: {' '.join(after.said)}"
        )
    return after


def skip(bench: Bench, reason: str) -> Bench:
    """The job after the step was skipped, at its next question."""
    after = hear(bench, "skip")
    if after.state.aside is not Aside.SKIP_REASON:
        raise BenchError(f"the step '{bench.step}' could not be skipped")
    return settle(hear(after, reason))


def out_of_limits(bench: Bench, words: str) -> Bench:
    """The job after a value outside its limits, where it is let stand by a second person who has a code."""
    after = hear(bench, words)
    if after.state.awaiting is Awaiting.CONFIRM:
        after = hear(after, "yes")
    if after.state.awaiting is not Awaiting.DEVIATION:
        return settle(after)
    state = after.state
    codes = [code for code, who in asked.second_person(state).codes if not asked.has_worked(state, who)]
    if not asked.may_be_let_stand(state):
        raise BenchError(f"'{words}' is outside the limits of '{bench.step}', and nobody may let it stand")
    for said in ("not met", "another reason", codes[0], "yes"):
        after = hear(after, said)
    return settle(after)


def _carried_out(bench: Bench, effects: tuple[Effect, ...]) -> Bench:
    said, records, timers = list(bench.said), list(bench.records), bench.timers
    outcome, listening, keeping = bench.outcome, bench.listening, bench.keeping
    for effect in effects:
        match effect:
            case Say():
                said.append(effect.text)
            case Record():
                records.append(effect)
            case StartTimer():
                timers = (*_without(timers, effect.name), effect)
            case CancelTimer():
                timers = _without(timers, effect.name)
            case Listen():
                listening = effect
            case KeepClip():
                keeping = effect
            case End():
                outcome = effect.outcome
    return replace(
        bench, said=tuple(said), records=tuple(records), timers=timers, outcome=outcome, listening=listening,
        keeping=keeping,
    )  # fmt: skip


def _without(timers: tuple[StartTimer, ...], name: str) -> tuple[StartTimer, ...]:
    return tuple(timer for timer in timers if timer.name != name)
