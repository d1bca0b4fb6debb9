"""How the words under `words` are said: checked where they are written, before a model is taught them."""

from __future__ import annotations

import re

from sayso.procedure.problems import Problem
from sayso.procedure.yaml_nodes import Mapping, Node, Scalar

#: The phones of CMUdict without stress; hearing/phones.py has them with their features.
PHONES = frozenset(
    "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY "  # noqa: SIM905 (a table to read)
    "P R S SH T TH UH UW V W Y Z ZH".split()
)


def wrongly_said(words: Node | None) -> list[Problem]:
    """What no model can be taught: a phone that is none, two words under one key."""
    found: list[Problem] = []
    for word, entry in words.entries.items() if isinstance(words, Mapping) else ():
        if len(word.split()) > 1:
            found.append(
                Problem(entry.key.place, f"'{word}' is not one word", "write each word on its own line")
            )
        said = entry.value.text.split() if isinstance(entry.value, Scalar) else []
        wrong = [phone for phone in said if re.sub(r"[012]$", "", phone.upper()) not in PHONES]
        if wrong:
            found.append(
                Problem(
                    entry.value.place,
                    f"'{wrong[0]}' is no ARPAbet phone",
                    "write phones such as F ER N HH IH L, or leave it empty",
                )
            )
    return found
