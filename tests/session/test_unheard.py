"""With a headset: what began before anybody could know the new question is no answer to it.

A reaction takes about a quarter of a second (simple reaction time, from memory of the literature on it), as
for keys (session/loop.py).
"""

from __future__ import annotations

import time

import pytest

from sayso.dialogue.events import Heard
from sayso.session.unheard import UnheardQuestion
from sayso.speaking.player import PlayerEvent
from tests.session.test_over_the_voice import STEP, Job


def new_question(job: Job, *, heard_for_s: float | None) -> None:
    """The next step is told; its first word sounds since so long, or (None) not yet."""
    job.speaks(STEP)
    job.hands._unheard = unheard = UnheardQuestion()
    unheard.asked("answer before")
    unheard.says(time.monotonic() - 5)
    unheard.asked("answer next")
    if heard_for_s is not None:
        job._mouth.told(PlayerEvent("started", time.monotonic() - heard_for_s, 1))


@pytest.mark.parametrize("heard_for_s", [None, 0.0])
def test_done_said_twice_is_not_done_for_the_next_step(heard_for_s: float | None) -> None:
    job = Job(only_orders=False)
    new_question(job, heard_for_s=heard_for_s)
    assert job.hears("done", over=True) == []
    assert job.stopped == 0  # the step is told to its end
    assert "too early: the question was not heard yet" in job.shown[-1]


def test_who_knows_the_step_by_its_first_words_need_not_hear_it_out() -> None:
    job = Job(only_orders=False)
    new_question(job, heard_for_s=2.0)
    assert [event.words for event in job.hears("done", over=True) if isinstance(event, Heard)] == [("done",)]
    assert job.stopped >= 1


@pytest.mark.parametrize("order", ["stop", "hold", "repeat"])
def test_stop_hold_and_repeat_count_at_once(order: str) -> None:
    job = Job(only_orders=False)
    new_question(job, heard_for_s=None)
    assert [event.words for event in job.hears(order, over=True) if isinstance(event, Heard)] == [(order,)]


def test_a_mumble_that_began_too_soon_is_no_try() -> None:
    job = Job(only_orders=False)
    new_question(job, heard_for_s=None)
    assert job.hears_no_word(over=True) == []


def test_speech_that_is_going_on_when_the_question_changes_is_no_answer_to_the_new_one() -> None:
    """The wait is over while somebody talks."""
    unheard = UnheardQuestion()
    unheard.asked("wait a")
    unheard.speech_begins(100.0)
    unheard.says(100.2)
    unheard.asked("answer a")
    assert unheard.too_soon
    unheard.speech_ends()
    unheard.voice_sounds(100.4)
    unheard.speech_begins(101.0)
    assert not unheard.too_soon


def test_the_same_question_asked_again_takes_what_is_being_said() -> None:
    unheard = UnheardQuestion()
    unheard.asked("answer a")
    unheard.speech_begins(100.0)
    unheard.says(100.2)
    unheard.asked("answer a")
    assert not unheard.too_soon


def test_a_voice_that_sounds_before_the_ear_is_told_the_question_counts() -> None:
    unheard = UnheardQuestion()
    unheard.asked("answer a")
    unheard.says(100.0)
    unheard.voice_sounds(100.05)
    unheard.asked("answer b")
    unheard.speech_begins(100.1)
    assert unheard.too_soon
    unheard.speech_begins(100.4)
    assert not unheard.too_soon


def test_a_voice_that_never_comes_is_not_waited_for() -> None:
    unheard = UnheardQuestion()
    unheard.says(100.0)
    unheard.asked("answer a")
    unheard.voice_is_over()
    unheard.speech_begins(100.1)
    assert not unheard.too_soon
