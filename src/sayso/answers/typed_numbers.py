"""Numbers and units as they are typed: "9.5", "9,5", "9.5 N.m", "-3"."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

from sayso.answers.words import split_words

_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)|[+-]?\d{1,3}(,\d{3})+", re.ASCII)
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}(,\d{3})+", re.ASCII)
_NUMBER_THEN_UNIT = re.compile(r"([+-]?[\d.,]*\d[.,]?)\s*(.*)", re.ASCII)
#: More characters than this are no reading of any instrument.
_LONGEST = 20


def typed_numbers(token: str) -> tuple[Decimal, ...]:
    """ "9.5", "9,5" -> 9.5; "1,200" may be 1200 or 1.2: both are given. Not a number: ()."""
    if len(token) > _LONGEST or not _NUMBER.fullmatch(token):
        return ()
    found = []
    if token.count(",") <= 1:
        found.append(Decimal(token.replace(",", ".").rstrip(".")))
    if _THOUSANDS.fullmatch(token):
        found.append(Decimal(token.replace(",", "")))
    return tuple(found)


def typed_quantities(words: Sequence[str]) -> list[tuple[Decimal, str]]:
    """Number and unit text of what was typed; the unit is '' when there is none."""
    match = _NUMBER_THEN_UNIT.fullmatch(" ".join(split_words(words)))
    if match is None:
        return []
    return [(value, match.group(2)) for value in typed_numbers(match.group(1))]
