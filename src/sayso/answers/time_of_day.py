"""A time of day, kept as HH:MM on the 24-hour clock.

How a time is read: "fourteen thirty", "one four three zero", "zero nine oh five", "fifteen hundred", "oh six
hundred hours" are 24-hour times. "two fifteen", "half past two", "half two" (British: 2:30), "quarter to
nine", "two o'clock" have two readings; "a m", "p m", "in the morning", "in the afternoon", "in the evening"
settle it; without them the one in the working day counts (06:00 to 17:59), and it is always read
back on the 24-hour clock.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

from sayso.answers import spoken
from sayso.answers.answer import Answer, Completeness, NotUnderstood
from sayso.answers.number_grammar import cover
from sayso.answers.number_words import DIGIT_WORDS, TENS, UNITS, cardinal, digit_string, readings
from sayso.answers.words import UNKNOWN, is_typed, lowered, split_words, without_fillers
from sayso.procedure.model import AskTime

#: First hour of the working day: a time without morning or afternoon lies in the twelve hours from here.
FIRST_HOUR = 6

_HALVES: dict[tuple[str, ...], str] = {
    ("a", "m"): "am", ("am",): "am", ("in", "the", "morning"): "am", ("this", "morning"): "am",
    ("p", "m"): "pm", ("pm",): "pm", ("in", "the", "afternoon"): "pm", ("this", "afternoon"): "pm",
    ("in", "the", "evening"): "pm", ("this", "evening"): "pm", ("at", "night"): "night",
}  # fmt: skip
#: "Twelve at night" is midnight and "two at night" comes after it; from here on it is the evening.
_EVENING = 5

_WHOLE = {
    ("noon",): (12, 0), ("midday",): (12, 0), ("twelve", "noon"): (12, 0), ("midnight",): (0, 0),
}  # fmt: skip
_TYPED = re.compile(r"^(\d{1,2})[:.h](\d{2})\s*([ap]\.?m\.?)?$|^(\d{2})(\d{2})$|^(\d{1,2})\s*([ap]\.?m\.?)$")


@lru_cache(maxsize=1)
def _phrases() -> tuple[str, ...]:
    hours = [" ".join(cardinal(hour)) for hour in range(1, 24)]
    minutes = [" ".join(cardinal(minute)) for minute in range(10, 60)]
    on_dial = hours[:12]
    digital = [f"{hours[i % 23]} {minute}" for i, minute in enumerate(minutes)]
    digital += [f"{hour} {minutes[5 * (i % 10)]}" for i, hour in enumerate(hours)]
    digital += [f"{hour} oh {UNITS[1 + i % 9]}" for i, hour in enumerate(hours)]
    # Hours before minutes in tens: the pairs that "fourteen thirty" and "two fifteen" are made of.
    digital += [
        f"{hour} {minute}" for hour in hours for minute in ("fifteen", "thirty", "forty", "ten", "twenty")
    ]
    early = [f"{zero} {UNITS[hour]} thirty" for zero in ("zero", "oh") for hour in range(1, 10)]
    dial = [
        f"{minutes_said} {side} {hour}"
        for side in ("past", "to")
        for hour in on_dial
        for minutes_said in ("half", "quarter", "five", "ten", "twenty", "twenty five")
        if not (minutes_said == "half" and side == "to")
    ]
    exact = [f"{hour} o'clock" for hour in on_dial] + [f"{hour} hundred hours" for hour in hours]
    halves = [f"{hour} {half}" for hour in (*on_dial, "thirty", "fifteen") for half in ("a m", "p m")]
    halves += ["in the morning", "in the afternoon", "in the evening", "noon", "midday", "midnight"]
    halves += [f"half {hour}" for hour in on_dial]
    return cover((*dial, *exact, *halves, *digital, *early, *hours), 400)


def phrases(ask: AskTime) -> tuple[str, ...]:
    return _phrases()


def understand(ask: AskTime, words: Sequence[str]) -> Answer | NotUnderstood:
    times = _typed(words)
    if times is None:
        times = _heard(_as_said(words))
    if times is None:
        if not is_typed(words) and _is_start(without_fillers(lowered(words))):
            return NotUnderstood("incomplete", "")
        return NotUnderstood("no_match", choices(ask))
    if not times:
        return NotUnderstood("out_of_range", "There is no such time. " + choices(ask))
    return Answer("time", times[0], said=tuple(words))


def completeness(ask: AskTime, words: Sequence[str]) -> Completeness:
    """An hour can go on with minutes; minutes with "p m", unless the clock was a 24-hour one."""
    said = without_fillers(lowered(words))
    complete = isinstance(understand(ask, words), Answer)
    digits = digit_string(said)
    if (digits is not None and len(digits) < 4) or (said and said[-1] in TENS):
        return Completeness(complete, True)
    ended = complete and (
        _half(said)[1] != "" or said in _WHOLE or (_is_whole_clock(said) and _hour(said) is None)
    )
    return Completeness(complete, not ended)


def spoken_value(ask: AskTime, answer: Answer) -> str:
    return spoken.time(str(answer.value))


def choices(ask: AskTime) -> str:
    return "You can say a time, such as fourteen thirty, or half past two."


def confusable(ask: AskTime, answer: Answer) -> bool:
    """True when morning or afternoon was guessed, or when fifteen and fifty are near."""
    said = _as_said(answer.said)
    if _typed(answer.said):
        return False
    minute = int(str(answer.value)[3:])
    sounds_alike = minute in range(13, 20) or minute in (30, 40, 50)
    settled = _half(said)[1] != "" or said in _WHOLE or _is_whole_clock(said)
    return UNKNOWN in answer.said or not settled or sounds_alike


def _as_said(words: Sequence[str]) -> tuple[str, ...]:
    """The words as they are spoken: "half past 8" and "14 30" are typed that way too."""
    said: list[str] = []
    for word in lowered(words):
        if not (word.isascii() and word.isdigit()) or len(word) > 2:
            said.append(word)
        elif word[0] == "0":
            said += [UNITS[int(digit)] for digit in word]
        else:
            said += cardinal(int(word))
    return without_fillers(said)


def _heard(said: tuple[str, ...]) -> tuple[str, ...] | None:
    """The time as a tuple of one; () for an impossible one; None for words that are no time."""
    if said in _WHOLE:
        return (_text(*_WHOLE[said]),)
    words, half = _half(said)
    digits = digit_string(words)
    if digits is not None and len(digits) == 3 and (digits[0] == "0" or digits[1] != "0"):
        # the first three of four digits; only "nine oh five" is a time with three
        return None
    read = _whole_clock(words) if not half else None
    if read is not None:
        return (_text(*read),) if read[0] < 24 and read[1] < 60 else ()
    read = _twelve_hours(words)
    if read is None:
        return None
    hour, minute = read
    if not (1 <= hour <= 12 and 0 <= minute < 60):
        return ()
    hour %= 12
    if half == "night":
        half = "pm" if hour >= _EVENING else "am"
    if half == "pm" or (not half and hour < FIRST_HOUR):
        hour += 12
    return (_text(hour, minute),)


def _half(said: tuple[str, ...]) -> tuple[tuple[str, ...], str]:
    """The words without "p m" and its like, and which half of the day they name."""
    for phrase, half in _HALVES.items():
        if len(said) > len(phrase) and said[-len(phrase) :] == phrase:
            return said[: -len(phrase)], half
    return said, ""


def _is_whole_clock(said: tuple[str, ...]) -> bool:
    read = _whole_clock(said)
    return read is not None and read[0] < 24 and read[1] < 60


def _whole_clock(words: tuple[str, ...]) -> tuple[int, int] | None:
    """24-hour words. Hours 1 to 12 without a leading zero are left to the twelve-hour reading."""
    bare = words[:-1] if len(words) > 1 and words[-1] in ("hours", "hour") else words
    digits = digit_string(bare)
    if digits is not None and len(digits) == 4:
        return int(digits[:2]), int(digits[2:])
    if digits is not None and len(digits) == 2 and digits[0] == "0" and bare is not words:
        return int(digits), 0
    for cut in (1, 2):
        head, tail = bare[:cut], bare[cut:]
        hour = _hour(head)
        joined = head[0] in TENS and DIGIT_WORDS.get(tail[0], 0) > 0 if tail else False
        if hour is None or joined:
            # "twenty | one oh five" is nobody's 20:10
            continue
        marked = hour == 0 or hour > 12 or (len(head) == 2 and DIGIT_WORDS.get(head[0]) == 0)
        if tail == ("hundred",):
            return hour, 0
        minute = _minute(tail)
        if minute is not None and (marked or bare is not words):
            return hour, minute
        if not tail and hour > 12:
            return hour, 0
    return None


def _hour(words: tuple[str, ...]) -> int | None:
    """ "fourteen" 14, "zero nine" 9, "double oh" and "zero zero" 0."""
    digits = digit_string(words)
    if digits is not None and len(digits) == 2 and digits[0] == "0":
        return int(digits)
    if len(words) == 2 and words[0] in DIGIT_WORDS:
        return None
    values = readings(words)
    whole = [int(value) for value in values if value == int(value) and 0 <= value < 100]
    return whole[0] if len(whole) == 1 else None


def _minute(words: tuple[str, ...]) -> int | None:
    """ "thirty" 30, "oh five" 5, "hundred" is no minute."""
    digits = digit_string(words)
    if digits is not None:
        return int(digits) if len(digits) == 2 else None
    values = [int(value) for value in readings(words) if value == int(value)]
    return values[0] if len(values) == 1 and 10 <= values[0] < 100 and "hundred" not in words else None


def _twelve_hours(words: tuple[str, ...]) -> tuple[int, int] | None:
    said = tuple(word for word in words if word not in ("minutes", "minute"))
    if said and said[-1] in ("o'clock", "oclock"):
        hour = _hour(said[:-1])
        return None if hour is None else (hour, 0)
    if said and said[0] == "a" and len(said) > 1:
        said = said[1:]
    for place, word in enumerate(said):
        if word in ("past", "to", "after", "before") and 0 < place < len(said) - 1:
            minutes, hour = _of_the_dial(said[:place]), _hour(said[place + 1 :])
            if minutes is None or hour is None or not 1 <= hour <= 12:
                return None
            if word in ("past", "after"):
                return hour, minutes
            return (hour - 1 or 12, 60 - minutes) if minutes else None
    if said and said[0] == "half" and len(said) > 1:
        hour = _hour(said[1:])
        return None if hour is None else (hour, 30)
    for cut in (1, 2):
        hour, tail = _hour(said[:cut]), said[cut:]
        if hour is not None and 1 <= hour <= 12:
            if not tail and len(said) == cut:
                return hour, 0
            minute = _minute(tail)
            if minute is not None:
                return hour, minute
    return None


def _of_the_dial(words: tuple[str, ...]) -> int | None:
    if words == ("half",):
        return 30
    if words in (("quarter",), ("a", "quarter")):
        return 15
    values = [int(value) for value in readings(words) if value == int(value) and 0 < value < 60]
    return values[0] if len(values) == 1 else None


def _typed(words: Sequence[str]) -> tuple[str, ...] | None:
    """Like `_heard`, of a time that was typed in digits."""
    match = _TYPED.match(" ".join(split_words(words)).lower()) if is_typed(words) else None
    if match is None:
        return None
    hour_text, minute_text = match[1] or match[4] or match[6], match[2] or match[5] or "00"
    half = (match[3] or match[7] or "").replace(".", "")
    hour, minute = int(hour_text), int(minute_text)
    if half and not 1 <= hour <= 12:
        return ()
    if half:
        hour = hour % 12 + (12 if half == "pm" else 0)
    return (_text(hour, minute),) if hour < 24 and minute < 60 else ()


def _text(hour: int, minute: int) -> str:
    return f"{hour:02}:{minute:02}"


def _is_start(said: tuple[str, ...]) -> bool:
    """ "half past", "quarter to", "zero nine": a time that has begun."""
    if not said:
        return False
    return any(
        _heard((*said, *more)) for more in (("two",), ("thirty",), ("hundred",), ("past", "two"), ("m",))
    )
