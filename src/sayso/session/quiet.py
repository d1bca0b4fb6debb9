"""PortAudio and ALSA write pages to stderr about missing devices; people need our one line instead."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator

#: Set by `--debug`: the libraries may speak.
SHOW_VARIABLE = "SAYSO_DEBUG"


@contextlib.contextmanager
def quiet_libraries() -> Iterator[None]:
    """Within it only Python writes to stderr; what C libraries write is dropped."""
    if os.environ.get(SHOW_VARIABLE) or not _is_real(sys.stderr):
        yield
        return
    sys.stderr.flush()
    kept = os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    os.close(nowhere)
    before = sys.stderr
    sys.stderr = os.fdopen(os.dup(kept), "w", buffering=1, encoding=before.encoding, errors="replace")
    try:
        yield
    finally:
        sys.stderr.close()
        sys.stderr = before
        os.dup2(kept, 2)
        os.close(kept)


def _is_real(stream: object) -> bool:
    """False where a test or a notebook has put something else in stderr's place."""
    try:
        return bool(stream is not None and stream.fileno() == 2)  # type: ignore[attr-defined]
    except (AttributeError, OSError, ValueError):
        return False
