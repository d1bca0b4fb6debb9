"""Which microphone, loudspeaker, voice and model a job uses."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Devices:
    """Names (or parts of them) of microphone and loudspeaker; None is the system's default.

    `headset`: the microphone does not hear the loudspeaker, so the ear stays open while the voice speaks.
    `open_ear`: beside a loudspeaker hear the orders that interrupt while the voice speaks, through an echo
    canceller; answers count when it has ended.
    `model`: a vosk model directory, None for the shipped one. `voice`: the speech engine's own voice id.
    `rate`: how fast it speaks, 1 is normal (the technician changes it by voice besides).
    """

    microphone: str | None = None
    speaker: str | None = None
    headset: bool = False
    open_ear: bool = False
    voice: str = ""
    rate: float = 1.0
    model: str | None = None
