"""The bench's room is as late as a room, also after the machine stalled: else its echo is no echo."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile

from sayso.bench.private_audio import PrivateAudio
from sayso.hearing.recordings import RATE

pytestmark = pytest.mark.audio

STALL_S = 1.5


def recorder(audio: PrivateAudio, source: str, file: Path) -> subprocess.Popen[bytes]:
    form = (f"--rate={RATE}", "--channels=1", "--format=s16le", "--latency-msec=20")
    return subprocess.Popen(["parec", "-d", source, *form, str(file)], env=audio.environment)


def test_after_a_stall_the_echo_is_as_late_as_before(tmp_path: Path) -> None:
    """The way back to the microphone stands still for 1.5 s, which a sound server never makes up for."""
    noise = tmp_path / "noise.wav"
    soundfile.write(noise, np.random.default_rng(1).normal(0, 0.1, RATE), RATE)
    played, heard = tmp_path / "played.raw", tmp_path / "heard.raw"
    with PrivateAudio() as audio:
        audio.add_echo(np.array([1.0]), 0.5)
        way_back = audio._players[-1]
        time.sleep(0.5)
        os.kill(way_back.pid, signal.SIGSTOP)
        time.sleep(STALL_S)
        os.kill(way_back.pid, signal.SIGCONT)
        time.sleep(0.5)
        recorders = [recorder(audio, "speaker.monitor", played), recorder(audio, "mic.monitor", heard)]
        time.sleep(0.5)
        subprocess.run(["paplay", "-d", "speaker", str(noise)], env=audio.environment, check=True)
        time.sleep(STALL_S + 1.5)
        for one in recorders:
            one.terminate()
            one.wait()
    assert late_s(played, heard) < STALL_S / 2


def late_s(played: Path, heard: Path) -> float:
    a, b = (np.fromfile(file, dtype="<i2").astype(float) for file in (played, heard))
    size = len(a) + len(b)
    correlation = np.fft.irfft(np.fft.rfft(b, size) * np.conj(np.fft.rfft(a, size)), size)
    peak = int(np.argmax(np.abs(correlation)))
    assert np.abs(correlation[peak]) > 20 * np.median(np.abs(correlation))  # there is an echo at all
    return (peak if peak < size / 2 else peak - size) / RATE
