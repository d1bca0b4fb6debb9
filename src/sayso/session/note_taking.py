"""A spoken note: everything said between the step's question and 'end note', kept as sound."""

from __future__ import annotations

import contextlib
import io
import wave
from dataclasses import dataclass, field

from sayso.dialogue.state import State
from sayso.procedure.model import AskNote

#: What the ear hears with (hearing.recogniser), kept here so that a job is opened without loading the ear.
SAMPLE_RATE = 16_000

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


def seconds_of(audio: bytes) -> float:
    """Length of a WAV file; 0 for anything else."""
    with contextlib.suppress(wave.Error, EOFError), wave.open(io.BytesIO(audio)) as file:
        return float(file.getnframes() / file.getframerate())
    return 0.0


def note_in_hand(state: State) -> str:
    """The name of the note that is being spoken, or was spoken last."""
    ask = state.step.ask if state.at_step else None
    return ask.name if isinstance(ask, AskNote) else f"note {max(1, state.notes)}"
