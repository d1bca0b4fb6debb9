"""Finding the loudspeaker by name, and saying in one line why there is none."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

#: Sound handed over ahead of need. 0.02 s breaks up when Python is busy loading; 0.04 s did not on 2 cores.
LATENCY_S = 0.04


class OutputError(Exception):
    """No usable loudspeaker; the message is one line that says why and what to do."""


def sound_library() -> Any:
    """The sounddevice module. Raises OutputError instead of whatever its import raises."""
    try:
        import sounddevice
    except OSError as failure:
        raise OutputError(
            f"PortAudio is missing ({failure}); on Debian/Ubuntu: sudo apt install libportaudio2"
        ) from failure
    except Exception as failure:  # a mistake in an ALSA configuration makes the import raise PortAudioError
        raise OutputError(f"the sound system does not start: {failure}") from failure
    return sounddevice


@dataclass(frozen=True, slots=True)
class Output:
    """A loudspeaker that opens: `rate` in hertz is the one it runs at, `channels` what it insists on."""

    name: str
    device: int | str | None
    rate: int
    channels: int = 1

    def open(self, callback: Callable[..., None], block: int) -> Any:
        """A closed-over output stream, not yet started. Raises sounddevice.PortAudioError."""
        return sound_library().OutputStream(
            device=self.device,
            samplerate=self.rate,
            channels=self.channels,
            dtype="float32",
            blocksize=block,
            latency=LATENCY_S,
            callback=callback,
        )


def find_output(name: str | None = None) -> Output:
    """The loudspeaker called `name` (part of its name will do), or the default one.

    Raises OutputError naming the loudspeakers there are.
    """
    sound = sound_library()
    try:
        found = sound.query_devices(name, "output")
    except (ValueError, sound.PortAudioError) as failure:
        there = [d["name"] for d in sound.query_devices() if d["max_output_channels"] > 0]
        if name is None or not there:
            raise OutputError("no loudspeaker or headset found") from failure
        raise OutputError(f"no loudspeaker called {name!r}; there are: {', '.join(there)}") from failure
    rate = int(found["default_samplerate"])
    device = found["index"] if name is not None else None
    for channels in (1, 2):
        try:
            sound.check_output_settings(device=device, samplerate=rate, channels=channels, dtype="float32")
            return Output(str(found["name"]), device, rate, channels)
        except sound.PortAudioError as failure:
            problem = failure
    raise OutputError(f"the loudspeaker {found['name']} does not open: {problem}")
