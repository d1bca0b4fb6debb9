"""What may be said before sayso has finished, where its own voice can come back: orders that interrupt.

Nothing else counts there: what is said before the question was heard is no answer to it, and a "yes" that
sayso hears while it says "Yes?" may be its own.
"""

from __future__ import annotations

from sayso.dialogue.control_words import SYNONYMS, Control

#: Through a caution only these cut; any other talk waits until it was heard to its end.
CUT_A_CAUTION = frozenset({("stop",), ("hold",), ("hold", "on"), ("stop", "the", "job")})
#: Not "pardon": what an echo canceller leaves of "... are there?" is heard as that, and sayso would ask again
#: and again.
ORDERS = CUT_A_CAUTION | {
    tuple(phrase.split())
    for control in (Control.STOP, Control.HOLD, Control.REPEAT)
    for phrase in SYNONYMS[control]
    if phrase != "pardon"
}


def cuts_in(words: tuple[str, ...], *, before_caution: bool) -> bool:
    """Whether this is such an order. `before_caution`: a caution is not yet heard to its end."""
    return words in (CUT_A_CAUTION if before_caution else ORDERS)
