"""--open-ear: over the loudspeaker's voice only the interrupting orders count, and only they cut it off.

The real hands of a job by voice, between an ear, a mouth and a loop that write down what they are told.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from sayso.dialogue.effects import Say
from sayso.dialogue.events import BargeIn, Event, Heard, NoMatch
from sayso.hearing import hearing_events as heard
from sayso.session.cut_in import CUT_A_CAUTION, ORDERS
from sayso.session.ear import EarEvent
from sayso.session.spoken import SpokenHands
from sayso.speaking.player import PlayerEvent


class Job:
    """`only_orders`: run with --open-ear; else with a headset."""

    def __init__(self, *, only_orders: bool = True) -> None:
        self.events: list[Event] = []
        self.stopped = 0
        self.shown: list[str] = []
        self.noticed: list[EarEvent] = []
        ear: Any = SimpleNamespace(
            only_orders_over_voice=only_orders,
            opened_itself=only_orders,
            is_open=True,
            noisy=False,
            opens_after_s=0.25,
            voice_begins=lambda: None,
            voice_ended=lambda at: None,
            says=lambda text: None,
            listen=lambda request: None,
        )
        mouth: Any = SimpleNamespace(
            say=lambda effect: None,
            stop=self._stop,
            leave_gap=lambda seconds=0.0: None,
            hold=lambda seconds: None,
            go_on=lambda: None,
            add=lambda says: None,
        )
        loop: Any = SimpleNamespace(
            now_ms=lambda: 1, post=lambda event, question=0: self.events.append(event)
        )
        equipment: Any = SimpleNamespace(mouth=mouth, ear=ear, model=None)
        self.hands = SpokenHands(loop, equipment, lambda clip: "", self.shown.append)
        self.hands.noticed = self.noticed.append
        self._ear, self._mouth = ear, mouth

    def _stop(self) -> None:
        self.stopped += 1

    def speaks(self, text: str, *, caution: bool = False) -> None:
        self.hands.say(Say(1, text, "caution" if caution else "step", interruptible=not caution))
        self._mouth.told(PlayerEvent("started", 0.0, 1))

    def hears(self, words: str, *, over: bool, confidence: float = 0.96) -> list[Event]:
        """Speech begins, shows in a partial result and ends; what became of it."""
        said = tuple(words.split())
        self._ear.told(heard.SpeechStarted(1.0, over), 1)
        self._ear.told(heard.Partial(1.2, said, over), 1)
        self.stopped_by_partial = self.stopped
        final = heard.Final(1.5, said, confidence, (confidence,), (), False, 20.0, 1.3, during_voice=over)
        self._ear.told(final, 1)
        return self.events

    def hears_no_word(self, *, over: bool) -> list[Event]:
        self._ear.told(heard.SpeechStarted(1.0, over), 1)
        self._ear.told(heard.NoMatch(1.5, False, (), during_voice=over), 1)
        return self.events


STEP = "Turn the plug in its bracket until all of its pins face you."
NO_ORDERS = (
    "yes", "no", "understood", "done", "nine", "four volts", "alpha bravo", "carry on", "skip", "back",
    "undo", "help", "why", "slower", "what was pins", "call the lead", "end note",
)  # fmt: skip


@pytest.mark.parametrize("words", NO_ORDERS)
def test_no_answer_and_no_other_order_is_taken_over_the_voice_and_it_goes_on(words: str) -> None:
    job = Job()
    job.speaks(STEP)
    assert job.hears(words, over=True) == []
    assert job.stopped == 0


@pytest.mark.parametrize("words", sorted(" ".join(order) for order in ORDERS))
def test_an_order_that_interrupts_cuts_the_voice_off_once_it_is_known(words: str) -> None:
    job = Job()
    job.speaks(STEP)
    barge_in, order = job.hears(words, over=True)
    assert isinstance(barge_in, BargeIn)
    assert isinstance(order, Heard)
    assert order.words == tuple(words.split())
    assert (job.stopped_by_partial, job.stopped) == (0, 1)


@pytest.mark.parametrize("words", sorted(" ".join(order) for order in ORDERS))
def test_through_a_caution_only_stop_and_hold_are_taken(words: str) -> None:
    job = Job()
    job.speaks("Warning. The capacitors stay charged.", caution=True)
    taken = any(isinstance(event, Heard) for event in job.hears(words, over=True))
    assert taken is (tuple(words.split()) in CUT_A_CAUTION)
    assert job.stopped == int(taken)


def test_an_order_that_is_not_sure_is_not_taken() -> None:
    job = Job()
    job.speaks(STEP)
    assert job.hears("hold", over=True, confidence=0.8) == []
    assert job.stopped == 0


def test_a_yes_that_began_over_the_voice_is_none_after_it_has_ended() -> None:
    """Its own "Yes?" at the end of a read-back."""
    job = Job()
    job.speaks("Nine. Yes?")
    job._mouth.told(PlayerEvent("finished", 1.1, 1))
    job.events.clear()
    assert job.hears("yes", over=True) == []
    (yes,) = job.hears("yes", over=False)
    assert isinstance(yes, Heard)


def test_sound_over_the_voice_is_no_try_to_answer_and_sound_after_it_is_one() -> None:
    job = Job()
    assert job.hears_no_word(over=True) == []
    assert [type(event) for event in job.hears_no_word(over=False)] == [NoMatch]


def test_the_page_does_not_show_its_own_words_as_heard() -> None:
    job = Job()
    job.speaks(STEP)
    job.hears("nine", over=True)
    assert not any(isinstance(event, heard.Partial) for event in job.noticed)
    job.hears("nine", over=False)
    assert any(isinstance(event, heard.Partial) for event in job.noticed)


def test_with_a_headset_any_word_cuts_at_once_and_answers() -> None:
    job = Job(only_orders=False)
    job.speaks(STEP)
    kinds = [type(event) for event in job.hears("nine", over=True)]
    assert kinds == [BargeIn, Heard]
    assert job.stopped_by_partial == 1
