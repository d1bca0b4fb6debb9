"""What is turned down comes with a guess at the whole answer that it may have been; talk comes with none."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from sayso.hearing.calibration import Calibration
from sayso.hearing.endpoint import Whole
from sayso.hearing.hearing_events import Final, HearingEvent, NoMatch
from sayso.hearing.listening import Listener, listen_to
from sayso.hearing.recogniser import Recogniser
from sayso.hearing.workshop_noise import with_noise

from .conftest import DIGITS, Say, quiet, to_pcm

#: Orders of several words: none of their words is an answer.
ORDERS = ("say a word", "what was it for", "are you there", "how far am i")
#: A map that believes nothing, as the model's own believes little in noise.
NEVER_SURE = Calibration((0.0,) * 5, -9.0, reject_below=0.5)


def a_digit(words: Sequence[str]) -> Whole:
    return Whole(len(words) == 1 and words[0] in DIGITS, False)


@pytest.fixture
def doubtful(recogniser: Recogniser) -> Listener:
    listener = Listener(recogniser, ear="open", calibration=NEVER_SURE)
    listener.listen((*DIGITS, *ORDERS), completeness=a_digit, offers=True)
    return listener


def decided(events: Sequence[HearingEvent]) -> list[Final | NoMatch]:
    return [e for e in events if isinstance(e, Final | NoMatch)]


def offered(events: Sequence[HearingEvent]) -> list[tuple[tuple[str, ...], ...]]:
    return [e.offers for e in decided(events) if isinstance(e, NoMatch)]


@pytest.mark.parametrize("digit", DIGITS)
@pytest.mark.parametrize("voice", ["en-us", "en-gb-scotland"])
def test_an_answer_that_is_turned_down_is_offered(
    doubtful: Listener, say: Say, digit: str, voice: str
) -> None:
    assert offered(listen_to(doubtful, say(digit, voice=voice))) == [((digit,),)]


TALK = [
    "chicken soup with dumplings, please, for all of us",
    "hello",
    "banana",
    "put it over there",
    "the weather",
]


@pytest.mark.parametrize("talk", TALK)
def test_talk_is_offered_as_nothing(doubtful: Listener, say: Say, talk: str) -> None:
    assert offered(listen_to(doubtful, say(talk))) == [()]


def test_a_number_right_after_talk_is_part_of_it(doubtful: Listener, say: Say) -> None:
    talk = say("chicken soup with dumplings, please, for all of us", after=0.0) + quiet(0.75)
    for at in range(0, len(talk), 960):
        doubtful.feed(talk[at : at + 960])
    doubtful.listen((*DIGITS, *ORDERS), completeness=a_digit, offers=True)
    (event,) = decided(listen_to(doubtful, say("seven", before=0.0)))
    assert isinstance(event, NoMatch)
    assert event.words == ("seven",)
    assert event.offers == ()


def test_nothing_is_offered_out_of_what_is_said_over_the_voice(doubtful: Listener, say: Say) -> None:
    doubtful.voice(True)
    assert offered(listen_to(doubtful, say("five"))) == [()]


def test_nothing_is_offered_where_no_guess_is_asked_for(doubtful: Listener, say: Say) -> None:
    doubtful.listen(DIGITS, completeness=a_digit)
    assert offered(listen_to(doubtful, say("five"))) == [()]


@pytest.mark.parametrize("seed", [0, 2, 3])
def test_the_noise_of_the_place_is_no_try_to_answer(recogniser: Recogniser, say: Say, seed: int) -> None:
    """The ear opens beside an impact wrench: the noise itself passes for speech until it knows that."""
    listener = Listener(recogniser, ear="open")
    listener.listen(DIGITS, completeness=a_digit)
    spoken = np.frombuffer(say("seven", before=1.9, after=1.0), "<i2") / 32768
    beside = with_noise(np.asarray(spoken, dtype=np.float64), "impact wrench", 10.0, [seed, 1])
    events = decided(listen_to(listener, to_pcm(beside)))
    assert [(type(e), e.words) for e in events] == [(Final, ("seven",))]
