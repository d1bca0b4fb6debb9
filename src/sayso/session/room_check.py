"""Does the microphone hear the loudspeaker? Found out while sayso speaks; no test sound is needed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sayso.hearing.echo_check import UNHEARD_DB, Coupling, HowToListen, measure_coupling
from sayso.hearing.echo_libraries import RATE, Samples
from sayso.hearing.grammar import normalise

#: So much of the voice is needed, and then so much silence, to tell an echo from chance.
VOICE_S, AFTER_S = 1.0, 0.7
#: Longest stretch that is looked at, and what is kept from before the voice to know the room's noise.
LONGEST_S, BEFORE_S = 8.0, 0.3
#: So many stretches of talk in a row must not come back before it is called a headset.
SURE_UNHEARD = 3


def said_in(heard: Sequence[str], spoken: str) -> bool:
    """The words stand in a row in the sentence that the voice is speaking."""
    told = normalise(spoken)
    return any(told[at : at + len(heard)] == tuple(heard) for at in range(len(told)))


def own_words(heard: Sequence[str], spoken: str) -> bool:
    """Two or more words in a row out of the sentence that the voice is speaking: nobody else says those."""
    return len(heard) >= 2 and said_in(heard, spoken)


class UnheardEvidence:
    """Whether the ear may open while the voice speaks, where nothing takes the voice out of the microphone.

    One stretch that was heard closes it for good: in a room that rings the next stretch may drown in what is
    left of the one before, and an ear that then opens takes the voice for the technician's (measured: the
    voice cut itself off 420 times in an hour of prompts). Who puts a headset on later starts with --headset.
    """

    def __init__(self) -> None:
        self._unheard = 0
        self._was_heard = False

    def heard_itself(self) -> None:
        """The ear took the voice's own words for somebody's."""
        self._was_heard = True

    def way(self, coupling: Coupling, *, noisy: bool) -> HowToListen | None:
        """After each stretch of talk: 'open', 'half_duplex', or None while nothing is sure."""
        self._was_heard = self._was_heard or coupling.heard
        if self._was_heard:
            return "half_duplex"
        # sound that is no plain echo (a room that rings, talk, a machine) may hide one
        surely = coupling.level_db <= UNHEARD_DB and not noisy
        self._unheard = self._unheard + 1 if surely else 0
        return "open" if self._unheard >= SURE_UNHEARD else None


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
