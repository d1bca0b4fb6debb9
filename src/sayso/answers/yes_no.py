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
#: To "they are" and "i have". The ear knows the words of its grammar only: without these, of 14 times "they
#: aren't" (7 synthetic voices, clean and at 10 dB) one was taken for "they are" and none for a no; with them
#: all 14 for a no. A read-back needs none of them.
DENIED_STATES = ("they aren't", "they are not", "i haven't", "i have not")
#: Typed, and in no grammar. No "they do" beside "they don't": it is what is left of a denial.
_WRITTEN_YES = ("of course", "absolutely", "definitely", "certainly")
_WRITTEN_NO = (
    "they're not", "they don't", "they do not", "there isn't", "there is not", "there aren't",
    "there are not", "i don't", "i didn't", "i did not", "they weren't", "it wasn't",
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
_TYPED = {"y": True, "n": False, "true": True, "false": False}
#: To a question for yes or no only: at the read-back of a number they are a number.
_FIGURES = {"1": True, "0": False}


_ALL_YES = frozenset((*YES, *_WRITTEN_YES))
_ALL_NO = frozenset((*NO, *DENIED_STATES, *_WRITTEN_NO))


def phrases(ask: AskYesNo | None = None) -> tuple[str, ...]:
    """For a question, or (None) for what was read back."""
    return (*YES, *NO, *(DENIED_STATES if ask is not None else ()))


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
    if text in _ALL_YES or text in _ALL_NO:
        return text in _ALL_YES
    parts = _in_phrases(said)
    return parts.pop() if len(parts) == 1 else None


def _in_phrases(said: tuple[str, ...]) -> set[bool]:
    """The answers in "yes that's right" or "no that's wrong"; empty as soon as another word is left over."""
    found: set[bool] = set()
    place = 0
    while place < len(said):
        for length in (3, 2, 1):
            text = " ".join(said[place : place + length])
            if text in _ALL_YES or text in _ALL_NO:
                found.add(text in _ALL_YES)
                place += length
                break
        else:
            if said[place] not in _AROUND:
                return set()
            place += 1
    return found


def understand(ask: AskYesNo, words: Sequence[str]) -> Answer | NotUnderstood:
    answer = _FIGURES.get(" ".join(words), yes_or_no(words))
    if answer is None:
        return NotUnderstood("no_match", choices(ask))
    return Answer("yes_no", answer, said=tuple(words))


def completeness(ask: AskYesNo | None, words: Sequence[str]) -> Completeness:
    said = lowered(words)
    answer = yes_or_no(words) is not None
    listed = [tuple(phrase.split()) for phrase in phrases(ask)]
    grows = any(len(phrase) > len(said) and phrase[: len(said)] == said for phrase in listed)
    return Completeness(answer, grows)


def spoken_value(ask: AskYesNo, answer: Answer) -> str:
    return "yes" if answer.value else "no"


def choices(ask: AskYesNo) -> str:
    return "You can say yes or no."


def confusable(ask: AskYesNo, answer: Answer) -> bool:
    return False
