"""The microphone on a real PulseAudio that the test starts; each case in a process of its own,
because PortAudio looks at the environment once, when it is imported."""

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from sayso.bench.private_audio import PrivateAudio, PrivateAudioError
from sayso.hearing.microphone import _offered

pytestmark = pytest.mark.audio

LISTEN = """
import json, sys, time
from sayso.hearing.microphone import Back, Block, Lost, Microphone
from sayso.hearing.levels import dbfs, samples_of
end = time.monotonic() + float(sys.argv[2])
with Microphone(sys.argv[1] or None) as microphone:
    print(json.dumps(["open", microphone.name]), flush=True)
    pcm = b""
    while time.monotonic() < end:
        event = microphone.next_event(0.1)
        if isinstance(event, Block):
            pcm += event.pcm
        elif event is not None:
            print(json.dumps([type(event).__name__, getattr(event, "reason", "")]), flush=True)
            if isinstance(event, Back):
                pcm = b""
                end = time.monotonic() + 1.0
samples = samples_of(pcm)
import numpy as np
spectrum = np.abs(np.fft.rfft(samples.astype(float))) if len(samples) else np.zeros(1)
hertz = float(spectrum.argmax() * 16000 / max(1, len(samples)))
print(json.dumps(["heard", len(samples), dbfs(samples), hertz]))
"""


@pytest.fixture
def audio() -> Iterator[PrivateAudio]:
    try:
        with PrivateAudio() as server:
            yield server
    except PrivateAudioError as why:
        pytest.skip(str(why))


def start(audio: PrivateAudio, device: str = "", seconds: float = 2.0) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", LISTEN, device, str(seconds)],
        env=audio.environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def line(process: subprocess.Popen[str]) -> list:
    assert process.stdout is not None
    text = process.stdout.readline()
    if not text:
        assert process.stderr is not None
        raise AssertionError(process.stderr.read())
    return json.loads(text)


def tone(path: Path, seconds: float = 3.0, hertz: float = 1000.0) -> Path:
    t = np.arange(int(48_000 * seconds)) / 48_000
    soundfile.write(path, 0.5 * np.sin(2 * np.pi * hertz * t), 48_000)
    return path


def test_what_is_played_into_the_microphone_is_heard(audio: PrivateAudio, tmp_path: Path) -> None:
    listening = start(audio)
    assert line(listening)[0] == "open"
    subprocess.run(["paplay", "-d", "mic", str(tone(tmp_path / "t.wav"))], env=audio.environment, check=True)
    kind, samples, level, hertz = line(listening)
    assert kind == "heard"
    assert samples > 16_000
    assert level > -20
    assert hertz == pytest.approx(1000, abs=10)
    assert listening.wait(10) == 0


def test_a_microphone_that_is_pulled_out_and_put_back(audio: PrivateAudio, tmp_path: Path) -> None:
    listening = start(audio, seconds=30)
    assert line(listening)[0] == "open"
    time.sleep(0.5)
    audio.unplug_microphone()
    kind, reason = line(listening)
    assert kind == "Lost"
    assert "moved the recording" in reason or "no sound" in reason
    audio.plug_microphone()
    assert line(listening)[0] == "Back"
    assert line(listening)[1] > 8_000
    assert listening.wait(10) == 0


def test_a_name_that_is_not_there_is_told_with_all_names(audio: PrivateAudio) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "sayso.cli", "microphone", "check", "--microphone", "nosuch"],
        env=audio.environment,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 2
    assert done.stderr.strip() == "sayso: no microphone called 'nosuch'; there are: pulse; default"


def test_a_machine_without_a_microphone_says_so() -> None:
    """No sound server to reach; on a machine with a card of its own there is nothing to see."""
    if Path("/proc/asound/cards").is_file() and "no soundcards" not in Path("/proc/asound/cards").read_text():
        pytest.skip("this machine has a sound card")
    env = {**os.environ, "PULSE_SERVER": "unix:/nowhere"}
    done = subprocess.run(
        [sys.executable, "-m", "sayso.cli", "microphone", "check"], env=env, capture_output=True, text=True
    )
    assert done.returncode == 2
    assert done.stderr.strip().startswith("sayso: no ")
    assert len(done.stderr.strip().splitlines()) == 1


def test_a_broken_audio_setup_is_one_line(tmp_path: Path) -> None:
    """An ALSA configuration error makes the import of sounddevice itself fail."""
    (tmp_path / "asound.conf").write_text("pcm.!default { type \n")
    env = {**os.environ, "ALSA_CONFIG_PATH": str(tmp_path / "asound.conf"), "PULSE_SERVER": "unix:/nowhere"}
    done = subprocess.run(
        [sys.executable, "-m", "sayso.cli", "microphone", "list"], env=env, capture_output=True, text=True
    )
    said = [text for text in done.stderr.splitlines() if text.startswith("sayso:")]
    assert done.returncode in (0, 2)
    assert len(said) == (1 if done.returncode else 0)
    assert "Traceback" not in done.stderr


@pytest.mark.long
@pytest.mark.parametrize(("rate", "channels"), [(44_100, 1), (44_100, 2), (48_000, 2), (16_000, 1)])
def test_a_microphone_of_any_usual_rate_and_one_or_two_channels_is_heard(
    audio: PrivateAudio, tmp_path: Path, rate: int, channels: int
) -> None:
    audio.control(
        "load-module",
        "module-null-sink",
        "sink_name=other",
        f"rate={rate}",
        f"channels={channels}",
        "norewinds=1",
    )
    audio.control("set-default-source", "other.monitor")
    t = np.arange(rate * 20) / rate
    tone = np.repeat((0.3 * np.sin(2 * np.pi * 440 * t))[:, None], channels, axis=1)
    soundfile.write(tmp_path / "tone.wav", tone, rate)
    with subprocess.Popen(
        ["paplay", "-d", "other", str(tmp_path / "tone.wav")], env=audio.environment
    ) as played:
        time.sleep(0.5)
        out, errors = start(audio, seconds=4.0).communicate(timeout=60)
        played.terminate()
    kind, samples, level, hertz = json.loads(out.splitlines()[-1])
    assert kind == "heard", errors
    assert samples > 16_000, out
    assert hertz == pytest.approx(440, abs=3)
    assert level == pytest.approx(-13.5, abs=1.5)  # 0.3 of full scale as a sine


class Stiff:
    """What a device without a sound server offers."""

    def __init__(self, rates: tuple[int, ...], channels: int) -> None:
        self._rates, self._channels = rates, channels

    def check_input_settings(self, *, device: object, samplerate: int, channels: int, dtype: str) -> None:
        if samplerate not in self._rates or channels != self._channels:
            raise ValueError


def test_a_device_is_opened_as_it_insists() -> None:
    assert _offered(Stiff((16_000, 48_000), 1), None, 48_000) == (16_000, 1)
    assert _offered(Stiff((44_100,), 1), None, 44_100) == (44_100, 1)
    assert _offered(Stiff((48_000,), 2), None, 48_000) == (48_000, 2)
    assert _offered(Stiff((), 1), None, 48_000) == (48_000, 1)
