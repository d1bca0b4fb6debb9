"""Every word that a question of any kind may need: what a speech model's lexicon must hold.

The words of choices, names of people and a shop's own words come on top, from the procedure.
"""

from __future__ import annotations

from functools import lru_cache

from sayso.answers import corrections, done, serial, time_of_day, torque, yes_no
from sayso.answers.below_zero import BELOW_ZERO
from sayso.answers.number_words import NUMBER_WORDS, TEENS, TENS
from sayso.answers.unit_words import LOOSE_UNITS
from sayso.answers.words import speakable
from sayso.procedure.model import AskSerial, AskTime, AskYesNo
from sayso.trade.units import SPOKEN_UNITS


@lru_cache(maxsize=1)
def vocabulary() -> frozenset[str]:
    """Lower case, letters and apostrophes only."""
    phrases = (
        *NUMBER_WORDS,
        *TEENS,
        *TENS,
        *BELOW_ZERO,
        *map(speakable, (*SPOKEN_UNITS, *LOOSE_UNITS)),
        *serial.phrases(AskSerial("any")),
        *serial.MARK_WORDS,
        *time_of_day.phrases(AskTime("any")),
        *torque.AT_TORQUE,
        *torque.KEEPS_TURNING,
        *done.phrases(),
        *yes_no.phrases(AskYesNo("any")),
        *(" ".join(marker) for marker in corrections.MARKERS),
        "none",
    )
    return frozenset(word for phrase in phrases for word in phrase.split())
