"""A room for a journey: private audio, sayso as a program in it, a technician who listens and speaks."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence
from pathlib import Path

from sayso.bench.private_audio import PrivateAudio
from sayso.bench.sayso_program import SaysoProgram
from sayso.bench.sound_watch import SoundWatch
from sayso.bench.speech_source import SpeechSource
from sayso.bench.technician import Technician


@contextlib.contextmanager
def technician_at(
    audio: PrivateAudio,
    arguments: Sequence[str],
    folder: Path,
    *,
    voice: str = "en-gb",
    keyboard: bool = False,
) -> Iterator[Technician]:
    """sayso is started with `arguments`; the technician speaks with a voice of espeak-ng."""
    folder.mkdir(exist_ok=True)
    with (
        SoundWatch(audio.environment, "speaker.monitor") as loudspeaker,
        SoundWatch(audio.environment, "mic.monitor") as microphone,
        SaysoProgram(arguments, audio.environment, keyboard=keyboard) as program,
    ):
        yield Technician(audio, program, SpeechSource(folder, voice=voice), loudspeaker, microphone)
