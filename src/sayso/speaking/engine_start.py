"""Starting the speech engine's process. Imports next to nothing: it is the first thing that a job does."""

from __future__ import annotations

import subprocess
import sys

#: A process that was begun before anybody needed it; the first Voice takes it.
_begun: list[subprocess.Popen[str]] = []


def begin_engine() -> None:
    """Starts the engine's process while the rest of the program is still being imported.

    It ends by itself when this program does, used or not: its input ends then."""
    if not _begun:
        _begun.append(_engine())


def engine() -> subprocess.Popen[str]:
    """The process that was begun, or a new one."""
    return _begun.pop() if _begun else _engine()


def _engine() -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "sayso.speaking.voice_process"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        encoding="utf-8",
    )
