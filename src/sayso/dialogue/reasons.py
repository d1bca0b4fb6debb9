"""Reasons that can be given by voice: a closed list, because free speech is not recognised reliably.

Each reason is recorded in the words on the left. Typed words are taken as they are.
"""

from __future__ import annotations

from collections.abc import Mapping

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


def reason_in(words: tuple[str, ...], reasons: Reasons, *, typed: bool) -> str | None:
    text = " ".join(" ".join(words).lower().split())
    for reason, group in reasons.items():
        if text in group:
            return reason
    return text if typed and text else None


def reasons_spoken(reasons: Reasons) -> str:
    names = list(reasons)
    return ", ".join(names[:-1]) + ", or " + names[-1]
