"""Numbers as they are spoken in a workshop: words -> every value they can mean, and value -> words.

How a number may be said, and what it then means (tests/answers say each of these over whole ranges):

- as in writing: "one hundred and twenty", "a hundred", "two thousand and five", "twelve hundred";
- in pairs: "one twenty" = 120, "one oh five" = 105, "twelve fifty" = 1250, "twenty oh five" = 2005.
  It is never 1.20: a fraction of a unit needs "point" or a half, a quarter, eighths, sixteenths, tenths;
- digit by digit, two or more: "one two zero" = 120, "double four" = 44, "zero five" = 5;
- with "point", "decimal" or "dot", then digits, or one number of two digits: "nine point two five",
  "nine point twenty five"; "point five" = 0.5;
- "ten and a half", "two and a quarter", "three quarters", "five and three eighths", "half";
- "minus" or "negative" in front.

Each of these word orders has one value (`readings`). People also say a number twice to be sure,
"fifteen, one five"; that is read (`repeated`) only when no value of the first kind is legal, since
"twelve twelve" is 1212 where 1212 can be.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal

#: ICAO Annex 10 volume II, 5.2.1.4.3 says "niner", "fife", "fower", "tree" on the radio (from memory).
DIGIT_WORDS: dict[str, int] = {
    "zero": 0, "oh": 0, "o": 0, "nought": 0, "naught": 0,
    "one": 1, "two": 2, "three": 3, "tree": 3, "four": 4, "fower": 4,
    "five": 5, "fife": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9, "niner": 9,
}  # fmt: skip
UNITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
TEENS = (
    "ten", "eleven", "twelve", "thirteen", "fourteen",
    "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
POINT_WORDS = frozenset({"point", "decimal", "dot"})
MINUS_WORDS = frozenset({"minus", "negative"})
#: Typed, or said where it is below zero outside: "plus five". No grammar has it.
PLUS_WORD = "plus"
REPEATS = {"double": 2, "triple": 3, "treble": 3}

_TEENS = {word: 10 + index for index, word in enumerate(TEENS)}
_TENS = {word: 20 + 10 * index for index, word in enumerate(TENS)}
_PARTS = {
    "half": 2, "halves": 2, "quarter": 4, "quarters": 4, "eighth": 8, "eighths": 8,
    "sixteenth": 16, "sixteenths": 16, "tenth": 10, "tenths": 10,
}  # fmt: skip
#: No spoken number of the trade is longer; longer word soup costs time and means nothing.
_LONGEST = 24

#: No meter of a workshop shows more digits before the point; a longer string is a serial or talk.
_MOST_DIGITS = 7

NUMBER_WORDS = frozenset(
    {
        *DIGIT_WORDS,
        *TEENS,
        *TENS,
        *POINT_WORDS,
        *MINUS_WORDS,
        *REPEATS,
        *_PARTS,
        "hundred",
        "thousand",
        "and",
        "a",
    }
)


# --- words -> values -------------------------------------------------------------------------------


def readings(words: Sequence[str]) -> tuple[Decimal, ...]:
    """Every value that the words have; empty when they are no number."""
    if not words or len(words) > _LONGEST:
        return ()
    if words[0] == PLUS_WORD and len(words) > 1 and words[1] not in MINUS_WORDS:
        words = words[1:]
    if words[0] in MINUS_WORDS:
        return tuple(sorted({-value for value in _unsigned(words[1:])}))
    return tuple(sorted(set(_unsigned(words))))


def repeated(words: Sequence[str]) -> tuple[Decimal, ...]:
    """The value of a number that was said twice in a row, in the same or in another way."""
    if len(words) > _LONGEST or PLUS_WORD in words[1:]:  # "six plus six" is a sum
        return ()
    found: set[Decimal] = set()
    for cut in range(1, len(words)):
        found |= set(readings(words[:cut])) & set(readings(words[cut:]))
    return tuple(sorted(found))


def legal_readings(words: Sequence[str], legal: Callable[[Decimal], bool]) -> tuple[Decimal, ...]:
    """The readings that can be; those of a number said twice only when there are no others."""
    return tuple(filter(legal, readings(words))) or tuple(filter(legal, repeated(words)))


def digit_string(words: Sequence[str]) -> str | None:
    """Digits said one by one as text ("oh", "double" and "triple" too); None when a word is no digit."""
    digits: list[str] = []
    times = 0
    for word in words:
        if word in REPEATS and not times:
            times = REPEATS[word]
        elif word in DIGIT_WORDS:
            digits.append(str(DIGIT_WORDS[word]) * (times or 1))
            times = 0
        else:
            return None
    return None if times or not digits else "".join(digits)


def _unsigned(words: Sequence[str]) -> Iterator[Decimal]:
    yield from map(Decimal, integers(words))
    for place, word in enumerate(words):
        if word in POINT_WORDS:
            decimals = _decimals(words[place + 1 :])
            if decimals is not None:
                wholes: Sequence[int] = integers(words[:place]) if place else (0,)
                for whole in wholes:
                    yield Decimal(f"{whole}.{decimals}")
        elif word == "and":
            fraction = _fraction(words[place + 1 :])
            if fraction is not None:
                for whole in integers(words[:place]):
                    yield whole + fraction
    alone = _fraction(words)
    if alone is not None:
        yield alone


def is_bare_fraction(words: Sequence[str]) -> bool:
    """ "Half", "three quarters": a part with nothing whole before it."""
    return _fraction(words) is not None


def _decimals(words: Sequence[str]) -> str | None:
    digits = digit_string(words)
    if digits is not None:
        return digits
    pair = _below_hundred(words)
    return str(pair) if pair is not None and pair >= 10 else None


def _fraction(words: Sequence[str]) -> Decimal | None:
    if not words or words[-1] not in _PARTS or len(words) > 2:
        return None
    parts = _PARTS[words[-1]]
    if len(words) == 1 or words[0] == "a":
        return Decimal(1) / parts if not words[-1].endswith("s") and words[-1] != "halves" else None
    many = DIGIT_WORDS.get(words[0]) or _TEENS.get(words[0])
    if many is None or many >= parts or (many > 1) != (words[-1].endswith("s")):
        return None
    return Decimal(many) / parts


def integers(words: Sequence[str]) -> tuple[int, ...]:
    """Every whole number that the words name."""
    found = {value for value in (_cardinal(words), _paired(words)) if value is not None}
    if len(words) > 1:
        digits = digit_string(words)
        if digits is not None and len(digits) <= _MOST_DIGITS:
            found.add(int(digits))
    return tuple(sorted(found))


def _below_hundred(words: Sequence[str]) -> int | None:
    if len(words) == 1:
        word = words[0]
        return DIGIT_WORDS.get(word, _TEENS.get(word, _TENS.get(word)))
    if len(words) == 2 and words[0] in _TENS and DIGIT_WORDS.get(words[1]):
        return _TENS[words[0]] + DIGIT_WORDS[words[1]]
    return None


def _after_and(words: Sequence[str]) -> Sequence[str]:
    return words[1:] if len(words) > 1 and words[0] == "and" else words


def _hundreds(words: Sequence[str]) -> int | None:
    """ "three hundred and five", "a hundred", "twelve hundred fifty"."""
    if "hundred" not in words:
        return _below_hundred(words)
    place = list(words).index("hundred")
    head, tail = words[:place], _after_and(words[place + 1 :])
    many = 1 if tuple(head) == ("a",) else _below_hundred(head)
    rest = _below_hundred(tail) if tail else 0
    if many is None or rest is None or many == 0 or (tail and rest == 0):
        return None
    return many * 100 + rest


def _cardinal(words: Sequence[str]) -> int | None:
    if "thousand" not in words:
        value = _hundreds(words)
        # "twenty hundred" is nobody's 2000
        return None if value is not None and value >= 1000 and value % 1000 < 100 else value
    place = list(words).index("thousand")
    head, tail = words[:place], _after_and(words[place + 1 :])
    many = 1 if tuple(head) == ("a",) else _hundreds(head)
    rest = _hundreds(tail) if tail else 0
    if many is None or rest is None or not 0 < many < 1000 or rest >= 1000 or (tail and rest == 0):
        return None
    return many * 1000 + rest


def _paired(words: Sequence[str]) -> int | None:
    """ "one twenty" = 120, "one oh five" = 105, "twelve fifty" = 1250."""
    for cut in (1, 2):
        head, tail = _below_hundred(words[:cut]), words[cut:]
        if not head or not tail:
            continue
        if len(tail) == 2 and DIGIT_WORDS.get(tail[0]) == 0 and DIGIT_WORDS.get(tail[1]):
            return head * 100 + DIGIT_WORDS[tail[1]]
        low = _below_hundred(tail)
        if low is not None and low >= 10:
            return head * 100 + low
    return None


# --- values -> words -------------------------------------------------------------------------------


def cardinal(value: int) -> tuple[str, ...]:
    """A whole number in full, British style: 120 -> one hundred and twenty. Beyond 999,999: its digits."""
    if value < 0:
        return ("minus", *cardinal(-value))
    if value >= 1_000_000:
        return tuple(UNITS[int(digit)] for digit in str(value))
    if value < 10:
        return (UNITS[value],)
    if value < 20:
        return (TEENS[value - 10],)
    if value < 100:
        ten, one = divmod(value, 10)
        return (TENS[ten - 2], *((UNITS[one],) if one else ()))
    many, rest = divmod(value, 100 if value < 1000 else 1000)
    name = "hundred" if value < 1000 else "thousand"
    if not rest:
        return (*cardinal(many), name)
    return (*cardinal(many), name, *(("and",) if rest < 100 else ()), *cardinal(rest))


def digit_words(digits: str) -> tuple[str, ...]:
    """ "105" -> one zero five."""
    return tuple(UNITS[int(digit)] for digit in digits)


def ways(value: int) -> tuple[tuple[str, ...], ...]:
    """The word orders in which a technician may say a whole number, the usual one first."""
    if value < 0:
        return tuple(("minus", *way) for way in ways(-value))
    full = cardinal(value)
    found = [full]
    if "and" in full:
        found.append(tuple(word for word in full if word != "and"))
    head, tail = divmod(value, 100)
    if 1 <= head <= 99:
        if head % 10 and tail >= 10:
            found.append((*cardinal(head), *cardinal(tail)))
        elif head % 10 and 0 < tail < 10:
            found.append((*cardinal(head), "oh", UNITS[tail]))
        if head > 10 and head % 10:
            found.append(
                (*cardinal(head), "hundred", *cardinal(tail)) if tail else (*cardinal(head), "hundred")
            )
    if value >= 10:
        found.append(digit_words(str(value)))
    if full[0] == "one" and len(full) > 1 and full[1] in ("hundred", "thousand"):
        found.append(("a", *full[1:]))
    return tuple(dict.fromkeys(found))


def decimal_words(value: Decimal) -> tuple[str, ...]:
    """Any number in full: 9.25 -> nine point two five; every digit is said, none is rounded away."""
    text = format(value.normalize(), "f") if value else "0"
    if text.startswith("-"):
        return ("minus", *decimal_words(-value))
    whole, _, decimals = text.partition(".")
    return (*cardinal(int(whole)), *(("point", *digit_words(decimals)) if decimals else ()))
