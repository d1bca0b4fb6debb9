"""Real audio without a sound card: fixtures around sayso.bench.private_audio for tests that speak or listen.

`virtual_audio` is one private PulseAudio a test session: sink `speaker` is what sayso says, whatever is
played into sink `mic` is what it hears, and a faint room tone keeps the microphone from looking muted.
`audio_here` makes this very process use it. Both are skipped, with the reason, where PulseAudio is not
installed.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator

import pytest

from sayso.bench.private_audio import PrivateAudio, PrivateAudioError


@pytest.fixture(scope="session")
def virtual_audio() -> Iterator[PrivateAudio]:
    try:
        audio = PrivateAudio()
        audio.start()
    except PrivateAudioError as missing:
        pytest.skip(str(missing))
    audio.add_room_tone()
    yield audio
    audio.stop()


@pytest.fixture
def audio_here(virtual_audio: PrivateAudio, monkeypatch: pytest.MonkeyPatch) -> PrivateAudio:
    """This process's own sounddevice talks to the private server while the test runs."""
    for name, value in virtual_audio.environment.items():
        if os.environ.get(name) != value:
            monkeypatch.setenv(name, value)
    import sounddevice

    with contextlib.suppress(sounddevice.PortAudioError):
        sounddevice._terminate()
    sounddevice._initialize()
    return virtual_audio
