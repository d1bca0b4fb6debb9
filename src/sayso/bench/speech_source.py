"""What the scripted technician says: recordings where there are any, else a synthetic voice."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np

#: Level of the speech that is played into the microphone: arm's length from a laptop (hearing.level_check).
SPEECH_PEAK = 0.4


class SpeechSourceError(Exception):
    """No synthetic voice is installed; the message says what to install."""


@dataclass(frozen=True, slots=True)
class SpeechSource:
    """`engine` is 'espeak-ng' or 'flite', `voice` one of its voices, `words_per_minute` for espeak-ng."""

    folder: Path
    engine: str = "espeak-ng"
    voice: str = "en-gb"
    words_per_minute: int = 140
    #: text -> a recording to use instead (a WAV file).
    recordings: tuple[tuple[str, Path], ...] = ()

    def file(self, text: str) -> Path:
        """A WAV file of `text`, without silence at its ends. Raises SpeechSourceError."""
        safe = "".join(c if c.isalnum() else "_" for c in text)[:80]
        path = self.folder / f"{safe}-{self.engine}-{self.voice.replace(':', '_')}.wav"
        if not path.exists():
            self._make(text, path)
        return path

    def _make(self, text: str, path: Path) -> None:
        import soundfile

        recorded = dict(self.recordings).get(text)
        if recorded is None:
            raw = path.with_suffix(".raw.wav")
            self._synthesise(text, raw)
        samples, rate = soundfile.read(recorded or raw, dtype="float32", always_2d=True)
        mono = samples[:, 0]
        loud = np.flatnonzero(np.abs(mono) > 0.01 * float(np.max(np.abs(mono))))
        mono = mono[int(loud[0]) : int(loud[-1]) + 1]
        mono = mono * np.float32(SPEECH_PEAK / float(np.max(np.abs(mono))))
        soundfile.write(path, mono, rate, subtype="PCM_16")

    def _synthesise(self, text: str, path: Path) -> None:
        if shutil.which(self.engine) is None:
            raise SpeechSourceError(f"{self.engine} not found: sudo apt install {self.engine}")
        if self.engine == "flite":
            command = ["flite", "-voice", self.voice, "-t", text, "-o", str(path)]
        else:
            speed = str(self.words_per_minute)
            command = ["espeak-ng", "-v", self.voice, "-s", speed, "-w", str(path), text]
        subprocess.run(command, check=True, capture_output=True)
