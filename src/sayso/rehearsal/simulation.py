"""Many simulated jobs through the real dialogue: what was recorded wrong, and what the mishearing cost."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from random import Random
from typing import Any

from sayso import dialogue
from sayso.answers.answer import Answer
from sayso.dialogue.effects import CancelTimer, Effect, End, Listen, Record, Say, StartTimer
from sayso.dialogue.events import (
    BargeIn,
    ClipKept,
    Event,
    Heard,
    KeyPressed,
    NoInput,
    NoMatch,
    Started,
    TimerDone,
)
from sayso.dialogue.state import State
from sayso.procedure.conditions import answer_names
from sayso.procedure.model import Procedure
from sayso.rehearsal import wordings
from sayso.rehearsal.bench import START_MS, WITNESSES
from sayso.rehearsal.legal_answers import way_of
from sayso.rehearsal.misheard import CameOut, Channel
from sayso.rehearsal.simulated_technician import PLAIN, Act, By, Intent, Technician, Temper
from sayso.rehearsal.trials import NO_MATCH, NOTHING, Trials

#: A job that needs more turns than this is given up and counted as unfinished.
MOST_TURNS = 3000
#: Of wrong values as many are kept with their story.
STORIES = 20
WRENCHES = ("N.m", "N.m", "N.m", "lbf.ft")

#: Every so many rounds of the procedures are also done without any error, to compare the turns with.
PLAIN_EVERY = 10

Say_ = Callable[[str, str, int, Random], CameOut]


@dataclass(frozen=True, slots=True)
class Wrong:
    """A wrong value in the record: what it was to be, and the turns that led to it."""

    procedure: str
    step: str
    value: str
    truth: str
    confirmed: str
    critical: bool
    story: tuple[str, ...]


@dataclass
class Tally:
    """Sums over jobs. `counts` names: see `report`."""

    counts: Counter[str] = field(default_factory=Counter)
    outcomes: Counter[str] = field(default_factory=Counter)
    drawn: Counter[str] = field(default_factory=Counter)
    wrong: list[Wrong] = field(default_factory=list)
    unparsed: Counter[str] = field(default_factory=Counter)
    #: the last turns of jobs that were given up
    stuck: list[tuple[str, ...]] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        self.counts += other.counts
        self.outcomes += other.outcomes
        self.drawn += other.drawn
        self.unparsed += other.unparsed
        self.stuck = [*self.stuck, *other.stuck][:STORIES]
        critical = [w for w in (*self.wrong, *other.wrong) if w.confirmed]
        others = [w for w in (*self.wrong, *other.wrong) if not w.confirmed]
        self.wrong = [*critical, *others][:STORIES]


@dataclass
class _Job:
    """One job being done: the shell's part (time, timers, events) and the auditor's, who knows the truth."""

    procedure: Procedure
    technician: Technician
    say: Say_
    voice: int
    rng: Random
    tally: Tally
    decisive: frozenset[str]
    state: State = field(init=False)
    at_ms: int = START_MS
    listen: Listen | None = None
    timers: dict[str, int] = field(default_factory=dict)
    ended: str = ""
    turns: int = 0
    #: visit -> (step, right, how it was confirmed, critical)
    standing: dict[int, tuple[str, bool, str, bool]] = field(default_factory=dict)
    story: list[str] = field(default_factory=list)

    def run(self) -> None:
        self.state = dialogue.begin(self.procedure)
        started = Started(
            self.at_ms, "simulated", person="Simulated", wrench=self.technician.wrench, witnesses=WITNESSES
        )
        self._give(started)
        while not self.ended and self.turns < MOST_TURNS:
            assert self.listen is not None
            act = self.technician.acts(self.listen)
            for event in self._events(act):
                self._give(event)
                if self.ended:
                    break
        self._close()

    # --- the shell --------------------------------------------------------------------------------

    def _give(self, event: Event) -> None:
        """No VoiceFinished is given: it matters to a BargeIn only, and that comes while the voice speaks."""
        self.state, effects = dialogue.advance(self.state, event)
        said = [effect for effect in effects if isinstance(effect, Say)]
        for effect in effects:
            self._carry_out(effect)
        if said and not self.ended:
            self.story += [f"sayso: {say.text}" for say in said]
            del self.story[:-24]
        if self.listen is not None:
            self.technician.hears(said, self.listen)

    def _carry_out(self, effect: Effect) -> None:
        match effect:
            case Listen():
                self.listen = effect
            case StartTimer():
                self.timers[effect.name] = effect.due_ms
            case CancelTimer():
                self.timers.pop(effect.name, None)
            case End():
                self.ended = effect.outcome
            case Record():
                self._audit(effect.kind, effect.data)

    def _events(self, act: Act) -> Iterable[Event]:
        self.turns += 1
        self.tally.counts["turns"] += 1
        self.at_ms += 3000
        at = self.at_ms
        self.story.append(f"he ({act.by}): {act.text}")
        match act.by:
            case By.WAITING:
                yield self._time_passes()
            case By.CLIP:
                yield ClipKept(at, self.state.step.ask.name, "0" * 64, 2.0)
            case By.KEYS:
                self.tally.counts["keys"] += 1
                if act.intent is Intent.ANSWER:
                    yield Heard(at, tuple(act.text.split()), typed=True)
                else:
                    yield KeyPressed(at, act.text.replace(" ", "_"))
            case By.VOICE:
                yield from self._spoken(act)

    def _time_passes(self) -> Event:
        if not self.timers:
            return NoInput(self.at_ms)
        name, due = min(self.timers.items(), key=lambda item: item[1])
        del self.timers[name]
        self.at_ms = max(self.at_ms, due)
        return TimerDone(self.at_ms, name)

    def _spoken(self, act: Act) -> Iterable[Event]:
        at = self.at_ms
        if act.early:
            yield BargeIn(at)
        if act.silent:
            yield NoInput(at)
        came = self.say(act.question, act.text, self.voice, self.rng)
        self.tally.drawn[came.how] += 1
        self.tally.counts["spoken"] += 1
        self.story.append(f"heard: {came.heard} ({came.confidence:.2f}{', noisy' if came.noisy else ''})")
        if came.heard != act.text:
            self.tally.counts["misheard" if came.heard not in (NO_MATCH, NOTHING) else "not heard"] += 1
        if came.heard == NO_MATCH:
            yield NoMatch(at, came.noisy)
        elif came.heard == NOTHING:
            yield NoInput(at)
        else:
            yield Heard(at, tuple(came.heard.split()), came.confidence, noisy=came.noisy)

    # --- the auditor ------------------------------------------------------------------------------

    def _audit(self, kind: str, data: Mapping[str, Any]) -> None:
        counts = self.tally.counts
        match kind:
            case "step_entered":
                if not data.get("again"):
                    self._forget_from(data["visit"])
                    self.technician.comes_to(data["step"])
            case "answer" | "answer_changed" | "deviation":
                self._audit_value(kind, data)
            case "answer_undone":
                self.standing.pop(data["visit"], None)
                counts["taken back"] += 1
            case "caution_acknowledged":
                if self.technician.meant not in (Intent.ACKNOWLEDGE, Intent.OTHER) or (
                    self.technician.meant is Intent.OTHER and data.get("said") and data["step"]
                ):
                    counts["cautions acknowledged by other words"] += 1
            case "no_match" | "hold" | "skipped":
                counts[kind] += 1
            case "to_undo":
                counts["ways parted from"] += 1

    def _forget_from(self, visit: int) -> None:
        for index in [index for index in self.standing if index >= visit]:
            del self.standing[index]

    def _audit_value(self, kind: str, data: Mapping[str, Any]) -> None:
        counts = self.tally.counts
        name, confirmed, critical = data["step"], data["confirmed"], data["critical"]
        step = self.procedure.step(name)
        if step.ask.kind == "note":
            return
        truth = self.technician.truth(name)
        recorded = Answer(step.ask.kind, data["value"], data["unit"], within=data["within"])
        right = wordings.same(recorded, truth)
        if step.ask.kind == "done" and self.technician.meant in (Intent.OTHER, Intent.TAKE_BACK, Intent.NO):
            right = False
        counts["values"] += 1
        counts["critical values"] += critical
        counts["read back and confirmed"] += bool(confirmed)
        if kind != "deviation" or step.out_of_limits:
            self.standing[data["visit"]] = (name, right, confirmed, critical)
        if right:
            return
        counts["wrong after read-back" if confirmed else "wrong, echo only"] += 1
        counts["critical wrong after read-back"] += bool(confirmed and critical)
        counts["critical wrong, not read back"] += bool(critical and not confirmed)
        if step.ask.kind == "done":
            counts["done taken from other words"] += 1
        if name in self.decisive and self._other_way(name, recorded, truth):
            counts["wrong ways taken"] += 1
        if confirmed or len(self.tally.wrong) < STORIES // 2:
            wrong = Wrong(
                self.procedure.id, name, str(data["value"]), str(truth.value), confirmed, critical,
                tuple(self.story[-16:]),
            )  # fmt: skip
            self.tally.wrong = (
                [wrong, *self.tally.wrong][:STORIES] if confirmed else [*self.tally.wrong, wrong]
            )

    def _other_way(self, name: str, recorded: Answer, truth: Answer) -> bool:
        step, values = self.procedure.step(name), dict(self.state.values)
        return way_of(step, recorded.value, recorded.within, values) != way_of(
            step, truth.value, truth.within, values
        )

    def _close(self) -> None:
        counts = self.tally.counts
        counts["jobs"] += 1
        counts["unfinished"] += not self.ended
        if not self.ended:
            self.tally.stuck = [*self.tally.stuck, tuple(self.story[-24:])][:STORIES]
        counts["stopped unmeant"] += self.ended == "stopped"
        for _, right, confirmed, critical in self.standing.values():
            if not right:
                counts["wrong at the end, read back" if confirmed else "wrong at the end, echo only"] += 1
                counts["critical wrong at the end"] += critical
        self.tally.outcomes[f"{self.procedure.id}: {self.ended or 'unfinished'}"] += 1
        self.tally.unparsed.update(self.technician.unparsed)


def exactly(question: str, said: str, voice: int, rng: Random) -> CameOut:
    """The ear that hears everything right."""
    return CameOut(said, 1.0, False, "exactly")


def simulate(
    procedures: Sequence[Procedure],
    jobs: int,
    *,
    trials: Trials,
    condition: str,
    seed: int = 1,
    temper: Temper | None = None,
    worse: float = 1.0,
    workers: int = 1,
) -> tuple[Tally, Tally]:
    """`jobs` over the procedures in turn, misheard as measured; and every tenth round of them without error.

    The error-free jobs have the same machines and a technician who only answers.
    """
    numbers = [range(part, jobs, workers) for part in range(workers)]
    work = partial(_share, list(procedures), trials, condition, seed, temper or Temper(), worse)
    misheard, plain = Tally(), Tally()
    if workers == 1:
        results = [work(numbers[0])]
    else:
        with ProcessPoolExecutor(workers) as pool:
            results = list(pool.map(work, numbers))
    for first, second in results:
        misheard.add(first)
        plain.add(second)
    return misheard, plain


def _share(
    procedures: Sequence[Procedure],
    trials: Trials,
    condition: str,
    seed: int,
    temper: Temper,
    worse: float,
    numbers: Iterable[int],
) -> tuple[Tally, Tally]:
    channel = Channel(trials, condition, worse)
    decisive = {procedure.id: _decisive(procedure) for procedure in procedures}
    misheard, plain = Tally(), Tally()
    for number in numbers:
        procedure = procedures[number % len(procedures)]
        without_error = number // len(procedures) % PLAIN_EVERY == 0
        kinds = ((misheard, channel.say, temper), (plain, exactly, PLAIN))
        for tally, say, kind in kinds[: 1 + without_error]:
            rng = Random(f"{seed} {number}")
            wrench = rng.choice(WRENCHES)
            voice = rng.randrange(len(trials.voices))
            technician = Technician(
                procedure, Random(f"{seed} {number} acts"), f"{seed} {number}", wrench, WITNESSES, kind
            )
            _Job(procedure, technician, say, voice, rng, tally, decisive[procedure.id]).run()
    return misheard, plain


def _decisive(procedure: Procedure) -> frozenset[str]:
    """Steps whose answer a branch or a condition reads."""
    read = {
        name
        for step in procedure.steps
        for source in [*(case.when for case in step.then.cases if case.is_condition), step.when]
        if source
        for name in answer_names(source)
    }
    return frozenset(s.id for s in procedure.steps if s.then.cases or s.out_of_limits or s.ask.name in read)
