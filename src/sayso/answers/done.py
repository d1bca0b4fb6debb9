"""Done: the step was carried out."""

from __future__ import annotations

from collections.abc import Sequence

from sayso.answers.answer import Answer, Completeness, NotUnderstood
from sayso.answers.words import UNKNOWN, lowered
from sayso.procedure.model import AskDone

DONE = (
    "done", "finished", "complete", "completed", "ready", "all done", "okay done", "that's done", "it's done",
    "i'm done", "job done", "that's it", "all set", "did it", "got it", "check",
)  # fmt: skip

#: What may stand around one of the phrases. Nothing else may: "never done" came back as "there are done" and
#: "not complete" as "got complete" (synthetic voices), so every other word may be what is left of a "not".
_AROUND = frozenset(
    {"um", "uh", "er", "erm", "ah", "well", "okay", "ok", "yes", "yeah", "right", "now", "mate"}
)

#: In the grammar so that "not done" is heard as such and never as "done".
NOT_DONE = ("not done", "not yet", "nearly done", "not ready", "not finished")


def phrases(ask: AskDone | None = None) -> tuple[str, ...]:
    return (*DONE, *NOT_DONE)


def understand(ask: AskDone, words: Sequence[str]) -> Answer | NotUnderstood:
    """One of the phrases (or several: "done, all done") with nothing but interjections around it."""
    said = tuple(word for word in lowered(words) if word != UNKNOWN)
    if _only_phrases(said):
        return Answer("done", True, said=tuple(words))
    return NotUnderstood("no_match", choices(ask))


def _only_phrases(said: tuple[str, ...]) -> bool:
    found, place = False, 0
    while place < len(said):
        length = next((n for n in (3, 2, 1) if " ".join(said[place : place + n]) in DONE), 0)
        if not length and said[place] not in _AROUND:
            return False
        found = found or length > 0
        place += length or 1
    return found


def completeness(ask: AskDone, words: Sequence[str]) -> Completeness:
    said = lowered(words)
    grows = any(len(p.split()) > len(said) and tuple(p.split()[: len(said)]) == said for p in DONE)
    return Completeness(isinstance(understand(ask, words), Answer), grows)


def spoken_value(ask: AskDone, answer: Answer) -> str:
    return "done"


def choices(ask: AskDone) -> str:
    return "Say done when it is done."


def confusable(ask: AskDone, answer: Answer) -> bool:
    """True beside an unknown sound, which may have been "not"."""
    return UNKNOWN in answer.said
