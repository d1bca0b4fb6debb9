"""sayso as a program under test: started with the private audio, its transcript read line by line."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the transcript; `at` is time.monotonic() when it was printed."""

    at: float
    who: str
    text: str


def _interruptible() -> tuple[str, ...]:
    """What a command begins with so that Ctrl-C reaches it. A shell without job control starts its background
    commands (`.ci/run &`) with Ctrl-C ignored (POSIX shell language, 2.11), and every child inherits that."""
    ignored = signal.getsignal(signal.SIGINT) == signal.SIG_IGN
    return ("env", "--default-signal=INT") if ignored else ()  # it becomes the program; the process id stays


class SaysoProgram:
    """`arguments` are those of the `sayso` command. Use as a context manager."""

    def __init__(
        self, arguments: Sequence[str], environment: Mapping[str, str], *, keyboard: bool = False
    ) -> None:
        self.started = time.monotonic()
        self._news = threading.Condition()
        self.lines: list[Line] = []
        self.errors: list[str] = []
        self.process = subprocess.Popen(
            [*_interruptible(), sys.executable, "-m", "sayso.cli", *arguments],
            env={**environment, "PYTHONUNBUFFERED": "1"},
            stdin=subprocess.PIPE if keyboard else subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self._threads = [
            threading.Thread(target=self._read_transcript, daemon=True),
            threading.Thread(target=self._read_errors, daemon=True),
        ]
        for thread in self._threads:
            thread.start()

    def __enter__(self) -> SaysoProgram:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.kill()

    def kill(self) -> None:
        """kill -9, as a power cut would."""
        self.process.kill()
        self.process.wait()

    def interrupt(self) -> None:
        """Ctrl-C."""
        os.kill(self.process.pid, signal.SIGINT)

    def type(self, line: str) -> None:
        """A line on its keyboard (only with `keyboard`)."""
        assert self.process.stdin is not None
        with contextlib.suppress(BrokenPipeError):
            self.process.stdin.write(line + "\n")
            self.process.stdin.flush()

    def wait(self, timeout_s: float) -> int:
        """Exit code. Raises subprocess.TimeoutExpired."""
        code = self.process.wait(timeout_s)
        for thread in self._threads:
            thread.join(timeout=2.0)
        return code

    def wait_for(self, wanted: Callable[[Line], bool], timeout_s: float, after: int = 0) -> Line | None:
        """The first line from number `after` on that is wanted; None when it does not come in time."""
        until = time.monotonic() + timeout_s
        with self._news:
            while True:
                found = next((line for line in self.lines[after:] if wanted(line)), None)
                left = until - time.monotonic()
                if found is not None or left <= 0:
                    return found
                self._news.wait(min(left, 0.2))
                if self.process.poll() is not None and not self._threads[0].is_alive():
                    return next((line for line in self.lines[after:] if wanted(line)), None)

    def said_since(self, number: int) -> list[Line]:
        """What sayso said from line `number` on."""
        with self._news:
            return [line for line in self.lines[number:] if line.who == "sayso"]

    @property
    def running(self) -> bool:
        return self.process.poll() is None

    def _read_transcript(self) -> None:
        assert self.process.stdout is not None
        for raw in self.process.stdout:
            who, mark, text = raw.rstrip("\n").partition("> ")
            with self._news:
                self.lines.append(Line(time.monotonic(), who if mark else "", text if mark else raw))
                self._news.notify_all()

    def _read_errors(self) -> None:
        assert self.process.stderr is not None
        for raw in self.process.stderr:
            self.errors.append(raw.rstrip("\n"))
