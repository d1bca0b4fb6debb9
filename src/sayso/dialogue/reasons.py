"""Reasons that can be given by voice: a closed list, because free speech is not recognised reliably.

Each reason is recorded in the words on the left. Typed words are taken as they are, save orders
and answers.
"""

from __future__ import annotations

from collections.abc import Mapping

from sayso.dialogue import asked, control_words
from sayso.dialogue.control_words import Control
from sayso.dialogue.heard import Spoken
from sayso.dialogue.state import State

Reasons = Mapping[str, tuple[str, ...]]

SKIP_REASONS: Reasons = {
    "not fitted": ("not fitted", "not there", "it has none"),
    "already done": ("already done", "done before"),
    "no part": ("no part", "no parts", "part is missing"),
    "no tool": ("no tool", "tool is missing"),
    "the lead said so": ("the lead said so", "lead says skip"),
    "another reason": ("another reason", "other reason"),
}

#: The way out for somebody whose words were taken for 'skip'.
NOT_SKIPPED = ("no", "do not skip")

NOT_MET_REASONS: Reasons = {
    "part is damaged": ("part is damaged", "damaged", "worn"),
    "no part": SKIP_REASONS["no part"],
    "no tool": SKIP_REASONS["no tool"],
    "no access": ("no access", "cannot get at it"),
    "the lead said so": ("the lead said so", "lead says leave it"),
    "another reason": SKIP_REASONS["another reason"],
}

#: The way out for somebody whose words were taken for 'not met'.
STAY_WITH_IT = ("no", "measure again")

KEEP_REASONS: Reasons = {
    "does no harm": ("does no harm", "no harm"),
    "needed anyway": ("needed anyway", "we need it"),
    "same on both": ("same on both", "it is the same"),
    "the lead said so": ("the lead said so", "lead says keep"),
    "another reason": ("another reason", "other reason"),
}


def reason_phrases(reasons: Reasons) -> tuple[str, ...]:
    return tuple(phrase for group in reasons.values() for phrase in group)


def reason_in(spoken: Spoken, reasons: Reasons, state: State) -> str | None:
    """The reason as it is recorded, None when the words are none."""
    text = " ".join(spoken.text.split())
    for reason, group in reasons.items():
        if text in group:
            return reason
    return text if spoken.typed and text and not _means_something_else(spoken, state) else None


def _means_something_else(spoken: Spoken, state: State) -> bool:
    """A key or a typed line that is an order ('hold', the empty line's 'done') or an answer, not a reason."""
    order = control_words.match(spoken.words, state.settings.control_words)
    if order is not None and order.control is not Control.CHANGE:  # "change ordered by the office"
        return True
    return spoken.bare in asked.done_phrases() or asked.yes_or_no(spoken.words) is not None


def reasons_spoken(reasons: Reasons) -> str:
    names = list(reasons)
    return ", ".join(names[:-1]) + ", or " + names[-1]
