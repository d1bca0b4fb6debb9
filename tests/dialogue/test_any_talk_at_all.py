"""Whatever is said, in whatever order, to whatever procedure: what must hold for every job.

Hypothesis plays a technician who answers, mumbles, changes the mind, goes back, holds and undoes.
"""

from __future__ import annotations

import json

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from sayso.dialogue import State, advance, begin, replay, snapshot
from sayso.dialogue.asking import SETTLING
from sayso.dialogue.codec import event_from_json, event_to_json
from sayso.dialogue.control_words import SYNONYMS, wake_phrases
from sayso.dialogue.effects import Effect, End, Listen, Record, ShowStep
from sayso.dialogue.events import (
    BargeIn,
    ClipKept,
    DeviceBack,
    DeviceLost,
    Event,
    Heard,
    KeyPressed,
    NoInput,
    NoiseChanged,
    NoMatch,
    Resumed,
    Started,
    TimerDone,
    VoiceFinished,
)
from sayso.dialogue.state import Aside, Awaiting
from sayso.procedure.model import Procedure

from .bench_job import WITNESSES
from .some_procedures import WORDS, procedures

KEYS = [control.value for control in SYNONYMS] + ["yes", "no", "done", "understood", "nonsense"]
JUNK = ["", "the radio said so", "um", "[unk]", "yes no", "undone", "keep", "no harm", "not fitted", "ready"]
CONFIDENCES = st.sampled_from([1.0, 1.0, 0.95, 0.6, 0.2])


def in_bytes(state: State) -> bytes:
    return json.dumps(state.as_json(), sort_keys=True, allow_nan=False).encode()


