"""The child process that owns the speech engine: one JSON request a line in, one JSON reply a line out.

A process of its own because pyttsx3 may hang in `runAndWait`, must be used by the thread that made it, and
prints on stdout. The parent can kill it and start another without losing the job. Run by `voice.py` only.
"""

from __future__ import annotations

import json
import os
import sys
import time
from typing import Any, TextIO

#: What a new engine speaks at, in words a minute, until it is told otherwise; on a busy machine espeak-ng's
#: thread may take that up last (52 of 4,500 phrases with three at a time): such a phrase is made again.
OWN_RATE, TRIES = 200, 3
#: Longest wait for the synthesiser to end.
STILL_SPEAKING_S = 5.0


def _own_stdout() -> TextIO:
    """The real stdout for replies; everything the engine prints from now on goes to stderr's place."""
    replies = os.fdopen(os.dup(1), "w", buffering=1, encoding="utf-8")
    silence = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silence, 1)
    sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115  (lives as long as the process)
    return replies


def _answer(replies: TextIO, **message: Any) -> None:
    replies.write(json.dumps(message) + "\n")
    replies.flush()


class Engine:
    """pyttsx3, made anew for each phrase where that is cheap and needed.

    pyttsx3 2.99 with espeak-ng, measured over 400 phrases: about one in sixty came out empty and a changed
    rate often came late, because its queue of commands is emptied from the synthesiser's own thread. A new
    engine for each phrase starts with an empty queue: none of 400 was wrong (15 ms each, all told).
    """

    def __init__(self) -> None:
        import pyttsx3

        self._engine: Any = pyttsx3.init()
        self._fresh = self._engine.driver_name == "espeak"

    def render(self, text: str, path: str, voice: str, words_per_minute: int) -> None:
        for _ in range(TRIES if self._fresh and words_per_minute != OWN_RATE else 1):
            self._render_once(text, path, voice, words_per_minute)
            if self._engine.getProperty("rate") != OWN_RATE:
                return

    def _render_once(self, text: str, path: str, voice: str, words_per_minute: int) -> None:
        if self._fresh:
            import pyttsx3

            self._engine = None  # first: the old one takes the synthesiser's callback with it when it goes
            self._engine = pyttsx3.init()
        if voice:
            self._engine.setProperty("voice", voice)
        self._engine.setProperty("rate", words_per_minute)
        self._engine.save_to_file(text, path)
        self._engine.runAndWait()
        # it comes back while the synthesiser's own thread still speaks, and the next phrase must not meet it
        until = time.monotonic() + STILL_SPEAKING_S
        while self._fresh and self._engine.isBusy() and time.monotonic() < until:
            time.sleep(0.001)


def main() -> int:
    replies = _own_stdout()
    try:
        engine = Engine()
    except Exception as failure:  # whatever the platform's engine raises: ImportError, OSError, KeyError...
        _answer(replies, ready=False, error=f"{type(failure).__name__}: {failure}")
        return 1
    _answer(replies, ready=True)
    for line in sys.stdin:
        request = json.loads(line)
        try:
            engine.render(
                request["text"], request["path"], request["voice"], int(request["words_per_minute"])
            )
            _answer(replies, id=request["id"], ok=True)
        except Exception as failure:
            _answer(replies, id=request["id"], ok=False, error=f"{type(failure).__name__}: {failure}")
    return 0


if __name__ == "__main__":
    # os._exit: espeak's clean-up aborts in some builds, and there is nothing left to flush.
    code = main()
    os._exit(code)
