"""Resistances as parts and drawings have them: "4k7", "4R7", "2M2", "47R"."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

from sayso.answers.unit_words import known_unit, of_one_kind
from sayso.answers.words import split_words
from sayso.trade.units import UNITS

#: IEC 60062 (from memory): a letter in the place of the point, R for ohms, K for kilohms, M for megohms.
#: Small r and k are common practice; a small m could be a thousandth, and is none of its letters.
_LETTERS = {"R": "ohm", "r": "ohm", "K": "kiloohm", "k": "kiloohm", "M": "megaohm"}
_WITH_LETTER = re.compile(r"(\d{0,4})([RrKkM])(\d{0,3})(?: ?(?:ohms?|[ΩΩ]))?", re.ASCII)


def typed_resistance(words: Sequence[str], unit: str) -> list[tuple[Decimal, str]]:
    """Number and unit of what was typed at a question in ohms (milliohms, kilohms); [] where it is not so."""
    asked = known_unit(unit)
    if asked is None or not of_one_kind(asked, UNITS.Unit("ohm")):
        return []
    match = _WITH_LETTER.fullmatch(" ".join(split_words(words)))
    if match is None or not (match[1] or match[3]):
        return []
    return [(Decimal(f"{match[1] or '0'}.{match[3] or '0'}"), _LETTERS[match[2]])]
