"""Microphone, noise and level check, vosk recogniser, grammars, pronunciations, lexicon graph.
Knows nothing of procedures or jobs."""

from sayso.hearing.errors import HearingError
from sayso.hearing.hearing_events import Final, NoInput, NoMatch, Partial, SpeechStarted
from sayso.hearing.listening import Ear, Listener
from sayso.hearing.microphone import Microphone, MicrophoneError
from sayso.hearing.recogniser import Recogniser, Result
from sayso.hearing.speech_model import ModelError, SpeechModel, load_model, missing_words, with_words

__all__ = [
    "Ear",
    "Final",
    "HearingError",
    "Listener",
    "Microphone",
    "MicrophoneError",
    "ModelError",
    "NoInput",
    "NoMatch",
    "Partial",
    "Recogniser",
    "Result",
    "SpeechModel",
    "SpeechStarted",
    "load_model",
    "missing_words",
    "with_words",
]
