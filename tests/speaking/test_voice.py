"""The voice renders with the real pyttsx3 and the system's own engine, in its own process."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import psutil
import pytest

from sayso.speaking import engine_start
from sayso.speaking import voice as voice_module
from sayso.speaking.engine_start import begin_engine
from sayso.speaking.loudness import TARGET_DB, level, trim
from sayso.speaking.voice import Voice, VoiceError


@pytest.fixture(scope="module")
def voice() -> Iterator[Voice]:
    with Voice() as opened:
        yield opened


def speech_db(samples: np.ndarray) -> float:
    """Mean of the loud half, in dB of full scale."""
    blocks = samples[: samples.size - samples.size % 512].reshape(-1, 512)
    power = np.sort(np.mean(np.square(blocks.astype(np.float64)), axis=1))
    return float(10 * np.log10(np.mean(power[power.size // 2 :])))


def test_a_phrase_becomes_samples_of_speech(voice: Voice) -> None:
    samples, rate = voice.render("Torque the two busbar screws.")
    assert rate >= 8000
    assert 1.0 < samples.size / rate < 6.0
    assert float(np.max(np.abs(samples))) <= 1.0


def test_the_rate_asked_for_is_the_rate_spoken_every_time(voice: Voice) -> None:
    # pyttsx3's own queue lets a rate come one phrase late and now and then makes an empty file.
    text = "Count the pins."
    sizes: dict[float, list[int]] = {}
    for number in range(48):
        factor = (0.6, 1.0, 1.5)[number % 3]
        sizes.setdefault(factor, []).append(voice.render(text, factor)[0].size)
    spreads = {factor: max(found) - min(found) for factor, found in sizes.items()}
    assert max(spreads.values()) < 3000
    assert min(sizes[0.6]) > max(sizes[1.0]) > min(sizes[1.0]) > max(sizes[1.5])


def test_slower_takes_longer_and_faster_less(voice: Voice) -> None:
    lengths = [
        voice.render("Count the pins of the signal plug.", factor)[0].size for factor in (0.6, 1.0, 1.5)
    ]
    assert lengths[0] > lengths[1] > lengths[2]


def test_a_short_word_is_as_loud_as_a_long_sentence(voice: Voice) -> None:
    word, _ = voice.render("Done.")
    sentence, _ = voice.render(
        "Key out, battery connector apart, locked and tagged. The capacitors stay charged."
    )
    assert abs(speech_db(word) - speech_db(sentence)) < 4.0


def test_the_engine_prints_nothing_where_the_transcript_goes(
    voice: Voice, capfd: pytest.CaptureFixture[str]
) -> None:
    voice.render("Nothing of this is printed.")
    assert capfd.readouterr().out == ""


def test_an_engine_that_dies_is_started_again(voice: Voice) -> None:
    voice.render("One.")
    assert voice._process is not None
    os.kill(voice._process.pid, signal.SIGKILL)
    samples, _ = voice.render("Two.")
    assert samples.size > 0


def test_an_engine_that_hangs_is_started_again(voice: Voice, monkeypatch: pytest.MonkeyPatch) -> None:
    voice.render("One.")
    monkeypatch.setattr(voice_module, "PATIENCE_S", 0.3)
    assert voice._process is not None
    hung = voice._process.pid
    os.kill(hung, signal.SIGSTOP)
    samples, _ = voice.render("Two.")
    assert samples.size > 0
    assert voice._process.pid != hung


def test_a_machine_without_an_engine_says_so_in_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The real child process, on a machine whose pyttsx3 finds no engine.
    (tmp_path / "pyttsx3.py").write_text("def init():\n    raise OSError('libespeak-ng.so.1: cannot open')\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    with pytest.raises(VoiceError) as told, Voice():
        pass
    assert "\n" not in str(told.value)
    assert "no voice engine" in str(told.value)
    assert "install" in str(told.value)


def test_levelled_speech_has_the_target_mean_and_never_clips() -> None:
    noise = np.random.default_rng(2).normal(0, 0.01, 22_050).astype(np.float32)
    loud = level(noise)
    assert float(20 * np.log10(np.sqrt(np.mean(np.square(loud))))) == pytest.approx(TARGET_DB, abs=0.5)
    spiky = noise.copy()
    spiky[100] = 0.9
    assert float(np.max(np.abs(level(spiky)))) <= 0.98


def test_silence_stays_silence() -> None:
    assert not np.any(level(np.zeros(1000, dtype=np.float32)))
    assert trim(np.zeros(1000, dtype=np.float32), 16_000).size == 0


def test_trimming_takes_the_silence_and_leaves_the_words() -> None:
    words = np.full(1000, 0.5, dtype=np.float32)
    padded = np.concatenate([np.zeros(5000, np.float32), words, np.zeros(9000, np.float32)])
    kept = trim(padded, 16_000, tail_s=0.0)
    assert np.array_equal(kept, words)


def test_an_engine_begun_early_serves_the_first_voice_and_no_other() -> None:
    begin_engine()
    begin_engine()
    (begun,) = engine_start._begun
    with Voice() as first, Voice() as second:
        assert first.render("Ready.")[0].size
        assert second.render("Ready.")[0].size
        assert first._process is begun
        assert second._process is not begun
    assert begun.poll() is not None


def test_an_engine_begun_and_never_used_ends_with_the_program() -> None:
    begin = "from sayso.speaking import engine_start as e; e.begin_engine(); print(e._begun[0].pid)"
    pid = int(subprocess.run([sys.executable, "-c", begin], capture_output=True, check=True).stdout)
    until = time.monotonic() + 10
    while psutil.pid_exists(pid) and time.monotonic() < until:
        time.sleep(0.05)
    assert not psutil.pid_exists(pid)
