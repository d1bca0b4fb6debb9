"""What a written step says beside its action: a torque, a limit, a wait, a question.

Common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

_NUMBER = r"[+-]?\d+(?:\.\d+)?"
_TORQUE_UNIT = r"(?:N\s?[.·*]?\s?m|lbf?[.·*\s-]?(?:ft|in)|(?:ft|in)[.·*\s-]?lbf?s?)"
_UNIT = r"(?:mV|kV|V|mA|A|mΩ|kΩ|MΩ|Ω|ohms?|megohms?|mm|cm|m|in|kPa|bar|psi|°C|degC|kg|km/h|mph|Hz|%)"
_PLAIN = r"\d+(?:\.\d+)?"  # a torque has no sign: the '-' of '15-18 Nm' is none
_TORQUE = re.compile(
    rf"[\s,(]*(?:\b(?:to|at|of)\s+)?(?P<target>{_PLAIN})\s*(?P<unit>{_TORQUE_UNIT})"
    rf"(?:\s*[(,]?\s*(?:±|\+/-|\+-|plus or minus|within)"
    rf"\s*(?P<within>{_NUMBER}\s*(?:%|{_TORQUE_UNIT})?)\s*\)?)?\)?",
    re.IGNORECASE,
)
#: With spaces only where a word or bracket opens: 'bolt 4 to 20 Nm', 'bolts 1 to 4 to 20 Nm' are no ranges.
_TORQUE_RANGE = re.compile(
    rf"(?:\s*[(,]\s*|(?<!\s\d)(?<!\s\d\d)\s+)(?:(?:to|at|of|between|from)\s+|(?<=[(,]))"
    rf"(?P<from>{_PLAIN})\s*(?:{_TORQUE_UNIT})?\s*(?:to|and|-|–|\.\.)\s*(?P<target>{_PLAIN})\s*(?P<unit>{_TORQUE_UNIT})\)?"
    rf"|\s*(?<![\w.])(?P<from_>{_PLAIN})(?:-|–|\.\.)(?P<target_>{_PLAIN})\s*(?P<unit_>{_TORQUE_UNIT})\)?",
    re.IGNORECASE,
)
#: '15-18 Nm', '15 to 18 Nm', '16 ± 2 Nm': in a cell of its own, where the whole cell is the torque
_TORQUE_CELL = re.compile(rf"({_PLAIN})\s*(to|-|–|\.\.|±|\+/-|\+-)\s*({_PLAIN})\s*(\D.*)", re.I)
_WAIT = re.compile(
    r"\bwait\s+(?:for\s+)?(?:at least\s+)?(\d+(?:\.\d+)?)\s*(seconds?|s|minutes?|min|hours?|h)\b", re.I
)
_RANGE = re.compile(
    rf"[\s,(]*(?:\bbetween\s+|\bfrom\s+|:\s*)?({_NUMBER})\s*(?:to|and|-|–|\.\.)\s*({_NUMBER})"
    rf"\s*({_UNIT})(?![\w])\)?"
)
_ONE_SIDED = re.compile(
    rf"[\s,(]*(?:\b(?:is|must be|to be)\s+)?\b(below|less than|under|above|more than|over|at least|at most|"
    rf"no more than|no less than)\s+({_NUMBER})\s*({_UNIT})(?![\w])\)?",
    re.IGNORECASE,
)
_WORDS = dict(
    zip(
        ["two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"],
        range(2, 13),
        strict=True,
    )
)
_FASTENER = r"(?:bolts?|screws?|nuts?|studs?)\b"
#: 'four wheel nuts', '4 M8 bolts'; not the 20 nor the 8 of '8 x 20 bolts', which is a size.
_FASTENERS = re.compile(
    rf"(?<![x×]\s)\b({'|'.join(_WORDS)}|\d{{1,2}})(?!\s*[x×]\s*\d)\s+(?:\w+\s+){{0,3}}?{_FASTENER}",
    re.IGNORECASE,
)
#: '4x M8 bolts', '(4 x) nuts'; not the 8 of '8 x 20 bolts'.
_TIMES_BEFORE = re.compile(
    rf"(?<![\w.,])\(?(?P<n>\d{{1,2}})\s?[x×]\)?\s+(?!\d)(?=(?:[\w.×-]+\s+){{0,4}}?{_FASTENER})", re.IGNORECASE
)
_THREAD = r"M\d+(?:\s?[x×]\s?\d+(?:\.\d+)?)*(?:\s?mm)?"
#: 'nuts (4x)', 'nuts 4x', 'nuts x4', 'nuts, 4 off', 'bolts M8x20 (x 4)'; not 'bolts x 40 mm', a length.
_TIMES_AFTER = re.compile(
    rf"(?P<thread>\s*[(,]?\s*(?>{_THREAD}))?(?:\s*[(,]\s*|\s+)"
    r"(?:(?P<n>\d{1,2})(?:\s?[x×](?!\w|\s*\d+\s?mm)|\s(?:off|pcs|pieces|places)\b)"
    r"|[x×]\s?(?P<n_>\d{1,2})(?![\w.]|\s*(?:mm|cm|in|long)\b))\)?",
    re.IGNORECASE,
)
_LIMITS = {
    "below": "below", "less than": "below", "under": "below", "above": "above", "more than": "above",
    "over": "above", "at least": "at_least", "no less than": "at_least", "at most": "at_most",
    "no more than": "at_most",
}  # fmt: skip


@dataclass(slots=True)
class Understood:
    """`say` is the sentence without the quantities, which are asked for instead of spoken."""

    say: str
    target: str = ""
    within: str = ""
    #: as it was written, where the target is the middle of a range
    range: str = ""
    fasteners: int = 1
    unit: str = ""
    below: str = ""
    above: str = ""
    at_least: str = ""
    at_most: str = ""
    wait: str = ""
    is_question: bool = False
    is_measure: bool = False
    is_serial: bool = False


def understood(text: str, *, is_torque: bool = False) -> Understood:
    """The step as it will be said, and what was found in it. `is_torque`: its torque stands elsewhere."""
    said = " ".join(text.split())
    found = Understood(said)
    found.is_question = said.endswith("?")
    found.is_measure = bool(re.match(r"(measure|read|check|note|record)\b", said, re.I))
    found.is_serial = bool(re.search(r"\bserial\b", said, re.I)) and bool(
        re.match(r"(read|record|note|write)\b", said, re.I)
    )
    wait = _WAIT.search(said)
    if wait:
        unit = {"s": "s", "m": "min", "h": "h"}[wait.group(2)[0].lower()]
        found.wait = f"{wait.group(1)} {unit}"
        rest = (said[: wait.start()] + said[wait.end() :]).strip(" ,.;")
        said = rest if len(rest.split()) > 2 else "Wait."
    if is_torque or _TORQUE.search(said) or _TORQUE_RANGE.search(said):
        said, found.fasteners = _counted(said)
    torque = _TORQUE_RANGE.search(said)
    if torque:
        low, high, unit = (
            torque.group(name) or torque.group(f"{name}_") for name in ("from", "target", "unit")
        )
        found.target, found.within = _middle(low, high, unit)
        found.range = f"{low} to {high} {unit}"
    elif torque := _TORQUE.search(said):
        found.target = re.sub(r"\s+", " ", said[torque.start("target") : torque.end("unit")])
        found.within = re.sub(r"\s+", " ", torque.group("within") or "")
    if torque:
        said = said[: torque.start()] + said[torque.end() :]
    elif (span := _RANGE.search(said)) is not None:
        found.at_least, found.at_most, found.unit = span.group(1), span.group(2), _unit(span.group(3))
        said = said[: span.start()] + said[span.end() :]
    elif (limit := _ONE_SIDED.search(said)) is not None:
        setattr(found, _LIMITS[limit.group(1).lower()], limit.group(2))
        found.unit = _unit(limit.group(3))
        said = said[: limit.start()] + said[limit.end() :]
    said = re.sub(r"\s+([.,;:?!])", r"\1", " ".join(said.split())).strip(" ,;:")
    if said and said[-1] not in ".?!":
        said += "."
    found.say = said[:1].upper() + said[1:] if said else "Do this step."
    return found


def _counted(said: str) -> tuple[str, int]:
    """How many fasteners are meant, and the sentence without a '4x', which would be read out as it stands:
    before the fastener it is a plain number, behind it it goes, for the target is told for each of four."""
    if times := _TIMES_BEFORE.search(said):
        return f"{said[: times.start()]}{times['n']} {said[times.end() :]}", int(times["n"])
    for fastener in re.finditer(_FASTENER, said, re.IGNORECASE):
        if times := _TIMES_AFTER.match(said, fastener.end()):
            kept = times["thread"] or ""
            kept += ")" * (kept.count("(") - kept.count(")"))
            return said[: fastener.end()] + kept + said[times.end() :], int(times["n"] or times["n_"])
    if fasteners := _FASTENERS.search(said):
        return said, _WORDS.get(fasteners.group(1).lower()) or int(fasteners.group(1))
    return said, 1


def torque_of_cell(text: str) -> tuple[str, str]:
    """Target and tolerance of a cell that holds both: '15-18 Nm' is 16.5 Nm within 1.5 Nm. A cell that holds
    one number stays as it is, without a tolerance."""
    torque = _TORQUE_CELL.fullmatch(text.strip())
    if torque is None:
        # '80 Nm ± 8 Nm', '59 lb-ft (+/- 10 %)': the unit stands before the tolerance, as in a sentence
        whole = _TORQUE.fullmatch(text.strip())
        if whole is None or not whole["within"]:
            return text, ""
        within = whole["within"].strip()
        if within[-1].isdigit():
            within = f"{within} {whole['unit']}"
        return f"{whole['target']} {whole['unit']}", within
    one, how, other, unit = torque.groups()
    if how in ("±", "+/-", "+-"):
        return f"{one} {unit}", f"{other} {unit}"
    return _middle(one, other, unit)


def _middle(low: str, high: str, unit: str) -> tuple[str, str]:
    """A range is its middle and half its width; one of its ends alone would be the wrong torque."""
    return f"{(float(low) + float(high)) / 2:g} {unit}", f"{abs(float(high) - float(low)) / 2:g} {unit}"


_UNITS_WRITTEN = {
    "Ω": "ohm",
    "ohms": "ohm",
    "mΩ": "mohm",
    "kΩ": "kohm",
    "MΩ": "Mohm",
    "megohm": "Mohm",
    "megohms": "Mohm",
    "°C": "degC",
}


def _unit(text: str) -> str:
    return _UNITS_WRITTEN.get(text, text)
