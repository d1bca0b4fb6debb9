"""Done: the step was carried out."""

from __future__ import annotations

from collections.abc import Sequence

from sayso.answers.answer import Answer, Completeness, NotUnderstood
from sayso.answers.words import UNKNOWN, lowered, without_fillers
from sayso.procedure.model import AskDone

DONE = (
    "done", "finished", "complete", "completed", "ready", "all done", "okay done", "that's done", "it's done",
    "i'm done", "job done", "that's it", "all set", "did it", "got it", "check",
)  # fmt: skip

_STOPS = frozenset({"not", "isn't", "no", "nearly", "almost", "half", "never", "when", "until"})


#: In the grammar so that "not done" is heard as such and never as "done".
NOT_DONE = ("not done", "not yet", "nearly done", "not ready", "not finished")


def phrases(ask: AskDone | None = None) -> tuple[str, ...]:
    return (*DONE, *NOT_DONE)


def understand(ask: AskDone, words: Sequence[str]) -> Answer | NotUnderstood:
    """Any of the phrases, alone or with small words around it; "not done" and "nearly done" are not done."""
    said = tuple(word for word in lowered(words) if word != UNKNOWN)
    texts = {" ".join(said), " ".join(without_fillers(said))}
    several = bool(said) and all(
        word in {"done", "finished", "complete", "all", "okay", "yes"} for word in said
    )
    finished = several and bool({"done", "finished", "complete"} & set(said))
    if (texts & set(DONE) or finished) and not _STOPS & set(said):
        return Answer("done", True, said=tuple(words))
    return NotUnderstood("no_match", choices(ask))


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
