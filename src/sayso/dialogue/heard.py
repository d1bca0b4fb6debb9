"""Words that came in, by voice, keyboard or key, as the handlers of an utterance see them."""

from __future__ import annotations

from dataclasses import dataclass

from sayso.answers.words import lowered
from sayso.dialogue.events import Heard, KeyPressed


@dataclass(frozen=True, slots=True)
class Spoken:
    words: tuple[str, ...]
    confidence: float = 1.0
    typed: bool = False
    noisy: bool = False
    clip: str = ""
    alternatives: tuple[tuple[str, ...], ...] = ()
    #: a key of the page or a pedal, which has a word but is none
    key: bool = False

    def sure(self, threshold: float) -> bool:
        return self.typed or self.confidence >= threshold

    @property
    def text(self) -> str:
        return " ".join(self.words).lower()

    @property
    def bare(self) -> str:
        """Without the marks of writing, to be held against a phrase: "Understood." is "understood"."""
        return " ".join(lowered(self.words))


def from_heard(event: Heard, *, noisy: bool) -> Spoken:
    """`noisy` is what the job knows of the place; the event may know better for this one utterance."""
    return Spoken(
        words=_words(event.words),
        confidence=event.confidence,
        typed=event.typed,
        noisy=(noisy or event.noisy) and not event.typed,
        clip=event.clip,
        alternatives=tuple(_words(words) for words in event.alternatives),
    )


def from_key(event: KeyPressed) -> Spoken:
    """A key says its name: 'carry_on' is 'carry on'."""
    return Spoken(words=_words(event.key.replace("_", " ").split()), typed=True, key=True)


def _words(words: tuple[str, ...] | list[str]) -> tuple[str, ...]:
    return tuple(word for text in words for word in text.split())
