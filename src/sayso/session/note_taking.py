"""A spoken note: everything said between the step's question and 'end note', kept as sound."""

from __future__ import annotations

import io
import wave
from dataclasses import dataclass, field

from sayso.hearing.recogniser import SAMPLE_RATE

#: A technician who has said nothing for this long after speaking has finished the note.
SILENCE_ENDS_S = 8.0


@dataclass(slots=True)
class NoteTaking:
    """One note while it is being spoken. `seconds` is the longest it may get."""

    note: str
    seconds: float
    pieces: list[bytes] = field(default_factory=list)

    def add(self, pcm: bytes) -> None:
        self.pieces.append(pcm)

    @property
    def length_s(self) -> float:
        return sum(map(len, self.pieces)) / 2 / SAMPLE_RATE

    @property
    def full(self) -> bool:
        return self.length_s >= self.seconds

    def as_wav(self) -> bytes:
        return as_wav(b"".join(self.pieces))


def as_wav(pcm: bytes) -> bytes:
    """16 kHz mono 16-bit samples as a WAV file."""
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(SAMPLE_RATE)
        file.writeframes(pcm)
    return out.getvalue()
