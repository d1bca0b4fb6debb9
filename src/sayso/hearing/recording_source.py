"""Which PulseAudio (or PipeWire) source this process really records from; told at once when it moves.

When a microphone goes away the sound server moves the recording, without an error, to whatever is left:
often the monitor of the loudspeaker, and then the program hears itself.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import threading

#: The sound server is asked at most this often; its events come in bursts.
SETTLE_S = 0.02


def pactl(*arguments: str) -> str:
    """Output of `pactl`; '' when there is none, no server, or no answer within a second."""
    try:
        done = subprocess.run(["pactl", *arguments], capture_output=True, text=True, timeout=1.0, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return done.stdout if done.returncode == 0 else ""


def recording_source() -> str | None:
    """Name of the source that this process records from; None without PulseAudio or recording."""
    index = None
    current = ""
    for line in pactl("list", "source-outputs").splitlines():
        text = line.strip()
        if text.startswith("Source:"):
            current = text.split(":", 1)[1].strip()
        elif text == f'application.process.id = "{os.getpid()}"':
            index = current
    if index is None:
        return None
    for line in pactl("list", "short", "sources").splitlines():
        fields = line.split("\t")
        if len(fields) > 1 and fields[0] == index:
            return fields[1]
    return None


def loudspeaker_monitor() -> str:
    """Monitor of the default output: never a microphone."""
    for line in pactl("info").splitlines():
        if line.startswith("Default Sink:"):
            return line.split(":", 1)[1].strip() + ".monitor"
    return ""


class RecordingWatch:
    """Follows the server's events in a thread. `moved` is '' or the reason why the source is not the one.

    Does nothing (and `moved` stays '') where there is no `pactl`.
    """

    def __init__(self) -> None:
        self.moved = ""
        self.source: str | None = None
        self._looked = threading.Event()
        self._ended = threading.Event()
        self._lock = threading.Lock()
        self._process: subprocess.Popen[str] | None = None
        if shutil.which("pactl") is None:
            self._looked.set()
            return
        # three questions to the server, a tenth of a second in which the first word need not wait
        threading.Thread(target=self._watch, name="recording watch", daemon=True).start()

    def wait(self) -> None:
        """Returns when the source was looked at once."""
        self._looked.wait(timeout=4.0)

    def _watch(self) -> None:
        self.source = recording_source()
        if self.source is not None and self.source == loudspeaker_monitor():
            self.moved = f"the sound server gives the loudspeaker ({self.source}) instead of a microphone"
        self._looked.set()
        with self._lock:
            if self._ended.is_set():
                return
            with contextlib.suppress(OSError):
                self._process = subprocess.Popen(
                    ["pactl", "subscribe"],
                    stdout=subprocess.PIPE,
                    stderr=subprocess.DEVNULL,
                    text=True,
                    env={**os.environ, "LC_ALL": "C"},
                )
            process = self._process
        if process is not None:
            self._follow(process)

    def _follow(self, process: subprocess.Popen[str]) -> None:
        assert process.stdout is not None
        with contextlib.suppress(ValueError):  # close() shuts the pipe under a read
            for line in process.stdout:
                if self._ended.is_set():
                    return
                if "source" in line and not self._ended.wait(SETTLE_S):
                    self._look()

    def _look(self) -> None:
        now = recording_source()
        if now is None or self._ended.is_set():
            return
        if self.source is None:
            self.source = now
        elif now != self.source:
            self.moved = f"the sound server moved the recording from {self.source} to {now}"

    def close(self) -> None:
        with self._lock:
            self._ended.set()
            process, self._process = self._process, None
        if process is not None:
            process.terminate()
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(timeout=1)
            if process.stdout is not None:
                process.stdout.close()
