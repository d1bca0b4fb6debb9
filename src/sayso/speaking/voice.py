"""Text to samples: pyttsx3 renders to a file in a child process with a watchdog; nothing is played live."""

from __future__ import annotations

import contextlib
import itertools
import json
import platform
import queue
import subprocess
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

import numpy as np

from sayso.extras import how_to_add
from sayso.speaking.engine_start import engine
from sayso.speaking.loudness import Samples, level

#: pyttsx3 speaks 200 words a minute by default; that is hurried for an instruction heard once under a
#: machine. 165 is common practice for read-aloud instructions, no source.
WORDS_PER_MINUTE = 165
#: Rendering 5 s of speech takes 10-18 ms with espeak-ng (AUDIO facts); a renderer silent for this long hangs.
PATIENCE_S = 6.0
START_PATIENCE_S = 15.0


class VoiceError(Exception):
    """No speech can be made; the message is one line that says why and what to do."""


def how_to_install() -> str:
    """What to type on this system to get a voice engine."""
    match platform.system():
        case "Linux":
            return "install one with: sudo apt install espeak-ng"
        case "Darwin":
            return f"pyttsx3 uses the voice of macOS; install its bridge with: {how_to_add('pyobjc')}"
        case "Windows":
            return (
                f"pyttsx3 uses the SAPI 5 voices of Windows; install its bridge with: {how_to_add('pywin32')}"
            )
        case _:
            return "install espeak-ng"


class Voice:
    """Renders texts to samples. Thread-safe; one text at a time.

    Use as a context manager or call `close()`. The child process starts with the first render or `start()`.
    """

    def __init__(self, voice: str = "", words_per_minute: int = WORDS_PER_MINUTE) -> None:
        self._voice = voice
        self._words_per_minute = words_per_minute
        self._lock = threading.Lock()
        self._process: subprocess.Popen[str] | None = None
        self._replies: queue.SimpleQueue[dict[str, Any] | None] = queue.SimpleQueue()
        self._numbers = itertools.count(1)
        self._folder = tempfile.TemporaryDirectory(prefix="sayso-voice-", ignore_cleanup_errors=True)

    def __enter__(self) -> Voice:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def start(self) -> None:
        """Starts the engine now, so that the first phrase does not wait. Raises VoiceError."""
        with self._lock:
            self._ensure_running()

    def render(self, text: str, rate: float = 1.0) -> tuple[Samples, int]:
        """The samples of `text` (mono float32, levelled) and their rate in hertz.

        `rate` is a factor on the normal speaking rate. A hung or dead engine is started again once; then
        VoiceError.
        """
        with self._lock:
            for attempt in (1, 2):
                self._ensure_running()
                try:
                    return self._render_once(text, rate)
                except VoiceError:
                    self._kill()
                    if attempt == 2:
                        raise
        raise AssertionError("unreachable")

    def close(self) -> None:
        with self._lock:
            self._kill()
            self._folder.cleanup()

    # --- the child process ---------------------------------------------------------------------

    def _ensure_running(self) -> None:
        if self._process is not None and self._process.poll() is None:
            return
        self._replies = queue.SimpleQueue()
        self._process = engine()
        reader = threading.Thread(
            target=_read_replies, args=(self._process, self._replies), name="voice replies", daemon=True
        )
        reader.start()
        ready = self._reply(START_PATIENCE_S)
        if ready is None or not ready.get("ready"):
            self._kill()
            why = (ready or {}).get("error", "the engine did not start")
            raise VoiceError(f"no voice engine: {why}; {how_to_install()}")

    def _render_once(self, text: str, rate: float) -> tuple[Samples, int]:
        assert self._process is not None
        assert self._process.stdin is not None
        number = next(self._numbers)
        path = Path(self._folder.name) / f"{number}.wav"
        request = {
            "id": number,
            "text": text,
            "path": str(path),
            "voice": self._voice,
            "words_per_minute": round(self._words_per_minute * rate),
        }
        try:
            self._process.stdin.write(json.dumps(request) + "\n")
            self._process.stdin.flush()
        except OSError as gone:
            raise VoiceError(f"the voice engine stopped: {gone}") from gone
        reply = self._reply(PATIENCE_S + 0.02 * len(text))
        if reply is None:
            raise VoiceError("the voice engine hangs; it was restarted")
        if not reply.get("ok"):
            raise VoiceError(f"the voice engine cannot say {text!r}: {reply.get('error')}")
        samples, rate_hz = _read_samples(path)
        if samples.size == 0 and any(c.isalnum() for c in text):
            raise VoiceError(f"the voice engine made no sound of {text!r}")
        return samples, rate_hz

    def _reply(self, patience_s: float) -> dict[str, Any] | None:
        try:
            return self._replies.get(timeout=patience_s)
        except queue.Empty:
            return None

    def _kill(self) -> None:
        if self._process is None:
            return
        self._process.kill()
        self._process.wait()
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()
        self._process = None


def _read_replies(process: subprocess.Popen[str], replies: queue.SimpleQueue[dict[str, Any] | None]) -> None:
    assert process.stdout is not None
    try:
        for line in process.stdout:
            replies.put(json.loads(line))
    except ValueError:
        pass  # the pipe was closed under us by `_kill`
    replies.put(None)


def _read_samples(path: Path) -> tuple[Samples, int]:
    import soundfile

    # The macOS engine may still be writing when it says it is done.
    until = time.monotonic() + 1.0
    while True:
        try:
            samples, rate = soundfile.read(path, dtype="float32", always_2d=True)
            break
        except (soundfile.LibsndfileError, OSError) as failure:
            if time.monotonic() > until:
                raise VoiceError(f"the voice engine wrote no sound: {failure}") from failure
            time.sleep(0.02)
    path.unlink(missing_ok=True)
    return level(np.ascontiguousarray(samples[:, 0])), int(rate)
