"""The latest view of the job and everybody who watches it.

The session publishes from its own thread; each viewer has a mailbox that holds only the newest
view, so a slow or sleeping browser never delays the voice and never sees a stale queue.
"""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import AsyncIterator, Mapping
from typing import Any


class LiveView:
    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._latest: dict[str, Any] = {}
        self._number = 0
        self._closed = False
        self._viewers: set[tuple[asyncio.AbstractEventLoop, asyncio.Event]] = set()

    def publish(self, view: Mapping[str, Any]) -> None:
        """Merge `view` (JSON values) into what is shown and wake every viewer. Any thread."""
        with self._lock:
            self._latest = {**self._latest, **view}
            self._number += 1
            viewers = tuple(self._viewers)
        for loop, news in viewers:
            try:
                loop.call_soon_threadsafe(news.set)
            except RuntimeError:  # the viewer's loop has just ended
                continue

    def close(self) -> None:
        """Let every viewer's stream end, so that the server can stop in peace. Any thread."""
        self._closed = True
        self.publish({})

    def snapshot(self) -> tuple[int, str]:
        with self._lock:
            return self._number, json.dumps(self._latest, ensure_ascii=False, sort_keys=True)

    async def follow(self, heartbeat_s: float = 5.0) -> AsyncIterator[tuple[int, str] | None]:
        """Yield (number, JSON) at once and after each change; None as a heartbeat when nothing changes."""
        news = asyncio.Event()
        viewer = (asyncio.get_running_loop(), news)
        with self._lock:
            self._viewers.add(viewer)
        try:
            seen = -1
            while not self._closed:
                number, text = self.snapshot()
                if number != seen:
                    seen = number
                    yield number, text
                news.clear()
                if self.snapshot()[0] != seen:
                    continue
                try:
                    await asyncio.wait_for(news.wait(), heartbeat_s)
                except TimeoutError:
                    yield None
        finally:
            with self._lock:
                self._viewers.discard(viewer)

    @property
    def viewers(self) -> int:
        with self._lock:
            return len(self._viewers)
