"""A PulseAudio of our own with one null sink as loudspeaker and one as microphone: real audio, no sound card.

Everything that sayso plays goes to the sink `speaker`; whatever is played into the sink `mic` is what
sayso's default microphone hears. Needs pulseaudio and pulseaudio-utils; works as root and offline.
"""

from __future__ import annotations

import array
import contextlib
import fcntl
import os
import shutil
import signal
import subprocess
import tempfile
import termios
import threading
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from sayso.hearing.lateness import Lateness
from sayso.hearing.recordings import RATE

#: Echo that waits longer than this to be played is left out. The sound server plays silence when a busy
#: machine brings an echo late, and all that follows would come later by as much for good: without this a room
#: was 2.5 s late from the first word on, and later still after some minutes (four jobs at once, load 6).
WAITS_S = 0.06

NEEDED = ("pulseaudio", "pactl", "paplay", "parec")


class PrivateAudioError(Exception):
    """PulseAudio is not installed or does not start; the message says what to do."""


def _waiting_s(pipe: Any) -> float:
    """Sound (16 kHz, 16 bit) that was written into `pipe` and not taken out of it yet."""
    waiting = array.array("i", [0])
    fcntl.ioctl(pipe, termios.FIONREAD, waiting)
    return waiting[0] / (2 * RATE)


