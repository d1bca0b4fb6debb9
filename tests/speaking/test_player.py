"""The player on a real output stream: what it reports is what the loudspeaker does."""

from __future__ import annotations

import queue
import time
from collections.abc import Iterator
from concurrent.futures import Future

import numpy as np
import pytest

from sayso.bench.private_audio import PrivateAudio
from sayso.bench.sound_watch import SoundWatch
from sayso.speaking.output_device import OutputError, find_output
from sayso.speaking.player import Player, PlayerEvent

pytestmark = pytest.mark.audio

#: Far more than the 10-20 ms by which report and loudspeaker differ; a loaded machine delays the watcher.
WIDE_S = 0.3


class Told:
    def __init__(self) -> None:
        self.events: queue.SimpleQueue[PlayerEvent] = queue.SimpleQueue()

    def next(self) -> PlayerEvent:
        return self.events.get(timeout=8)


@pytest.fixture
def told() -> Told:
    return Told()


@pytest.fixture
def player(audio_here: PrivateAudio, told: Told) -> Iterator[Player]:
    with Player(find_output(), told.events.put) as opened:
        yield opened


@pytest.fixture
def loudspeaker(audio_here: PrivateAudio) -> Iterator[SoundWatch]:
    with SoundWatch(audio_here.environment, "speaker.monitor") as watch:
        time.sleep(0.2)
        yield watch


def tone(player: Player, seconds: float) -> Future[np.ndarray]:
    ready: Future[np.ndarray] = Future()
    at = np.arange(int(player.rate * seconds)) / player.rate
    ready.set_result((0.3 * np.sin(2 * np.pi * 440 * at)).astype(np.float32))
    return ready


def test_utterances_are_heard_in_their_order_and_to_their_end(player: Player, told: Told) -> None:
    player.play(1, tone(player, 0.3))
    player.play(2, tone(player, 0.2))
    events = [told.next() for _ in range(4)]
    assert [(e.kind, e.utterance) for e in events] == [
        ("started", 1),
        ("finished", 1),
        ("started", 2),
        ("finished", 2),
    ]
    assert events[1].at - events[0].at == pytest.approx(0.3, abs=0.05)
    assert not player.busy


def test_it_knows_when_the_last_sample_was_heard(player: Player, told: Told, loudspeaker: SoundWatch) -> None:
    player.play(1, tone(player, 0.5))
    started, finished = told.next(), told.next()
    time.sleep(0.3)
    assert loudspeaker.last_sound() == pytest.approx(finished.at, abs=WIDE_S)
    first = loudspeaker.first_sound(started.at - 1.0)
    assert first == pytest.approx(started.at, abs=WIDE_S)


def test_stop_brings_silence_and_drops_what_waits(
    player: Player, told: Told, loudspeaker: SoundWatch
) -> None:
    player.play(1, tone(player, 20.0))
    player.play(2, tone(player, 20.0))
    assert told.next().kind == "started"
    time.sleep(0.2)
    player.stop()
    cut = [told.next(), told.next()]
    assert [(e.kind, e.utterance) for e in cut] == [("cut", 1), ("cut", 2)]
    time.sleep(0.8)
    assert loudspeaker.last_sound() < cut[0].at + WIDE_S


def test_what_is_said_right_after_a_stop_is_heard(player: Player, told: Told) -> None:
    player.play(1, tone(player, 20.0))
    assert told.next().kind == "started"
    player.stop()
    player.play(2, tone(player, 0.2))
    kinds = [(e.kind, e.utterance) for e in (told.next(), told.next(), told.next())]
    assert kinds == [("cut", 1), ("started", 2), ("finished", 2)]


def test_stop_in_silence_does_nothing(player: Player, told: Told) -> None:
    player.stop()
    player.play(1, tone(player, 0.1))
    assert told.next().kind == "started"


def test_a_phrase_that_could_not_be_made_is_reported_and_passed_over(player: Player, told: Told) -> None:
    broken: Future[np.ndarray] = Future()
    broken.set_exception(ValueError("no engine"))
    player.play(1, broken)
    player.play(2, tone(player, 0.1))
    events = [told.next() for _ in range(3)]
    assert [(e.kind, e.utterance) for e in events] == [("failed", 1), ("started", 2), ("finished", 2)]
    assert events[0].why == "no engine"


def test_an_unknown_loudspeaker_is_refused_with_the_names_there_are(audio_here: PrivateAudio) -> None:
    with pytest.raises(OutputError, match=r"no loudspeaker called 'brass horn'; there are: .*pulse"):
        find_output("brass horn")


def test_what_waits_is_held_back_while_somebody_speaks_but_not_for_ever(player: Player, told: Told) -> None:
    player.hold(0.8)
    player.play(1, tone(player, 0.1))
    asked = time.monotonic()
    assert told.next().at - asked > 0.7
    assert told.next().kind == "finished"
    player.hold(30.0)
    player.play(2, tone(player, 0.1))
    player.go_on()
    assert (told.next().kind, told.next().kind) == ("started", "finished")


def test_the_gap_between_two_utterances_can_be_made_longer(player: Player, told: Told) -> None:
    player.gap_s = 0.7
    player.play(1, tone(player, 0.1))
    player.play(2, tone(player, 0.1))
    events = [told.next() for _ in range(4)]
    assert events[2].at - events[1].at == pytest.approx(0.7, abs=WIDE_S)
