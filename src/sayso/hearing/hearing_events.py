"""What the listener tells: all times are seconds of audio fed to it."""

from __future__ import annotations

from dataclasses import dataclass

from sayso.hearing.calibration import Features


@dataclass(frozen=True, slots=True)
class SpeechStarted:
    """Speech began. `during_voice`, here and below: it began while sayso was speaking (barge-in), or sayso
    spoke into it."""

    at_s: float
    during_voice: bool = False


@dataclass(frozen=True, slots=True)
class Partial:
    at_s: float
    words: tuple[str, ...]
    during_voice: bool = False


@dataclass(frozen=True, slots=True)
class Final:
    """An utterance of legal words. `confidence` is calibrated when the model has a calibration.

    `pcm` is the whole utterance with its pre-roll; `speech_end_s` is when speech ended, `at_s` when that was
    decided; `cut` when it ran into the longest time allowed.
    """

    at_s: float
    words: tuple[str, ...]
    confidence: float
    word_confidences: tuple[float, ...]
    alternatives: tuple[tuple[str, ...], ...]
    noisy: bool
    snr_db: float
    speech_end_s: float
    pcm: bytes = b""
    cut: bool = False
    features: Features | None = None
    during_voice: bool = False


@dataclass(frozen=True, slots=True)
class NoMatch:
    """Somebody spoke, but not (only) words of the grammar, or not surely enough.

    `offers`: what it may have been; only where the request asked for guesses.
    """

    at_s: float
    noisy: bool
    words: tuple[str, ...] = ()
    pcm: bytes = b""
    offers: tuple[tuple[str, ...], ...] = ()
    during_voice: bool = False


@dataclass(frozen=True, slots=True)
class NoInput:
    at_s: float


@dataclass(frozen=True, slots=True)
class NoiseChanged:
    at_s: float
    noisy: bool
    decibels_over: float


@dataclass(frozen=True, slots=True)
class HearsNothing:
    """`muted` True: exact digital silence for some seconds. False: sound is back."""

    at_s: float
    muted: bool


@dataclass(frozen=True, slots=True)
class VoiceAdvice:
    """What to do about the level of the technician's voice, in plain words; each advice comes once."""

    at_s: float
    say: str


HearingEvent = SpeechStarted | Partial | Final | NoMatch | NoInput | NoiseChanged | HearsNothing | VoiceAdvice
