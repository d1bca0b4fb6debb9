"""Yes or no, in the plain words that people use; also for the confirmation of a read-back."""

from __future__ import annotations

from collections.abc import Sequence

from sayso.answers.answer import Answer, Completeness, NotUnderstood
from sayso.answers.words import UNKNOWN, lowered
from sayso.procedure.model import AskYesNo

#: "Affirmative" and "negative" are radio words (ICAO Annex 10 volume II, from memory).
YES = (
    "yes", "yeah", "yep", "yup", "aye", "affirmative", "affirm", "correct", "right", "that's right",
    "that's correct", "sure", "it is", "it does", "they are", "i have",
)  # fmt: skip
NO = (
    "no", "nope", "nah", "negative", "wrong", "that's wrong", "incorrect", "not right", "not correct",
    "it isn't", "it's not", "it doesn't", "it is not", "it does not", "not yet",
)  # fmt: skip

#: What confirms a value that was read back. The other words for yes are each too near a denial: "correct" and
#: "right" are what is left of "incorrect" and "not right", "affirmative" ends as "negative" does, and at 0 dB
#: "that's wrong" was heard as "right" (measured by `sayso trials`; distance of sounds below 0.6).
PLAIN_YES = frozenset({"yes", "yeah", "aye"})

_AROUND = frozenset(
    {
        "um", "uh", "er", "well", "oh", "so", "okay", "ok", "sir", "mate", "please", "it", "is", "that's",
        "that", "thats", "was", "i", "indeed",
    }
)  # fmt: skip
_TYPED = {"y": True, "n": False, "true": True, "false": False, "1": True, "0": False}


def phrases(ask: AskYesNo | None = None) -> tuple[str, ...]:
    return (*YES, *NO)


def yes_or_no(words: Sequence[str]) -> bool | None:
    """True for yes, False for no, None for anything else ("no four" is a correction, not a no).

    Yes and no in one breath ("yes no") are neither. Beside an unknown sound "no" stands, "yes" does
    not: the sound may have been "not".
    """
    heard = lowered(words)
    said = tuple(word for word in heard if word != UNKNOWN)
    answer = _yes_or_no(said)
    return None if answer and said != heard else answer


def is_plain_yes(words: Sequence[str]) -> bool:
    """A yes that no denial sounds like is in it: "yes", "yes that's right"."""
    return yes_or_no(words) is True and bool(PLAIN_YES & set(lowered(words)))


def _yes_or_no(said: tuple[str, ...]) -> bool | None:
    text = " ".join(said)
    if text in _TYPED:
        return _TYPED[text]
    if text in YES:
        return True
    if text in NO:
        return False
    parts = _in_phrases(said)
    return parts.pop() if len(parts) == 1 else None


def _in_phrases(said: tuple[str, ...]) -> set[bool]:
    """The answers in "yes that's right" or "no that's wrong"; empty as soon as another word is left over."""
    found: set[bool] = set()
    place = 0
    while place < len(said):
        for length in (3, 2, 1):
            text = " ".join(said[place : place + length])
            if text in YES or text in NO:
                found.add(text in YES)
                place += length
                break
        else:
            if said[place] not in _AROUND:
                return set()
            place += 1
    return found


def understand(ask: AskYesNo, words: Sequence[str]) -> Answer | NotUnderstood:
    answer = yes_or_no(words)
    if answer is None:
        return NotUnderstood("no_match", choices(ask))
    return Answer("yes_no", answer, said=tuple(words))


def completeness(ask: AskYesNo | None, words: Sequence[str]) -> Completeness:
    said = lowered(words)
    answer = yes_or_no(words) is not None
    grows = any(
        len(phrase.split()) > len(said) and tuple(phrase.split()[: len(said)]) == said for phrase in phrases()
    )
    return Completeness(answer, grows)


def spoken_value(ask: AskYesNo, answer: Answer) -> str:
    return "yes" if answer.value else "no"


def choices(ask: AskYesNo) -> str:
    return "You can say yes or no."


def confusable(ask: AskYesNo, answer: Answer) -> bool:
    return False
