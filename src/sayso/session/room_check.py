"""Does the microphone hear the loudspeaker? Found out while sayso speaks; no test sound is needed."""

from __future__ import annotations

import numpy as np

from sayso.hearing.echo_check import Coupling, measure_coupling
from sayso.hearing.echo_libraries import RATE, Samples

#: So much of the voice is needed, and then so much silence, to tell an echo from chance.
VOICE_S, AFTER_S = 1.0, 0.7
#: Longest stretch that is looked at, and what is kept from before the voice to know the room's noise.
LONGEST_S, BEFORE_S = 8.0, 0.3


class RoomCheck:
    """Feed it frames of what is played and what is heard; `feed` gives a Coupling after each stretch."""

    def __init__(self) -> None:
        self._played: list[Samples] = []
        self._heard: list[Samples] = []
        self._before: list[Samples] = []
        self._voice = 0
        self._silent = 0

    def feed(self, played: Samples, heard: Samples) -> Coupling | None:
        speaking = bool(played.any())
        if not self._played and not speaking:
            self._before.append(heard)
            del self._before[: -round(BEFORE_S * RATE / max(1, len(heard)))]
            return None
        self._played.append(played)
        self._heard.append(heard)
        self._voice += len(played) if speaking else 0
        self._silent = 0 if speaking else self._silent + len(played)
        seconds = sum(map(len, self._played)) / RATE
        if self._silent < AFTER_S * RATE and seconds < LONGEST_S:
            return None
        return self._measured()

    def _measured(self) -> Coupling | None:
        enough = self._voice >= VOICE_S * RATE
        played, heard = np.concatenate(self._played) / 32768, np.concatenate(self._heard) / 32768
        before = np.concatenate(self._before) / 32768 if self._before else heard[:0]
        self._played, self._heard, self._before, self._voice, self._silent = [], [], [], 0, 0
        if not enough:
            return None
        noise = 10 * np.log10(max(float((before**2).mean()), 1e-10)) if before.size else None
        return measure_coupling(played, heard, noise)
