"""Values as sayso says them: numbers in full, units spoken out, serials in groups, times both ways."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from math import inf

from sayso.answers.confusions import CONFUSABLE_LETTERS, is_teen_or_ten
from sayso.answers.number_words import UNITS, cardinal, decimal_words, digit_words
from sayso.answers.phonetic_alphabet import ALPHABET
from sayso.trade.units import UnknownUnitError, parse_unit, words_for_unit

MARKS = {"-": "dash", "/": "slash", ".": "point", "_": "underscore", " ": "space", "+": "plus", "#": "hash"}


def exact(value: float) -> Decimal:
    """The decimal number that a person wrote or said, not its binary neighbour."""
    return Decimal(str(value))


def number(value: float, *, careful: bool = False) -> str:
    """9.25 -> "nine point two five"; careful: 15 -> "fifteen, one five", so that it is not heard as fifty."""
    said = exact(value)
    words = " ".join(decimal_words(said))
    whole = int(abs(said))
    if not (careful and is_teen_or_ten(whole)) or whole >= 1_000_000:
        return words
    decimals = format(abs(said).normalize(), "f").partition(".")[2]
    digits = " ".join(
        (
            *(("minus",) if said < 0 else ()),
            *digit_words(str(whole)),
            *(("point", *digit_words(decimals)) if decimals else ()),
        )
    )
    return f"{words}, {digits}"


def unit(symbol: str, value: float = 2.0) -> str:
    """The unit spoken out behind `value`: "N.m" -> "newton metres". An unknown unit is said as written."""
    if not symbol:
        return ""
    try:
        return words_for_unit(parse_unit(symbol), abs(value)).lower().replace("p s i", "P S I")
    except UnknownUnitError:
        return symbol


def quantity(value: float, symbol: str, *, careful: bool = False) -> str:
    """A number and its unit: "nine point five newton metres", "fifteen, one five volts"."""
    return f"{number(value, careful=careful)} {unit(symbol, value)}".strip()


def serial(text: str, *, spell: bool = False) -> str:
    """A serial in groups of three or four: "kilo delta, one two three, four five six".

    Letters are said by the phonetic alphabet when `spell` is set or when one of them is easily misheard;
    otherwise by their names. The digit 0 is always "zero", so it is never the letter O.
    """
    letters = {character for character in text if character.isalpha()}
    by_alphabet = spell or bool(letters & CONFUSABLE_LETTERS)
    groups = []
    for run in _runs(text):
        for group in _in_groups(run):
            groups.append(" ".join(_character(character, by_alphabet) for character in group))
    return ", ".join(groups)


def time(hhmm: str) -> str:
    """ "14:05" -> "fourteen oh five, five past two in the afternoon" (so 2 and 14 cannot be mixed up)."""
    hour, minute = (int(part) for part in hhmm.split(":"))
    return f"{clock(hhmm)}, {_by_the_dial(hour, minute)}"


def clock(hhmm: str) -> str:
    """24-hour words: "fourteen thirty", "zero nine oh five", "fourteen hundred"."""
    hour, minute = (int(part) for part in hhmm.split(":"))
    hours = " ".join(digit_words(f"{hour:02}")) if hour < 10 else " ".join(cardinal(hour))
    if minute == 0:
        return f"{hours} hundred"
    if minute < 10:
        return f"{hours} oh {UNITS[minute]}"
    return f"{hours} {' '.join(cardinal(minute))}"


def _by_the_dial(hour: int, minute: int) -> str:
    if (hour, minute) == (12, 0):
        return "midday"
    if (hour, minute) == (0, 0):
        return "midnight"
    named = (hour + (1 if minute > 30 else 0)) % 24
    on_dial = cardinal((named - 1) % 12 + 1)[0]
    part = "in the morning" if hour < 12 else "in the afternoon" if hour < 18 else "in the evening"
    if minute == 0:
        return f"{on_dial} o'clock {part}"
    if minute == 30:
        return f"half past {on_dial} {part}"
    past = minute < 30
    minutes = minute if past else 60 - minute
    said = "quarter" if minutes == 15 else " ".join(cardinal(minutes))
    plain = "" if minutes % 5 == 0 else " minute" if minutes == 1 else " minutes"
    return f"{said}{plain} {'past' if past else 'to'} {on_dial} {part}"


def _runs(text: str) -> list[str]:
    runs: list[str] = []
    for character in text:
        kind = "d" if character.isdigit() else "l" if character.isalpha() else "m"
        if runs and kind == _kind(runs[-1][-1]) and kind != "m":
            runs[-1] += character
        else:
            runs.append(character)
    return runs


def _kind(character: str) -> str:
    return "d" if character.isdigit() else "l" if character.isalpha() else "m"


def _in_groups(run: str) -> list[str]:
    """Threes, with a last four or two twos rather than a single character left over."""
    if len(run) <= 4:
        return [run] if len(run) != 4 or run.isalpha() else [run[:2], run[2:]]
    groups = [run[i : i + 3] for i in range(0, len(run), 3)]
    if len(groups[-1]) == 1:
        groups[-2:] = [groups[-2] + groups[-1]]
    return groups


def _character(character: str, by_alphabet: bool) -> str:
    if character.isdecimal() and character.isascii():
        return UNITS[int(character)]
    upper = character.upper()
    if by_alphabet and upper in ALPHABET:
        return ALPHABET[upper]
    return MARKS.get(character, upper)


def rounded(value: float, low: float = -inf, high: float = inf) -> float:
    """The roundest number that still stands for `value`: off by at most a tenth of the way to its limit.

    Without limits three significant digits are kept. 79.66 within 71.7..87.6 -> 80; 6.64 -> 6.6.
    """
    tolerance = min(value - low, high - value)
    allowed = abs(value) * 0.005 if tolerance == inf or tolerance <= 0 else tolerance * 0.1
    for near in _rounder_first(value, ROUND_HALF_EVEN):
        if abs(near - value) <= allowed and low <= near <= high:
            return near
    return value


def limit_inwards(value: float, target: float, *, upwards: bool) -> float:
    """A limit rounded towards the target, so that a value just inside what was said is inside the limit.

    `upwards` for a lower limit. Places: as few as cost at most a tenth of the tolerance.
    """
    allowed = abs(target - value) * 0.1
    for near in _rounder_first(value, ROUND_CEILING if upwards else ROUND_FLOOR):
        if abs(near - value) <= allowed:
            return near
    return value


def _rounder_first(value: float, rounding: str) -> Iterator[float]:
    """`value` to tens (from a thousand on), to whole numbers, to one decimal, and so on to six."""
    # Ten digits: 0.9 times 0.8 must not be rounded up from 0.7200000000000001 to 0.73.
    said = exact(float(f"{value:.10g}"))
    for places in range(-1 if abs(value) >= 1000 else 0, 7):
        yield float(said.quantize(Decimal(1).scaleb(-places), rounding=rounding))