class AnyTalk(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        self.now = 1_000
        self.events: list[Event] = []
        self.effects: list[Effect] = []
        self.last: tuple[Effect, ...] = ()
        #: per visit of the trail, the cautions acknowledged
        self.acknowledged: dict[int, set[int]] = {}
        self.done: set[str] = set()
        self.answered: dict[str, object] = {}

    @initialize(
        procedure=procedures(), level=st.sampled_from(["full", "normal", "brief"]), quiet=st.booleans()
    )
    def a_job_begins(self, procedure: Procedure, level: str, quiet: bool) -> None:
        self.procedure = procedure
        self.state = begin(procedure)
        self.happens(Started(self.now, "J", person="Ann", witnesses=WITNESSES, level=level, quiet=quiet))  # type: ignore[arg-type]

    def happens(self, event: Event) -> None:
        before = self.state
        self.events.append(event)
        self.state, self.last = advance(before, event)
        self.effects += self.last
        self.check_records(before)

    def hears(self, words: str, confidence: float = 1.0, typed: bool = False) -> None:
        self.now += 2_000
        self.happens(Heard(self.now, tuple(words.split()), confidence, typed=typed))

    # --- what a technician may do ---------------------------------------------------------------

    @rule(data=st.data(), confidence=CONFIDENCES, typed=st.booleans())
    def answers(self, data: st.DataObject, confidence: float, typed: bool) -> None:
        kind = self.state.step.ask.kind if self.state.at_step else "done"
        self.hears(data.draw(st.sampled_from(WORDS[kind])), confidence, typed)

    @rule(times=st.integers(1, 6))
    def does_what_is_asked(self, times: int) -> None:
        for _ in range(times):
            self.goes_on()

    @rule(times=st.integers(1, 6))
    def works_on(self, times: int) -> None:
        self.wakes()
        for _ in range(times):
            self.time_passes(30)
            self.goes_on()

    @rule(confidence=CONFIDENCES, control=st.sampled_from(["undo", "back", "keep it", "skip", "undo"]))
    def goes_back(self, confidence: float, control: str) -> None:
        self.wakes()
        self.hears(control, confidence)
        if self.state.aside is Aside.SKIP_REASON:
            self.hears("not fitted", confidence)

    @rule()
    def wakes(self) -> None:
        if self.state.device_lost:
            self.happens(DeviceBack(self.now, "headset"))
        if self.state.held:
            self.hears("okay sayso")

    @rule(data=st.data())
    def has_a_change_of_mind(self, data: st.DataObject) -> None:
        """Another answer to a question that was answered: the way may part from the old one."""
        self.wakes()
        names = sorted(name for name in self.state.given_at if name in self.state.recent)
        if names and self.state.awaiting not in SETTLING:
            self.hears(f"change {data.draw(st.sampled_from(names)).replace('_', ' ')}")
            self.hears(data.draw(st.sampled_from(WORDS[self.state.step.ask.kind])))
            if self.state.awaiting is Awaiting.CONFIRM:
                self.hears("yes")

    @precondition(lambda self: self.state.awaiting in SETTLING)
    @rule(words=st.sampled_from(["undone", "keep it", "no harm", "yes", "no", "back", "skip"]))
    def settles_what_was_done(self, words: str) -> None:
        self.hears(words)

    def goes_on(self) -> None:
        words = {
            Awaiting.READY: "ready",
            Awaiting.CAUTION: "understood",
            Awaiting.CONFIRM: "yes",
            Awaiting.SETTLE: "undone",
            Awaiting.KEEP_REASON: "no harm",
            Awaiting.STILL_HOLDS: "yes",
        }.get(self.state.awaiting)
        if words is None and self.state.at_step:
            words = WORDS[self.state.step.ask.kind][0]
        self.hears(words or "done", typed=self.state.at_step and self.state.step.ask.kind == "note")

    @rule(
        words=st.sampled_from(["yes", "no", "understood", "done", "keep it", "undone"]),
        confidence=CONFIDENCES,
    )
    def says_a_small_word(self, words: str, confidence: float) -> None:
        self.hears(words, confidence)

    @rule(control=st.sampled_from(sorted(SYNONYMS)), confidence=CONFIDENCES)
    def says_a_control_word(self, control: str, confidence: float) -> None:
        phrase = SYNONYMS[control][0]  # type: ignore[index]
        name = f" answer {len(self.events) % 3}" if control in ("what_was", "change") else ""
        if control == "stop" and len(self.events) % 5:
            return  # jobs that always end early show nothing
        self.hears(phrase + name, confidence)
        if control == "skip" and self.state.aside is Aside.SKIP_REASON:
            self.hears("not fitted")

    @rule(data=st.data(), confidence=CONFIDENCES)
    def says_something_that_is_listened_for(self, data: st.DataObject, confidence: float) -> None:
        listens = [e for e in self.last if isinstance(e, Listen)]
        if listens and listens[-1].phrases:
            self.hears(data.draw(st.sampled_from(listens[-1].phrases)), confidence)

    @rule(words=st.sampled_from(JUNK), confidence=CONFIDENCES)
    def talks(self, words: str, confidence: float) -> None:
        self.hears(words, confidence)

    @rule(key=st.sampled_from(KEYS))
    def presses(self, key: str) -> None:
        if key != "stop":
            self.happens(KeyPressed(self.now, key))

    @rule()
    def is_silent(self) -> None:
        self.happens(NoInput(self.now))

    @rule()
    def drops_a_spanner(self) -> None:
        self.happens(NoMatch(self.now))

    @rule()
    def interrupts(self) -> None:
        self.happens(BargeIn(self.now))

    @rule(cut=st.booleans())
    def the_voice_finishes(self, cut: bool) -> None:
        self.happens(VoiceFinished(self.now, self.state.utterance, cut))

    @rule(seconds=st.integers(1, 30))
    def time_passes(self, seconds: int) -> None:
        self.now += seconds * 1000
        for name, index in list(self.state.timers.items()):
            if self.now >= self.state.trail[index].due_ms:
                self.happens(TimerDone(self.now, name))

    @rule(lost=st.booleans())
    def the_headset_goes_or_comes(self, lost: bool) -> None:
        self.happens(DeviceLost(self.now, "headset") if lost else DeviceBack(self.now, "headset"))

    @rule(noisy=st.booleans())
    def the_compressor_starts_or_stops(self, noisy: bool) -> None:
        self.happens(NoiseChanged(self.now, noisy, 3.0 if noisy else 0.0))

    @rule()
    def the_program_is_started_again(self) -> None:
        self.state = snapshot.from_json(self.procedure, json.loads(in_bytes(self.state)))
        self.happens(Resumed(self.now))

    @rule()
    def a_clip_is_kept(self) -> None:
        self.happens(ClipKept(self.now, f"note {self.state.notes}", "ab" * 32, 2.5))
        if self.state.at_step:
            self.happens(ClipKept(self.now, self.state.step.ask.name, "cd" * 32, 2.5))

    @precondition(lambda self: self.state.on_hold)
    @rule(words=st.sampled_from(["four", "yes", "done", "stop", "skip", "undo", "next", "keep it", "hold"]))
    def talks_to_a_colleague_while_on_hold(self, words: str) -> None:
        before = self.state
        self.hears(words)
        assert words not in wake_phrases()
        assert self.state is before, "talk while on hold drove the job"
        assert self.last == ()

    # --- what must hold -------------------------------------------------------------------------

    def check_records(self, before: State) -> None:
        records = [e for e in self.last if isinstance(e, Record)]
        assert sum(r.kind in ("answer", "answer_changed") for r in records) <= 1
        for record in records:
            json.dumps(dict(record.data), allow_nan=False)
            self.check_record(record, records)
        self.check_nothing_vanished()
        if self.last:
            self.check_ear_and_page()

    def check_record(self, record: Record, records: list[Record]) -> None:
        data = record.data
        name = data.get("step", "")
        if record.kind == "step_entered" and not data.get("again"):
            self.acknowledged[data["visit"]] = set()
        elif record.kind == "step_passed_over" and "visit" in data:
            assert name in self.done, "said to hold, but it was never done"
            self.acknowledged[data["visit"]] = set(range(9))
        elif record.kind == "caution_acknowledged" and name:
            self.acknowledged[data["visit"]].add(data["caution"])
        elif record.kind in ("answer", "answer_changed", "deviation"):
            needed = {
                i
                for i, caution in enumerate(self.procedure.step(name).cautions)
                if caution.level.needs_acknowledgement
            }
            assert needed <= self.acknowledged[data["visit"]], "answered before its warning was acknowledged"
            if data["critical"] or not data["within"]:
                assert data["confirmed"] in ("yes", "repeat"), "critical, yet nobody confirmed it"
            if record.kind != "deviation":
                if not data["within"]:
                    assert any(r.kind == "deviation" for r in records), "out of limits, silently accepted"
                self.done.add(name)
                self.answered[name] = data["value"]
        elif record.kind in ("answer_undone", "undone", "skipped"):
            self.done.discard(name)

    def check_nothing_vanished(self) -> None:
        state = self.state
        finished = {v.step for v in state.trail if v.answer is not None}
        accounted = finished | set(state.carried) | {v.step for v in state.to_settle}
        assert self.done <= accounted, f"done work vanished: {self.done - accounted}"
        assert finished <= set(self.answered), "an answer stands that was never recorded"
        latest = {v.step: v.answer.value for v in state.trail if v.answer is not None}
        for name, value in latest.items():
            if name in self.done:
                assert self.answered[name] == value

    def check_ear_and_page(self) -> None:
        event = self.events[-1]
        shown = [e for e in self.last if isinstance(e, ShowStep)]
        assert len(shown) == 1
        json.dumps(dict(shown[0].view), allow_nan=False)
        listens = [e for e in self.last if isinstance(e, Listen)]
        ended = any(isinstance(e, End) for e in self.last)
        if ended or isinstance(event, VoiceFinished | BargeIn | DeviceLost):
            assert not listens
        else:
            assert len(listens) == 1
            assert listens[0].phrases
            assert all(phrase == phrase.lower().strip() for phrase in listens[0].phrases)

    @invariant()
    def the_state_is_json_and_back(self) -> None:
        if hasattr(self, "state"):
            again = snapshot.from_json(self.procedure, json.loads(in_bytes(self.state)))
            assert again == self.state

    def teardown(self) -> None:
        if not hasattr(self, "state"):
            return
        stored = [json.loads(json.dumps(event_to_json(event))) for event in self.events]
        events = [event_from_json(data) for data in stored]
        assert events == self.events
        assert in_bytes(replay(self.procedure, events)) == in_bytes(self.state)
        state, effects = begin(self.procedure), []
        for event in events:
            state, more = advance(state, event)
            effects += more
        assert effects == self.effects


AnyTalk.TestCase.settings = settings(
    max_examples=150, stateful_step_count=40, deadline=None, suppress_health_check=list(HealthCheck)
)
TestAnyTalk = AnyTalk.TestCase
