"""The check of the room, made of the voice itself: headset, loudspeaker, a loudspeaker that is late."""

from __future__ import annotations

import subprocess

import numpy as np
import pytest
import soundfile
import soxr

from sayso.hearing.echo_canceller import EchoCanceller
from sayso.hearing.echo_check import Coupling
from sayso.hearing.echo_libraries import FRAME, RATE, NoEcho
from sayso.session.room_check import SURE_UNHEARD, RoomCheck, UnheardEvidence, own_words
from tests.hearing.own_voice import Room


@pytest.fixture(scope="module")
def voice(tmp_path_factory: pytest.TempPathFactory) -> np.ndarray:
    file = tmp_path_factory.mktemp("voice") / "voice.wav"
    text = "Count the populated pins of the signal plug. How many?"
    subprocess.run(["espeak-ng", "-v", "en-us", "-w", str(file), text], check=True)
    sound, rate = soundfile.read(file)
    return np.concatenate((np.zeros(RATE // 2), soxr.resample(sound, rate, RATE), np.zeros(RATE)))


def checked(voice: np.ndarray, microphone: np.ndarray) -> list[Coupling]:
    played, heard = ((np.clip(x, -1, 1) * 32767).astype(np.int16) for x in (voice, microphone))
    check = RoomCheck()
    frames = range(0, len(voice) - FRAME, FRAME)
    return [c for at in frames if (c := check.feed(played[at : at + FRAME], heard[at : at + FRAME]))]


def test_a_headset_is_told_from_a_loudspeaker(voice: np.ndarray) -> None:
    room = np.random.default_rng(3).standard_normal(len(voice)) * 0.001
    assert [c.heard for c in checked(voice, room)] == [False]
    assert [c.heard for c in checked(voice, Room(-12.0).echo(voice))] == [True]


def test_sound_from_before_the_voice_does_not_hide_what_comes_with_it(voice: np.ndarray) -> None:
    """Talk that goes on when the voice begins, or the sentence before on a busy machine: no headset."""
    talk = np.roll(voice, -RATE // 2) * 0.25
    (found,) = checked(voice, talk + np.random.default_rng(3).standard_normal(len(voice)) * 0.0005)
    assert found.level_db > 10
    assert UnheardEvidence().way(found, noisy=False) is None


@pytest.mark.parametrize("delay_s", [0.15, 0.22, 0.3])
def test_a_bluetooth_loudspeaker_is_known_by_its_delay(voice: np.ndarray, delay_s: float) -> None:
    (found,) = checked(voice, Room(-12.0, delay_s).echo(voice))
    assert found.heard
    assert found.delay_s == pytest.approx(delay_s, abs=0.005)


def test_a_word_is_too_short_to_tell(voice: np.ndarray) -> None:
    word = np.concatenate((voice[: RATE // 2 + RATE // 3], np.zeros(RATE)))
    assert checked(word, Room(-12.0).echo(word)) == []


def test_without_a_library_the_ear_never_opens_beside_the_voice(voice: np.ndarray) -> None:
    canceller = EchoCanceller(NoEcho())
    pcm = (np.clip(Room(-6.0).echo(voice), -1, 1) * 32767).astype("<i2")
    played = (np.clip(voice, -1, 1) * 32767).astype(np.int16)
    for at in range(0, len(voice) - 480, 480):
        now = 100.0 + (at + 480) / RATE
        canceller.played(played[at : at + 480], now - 480 / RATE)
        cleaned = canceller.clean(pcm[at : at + 480].tobytes(), now)
        assert cleaned.words == cleaned.watched == pcm[at : at + 480].tobytes()
    assert not canceller.learned


def test_a_muted_microphone_stays_silent_behind_the_canceller(voice: np.ndarray) -> None:
    canceller = EchoCanceller()
    played = (np.clip(voice, -1, 1) * 32767).astype(np.int16)
    for at in range(0, len(voice) - 480, 480):
        now = 100.0 + (at + 480) / RATE
        canceller.played(played[at : at + 480], now - 480 / RATE)
        cleaned = canceller.clean(b"\0" * 960, now)
        assert not any(cleaned.words)
        assert not any(cleaned.watched)


UNHEARD, HEARD = Coupling(False, 0.5, 0.0, 0.1), Coupling(True, 20.0, 0.05, 0.3)


def test_the_ear_opens_only_after_several_stretches_that_did_not_come_back() -> None:
    evidence = UnheardEvidence()
    ways = [evidence.way(UNHEARD, noisy=False) for _ in range(SURE_UNHEARD)]
    assert ways == [None] * (SURE_UNHEARD - 1) + ["open"]


def test_a_voice_that_was_heard_once_never_opens_the_ear_again() -> None:
    """An hour of prompts in rooms that ring: later stretches drown in what is left of those before."""
    evidence = UnheardEvidence()
    assert evidence.way(HEARD, noisy=False) == "half_duplex"
    assert {evidence.way(UNHEARD, noisy=False) for _ in range(10)} == {"half_duplex"}


def test_an_open_ear_closes_at_the_first_echo_and_noise_proves_nothing() -> None:
    evidence = UnheardEvidence()
    assert {evidence.way(UNHEARD, noisy=True) for _ in range(10)} == {None}
    for _ in range(SURE_UNHEARD):
        way = evidence.way(UNHEARD, noisy=False)
    assert way == "open"
    assert evidence.way(HEARD, noisy=False) == "half_duplex"


def test_words_of_the_sentence_that_is_being_spoken_are_its_own_and_one_word_alone_is_not() -> None:
    spoken = "You can say: repeat, hold, or how far am I."
    assert own_words(("you", "can"), spoken)
    assert own_words(("how", "far", "am", "i"), spoken)
    assert not own_words(("hold",), spoken)
    assert not own_words(("say", "hold"), spoken)


def test_an_ear_that_took_the_voices_own_words_for_somebodys_opens_no_more() -> None:
    evidence = UnheardEvidence()
    for _ in range(SURE_UNHEARD):
        evidence.way(UNHEARD, noisy=False)
    evidence.heard_itself()
    assert evidence.way(UNHEARD, noisy=False) == "half_duplex"
