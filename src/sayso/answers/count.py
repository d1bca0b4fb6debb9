"""A count: a whole number between two bounds, both included."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from functools import lru_cache

from sayso.answers import spoken
from sayso.answers.answer import Answer, Completeness, NotUnderstood
from sayso.answers.around_numbers import bare_count, named_number
from sayso.answers.confusions import partners
from sayso.answers.measure import no_one_number
from sayso.answers.number_grammar import MOST_PHRASES, decoys, whole_number_phrases
from sayso.answers.number_words import DIGIT_WORDS, NUMBER_WORDS, UNITS, legal_readings, readings, ways
from sayso.answers.typed_numbers import typed_numbers
from sayso.answers.words import OH, UNKNOWN, is_typed, lowered, sentence, without_fillers
from sayso.procedure.model import AskCount

_NONE = ("none", "nil")
#: Above this many values the endpointer is told that a number can always go on.
_LISTED = 2000


@lru_cache(maxsize=256)
def phrases(ask: AskCount) -> tuple[str, ...]:
    own = whole_number_phrases(ask.low, ask.high)
    none = _NONE[:1] if ask.low <= 0 <= ask.high else ()
    return tuple(dict.fromkeys((*none, *own, *decoys(ask.low, ask.high))))[:MOST_PHRASES]


def understand(ask: AskCount, words: Sequence[str]) -> Answer | NotUnderstood:
    def legal(value: Decimal) -> bool:
        return value == int(value) and ask.low <= value <= ask.high

    said = _without_what_is_counted(ask, bare_count(without_fillers(lowered(words))))
    if is_typed(words):
        numbers = typed_numbers(said[0]) if len(said) == 1 else ()
        values = tuple(filter(legal, numbers))
    elif said in {(none,) for none in _NONE}:
        numbers = (Decimal(0),)
        values = tuple(filter(legal, numbers))
    else:
        numbers = readings(said) or named_number(said)
        values = legal_readings(said, legal) or tuple(filter(legal, named_number(said)))
    found = [Answer("count", int(value), said=tuple(words)) for value in values]
    if len(found) == 1:
        return found[0]
    if found:
        either = " or ".join(spoken.number(float(value)) for value in values)
        return NotUnderstood("ambiguous", sentence(f"{either}? Say it digit by digit"), tuple(found))
    if numbers:
        heard = spoken.number(float(numbers[0]))
        if numbers[0] != int(numbers[0]):
            return NotUnderstood("out_of_range", sentence(f"I heard {heard}, and need a whole number"))
        return NotUnderstood("out_of_range", sentence(f"I heard {heard}, and need {_range(ask)}"))
    if _may_go_on(ask, said):
        return NotUnderstood("incomplete", "")
    if is_typed(words):  # "7 or 8", "8 of 12", "12-4"
        return NotUnderstood("no_match", no_one_number(words, _range(ask)))
    return NotUnderstood("no_match", sentence(f"I need {_range(ask)}"))


def _without_what_is_counted(ask: AskCount, said: tuple[str, ...]) -> tuple[str, ...]:
    """ "Twelve pins" at a count of lamp_pins is twelve: the words of its name say nothing new."""
    name = tuple(ask.name.lower().split("_"))
    for start in range(len(name)):
        counted = name[start:]
        if said[-len(counted) :] == counted and said != counted and not NUMBER_WORDS & set(counted):
            return said[: -len(counted)]
    return said


def completeness(ask: AskCount, words: Sequence[str]) -> Completeness:
    said = without_fillers(lowered(words))
    return Completeness(isinstance(understand(ask, words), Answer), _may_go_on(ask, said))


def spoken_value(ask: AskCount, answer: Answer, *, careful: bool = True) -> str:
    return spoken.number(int(answer.value), careful=careful)


def choices(ask: AskCount) -> str:
    return f"You can say {_range(ask)}."


def confusable(ask: AskCount, answer: Answer) -> bool:
    """A legal number sounds like it, or it was not said plainly (twice, or beside an unknown sound)."""
    value = int(answer.value)
    said = without_fillers(lowered(answer.said))
    twice = (
        not is_typed(answer.said)
        and Decimal(value) not in readings(said)
        and said not in {("none",), ("nil",)}
    )
    unclear = twice or UNKNOWN in answer.said or OH.issuperset(said)
    return unclear or any(ask.low <= other <= ask.high for other in partners(value))


def _range(ask: AskCount) -> str:
    if ask.low == ask.high:
        return f"the number {spoken.number(ask.low)}"
    return f"a number from {spoken.number(ask.low)} to {spoken.number(ask.high)}"


def _may_go_on(ask: AskCount, said: Sequence[str]) -> bool:
    if ask.high - ask.low > _LISTED:
        return True
    return tuple(_plain(said)) in _beginnings(ask.low, ask.high)


def _plain(words: Sequence[str]) -> list[str]:
    """Other words for the digits made one ("oh", "nought", "niner")."""
    return [UNITS[DIGIT_WORDS[word]] if word in DIGIT_WORDS else word for word in words]


@lru_cache(maxsize=64)
def _beginnings(low: int, high: int) -> frozenset[tuple[str, ...]]:
    found: set[tuple[str, ...]] = set()
    for value in range(low, high + 1):
        for way in ways(value):
            plain = tuple(_plain(way))
            found |= {plain[:length] for length in range(len(plain))}
    return frozenset(found)
