"""Whatever is said, in whatever order, to whatever procedure: what must hold for every job.

Hypothesis plays a technician who answers, mumbles, changes the mind, goes back, holds and undoes.
"""

from __future__ import annotations

import json
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from sayso.dialogue import State, advance, begin, replay, snapshot
from sayso.dialogue.asking import SETTLING
from sayso.dialogue.codec import event_from_json, event_to_json
from sayso.dialogue.control_words import NAMED, SYNONYMS, Control, wake_phrases
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


SAID = {
    Awaiting.READY: "ready",
    Awaiting.CAUTION: "understood",
    Awaiting.CONFIRM: "yes",
    Awaiting.SETTLE: "undone",
    Awaiting.KEEP_REASON: "no harm",
    Awaiting.STILL_HOLDS: "yes",
}


HANDING_OVER = {
    Aside.NOT_MET_REASON: "damaged",
    Aside.NOT_MET_CODE: "four four seven one",
    Aside.NOT_MET_CONFIRM: "yes",
}


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
        self.carried_values: dict[str, object] = {}
        #: what the records say of each visit of the trail
        self.recorded: dict[int, object] = {}

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

    @rule(choices=st.lists(st.integers(0, 9), min_size=1, max_size=12))
    def works_on(self, choices: list[int]) -> None:
        for choice in choices:
            self.goes_on(choice)

    @rule(choices=st.lists(st.integers(0, 3), min_size=6, max_size=16))
    def works_on_without_a_fault(self, choices: list[int]) -> None:
        for choice in choices:
            self.goes_on(choice // 3)

    @rule(confidence=CONFIDENCES, control=st.sampled_from(["undo", "back", "keep it", "skip", "undo"]))
    def goes_back(self, confidence: float, control: str) -> None:
        self.wakes()
        self.hears(control, confidence)
        if self.state.aside is Aside.SKIP_REASON:
            self.hears("not fitted", confidence)

    @rule(name=st.integers(0, 9), words=st.integers(0, 9), agrees=st.booleans())
    def has_a_change_of_mind(self, name: int, words: int, agrees: bool) -> None:
        """Another answer to a question that was answered: the way may part from the old one."""
        self.wakes()
        given = self.state.given_at
        names = [n for n in self.state.recent if n in given]
        branching = [n for n in names if self.procedure.step(self.state.trail[given[n]].step).then.cases]
        names = branching or names
        if names and self.state.awaiting not in SETTLING:
            self.hears(f"change {names[name % len(names)].replace('_', ' ')}")
            said = WORDS[self.state.step.ask.kind]
            self.hears(said[words % len(said)])
            if self.state.awaiting is Awaiting.CONFIRM:
                self.hears("yes" if agrees else "no")

    @precondition(lambda self: self.state.awaiting in SETTLING)
    @rule(words=st.sampled_from(["undone", "keep it", "no harm", "yes", "no", "back", "skip"]))
    def settles_what_was_done(self, words: str) -> None:
        self.hears(words)

    @rule(control=st.sampled_from(sorted(SYNONYMS)), number=st.integers(0, 9), confidence=CONFIDENCES)
    def says_a_control_word(self, control: Control, number: int, confidence: float) -> None:
        if control is Control.STOP and number:
            return  # jobs that always end early show nothing
        name = f" answer {number}" if control in NAMED else ""
        self.hears(SYNONYMS[control][0] + name, confidence)

    @rule(number=st.integers(0, 400), confidence=CONFIDENCES)
    def says_something_that_is_listened_for(self, number: int, confidence: float) -> None:
        for listen in [e for e in self.last if isinstance(e, Listen)][-1:]:
            self.hears(listen.phrases[number % len(listen.phrases)], confidence)

    @rule(
        what=st.sampled_from(["words", "key", "small word"]),
        number=st.integers(0, 99),
        confidence=CONFIDENCES,
    )
    def says_or_presses_something_else(self, what: str, number: int, confidence: float) -> None:
        if what == "words":
            self.hears(JUNK[number % len(JUNK)], confidence)
        elif what == "small word":
            self.hears(("yes", "no", "understood", "done", "undone")[number % 5], confidence)
        elif KEYS[number % len(KEYS)] != "stop":
            self.happens(KeyPressed(self.now, KEYS[number % len(KEYS)]))

    @rule(number=st.integers(0, 10))
    def something_happens(self, number: int) -> None:
        events: list[Event] = [
            NoInput(self.now),
            NoMatch(self.now),
            BargeIn(self.now),
            VoiceFinished(self.now, self.state.utterance),
            VoiceFinished(self.now, self.state.utterance, cut=True),
            DeviceLost(self.now, "headset"),
            DeviceBack(self.now, "headset"),
            NoiseChanged(self.now, True, 3.0),
            NoiseChanged(self.now, False),
            ClipKept(self.now, f"note {self.state.notes}", "ab" * 32, 2.5),
            ClipKept(self.now, self.state.step.ask.name if self.state.at_step else "", "cd" * 32, 2.5),
        ]
        self.happens(events[number])

    @rule(number=st.integers(0, 9))
    def mumbles(self, number: int) -> None:
        """What was not understood comes with a guess at it: whatever it is, the guess records nothing."""
        self.happens(VoiceFinished(self.now, self.state.utterance))
        known = WORDS[self.state.step.ask.kind] if self.state.at_step else JUNK
        given = self.state.accepted
        self.happens(NoMatch(self.now, offers=(tuple(known[number % len(known)].split()),)))
        assert self.state.accepted == given
        assert not [
            e for e in self.last if isinstance(e, Record) and e.kind not in ("no_match", "prediction")
        ]

    @rule(person=st.sampled_from(["", "", "Bo Tarn", "Cy Vale"]))
    def the_program_is_started_again(self, person: str) -> None:
        """By whoever had the job in hand, or by another one."""
        self.state = snapshot.from_json(self.procedure, json.loads(in_bytes(self.state)))
        self.happens(Resumed(self.now, person=person))
        if self.state.awaiting not in (Awaiting.START, Awaiting.ENDED):
            assert person in ("", self.state.person)

    @rule(words=st.sampled_from(["four", "yes", "done", "stop", "skip", "undo", "next", "keep it", "hold"]))
    def talks_to_a_colleague_while_on_hold(self, words: str) -> None:
        if not self.state.on_hold:
            self.hears("hold")
        if self.state.on_hold:
            before = self.state
            self.hears(words)
            assert words not in wake_phrases()
            assert self.state is before, "talk while on hold drove the job"
            assert self.last == ()

    def wakes(self) -> None:
        if self.state.device_lost:
            self.happens(DeviceBack(self.now, "headset"))
        if self.state.held:
            self.hears("okay sayso")

    def goes_on(self, choice: int) -> None:
        """What is asked for is said; `choice` tells which of the answers that the question may have."""
        self.wakes()
        self.time_passes(10)
        state = self.state
        if state.aside is Aside.NOTE:
            self.hears("end note")
        elif state.aside is Aside.STOP:
            self.hears("no")
        elif state.aside is Aside.SKIP_REASON:
            self.hears("not fitted")
        elif state.aside in HANDING_OVER:
            self.hears(HANDING_OVER[state.aside])
        elif state.awaiting is Awaiting.DEVIATION and choice % 2:
            self.hears("not met")
        elif state.awaiting in SAID:
            self.hears(SAID[state.awaiting])
        elif state.at_step:
            words = WORDS[state.step.ask.kind]
            self.hears(words[choice % len(words)], typed=state.step.ask.kind == "note")

    def time_passes(self, seconds: int) -> None:
        self.now += seconds * 1000
        for name, index in list(self.state.timers.items()):
            if self.now >= self.state.trail[index].due_ms:
                self.happens(TimerDone(self.now, name))

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
            self.recorded.pop(data["visit"], None)
        elif record.kind == "step_passed_over" and "visit" in data:
            assert name in self.done, "said to hold, but it was never done"
            self.acknowledged[data["visit"]] = set(range(9))
            self.recorded[data["visit"]] = self.carried_values[name]
        elif record.kind == "person_changed" and name and self.state.awaiting not in SETTLING:
            self.acknowledged[self.state.at] = set()  # by somebody else: who works now says it too
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
                    told = [r for r in records if r.kind == "deviation" or r.data.get("released_by")]
                    assert told, "out of limits, silently accepted"
                self.done.add(name)
                assert (record.kind == "answer") == (data["visit"] not in self.recorded)
                self.recorded[data["visit"]] = data["value"]
        elif record.kind in ("answer_undone", "skipped"):
            self.recorded.pop(data["visit"], None)
            if record.kind == "skipped":
                self.recorded[data["visit"]] = "skipped"
            if not any(v.step == name and v.answer is not None for v in self.state.trail):
                self.done.discard(name)
        elif record.kind == "undone" and not any(
            v.step == name and v.answer is not None for v in self.state.trail
        ):  # a step may be begun twice: the answer of the other time stands
            self.done.discard(name)

    def check_nothing_vanished(self) -> None:
        state = self.state
        finished = {v.step for v in state.trail if v.answer is not None}
        accounted = finished | set(state.carried) | {v.step for v in state.to_settle}
        assert self.done <= accounted, f"done work vanished: {self.done - accounted}"
        self.carried_values.update({name: v.answer.value for name, v in state.carried.items() if v.answer})
        for visit, value in list(self.recorded.items()):
            if visit >= len(state.trail):
                del self.recorded[visit]
                continue
            answer = state.trail[visit].answer
            assert value == ("skipped" if answer is None else answer.value), "the record tells another value"
        assert set(self.recorded) == {i for i, v in enumerate(state.trail) if v.finished}

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


_QUIETLY = settings(
    max_examples=60, stateful_step_count=25, deadline=None, suppress_health_check=list(HealthCheck)
)


def test_any_talk_at_all() -> None:
    run_state_machine_as_test(AnyTalk, settings=_QUIETLY)


@pytest.mark.long
def test_any_talk_at_all_for_long() -> None:
    run_state_machine_as_test(AnyTalk, settings=settings(_QUIETLY, max_examples=3000, database=None))


@settings(max_examples=50, deadline=None, suppress_health_check=list(HealthCheck))
@given(procedure=procedures(), chance=st.randoms(use_true_random=True))
def test_minds_are_changed_all_the_time(procedure: Procedure, chance: Random) -> None:
    """Deeper than rules picked evenly: most of it is work, answers changed and answers taken back."""
    talk = AnyTalk()
    talk.a_job_begins(procedure=procedure, level="normal", quiet=False)
    for _ in range(40):
        match chance.randrange(10):
            case 0 | 1 | 2 | 3:
                talk.works_on(choices=[chance.randrange(10) for _ in range(4)])
            case 4 | 5 | 6:
                talk.has_a_change_of_mind(chance.randrange(10), chance.randrange(10), True)
            case 7:
                talk.goes_back(confidence=1.0, control=chance.choice(["undo", "back", "keep it", "skip"]))
            case 8:
                talk.hears(
                    chance.choice(["yes", "no", "keep it", "undone", "no harm"]), chance.choice([1.0, 0.3])
                )
            case _:
                kind = talk.state.step.ask.kind if talk.state.at_step else "done"
                talk.hears(chance.choice(WORDS[kind]))
        talk.the_state_is_json_and_back()
        if talk.state.awaiting is Awaiting.ENDED:
            break
    talk.teardown()
