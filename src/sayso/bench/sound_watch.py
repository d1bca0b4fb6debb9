"""Listens to one PulseAudio source and remembers when there was sound: the ears of a scripted technician."""

from __future__ import annotations

import subprocess
import threading
import time
from collections import deque
from collections.abc import Mapping

import numpy as np

RATE = 16_000
FRAME = 160  # 10 ms
FRAME_S = FRAME / RATE
#: The room tone of the benches lies at -66 dB of full scale; the voice peaks above -30 dB.
SOUND_DBFS = -48.0


class SoundWatch:
    """`parec` on `source`; frames of 10 ms are stamped with time.monotonic() as they arrive.

    Two of them side by side have the same delay, so the time between a sound in one and in the other is true.
    """

    def __init__(self, environment: Mapping[str, str], source: str, keep_s: float = 900.0) -> None:
        self._frames: deque[tuple[float, float]] = deque(maxlen=int(keep_s / FRAME_S))
        self._news = threading.Condition()
        self._recorder = subprocess.Popen(
            ["parec", "-d", source, f"--rate={RATE}", "--channels=1", "--format=s16le", "--latency-msec=10"],
            env=dict(environment),
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        self._thread = threading.Thread(target=self._listen, name=f"watch {source}", daemon=True)
        self._thread.start()

    def close(self) -> None:
        self._recorder.terminate()
        self._recorder.wait()
        self._thread.join(timeout=1.0)

    def __enter__(self) -> SoundWatch:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def wait_for_sound(self, timeout_s: float, since: float | None = None) -> float | None:
        """When sound first came after `since` (now, when not given); None when none came in time."""
        since = time.monotonic() if since is None else since
        return self._wait(lambda: self.first_sound(since), timeout_s)

    def wait_for_silence(self, quiet_s: float, timeout_s: float) -> float | None:
        """When the last sound was, once it has been silent for `quiet_s`; None when it never was in time."""

        def silent() -> float | None:
            last = self.last_sound()
            now = self._frames[-1][0] if self._frames else 0.0
            return last if now and now - last >= quiet_s else None

        return self._wait(silent, timeout_s)

    def first_sound(self, since: float) -> float | None:
        with self._news:
            return next((at for at, level in self._frames if at >= since and level > SOUND_DBFS), None)

    def last_sound(self) -> float:
        """When the last frame with sound came; 0 when there was none."""
        with self._news:
            return next((at for at, level in reversed(self._frames) if level > SOUND_DBFS), 0.0)

    def last_sound_between(self, start: float, end: float) -> float | None:
        """When the last sound between two moments was; None when there was none."""
        with self._news:
            found = [at for at, level in self._frames if start <= at <= end and level > SOUND_DBFS]
        return found[-1] if found else None

    def silent_from(self, start: float, gap_s: float, within_s: float) -> float | None:
        """When the sound that goes on at `start` first stops for `gap_s`; None when it goes on."""

        def found() -> float | None:
            with self._news:
                frames = [f for f in self._frames if f[0] >= start]
            last = start
            for at, level in frames:
                if level > SOUND_DBFS:
                    last = at
                elif at - last >= gap_s:
                    return last
            return None

        return self._wait(found, within_s)

    def sounds_between(self, start: float, end: float) -> int:
        """Frames with sound between two moments."""
        with self._news:
            return sum(level > SOUND_DBFS for at, level in self._frames if start <= at < end)

    def _wait(self, found: object, timeout_s: float) -> float | None:
        until = time.monotonic() + timeout_s
        while True:
            value: float | None = found()  # type: ignore[operator]
            if value is not None:
                return value
            left = until - time.monotonic()
            if left <= 0:
                return None
            with self._news:
                self._news.wait(min(left, 0.1))

    def _listen(self) -> None:
        assert self._recorder.stdout is not None
        while len(data := self._recorder.stdout.read(FRAME * 2)) == FRAME * 2:
            now = time.monotonic()
            samples = np.frombuffer(data, dtype="<i2").astype(np.float32) / 32768
            level = 20 * float(np.log10(np.sqrt(np.mean(np.square(samples))) + 1e-9))
            with self._news:
                self._frames.append((now, level))
                self._news.notify_all()
