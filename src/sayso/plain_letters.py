"""Words of other languages in the 26 letters that the ear and the ids of steps are written in."""

from __future__ import annotations

import unicodedata

#: Letters that are no letter with a mark to Unicode, as they are written where only a to z can be.
_OTHERS = str.maketrans(
    {"ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i"}
)


def plain_letters(text: str) -> str:
    """Lower case without accents: "Größe" is grosse, "Renée" renee. Other alphabets stay as they are."""
    apart = unicodedata.normalize("NFKD", text.lower().translate(_OTHERS))
    return "".join(letter for letter in apart if not unicodedata.combining(letter))
