"""Keys, a pedal and the page beside the voice: a press counts for the question that it was meant for."""

from __future__ import annotations

import io
import threading
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sayso.dialogue.effects import Listen, Say
from sayso.dialogue.events import Event, Heard, KeyPressed, Started
from sayso.dialogue.state import Awaiting, State
from sayso.procedure.model import Procedure
from sayso.session.clock import Clock
from sayso.session.job import Job
from sayso.session.keys import listen_to_keys
from sayso.session.loop import REACTION_MS, JobLeftError, Loop
from tests.session.test_commit_before_acting import FullDisk, Hands

STARTED = Started(1, "job-1")


class FreeClock(Clock):
    """Stands where the test puts it."""

    def __init__(self) -> None:
        super().__init__()
        self.at = 1_000

    def now_ms(self) -> int:
        return self.at

    def skip_to(self, at_ms: int) -> None:
        self.at = max(self.at, at_ms)


class Pressing(Hands):
    """Presses keys at given times after a question has come; `asked` are the contexts in their order."""

    def __init__(self, loop: Loop, clock: FreeClock, plan: list[tuple[int, Event]]) -> None:
        super().__init__([])
        self.loop, self.clock, self.plan = loop, clock, plan
        self.asked: list[str] = []

    def listen(self, effect: Listen, question: int, state: State) -> None:
        self.asked.append(effect.context)

    def ready(self) -> None:
        if not self.plan:
            self.loop.leave("end of the test")
            return
        after_ms, event = self.plan.pop(0)
        self.clock.at += after_ms
        self.loop.press(type(event)(self.clock.at, *_rest(event)))


def _rest(event: Event) -> tuple[object, ...]:
    return (event.key,) if isinstance(event, KeyPressed) else (event.words, 1.0)  # type: ignore[union-attr]


def key(name: str) -> KeyPressed:
    return KeyPressed(0, name)


def pressed(procedure: Procedure, *plan: tuple[int, Event]) -> tuple[Job, Pressing]:
    clock = FreeClock()
    job = Job(procedure, FullDisk([]), clock)  # type: ignore[arg-type]
    loop = Loop(job)
    hands = Pressing(loop, clock, list(plan))
    with pytest.raises(JobLeftError):
        loop.run(STARTED, hands)
    return job, hands


def test_a_pedal_that_bounces_does_one_step_and_not_two(procedure: Procedure) -> None:
    job, hands = pressed(procedure, (2_000, key("understood")), (2_000, key("done")), (60, key("done")))
    assert hands.asked[-1] == "answer voltage"
    once, _ = pressed(procedure, (2_000, key("understood")), (2_000, key("done")))
    assert job.state == once.state


def test_the_second_click_of_two_acknowledges_no_caution(procedure: Procedure) -> None:
    job, _ = pressed(procedure, (0, key("done")), (REACTION_MS - 1, key("done")))
    assert job.state.awaiting is Awaiting.CAUTION


@given(after=st.integers(0, 3 * REACTION_MS))
@settings(max_examples=60, deadline=None)
def test_a_key_counts_from_the_moment_at_which_a_person_can_have_reacted(
    after: int,
) -> None:
    from sayso.session.opening import read_procedure
    from tests.session.conftest import HARNESS_SWAP

    procedure = read_procedure(HARNESS_SWAP, "en", {})
    job, _ = pressed(procedure, (after, key("understood")))
    acknowledged = job.state.awaiting is not Awaiting.CAUTION
    assert acknowledged == (after >= REACTION_MS)


def test_a_key_and_the_voice_at_the_same_moment_give_one_answer(procedure: Procedure) -> None:
    """The voice says the value while a finger presses 'yes' for the question before: no unheard read-back is
    confirmed by it."""
    clock = FreeClock()
    journal = FullDisk([])
    job = Job(procedure, journal, clock)  # type: ignore[arg-type]
    loop = Loop(job)
    hands = Pressing(loop, clock, [(2_000, key("understood")), (2_000, key("done"))])

    def both() -> None:
        if hands.plan:
            Pressing.ready(hands)
            return
        if job.state.pending is None:
            clock.at += 2_000
            question = len(hands.asked)
            loop.post(Heard(clock.at, ("three", "volts"), 1.0), question)
            loop.press(KeyPressed(clock.at, "yes"))
        else:
            loop.leave("end of the test")

    hands.ready = both  # type: ignore[method-assign]
    with pytest.raises(JobLeftError):
        loop.run(STARTED, hands)
    assert job.state.awaiting is Awaiting.CONFIRM
    assert job.state.pending is not None
    assert not any(e["type"] == "KeyPressed" and e["key"] == "yes" for e in journal.kept)


def test_a_yes_to_one_read_back_is_none_to_the_next(procedure: Procedure) -> None:
    """'Three volts. Yes?' - 'no, four' typed on the page while 'yes' is spoken: four is not confirmed."""
    clock = FreeClock()
    job = Job(procedure, FullDisk([]), clock)  # type: ignore[arg-type]
    loop = Loop(job)
    plan: list[tuple[int, Event]] = [
        (2_000, key("understood")),
        (2_000, key("done")),
        (2_000, Heard(0, ("three", "volts"))),
    ]
    hands = Pressing(loop, clock, plan)

    def then() -> None:
        if hands.plan:
            Pressing.ready(hands)
        elif job.state.pending is not None and job.state.pending.answer.value == 3:
            first_read_back = len(hands.asked)
            clock.at += 2_000
            loop.press(Heard(clock.at, ("no", "four", "volts"), typed=True))
            loop.post(Heard(clock.at, ("yes",), 1.0), first_read_back)
        else:
            loop.leave("end of the test")

    hands.ready = then  # type: ignore[method-assign]
    with pytest.raises(JobLeftError):
        loop.run(STARTED, hands)
    assert job.state.awaiting is Awaiting.CONFIRM
    assert job.state.pending is not None
    assert job.state.pending.answer.value == 4


class Talking(Hands):
    """A voice that is still telling a caution: no key may cut it or answer it."""

    def __init__(self) -> None:
        super().__init__([])
        self.refused = 0

    def say(self, effect: Say) -> None:
        self.order.append(effect.text)

    def may_press(self, event: Event) -> bool:
        self.refused += 1
        return False


def test_hands_may_refuse_a_key_and_nothing_is_recorded_of_it(procedure: Procedure) -> None:
    journal = FullDisk([])
    job = Job(procedure, journal)
    loop = Loop(job)
    hands = Talking()
    done = threading.Event()
    real = hands.ready

    def ready() -> None:
        real()
        if not done.is_set():
            done.set()
            time.sleep(REACTION_MS / 1000 + 0.05)
            listen_to_keys(io.StringIO("understood\n"), loop)
            threading.Timer(0.3, loop.leave, ("end of the test",)).start()

    hands.ready = ready  # type: ignore[method-assign]
    with pytest.raises(JobLeftError):
        loop.run(STARTED, hands)
    assert hands.refused == 1
    assert [event["type"] for event in journal.kept] == ["Started"]
