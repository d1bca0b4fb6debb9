"""How to add a library that only some shops need; not by our own name: in a registry it may be another's."""

from __future__ import annotations

import shlex
import subprocess
import sys


def how_to_add(package: str) -> str:
    """The command that brings `package` to the Python that runs sayso, to be typed as it stands."""
    words = [sys.executable, "-m", "pip", "install", package]
    return subprocess.list2cmdline(words) if sys.platform == "win32" else shlex.join(words)
