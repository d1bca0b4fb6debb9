"""A note: free speech; the clip is what counts, the words are kept as far as they were heard."""

from __future__ import annotations

from collections.abc import Sequence

from sayso.answers.answer import Answer, Completeness, NotUnderstood
from sayso.procedure.model import AskNote


def phrases(ask: AskNote) -> tuple[str, ...]:
    return ()


def understand(ask: AskNote, words: Sequence[str]) -> Answer | NotUnderstood:
    if not words:
        return NotUnderstood("incomplete", "")
    return Answer("note", " ".join(words), said=tuple(words))


def completeness(ask: AskNote, words: Sequence[str]) -> Completeness:
    return Completeness(bool(words), True)


def spoken_value(ask: AskNote, answer: Answer) -> str:
    # A note kept as sound has the hash of its clip for a value: nobody wants to hear that.
    return f"note: {answer.value}" if answer.said else "note kept"


def choices(ask: AskNote) -> str:
    return "Speak your note."


def confusable(ask: AskNote, answer: Answer) -> bool:
    return False
