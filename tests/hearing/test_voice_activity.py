"""Speech is told from rooms, knocks and machines, and its end is found, quiet place or loud."""

import numpy as np
import pytest

from sayso.hearing.recordings import RATE, to_pcm
from sayso.hearing.voice_activity import VoiceActivity
from sayso.hearing.workshop_noise import NOISES, with_noise

from .conftest import Say, quiet


def feed(activity: VoiceActivity, pcm: bytes, block: int = 960) -> tuple[float | None, float]:
    """When speech was noticed (None: never), and the silence at the end."""
    started = None
    for at in range(0, len(pcm), block):
        if activity.feed(pcm[at : at + block]).started and started is None:
            started = (at + block) / 2 / RATE
    return started, activity.now().silence_s


def test_a_quiet_room_is_no_speech() -> None:
    assert feed(VoiceActivity(), quiet(5.0))[0] is None


def test_digital_silence_is_no_speech() -> None:
    assert feed(VoiceActivity(), bytes(RATE * 4))[0] is None


def test_a_knock_is_no_speech() -> None:
    sound = np.random.default_rng(1).standard_normal(RATE * 3) * 0.001
    t = np.arange(800) / RATE
    sound[RATE : RATE + 800] += np.exp(-t * 200) * np.sin(2 * np.pi * 900 * t) * 0.8
    assert feed(VoiceActivity(), to_pcm(sound))[0] is None


def test_speech_is_noticed_within_a_fifth_of_a_second(say: Say) -> None:
    started, _ = feed(VoiceActivity(), say("five", before=1.0))
    assert started is not None
    assert 1.0 < started < 1.25


def test_the_end_of_speech_is_found(say: Say) -> None:
    for block in (320, 960, 1000, 6400):  # whatever the block, the same frames are cut from it
        activity = VoiceActivity()
        feed(activity, say("five", before=1.0, after=1.0), block)
        assert 0.85 < activity.now().silence_s < 1.35


@pytest.mark.parametrize("kind", [k for k in NOISES if k != "babble"])
def test_speech_in_machine_noise_is_noticed(say: Say, kind: str) -> None:
    clean = np.frombuffer(say("five seven", before=2.0, after=0.5), dtype="<i2") / 32768
    noisy = with_noise(clean, kind, 10.0, 5)
    started, _ = feed(VoiceActivity(), to_pcm(noisy))
    assert started is not None
    assert started < 2.8


def test_the_noise_floor_follows_the_place() -> None:
    activity = VoiceActivity()
    feed(activity, quiet(4.0, level=0.001))
    soft = activity.floor_dbfs
    feed(activity, quiet(6.0, level=0.03, seed=9))
    assert soft == pytest.approx(-60, abs=2)
    assert activity.floor_dbfs == pytest.approx(-30.5, abs=2)
