"""What a shop may set about the conversation. The same settings must be given again to replay a job."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Settings:
    """Thresholds and patience. Times in seconds, confidences 0..1.

    `confidence`: below it an answer is read back. VoiceXML 2.1's default confidence level is 0.5
    (second hand, see ANCHORS); a recogniser with a grammar is over-sure, so sayso starts higher.
    `confidence_noisy` replaces it while the place is loud.
    """

    confidence: float = 0.7
    confidence_noisy: float = 0.85
    #: silence before the first reprompt when only a word is missing (yes or no, understood)
    no_input_s: float = 12.0
    #: silence before the first reprompt at a step: the hands are at work
    work_no_input_s: float = 45.0
    #: longest spoken note
    note_s: float = 30.0
    #: wrong witness codes before the lead is called
    wrong_codes: int = 3
    #: a shop's own control words: (control name, phrase)
    control_words: tuple[tuple[str, str], ...] = ()
