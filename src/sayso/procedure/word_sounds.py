"""How the words under `words` are said: checked where they are written, before a model is taught them."""

from __future__ import annotations

from sayso.arpabet import first_that_is_none
from sayso.procedure.problems import Problem
from sayso.procedure.yaml_nodes import Mapping, Node, Scalar


def wrongly_said(words: Node | None) -> list[Problem]:
    """What no model can be taught: a phone that is none, two words under one key."""
    found: list[Problem] = []
    for word, entry in words.entries.items() if isinstance(words, Mapping) else ():
        if len(word.split()) > 1:
            found.append(
                Problem(entry.key.place, f"'{word}' is not one word", "write each word on its own line")
            )
        wrong = first_that_is_none(entry.value.text) if isinstance(entry.value, Scalar) else None
        if wrong is not None:
            found.append(
                Problem(
                    entry.value.place,
                    f"'{wrong}' is no ARPAbet phone",
                    "write phones such as F ER N HH IH L, or leave it empty",
                )
            )
    return found
