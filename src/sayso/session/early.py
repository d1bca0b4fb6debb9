"""What takes longest at the start is begun first, beside the import of the rest of sayso.

Nothing heavy is imported here: a module that waits for numpy would begin a tenth of a second later.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Iterator

from sayso.session.quiet import quiet_libraries


@contextlib.contextmanager
def begun_early(model: str | None) -> Iterator[None]:
    """Starts the speech engine, begins to load the speech model, wakes the sound system. What fails is told
    by who needs it."""
    from sayso.session.taught_notes import begin_to_load
    from sayso.speaking.engine_start import begin_engine

    with quiet_libraries():  # the sound system chatters when it wakes
        begin_engine()
        begin_to_load(model)
        threading.Thread(target=_wake_sound, name="sound ahead", daemon=True).start()
        yield


def _wake_sound() -> None:
    """PortAudio looks for devices when it is first imported, and takes no part of Python's lock meanwhile."""
    try:
        import sounddevice  # noqa: F401
    except Exception:  # missing, or a mistake in an ALSA configuration; it is tried again and then told
        return
