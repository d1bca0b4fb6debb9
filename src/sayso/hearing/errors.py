"""The one root of everything that hearing raises on purpose; str() is one plain line."""


class HearingError(Exception):
    """Something about the microphone, the model or the lexicon that a person has to put right."""
