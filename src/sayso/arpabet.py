"""The phones in which a pronunciation is written: one table for who writes procedures and for who hears."""

from __future__ import annotations

import re

#: The 39 phones of CMUdict without stress.
ARPABET: tuple[str, ...] = tuple(
    "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY "  # noqa: SIM905 (a table to read)
    "P R S SH T TH UH UW V W Y Z ZH".split()
)
PHONES = frozenset(ARPABET)


def without_stress(written: str) -> str:
    """A phone as the table has it: 'ah1' is AH."""
    return re.sub(r"[012]$", "", written.upper())


def first_that_is_none(said: str) -> str | None:
    """The first of the phones in `said`, as it is written there, that is not in the table."""
    return next((written for written in said.split() if without_stress(written) not in PHONES), None)
