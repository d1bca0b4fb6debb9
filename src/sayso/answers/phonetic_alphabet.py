"""The spelling alphabet of ITU and ICAO: letters as words, and the words heard for each letter.

Source: ICAO Annex 10 volume II, figure 5-1, and ITU Radio Regulations appendix 14 (from memory). Its
spellings Alfa, Juliett and X-ray have everyday twins, which a lexicon may hold instead.
"""

from __future__ import annotations

ALPHABET: dict[str, str] = {
    "A": "alfa", "B": "bravo", "C": "charlie", "D": "delta", "E": "echo", "F": "foxtrot", "G": "golf",
    "H": "hotel", "I": "india", "J": "juliett", "K": "kilo", "L": "lima", "M": "mike", "N": "november",
    "O": "oscar", "P": "papa", "Q": "quebec", "R": "romeo", "S": "sierra", "T": "tango", "U": "uniform",
    "V": "victor", "W": "whiskey", "X": "xray", "Y": "yankee", "Z": "zulu",
}  # fmt: skip

#: Other spellings and shop habits; British "zed", American "zee".
ALSO: dict[str, str] = {
    "alpha": "A", "juliet": "J", "x-ray": "X", "whisky": "W", "zed": "Z", "zee": "Z",
}  # fmt: skip

LETTER_OF: dict[str, str] = {
    **{letter.lower(): letter for letter in ALPHABET},
    **{word: letter for letter, word in ALPHABET.items()},
    **ALSO,
}
