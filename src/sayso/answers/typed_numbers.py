"""Numbers and units as they are typed: "9.5", "9,5", "9.5 N.m", "-3", "3/8 in", "1 1/4", "47½"."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

from sayso.answers.words import split_words

_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)|[+-]?\d{1,3}(,\d{3})+", re.ASCII)
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(,\d{3})+", re.ASCII)
_NUMBER_THEN_UNIT = re.compile(r"([+-]?[\d.,]*\d[.,]?)\s*(.*)", re.ASCII)
#: The fractions of a ruler and of a wrench set. Any other ("1/3", a date) is no value of an instrument.
_FRACTION = re.compile(
    r"([+-]?)(?:(\d{1,4})[ -])? ?(\d{1,2})/(2|4|8|16|32|64)(?![\d/.,])\s*(?:of an?\s+)?(.*)", re.ASCII
)
_ONE_SIGN = str.maketrans(
    {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8", "−": "-",
     "–": "-"}
)  # fmt: skip
_MINUS = re.compile(r"(?:minus|negative) +(?=[\d.,])", re.ASCII | re.IGNORECASE)
_PLUS = re.compile(r"plus +(?=[\d.,])", re.ASCII | re.IGNORECASE)
#: A whole sentence around a number: "it is 48.2 V.", "meter reads 48.2". Not "was": it may be no more.
_AROUND = re.compile(
    r"(?:(?:it's|it|is|i've|i|we|got|have|get|the|meter|shows|says|reads|reading|read)\s+)*(.*?)[.!;,?]*",
    re.ASCII | re.IGNORECASE,
)
#: More characters than this are no reading of any instrument.
_LONGEST = 20


def typed_numbers(token: str) -> tuple[Decimal, ...]:
    """ "9.5", "9,5" -> 9.5; "1,200" may be 1200 or 1.2: both are given. Not a number: ()."""
    if len(token) > _LONGEST or not _NUMBER.fullmatch(token):
        return ()
    found = []
    if token.count(",") <= 1:
        found.append(Decimal(token.replace(",", ".").rstrip(".")) + 0)  # "-0" is nothing but zero
    if _THOUSANDS.fullmatch(token):
        found.append(Decimal(token.replace(",", "")))
    return tuple(found)


def typed_quantities(words: Sequence[str]) -> list[tuple[Decimal, str]]:
    """Number and unit text of what was typed; the unit is '' when there is none."""
    text = " ".join(" ".join(split_words(words)).translate(_ONE_SIGN).split())
    around = _AROUND.fullmatch(text)
    text = _PLUS.sub("", _MINUS.sub("-", around[1] if around is not None else text))
    fraction = _FRACTION.fullmatch(text)
    if fraction is not None and 0 < int(fraction[3]) < int(fraction[4]):
        value = int(fraction[2] or 0) + Decimal(fraction[3]) / int(fraction[4])
        return [(-value if fraction[1] == "-" else value, fraction[5])]
    match = _NUMBER_THEN_UNIT.fullmatch(text)
    if match is None:
        return []
    return [(value, match.group(2)) for value in typed_numbers(match.group(1))]
