"""One of a few named options, each with its own words."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from sayso.answers.answer import Answer, Completeness, NotUnderstood
from sayso.answers.denials import DENIALS
from sayso.answers.words import FILLERS, UNKNOWN, either, lowered, sentence, speakable
from sayso.procedure.model import AskChoice, Option

#: Beside an option these are an order, and most likely one that must not be lost: "stop, the hook slipped".
_ORDERS = frozenset({"stop", "hold", "wait", "undo", "note", "skip", "why", "repeat"})

#: An option may be met in the midst of free talk, where a denial has more faces than before an order: "no red
#: one", "neither red nor blue", "without a seal". Corrections ("no, red") were taken out before.
_DENIALS = frozenset((*DENIALS, "no", "neither", "nor", "without"))

#: Beside an option these say nothing about it: "it's the red one", "they all look good".
_AROUND = FILLERS | {"one", "ones", "a", "an", "i", "see", "looks", "look", "they", "all", "here", "sir"}


@lru_cache(maxsize=256)
def phrases(ask: AskChoice) -> tuple[str, ...]:
    return tuple(dict.fromkeys(phrase for option in ask.options for phrase in option_phrases(option)))


def option_phrases(option: Option) -> tuple[str, ...]:
    """The words of an option as they are spoken; its value stands in when it has none."""
    written = option.words or (option.value.replace("-", " ").replace("_", " "),)
    return tuple(dict.fromkeys(filter(None, map(speakable, written))))


def understand(ask: AskChoice, words: Sequence[str]) -> Answer | NotUnderstood:
    """The option whose phrase was said, alone or among other words ("it's the red one").

    Of two phrases that overlap the longer counts ("dark red" over "red"); two separate options, or a
    denial or an order that is no part of an option ("not red", "stop, red"), are no answer.
    """
    written = " ".join(words).strip().lower()
    for option in ask.options:
        if written == option.value.lower():
            return Answer("choice", option.value, said=tuple(words))
    said = tuple(speakable(" ".join(word for word in lowered(words) if word != UNKNOWN)).split())
    whole = [option.value for option in ask.options if " ".join(said) in option_phrases(option)]
    if whole:
        return _one(ask, whole, words)
    found = _longest(ask, said)
    covered = {place for _, start, end in found for place in range(start, end)}
    if any(_denies(word) or word in _ORDERS for place, word in enumerate(said) if place not in covered):
        return NotUnderstood("no_match", choices(ask))
    if found:
        return _one(ask, [value for value, _, _ in found], words)
    if said and any(phrase.startswith(" ".join(said) + " ") for phrase in phrases(ask)):
        return NotUnderstood("incomplete", "")
    return NotUnderstood("no_match", choices(ask))


def _denies(word: str) -> bool:
    """Every verb has its own denial: isn't, doesn't, can't."""
    return word in _DENIALS or word.endswith("n't")


def _longest(ask: AskChoice, said: tuple[str, ...]) -> list[tuple[str, int, int]]:
    """Options met in the words, without those that lie inside a longer one."""
    met = []
    for option in ask.options:
        for phrase in option_phrases(option):
            parts = tuple(phrase.split())
            for start in range(len(said) - len(parts) + 1):
                if said[start : start + len(parts)] == parts:
                    met.append((option.value, start, start + len(parts)))
    return [
        (value, start, end)
        for value, start, end in met
        if not any(s <= start and end <= e and e - s > end - start for _, s, e in met)
    ]


def _one(ask: AskChoice, values: Sequence[str], words: Sequence[str]) -> Answer | NotUnderstood:
    found = tuple(Answer("choice", value, said=tuple(words)) for value in dict.fromkeys(values))
    if len(found) == 1:
        return found[0]
    return NotUnderstood(
        "ambiguous", sentence(f"{either([_name(ask, str(a.value)) for a in found])}?"), found
    )


def completeness(ask: AskChoice, words: Sequence[str]) -> Completeness:
    said = " ".join(lowered(words))
    grows = any(phrase.startswith(said + " ") for phrase in phrases(ask)) or not said
    return Completeness(isinstance(understand(ask, words), Answer), grows)


def spoken_value(ask: AskChoice, answer: Answer) -> str:
    return _name(ask, str(answer.value))


def _name(ask: AskChoice, value: str) -> str:
    """The first phrase of an option; its value too where two options share that phrase."""
    firsts = {option.value: (option_phrases(option) or (option.value,))[0] for option in ask.options}
    name = firsts.get(value, value)
    shared = list(firsts.values()).count(name) > 1
    return f"{name}, {value}" if shared else name


def choices(ask: AskChoice) -> str:
    return f"You can say {either([_name(ask, option.value) for option in ask.options])}."


def confusable(ask: AskChoice, answer: Answer) -> bool:
    """True when it was one phrase among unknown sounds ("not" may have been one of them), or among words that
    may turn it round: "no longer good", "anything but good", "oil free". No list of those is ever whole."""
    if UNKNOWN in answer.said:
        return True
    written = " ".join(answer.said).strip().lower()
    said = tuple(speakable(" ".join(lowered(answer.said))).split())
    if written == str(answer.value).lower() or " ".join(said) in phrases(ask):
        return False
    covered = {place for _, start, end in _longest(ask, said) for place in range(start, end)}
    return any(word not in _AROUND for place, word in enumerate(said) if place not in covered)
