"""The child process that owns the speech engine: one JSON request a line in, one JSON reply a line out.

A process of its own because pyttsx3 may hang in `runAndWait`, must be used by the thread that made it, and
prints on stdout. The parent can kill it and start another without losing the job. Run by `voice.py` only.
"""

from __future__ import annotations

import json
import os
import sys
from typing import Any, TextIO


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


def main() -> int:
    replies = _own_stdout()
    try:
        import pyttsx3

        engine = pyttsx3.init()
    except Exception as failure:  # whatever the platform's engine raises: ImportError, OSError, KeyError...
        _answer(replies, ready=False, error=f"{type(failure).__name__}: {failure}")
        return 1
    _answer(replies, ready=True)
    voice_now = ""
    for line in sys.stdin:
        request = json.loads(line)
        try:
            if request["voice"] and request["voice"] != voice_now:
                engine.setProperty("voice", request["voice"])
                voice_now = request["voice"]
            engine.setProperty("rate", int(request["words_per_minute"]))
            engine.save_to_file(request["text"], request["path"])
            engine.runAndWait()
            _answer(replies, id=request["id"], ok=True)
        except Exception as failure:
            _answer(replies, id=request["id"], ok=False, error=f"{type(failure).__name__}: {failure}")
    return 0


if __name__ == "__main__":
    # os._exit: espeak's clean-up aborts in some builds, and there is nothing left to flush.
    code = main()
    os._exit(code)
