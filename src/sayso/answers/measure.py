"""A measured value, in the unit asked for or in another of the same kind."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import lru_cache
from math import ceil, floor, inf

from sayso.answers import spoken
from sayso.answers.answer import Answer, Completeness, NotUnderstood
from sayso.answers.below_zero import BELOW_ZERO, can_be_below_zero
from sayso.answers.confusions import is_teen_or_ten
from sayso.answers.number_grammar import MOST_PHRASES, cover, decimal_phrases, whole_number_phrases
from sayso.answers.number_words import (
    DIGIT_WORDS,
    NUMBER_WORDS,
    POINT_WORDS,
    UNITS,
    cardinal,
    is_bare_fraction,
    readings,
)
from sayso.answers.quantity import (
    Measured,
    Reading,
    ends_in_unit,
    read_quantity,
    takes_a_smaller_unit,
    unit_can_grow,
)
from sayso.answers.typed_numbers import typed_quantities
from sayso.answers.unit_words import convert, own_words, same_unit, spoken_unit_phrases
from sayso.answers.words import OH, UNKNOWN, is_typed, lowered, sentence, without_fillers
from sayso.procedure.model import AskMeasure

#: A value said at a limit that was converted between units may differ from it in the last binary digits.
_SLACK = 1e-9

#: Of what was typed and is no number, so much is said back.
_LONGEST_TOLD = 40

#: Not the same in every country: a ton is 907 kg here and may be 1016 or 1000, a gallon 3.79 l or 4.55. What
#: it was taken for is told in the read-back.
_MORE_THAN_ONE = ("ton", "cwt", "gal", "qt", "pt", "floz", "hp")

#: In a quiz who does not know says so: a guess that happens to be right would count as known for weeks.
NOT_KNOWN = ("tell me", "i do not know", "no idea")


#: "five below zero", "five degrees below zero", where it may be that cold
_BELOW_ZERO = tuple(
    f"{' '.join(cardinal(number))} {behind}{' '.join(BELOW_ZERO)}"
    for number in range(1, 21)
    for behind in ("", "degrees ")
)


@lru_cache(maxsize=256)
def phrases(ask: AskMeasure) -> tuple[str, ...]:
    low, high = _grammar_range(ask)
    units = spoken_unit_phrases(ask.unit, farthest=1000.0)
    without_number = NOT_KNOWN if ask.may_not_know else ()
    numbers = number_and_unit_phrases(low, high, units, minus=ask.low is None or ask.low < 0)
    below = _BELOW_ZERO if can_be_below_zero(ask.unit, ask.low) else ()
    few = (*without_number, *below)
    return (*few, *numbers[: MOST_PHRASES - len(few)])


def number_and_unit_phrases(low: int, high: int, units: Sequence[str], *, minus: bool) -> tuple[str, ...]:
    """Numbers with decimals from `low` to `high`, each unit behind some of them, "minus" before some."""
    start = max(0, low)
    with_unit = [
        f"{' '.join(cardinal(number))} {unit}"
        for index, unit in enumerate(units[:24])
        for number in {min(start + index, high), high, *((1, 5, 20, 30) if index < 4 else ())}
    ]
    after_digits = [f"point {digit} {unit}" for unit in units[:2] for digit in UNITS]
    halves = [f"and a half {unit}" for unit in units[:2]]
    below_zero = [f"minus {' '.join(cardinal(value))}" for value in range(1, 21)] if minus else []
    return cover(
        (
            *whole_number_phrases(start, max(high, start)),
            *with_unit,
            *after_digits,
            *halves,
            *decimal_phrases(start, max(high, start)),
            *below_zero,
        ),
        MOST_PHRASES,
    )


def is_not_known(ask: AskMeasure, words: Sequence[str]) -> bool:
    """ "Tell me", where that is an answer."""
    return ask.may_not_know and " ".join(without_fillers(lowered(words))) in NOT_KNOWN


def understand(ask: AskMeasure, words: Sequence[str]) -> Answer | NotUnderstood:
    if is_not_known(ask, words):
        return Answer("measure", 0.0, ask.unit, tuple(words), within=within(ask, 0.0))

    def legal(value: float) -> bool:
        slack = _SLACK * max(abs(value), 1.0)
        return (ask.low is None or value >= ask.low - slack) and (
            ask.high is None or value <= ask.high + slack
        )

    read = read_quantity(words, ask.unit, legal, loose=own_words(ask.unit))
    found = tuple(_answer(ask, measured, words) for measured in read.legal)
    if len(found) == 1:
        return (
            _share_or_percent(ask, found[0], legal)
            or _part_of_an_inch(ask, found[0], words, legal)
            or found[0]
        )
    return not_one(
        found, read, words, _wanted(ask), spoken.unit(ask.unit), ask.unit, legal_hint=_point_hint(ask, words)
    )


def _share_or_percent(
    ask: AskMeasure, answer: Answer, legal: Callable[[float], bool]
) -> NotUnderstood | None:
    """ "Three quarters" where percent are asked for: of all, or of one percent? The unit tells."""
    whole = float(answer.value) * 100.0
    if not same_unit(ask.unit, "%") or not _is_bare_fraction(answer.said):
        return None
    if not legal(whole):
        return None
    either = f"{spoken.quantity(float(answer.value), ask.unit)} or {spoken.quantity(whole, ask.unit)}"
    return NotUnderstood("ambiguous", sentence(f"{either}? Say it with its unit"), (answer,))


#: "3/4", "½"
_TYPED_FRACTION = re.compile(r"\d{1,2}/\d{1,2}|[½¼¾⅛⅜⅝⅞]", re.ASCII)


def _is_bare_fraction(said: Sequence[str]) -> bool:
    typed = _TYPED_FRACTION.fullmatch("".join(said)) is not None
    return typed or is_bare_fraction(without_fillers(lowered(said)))


#: "Three eighths", "5/16": marks of an inch rule and sizes of an inch wrench; a metric rule has none.
_EIGHTHS = re.compile(r"eighths?|sixteenths?|\d/(?:8|16|32|64)|[⅛⅜⅝⅞]")


def _part_of_an_inch(
    ask: AskMeasure, answer: Answer, words: Sequence[str], legal: Callable[[float], bool]
) -> NotUnderstood | None:
    """ "Three eighths" where millimetres are asked for, and no unit with it: 0.375 mm, or 9.5?"""
    inches = float(answer.value)
    metric = any(same_unit(ask.unit, unit) for unit in ("mm", "cm", "m"))
    if not metric or _EIGHTHS.search(" ".join(words).lower()) is None or _names_a_unit(words):
        return None
    other = convert(inches, "in", ask.unit)
    if not legal(other):
        return None
    either = f"{spoken.quantity(inches, ask.unit)} or {spoken.quantity(inches, 'in')}"
    return NotUnderstood("ambiguous", sentence(f"{either}? Say it with its unit"), (answer,))


def _names_a_unit(words: Sequence[str]) -> bool:
    if is_typed(words):
        return any(unit for _, unit in typed_quantities(words))
    said = without_fillers(lowered(words))
    return not readings(said)


def not_one(
    found: tuple[Answer, ...],
    read: Reading,
    words: Sequence[str],
    wanted: str,
    unit_words: str,
    unit: str,
    *,
    legal_hint: str = "",
) -> NotUnderstood:
    """Why a number with a unit was not one legal value, and what to say instead."""
    if found:
        values = " or ".join(
            spoken.quantity(a.said_value if a.said_value is not None else float(a.value), a.said_unit or unit)
            for a in found
        )
        return NotUnderstood("ambiguous", sentence(f"{values}? Say it with its unit"), found)
    if read.illegal:
        first = read.illegal[0]
        heard = spoken.quantity(first.number, first.unit or unit)
        return NotUnderstood("out_of_range", f"{sentence(f'I heard {heard}, and need {wanted}')}{legal_hint}")
    if read.wrong_units:
        heard = read.wrong_units[0]
        if any(character.isdigit() for character in heard):  # "48 or 49", "64 64 65 63", "1/3"
            return NotUnderstood("no_match", no_one_number(words, wanted))
        return NotUnderstood("no_match", sentence(f"I heard {heard}, and asked for {unit_words}"))
    if _is_start(words):
        return NotUnderstood("incomplete", "")
    if is_typed(words):  # "over 48", "±3", "- 3"
        return NotUnderstood("no_match", no_one_number(words, wanted))
    return NotUnderstood("no_match", f"{sentence(f'I need {wanted}')}{legal_hint}")


def no_one_number(words: Sequence[str], wanted: str) -> str:
    """To whoever typed a number that was not taken: what stands there, or they see no reason."""
    typed = " ".join(words)[:_LONGEST_TOLD]
    return sentence(f"I cannot read {typed} as one number, and need {wanted}")


def completeness(ask: AskMeasure, words: Sequence[str]) -> Completeness:
    if is_not_known(ask, words):
        return Completeness(True, False)
    return quantity_completeness(
        isinstance(understand(ask, words), Answer), words, ask.unit, tuple(own_words(ask.unit))
    )


def quantity_completeness(
    complete: bool, words: Sequence[str], unit: str, loose: tuple[str, ...] = ()
) -> Completeness:
    """Without a unit a number may always go on ("nine" ... "point five"); behind its unit it has ended."""
    said = without_fillers(lowered(words))
    grows = unit_can_grow(said, unit, loose) or takes_a_smaller_unit(said)
    return Completeness(complete, grows or not (complete and ends_in_unit(said, loose)))


def spoken_value(ask: AskMeasure, answer: Answer, *, careful: bool = True) -> str:
    """The value as it was said; one that was said in another unit also in the unit of the question."""
    if is_not_known(ask, answer.said):
        return "not known"
    asked = spoken.quantity(float(answer.value), answer.unit or ask.unit, careful=careful)
    if answer.said_value is None or not answer.said_unit:
        return asked
    said = spoken.quantity(answer.said_value, answer.said_unit, careful=careful)
    converted = spoken.quantity(_short(float(answer.value)), answer.unit or ask.unit)
    return f"{said}, that is {converted}"


def deviation(ask: AskMeasure, answer: Answer) -> str:
    """What is wrong with a value outside its limits, as a clause; empty when it is inside."""
    if answer.within:
        return ""
    value = float(answer.value)
    for limit, is_high in ((ask.below, True), (ask.at_most, True), (ask.above, False), (ask.at_least, False)):
        if limit is not None and (value >= limit if is_high else value <= limit):
            side = "above" if is_high else "below"
            if value == limit:
                side = "not below" if is_high else "not above"
            return f"{side} the limit of {spoken.quantity(limit, ask.unit)}"
    return "outside the limits"


def choices(ask: AskMeasure) -> str:
    low, high = _grammar_range(ask)
    example = spoken.quantity((low + min(high, low + 20)) // 2 + 0.5, ask.unit)
    or_not = ", or tell me" if ask.may_not_know else ""
    return f"You can say {_wanted(ask)}, such as {example}{or_not}."


def confusable(ask: AskMeasure, answer: Answer) -> bool:
    """Fifteen or fifty in it, an unknown sound beside it, said twice, a unit that means two: read it back."""
    return not is_not_known(ask, answer.said) and (
        number_confusable(answer) or answer.said_unit in _MORE_THAN_ONE
    )


#: Behind the number they make it one that was said twice ("four four" where 44 cannot be: or was it four
#: point four?); "a" and "and" stand before a unit too ("half a volt").
_DIGITS_AND_SO_ON = NUMBER_WORDS - {"a", "and"}


def number_confusable(answer: Answer) -> bool:
    number = answer.said_value if answer.said_value is not None else float(answer.value)
    if is_typed(answer.said):
        return len(typed_quantities(answer.said)) > 1  # "1,200": one and a fifth where 1200 cannot be
    said = without_fillers(lowered(answer.said))
    plain = any(
        spoken.exact(number) in readings(said[:cut]) and not _DIGITS_AND_SO_ON.intersection(said[cut:])
        for cut in range(1, len(said) + 1)
    )
    unclear = UNKNOWN in answer.said or OH.issuperset(_DIGITS_AND_SO_ON.intersection(said)) or not plain
    return unclear or is_teen_or_ten(int(abs(number))) or _rare_decimals(said)


def _rare_decimals(said: Sequence[str]) -> bool:
    """ "Point thirty", and a point behind hundreds: rarer than the "and" for which "point" may be taken."""
    return any(
        word in POINT_WORDS and (following not in DIGIT_WORDS or before == "hundred")
        for before, word, following in zip(("", *said), said, said[1:], strict=False)
    )


def within(ask: AskMeasure, value: float) -> bool:
    """Inside all limits; `below` and `above` exclude the limit itself."""
    slack = _SLACK * max(abs(value), 1.0)
    return (
        (ask.below is None or value < ask.below - slack)
        and (ask.above is None or value > ask.above + slack)
        and (ask.at_least is None or value >= ask.at_least - slack)
        and (ask.at_most is None or value <= ask.at_most + slack)
    )


def _answer(ask: AskMeasure, measured: Measured, words: Sequence[str]) -> Answer:
    other = bool(measured.unit) and measured.unit != ask.unit
    return Answer(
        "measure",
        measured.value,
        ask.unit,
        tuple(words),
        measured.number if other else None,
        measured.unit if other else "",
        within(ask, measured.value),
    )


def _limits(ask: AskMeasure) -> list[float]:
    return [x for x in (ask.below, ask.above, ask.at_least, ask.at_most) if x is not None]


def _grammar_range(ask: AskMeasure) -> tuple[int, int]:
    """Whole numbers worth listing: the plausible range; else ten times the limits, a hundred at least."""
    limits = _limits(ask)
    low = ask.low if ask.low is not None else min(0.0, *limits) if limits else 0.0
    high = ask.high if ask.high is not None else max(100.0, 10 * max(limits, default=100.0))
    low, high = max(low, -1e5), min(max(high, low), 1e5)
    return floor(low), ceil(high)


def _wanted(ask: AskMeasure) -> str:
    units = spoken.unit(ask.unit)
    low, high = ask.low, ask.high
    if low is not None and high is not None:
        return f"a value from {spoken.number(low)} to {spoken.quantity(high, ask.unit)}"
    if low is not None:
        return f"a value of at least {spoken.quantity(low, ask.unit)}"
    if high is not None:
        return f"a value of at most {spoken.quantity(high, ask.unit)}"
    return f"a number in {units}" if units else "a number"


def _point_hint(ask: AskMeasure, words: Sequence[str]) -> str:
    """ "three twenty five" where only 3.25 can be: people leave "point" out; sayso asks and never guesses."""
    said = without_fillers(lowered(words))
    if is_typed(words) or any(word in POINT_WORDS for word in said):
        return ""
    low, high = ask.low if ask.low is not None else -inf, ask.high if ask.high is not None else inf
    for cut in range(1, len(said)):
        with_point = (*said[:cut], "point", *said[cut:])
        for value in readings(with_point):
            if low <= float(value) <= high and (ask.low is not None or ask.high is not None):
                return " " + sentence(f"If it is {spoken.number(float(value))}, say the point")
    return ""


def _is_start(words: Sequence[str]) -> bool:
    """A number that has begun and not ended: "nine point", "minus", "a hundred and"."""
    said = without_fillers(lowered(words))
    if not said:
        return False
    return bool(readings((*said, "five")) or readings((*said, "half")) or readings((*said, "quarters")))


def _short(value: float) -> float:
    return float(f"{value:.3g}") if abs(value) < 1000 else float(round(value))
