"""An ear that hears over sayso's own voice tells what began there apart from what began after it.

The voice itself is not in these recordings (an echo canceller has taken it out); the words of a person are.
"""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from sayso.hearing.endpoint import Whole
from sayso.hearing.hearing_events import Final, NoMatch
from sayso.hearing.listening import Ear, Listener
from sayso.hearing.recogniser import Recogniser
from sayso.hearing.speech_model import SpeechModel
from sayso.session.cut_in import ORDERS

from .conftest import RATE, Say, quiet

PHRASES = ("yes", "no", "done", "nine", "stop", "stop the job", "hold", "hold on", "repeat", "say again")
BLOCK = 960
#: The room rings for so long after the voice.
TAIL_S = 0.25


def whole(words: Sequence[str]) -> Whole:
    phrases = [tuple(phrase.split()) for phrase in PHRASES]
    said = tuple(words)
    return Whole(said in phrases, any(phrase[: len(said)] == said != phrase for phrase in phrases))


def ear_over_the_voice(model: SpeechModel, ear: Ear = "orders") -> Listener:
    listener = Listener(Recogniser(model), ear=ear, echo_tail_s=TAIL_S)
    listener.orders = ORDERS
    listener.listen(PHRASES, completeness=whole)
    return listener


def feed(listener: Listener, pcm: bytes) -> list[Final | NoMatch]:
    """Each result opens the question again, as in a job where it led to nothing."""
    out: list[Final | NoMatch] = []
    for at in range(0, len(pcm), BLOCK):
        for event in listener.feed(pcm[at : at + BLOCK]):
            if isinstance(event, Final | NoMatch):
                out.append(event)
                listener.listen(PHRASES, completeness=whole)
    return out


def words_of(events: Sequence[Final | NoMatch]) -> list[tuple[tuple[str, ...], bool]]:
    return [(e.words, e.during_voice) for e in events if isinstance(e, Final)]


def test_a_yes_that_begins_over_the_voice_is_told_as_such_and_one_after_it_is_an_answer(
    model: SpeechModel, say: Say
) -> None:
    listener = ear_over_the_voice(model)
    listener.voice(True)
    listener.says(("nine",))
    heard = feed(listener, say("yes", before=1.0, after=0.0))
    listener.voice(False)  # while the yes is still being heard
    heard += feed(listener, quiet(0.5))
    heard += feed(listener, say("yes", before=0.0, after=1.0))
    assert words_of(heard) == [(("yes",), True), (("yes",), False)]


def test_what_is_left_of_the_voice_does_not_swallow_the_answer_that_follows_it(
    model: SpeechModel, say: Say
) -> None:
    """A person who answers 0.2 s after the voice: the leftover is parted from it, and no run of talk."""
    listener = ear_over_the_voice(model)
    listener.voice(True)
    listener.says(("check", "the", "rear", "panel"))
    leftover = say("rear panel", before=1.0, after=0.0)
    feed(listener, leftover)
    listener.voice(False)
    heard = feed(listener, quiet(0.2) + say("nine", before=0.0, after=1.2))
    assert words_of(heard)[-1:] == [(("nine",), False)]


def test_speech_into_which_the_voice_speaks_is_only_an_order(model: SpeechModel, say: Say) -> None:
    listener = ear_over_the_voice(model)
    said = say("yes", before=1.0, after=1.0)
    middle = int(1.25 * RATE) * 2
    heard = feed(listener, said[:middle])
    listener.voice(True)
    heard += feed(listener, said[middle:])
    assert [(e.words, e.during_voice) for e in heard] == [(("yes",), True)]


@pytest.mark.parametrize("order", ["stop", "hold"])
def test_an_order_ends_as_soon_as_it_is_sure_of_the_word(model: SpeechModel, say: Say, order: str) -> None:
    """What is left of the voice may never fall silent, and both could go on ("stop the job", "hold on")."""
    ends = []
    for orders in (ORDERS, frozenset[tuple[str, ...]]()):
        listener = ear_over_the_voice(model)
        listener.orders = orders
        listener.voice(True)
        listener.says(("check", "the", "rear", "panel"))
        heard = feed(listener, say(order, before=1.0, after=1.0))
        assert words_of(heard) == [((order,), True)]
        ends.append(heard[0].at_s)
    assert ends[0] < ends[1] - 0.05


@pytest.mark.parametrize("left", ["nine yes", "yes nine"])
def test_bits_of_the_voice_before_an_order_do_not_hide_it(model: SpeechModel, say: Say, left: str) -> None:
    listener = ear_over_the_voice(model)
    listener.voice(True)
    listener.says(("check", "the", "rear", "panel"))
    heard = feed(listener, say(left, "hold", pause=0.05, before=1.0, after=1.0))
    assert words_of(heard) == [(("hold",), True)]


def test_an_order_that_is_denied_over_the_voice_is_none(model: SpeechModel, say: Say) -> None:
    listener = ear_over_the_voice(model)
    listener.listen((*PHRASES, "do not stop"), completeness=whole)
    listener.voice(True)
    listener.says(("check", "the", "rear", "panel"))
    heard = [e for e in listener.feed(say("do not stop", before=1.0, after=1.0)) if isinstance(e, Final)]
    heard += [e for e in listener.feed(quiet(1.0)) if isinstance(e, Final)]
    assert ("stop",) not in [e.words for e in heard]


@pytest.mark.parametrize(
    ("sentence", "order"),
    [
        ("hold the cover with one hand", "hold on"),
        ("the holding bolt is on the left", "hold on"),
        ("you can say done or nine", "say again"),
    ],
)
def test_an_order_that_begins_as_the_sentence_that_sayso_is_speaking_is_not_taken(
    model: SpeechModel, say: Say, sentence: str, order: str
) -> None:
    spoken = say(order, before=1.0, after=1.0)
    listener = ear_over_the_voice(model)
    listener.voice(True)
    listener.says(sentence.split())
    assert words_of(feed(listener, spoken)) == []

    other = ear_over_the_voice(model)
    other.voice(True)
    other.says(("check", "the", "rear", "panel"))
    assert words_of(feed(other, spoken)) == [(tuple(order.split()), True)]


def test_nor_is_one_of_the_sentence_before_which_comes_back_late(model: SpeechModel, say: Say) -> None:
    listener = ear_over_the_voice(model)
    listener.voice(True)
    listener.says(("say", "hold"))
    feed(listener, quiet(1.0))
    listener.says(("check", "the", "rear", "panel"))
    assert words_of(feed(listener, say("hold", before=0.2, after=1.0))) == []


def test_after_the_voice_it_is_deaf_until_the_room_has_fallen_silent(model: SpeechModel, say: Say) -> None:
    """Sound that is over before the room is silent begins nothing."""
    listener = ear_over_the_voice(model)
    listener.echo_tail_s = 0.6
    listener.voice(True)
    feed(listener, quiet(1.0))
    listener.voice(False)
    assert feed(listener, quiet(0.1) + say("nine", before=0.0, after=0.0)[: int(0.35 * RATE) * 2]) == []
    assert feed(listener, quiet(1.5)) == []