class PrivateAudio:
    """One private sound server. `environment` makes any program use it. Use as a context manager."""

    def __init__(self, speaker_rate: int = 48_000, microphone_rate: int = 48_000) -> None:
        missing = [name for name in NEEDED if shutil.which(name) is None]
        if missing:
            raise PrivateAudioError(
                f"{', '.join(missing)} not found: "
                "sudo apt install pulseaudio pulseaudio-utils libasound2-plugins"
            )
        self._rates = (speaker_rate, microphone_rate)
        self._folder = Path(tempfile.mkdtemp(prefix="sayso-audio-"))
        self._players: list[subprocess.Popen[bytes]] = []
        self.environment: dict[str, str] = self._environment()
        #: seconds by which a busy machine brought the room's echo later than it does else, at worst
        self.room_late_s = 0.0

    def __enter__(self) -> PrivateAudio:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def start(self) -> None:
        """Starts the server and waits until it answers (about 0.1 s). Raises PrivateAudioError."""
        self._write_configuration()
        script = self._folder / "default.pa"
        subprocess.run(
            ["pulseaudio", "-n", "--daemonize=yes", "--exit-idle-time=-1", "--disable-shm=yes",
             "--use-pid-file=yes", f"--log-target=file:{self._folder / 'pulse.log'}", "-F", str(script)],
            env=self.environment, check=False, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        until = time.monotonic() + 5.0
        while self.control("info", check=False).returncode != 0:
            if time.monotonic() > until:
                log = self._folder / "pulse.log"
                raise PrivateAudioError(
                    "pulseaudio does not start: " + (log.read_text() if log.exists() else "")
                )
            time.sleep(0.02)

    def add_room_tone(self, level_dbfs: float = -66.0) -> None:
        """Faint steady noise at the microphone, as in any room: exact silence means a muted microphone."""
        self.add_sound(np.random.default_rng(1).normal(0.0, 10 ** (level_dbfs / 20), 16_000))

    def add_sound(self, sound: npt.NDArray[np.float64]) -> None:
        """Plays `sound` (16 kHz, -1..1) into the microphone over and over until the server stops."""
        player = subprocess.Popen(
            ["pacat", "-d", "mic", "--rate=16000", "--channels=1", "--format=s16le", "--latency-msec=200"],
            env=self.environment,
            stdin=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        self._players.append(player)
        data = (np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes()
        pipe = player.stdin
        assert pipe is not None

        def play() -> None:
            with contextlib.suppress(OSError, ValueError):
                while True:
                    pipe.write(data)

        threading.Thread(target=play, name="room tone", daemon=True).start()

    def stop(self) -> None:
        """Ends the server by its own pid file and removes its folder."""
        for process in self._players:
            process.kill()
            process.wait()
        pid_file = self._folder / "run" / "pulse" / "pid"
        if pid_file.exists():
            pid = int(pid_file.read_text())
            try:
                os.kill(pid, signal.SIGTERM)
                until = time.monotonic() + 3.0
                while time.monotonic() < until and Path(f"/proc/{pid}").exists():
                    time.sleep(0.02)
            except ProcessLookupError:
                pass
        shutil.rmtree(self._folder, ignore_errors=True)

    def control(self, *words: str, check: bool = True) -> subprocess.CompletedProcess[str]:
        """Runs `pactl` with `words` on this server."""
        return subprocess.run(
            ["pactl", *words], env=self.environment, check=check, capture_output=True, text=True
        )

    def add_room(self, delay_ms: int = 60, gain: float = 1.0) -> str:
        """Lets the microphone hear the loudspeaker, as in a room. Returns the module's number.

        `gain` scales the echo's amplitude (1.0 as loud as the speaker itself), `delay_ms` its way.
        """
        # adjust_time=0: else the module keeps changing its rate, and no room changes its length like that.
        made = self.control(
            "load-module", "module-loopback", "source=speaker.monitor", "sink=mic",
            f"latency_msec={delay_ms}", "adjust_time=0",
        )  # fmt: skip
        if gain != 1.0:
            listing = self.control("list", "short", "sink-inputs").stdout.split("\n")
            number = next(line.split("\t")[0] for line in reversed(listing) if line.strip())
            # PulseAudio's per cent are the cube root of the amplitude.
            self.control("set-sink-input-volume", number, f"{round(gain ** (1 / 3) * 100)}%")
        return made.stdout.strip()

    def add_echo(self, response: npt.NDArray[np.float64], gain: float) -> None:
        """Lets the microphone hear the loudspeaker through a room's `response` (16 kHz) at `gain`.

        It comes about 20 ms late, always the same (measured), while the machine is not busy: `room_late_s`.
        """
        tools = ("--rate=16000", "--channels=1", "--format=s16le", "--latency-msec=20")
        ears = subprocess.Popen(
            ["parec", "-d", "speaker.monitor", *tools],
            env=self.environment, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        wall = subprocess.Popen(
            ["pacat", "-d", "mic", *tools],
            env=self.environment, stdin=subprocess.PIPE, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        self._players += [ears, wall]
        threading.Thread(target=self._reflect, args=(ears, wall, response * gain), daemon=True).start()

    def _reflect(
        self,
        ears: subprocess.Popen[bytes],
        wall: subprocess.Popen[bytes],
        response: npt.NDArray[np.float64],
    ) -> None:
        """From the loudspeaker to the microphone, block by block, convolved by overlap and save."""
        block = 320
        size = 1 << (len(response) + block).bit_length()
        spectrum = np.fft.rfft(response, size)
        history = np.zeros(size)
        lateness = Lateness(RATE)
        assert ears.stdout is not None
        assert wall.stdin is not None
        with contextlib.suppress(OSError, ValueError):
            while len(data := ears.stdout.read(2 * block)) == 2 * block:
                late_s, waiting_s = lateness.of(time.monotonic(), block), _waiting_s(wall.stdin)
                sound = np.frombuffer(data, dtype="<i2").astype(np.float64)
                history = np.concatenate((history[block:], sound))
                if history.any():  # before the first word nobody can tell
                    self.room_late_s = max(self.room_late_s, late_s + waiting_s)
                if waiting_s > WAITS_S:
                    continue
                wet = np.fft.irfft(np.fft.rfft(history) * spectrum, size)[-block:]
                wall.stdin.write(np.clip(wet, -32768, 32767).astype("<i2").tobytes())
                wall.stdin.flush()

    def unplug_microphone(self) -> None:
        """Takes the microphone away, as pulling a headset does."""
        listing = self.control("list", "short", "modules").stdout.splitlines()
        number = next(line.split("\t")[0] for line in listing if "sink_name=mic" in line)
        self.control("unload-module", number)

    def plug_microphone(self) -> None:
        self.control(
            "load-module",
            "module-null-sink",
            "sink_name=mic",
            f"rate={self._rates[1]}",
            "channels=1",
            "norewinds=1",
        )
        self.control("set-default-source", "mic.monitor")

    def _environment(self) -> dict[str, str]:
        ours: Mapping[str, str] = {
            "XDG_RUNTIME_DIR": str(self._folder / "run"),
            "PULSE_RUNTIME_PATH": str(self._folder / "run" / "pulse"),
            "PULSE_SERVER": f"unix:{self._folder}/run/pulse/native",
            "ALSA_CONFIG_PATH": str(self._folder / "asound.conf"),
            "PULSE_CONFIG_PATH": str(self._folder / "home"),
        }
        rest = {k: v for k, v in os.environ.items() if k not in ("DBUS_SESSION_BUS_ADDRESS", "DISPLAY")}
        return {**rest, **ours}

    def _write_configuration(self) -> None:
        pulse = self._folder / "run" / "pulse"
        pulse.mkdir(parents=True, exist_ok=True)
        (self._folder / "home").mkdir(exist_ok=True)
        (self._folder / "run").chmod(0o700)
        speaker_rate, microphone_rate = self._rates
        (self._folder / "default.pa").write_text(
            f"load-module module-native-protocol-unix auth-anonymous=1 socket={pulse}/native\n"
            f"load-module module-null-sink sink_name=speaker rate={speaker_rate} channels=2 norewinds=1\n"
            f"load-module module-null-sink sink_name=mic rate={microphone_rate} channels=1 norewinds=1\n"
            "set-default-sink speaker\n"
            "set-default-source mic.monitor\n"
        )
        # Any mistake in here makes `import sounddevice` itself fail, so it is kept to what is needed.
        (self._folder / "asound.conf").write_text(
            "</usr/share/alsa/alsa.conf>\npcm.!default { type pulse }\nctl.!default { type pulse }\n"
        )
