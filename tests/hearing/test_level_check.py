"""The level check says plainly what is wrong and what to do."""

import numpy as np
import pytest

from sayso.hearing.level_check import Levels, MutedWatch, NoiseMonitor, advice, measure
from sayso.hearing.levels import clipped_share, dbfs, samples_of

from .conftest import RATE, Say, quiet, to_pcm


def test_a_full_scale_sine_is_three_below_full_scale() -> None:
    """RMS of a sine is 1/sqrt(2) of its peak: -3.01 dBFS (definition)."""
    t = np.arange(RATE) / RATE
    assert dbfs((np.sin(2 * np.pi * 440 * t) * 32767).astype(np.int16)) == pytest.approx(-3.01, abs=0.01)


def test_digital_silence_has_a_level_too() -> None:
    assert dbfs(np.zeros(100, np.int16)) == -100.0


def test_clipping_is_counted() -> None:
    assert clipped_share(np.array([0, 32767, -32768, 5], np.int16)) == 0.5


def test_a_good_place_needs_no_advice(say: Say) -> None:
    levels = measure(samples_of(say("five seven nine", before=1.0)))
    assert levels.snr_db is not None
    assert levels.snr_db > 25
    assert advice(levels) == ()


def test_nothing_at_all_is_said_as_such() -> None:
    assert advice(measure(np.zeros(RATE * 2, np.int16))) == (
        "I hear nothing at all. Is the microphone muted or unplugged?",
    )


def test_a_loud_place_is_told_by_how_much() -> None:
    assert advice(Levels(-37.0, -25.0, 0.0)) == ("Too loud: 3 dB over. Come closer or use a headset.",)


def test_a_hopeless_place_offers_the_keys() -> None:
    assert "keys" in advice(Levels(-25.0, -24.0, 0.0))[0]


def test_an_overdriven_microphone_is_told() -> None:
    assert "overdriven" in advice(Levels(-60.0, -5.0, 0.01))[0]


def test_a_faint_voice_is_told() -> None:
    assert "faint" in advice(Levels(-75.0, -50.0, 0.0))[0]


def test_a_machine_that_starts_is_noticed_and_one_knock_is_not() -> None:
    monitor = NoiseMonitor()
    monitor.heard_speech(-25.0)
    assert all(monitor.feed(-60.0, 0.03) is None for _ in range(100))
    assert monitor.feed(-20.0, 0.03) is None  # a knock
    assert all(monitor.feed(-60.0, 0.03) is None for _ in range(100))
    changes = [c for _ in range(200) if (c := monitor.feed(-30.0, 0.03))]
    assert [(c.noisy, c.decibels_over) for c in changes] == [(True, 10.0)]


def test_a_loud_place_that_gets_louder_is_told_of_again_and_one_that_wavers_is_not() -> None:
    monitor = NoiseMonitor()
    monitor.heard_speech(-25.0)
    while not monitor.feed(-30.0, 0.03):
        pass
    wavers = [-27.0, -32.0, -26.0] * 400
    assert all(monitor.feed(level, 0.03) is None for level in wavers)
    changes = [c for _ in range(600) if (c := monitor.feed(-22.0, 0.03))]
    assert [(c.noisy, c.decibels_over) for c in changes] == [(True, 18.0)]


def test_it_counts_as_quiet_again_only_when_clearly_better() -> None:
    monitor = NoiseMonitor()
    monitor.heard_speech(-25.0)
    while not monitor.feed(-30.0, 0.03):
        pass
    assert all(monitor.feed(-41.0, 0.03) is None for _ in range(300))  # 1 dB better than the limit
    changes = [c for _ in range(200) if (c := monitor.feed(-50.0, 0.03))]
    assert [c.noisy for c in changes] == [False]


def test_a_muted_microphone_is_noticed_once_and_so_is_its_return() -> None:
    watch = MutedWatch(after_s=2.0)
    silence, room = np.zeros(480, np.int16), samples_of(quiet(0.03))
    told = [t for _ in range(200) if (t := watch.feed(silence, 0.03)) is not None]
    assert told == [True]
    assert watch.feed(room, 0.03) is False
    assert watch.feed(room, 0.03) is None


def test_a_quiet_room_is_not_a_muted_microphone() -> None:
    watch = MutedWatch(after_s=1.0)
    room = samples_of(to_pcm(np.random.default_rng(0).standard_normal(480) * 0.0001))
    assert all(watch.feed(room, 0.03) is None for _ in range(200))


def test_noise_in_bursts_counts_although_its_gaps_are_quiet() -> None:
    monitor = NoiseMonitor()
    monitor.heard_speech(-25.0)
    monitor.heard_noise(-28.0, 1.5, 2.0)
    assert monitor.feed(-60.0, 0.03, 2.1) is None  # one burst is a knock
    monitor.heard_noise(-28.0, 3.0, 6.0)
    changed = monitor.feed(-60.0, 0.03, 6.1)
    assert changed is not None
    assert (changed.noisy, changed.decibels_over) == (True, 12.0)
    later = [c for n in range(2000) if (c := monitor.feed(-60.0, 0.03, 6.1 + n * 0.03))]
    assert [c.noisy for c in later] == [False]


def test_the_place_is_judged_before_the_job_begins() -> None:
    assert NoiseMonitor().begin(-66.0) is None
    loud = NoiseMonitor().begin(-25.0)
    assert loud is not None
    assert loud.decibels_over == 20.0  # a voice at -30 dB has to stand 15 dB above the noise
