"""A keyboard or a foot pedal beside the voice: a line counts as an answer, an empty one as the 'done' key."""

from __future__ import annotations

import threading
from typing import TextIO

from sayso.session.loop import Loop
from sayso.session.typed import typed_event


def listen_to_keys(lines: TextIO, loop: Loop) -> None:
    """Reads `lines` in a thread of its own until they end; the end of them does not end the job."""

    def read() -> None:
        for line in lines:
            loop.press(typed_event(line, loop.now_ms))

    threading.Thread(target=read, name="keys", daemon=True).start()
