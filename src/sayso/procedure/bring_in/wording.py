"""What a written step says beside its action: a torque, a limit, a wait, a question.

Common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

#: never the rest of another number: the 5 of '22,5 Nm', the 200 of '1,200 Nm'
_WHOLE = r"(?<![\d.])(?<!\d,)"
_NUMBER = rf"{_WHOLE}[+-]?{_WHOLE}\d+(?:\.\d+)?"
_TORQUE_UNIT = r"(?:N\s?[.·*]?\s?m|lbf?[.·*\s-]?(?:ft|in)|(?:ft|in)[.·*\s-]?lbf?s?)"
_UNIT = r"(?:mV|kV|V|mA|A|mΩ|kΩ|MΩ|Ω|ohms?|megohms?|mm|cm|m|in|kPa|bar|psi|°C|degC|kg|km/h|mph|Hz|%)"
_PLAIN = rf"{_WHOLE}\d+(?:\.\d+)?"  # a torque has no sign: the '-' of '15-18 Nm' is none
_TORQUE = re.compile(
    rf"[\s,(]*(?:\b(?:to|at|of)\s+)?(?P<target>{_PLAIN})\s*(?P<unit>{_TORQUE_UNIT})"
    rf"(?:\s*[(,]?\s*(?:±|\+/-|\+-|plus or minus|within)"
    rf"\s*(?P<within>{_NUMBER}\s*(?:%|{_TORQUE_UNIT})?)\s*\)?)?\)?",
    re.IGNORECASE,
)
#: '16 ± 2 Nm': the unit of both stands behind the tolerance
_TORQUE_EITHER_WAY = re.compile(
    rf"[\s,(]*(?:\b(?:to|at|of)\s+)?(?P<target>{_PLAIN})\s*(?:±|\+/-|\+-)\s*(?P<within>{_PLAIN})"
    rf"\s*(?P<unit>{_TORQUE_UNIT})\)?",
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
    r"[\s,(]*(?:\b(?:it\s+)?(?:is|must be|to be|must)\s+)?(?P<denied>\b(?:not|never)\s+(?:be\s+)?)?"
    r"\b(?P<limit>below|less than|under|above|more than|over|at least|at most|no more than|no less than)\s+"
    rf"(?P<number>{_NUMBER})\s*(?P<unit>{_UNIT})(?![\w])\)?",
    re.IGNORECASE,
)
#: '22,5 Nm', '22,5 ± 2,5 Nm', '0,25 to 0,35 mm'; not the '1,2' of 'bolts 1,2 to 22 Nm', nor '1,200 Nm'
_COMMA = r"(?<![\d.,])\d+,\d{1,2}(?![\d,])"
_ANY_UNIT = rf"(?:{_TORQUE_UNIT}|{_UNIT}|%|seconds?|s|minutes?|min|hours?|h)(?!\w)"
_DECIMAL_COMMAS = re.compile(
    rf"{_COMMA}(?:\s*(?:{_ANY_UNIT})?\s*(?:±|\+/-|\+-|-|–|\.\.|to|and)\s*{_COMMA})?\s*{_ANY_UNIT}"
    rf"|{_COMMA}\s*(?:±|\+/-|\+-)\s*\d+(?:\.\d+)?\s*{_ANY_UNIT}",
    re.IGNORECASE,
)
_THOUSANDS = re.compile(rf"(?<![\d.,])\d{{1,3}}(?:,\d{{3}})+(?:\.\d+)?\s*{_ANY_UNIT}", re.IGNORECASE)
#: What is said under a condition is no limit of a reading: 'if it is below 6 bar', 'until it is above 52 V'.
_CONDITIONAL = re.compile(r"\b(?:if|when|unless|until|once|while)\b", re.IGNORECASE)
#: No torque to reach: 'do not torque above 50 Nm', 'loosen the nuts (90 Nm)'
_NO_TARGET = re.compile(
    r"\b(?:not|never|exceed\w*|above|over|loosen\w*|slacken\w*|was|were)\b", re.IGNORECASE
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
_DENIED = {"below": "at_least", "above": "at_most", "at_least": "below", "at_most": "above"}


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
    #: what the lead hand has to look at: a reading that may be another, a number that was left in the text
    remarks: list[str] = field(default_factory=list)


def understood(text: str, *, is_torque: bool = False) -> Understood:
    """The step as it will be said, and what was found in it. `is_torque`: its torque stands elsewhere."""
    found = Understood("")
    said = _with_points(" ".join(text.split()), found.remarks)
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
    torque = None
    if not _keeps_its_torque(said, found.remarks):
        torque = _TORQUE_RANGE.search(said)
        if torque:
            low, high, unit = (
                torque.group(name) or torque.group(f"{name}_") for name in ("from", "target", "unit")
            )
            found.target, found.within = _middle(low, high, unit)
            found.range = f"{low} to {high} {unit}"
        elif torque := _TORQUE_EITHER_WAY.search(said):
            found.target, found.within = (f"{torque[part]} {torque['unit']}" for part in ("target", "within"))
        elif torque := _TORQUE.search(said):
            found.target = re.sub(r"\s+", " ", said[torque.start("target") : torque.end("unit")])
            found.within = re.sub(r"\s+", " ", torque.group("within") or "")
    # A limit leaves the sentence only where it will be asked: 'is it below 5 V?' is not 'is it?'
    limited = not found.is_question and _CONDITIONAL.search(said) is None
    if torque:
        said = said[: torque.start()] + said[torque.end() :]
    elif limited and (span := _RANGE.search(said)) is not None:
        found.at_least, found.at_most, found.unit = span.group(1), span.group(2), _unit(span.group(3))
        said = said[: span.start()] + said[span.end() :]
    elif limited and found.is_measure and (limit := _ONE_SIDED.search(said)) is not None:
        name = _LIMITS[limit["limit"].lower()]
        setattr(found, _DENIED[name] if limit["denied"] else name, limit["number"])
        found.unit = _unit(limit["unit"])
        said = said[: limit.start()] + said[limit.end() :]
    said = re.sub(r"\s+([.,;:?!])", r"\1", " ".join(said.split())).strip(" ,;:")
    if said and said[-1] not in ".?!":
        said += "."
    found.say = said[:1].upper() + said[1:] if said else "Do this step."
    return found


def _with_points(text: str, remarks: list[str]) -> str:
    """'22,5 Nm' as 22.5 Nm, which is told; '1,200 Nm' stays as it is, for it may be either."""
    commas: list[str] = []

    def with_point(quantity: re.Match[str]) -> str:
        commas.append(quantity.group())
        return re.sub(r"(?<=\d),(?=\d)", ".", quantity.group())

    said = _DECIMAL_COMMAS.sub(with_point, text)
    remarks += [f"read with a decimal comma, see that it is one: '{comma}'" for comma in commas]
    remarks += [
        f"not read, '{found.group()}' may be thousands or a decimal comma: write it without a comma"
        for found in _THOUSANDS.finditer(said)
    ]
    return said


def _keeps_its_torque(said: str, remarks: list[str]) -> bool:
    """True, and a remark, where a torque in the sentence is not the one to reach."""
    torque = _TORQUE_RANGE.search(said) or _TORQUE_EITHER_WAY.search(said) or _TORQUE.search(said)
    if torque is None:
        return False
    why = ""
    if _NO_TARGET.search(said[: torque.end()]):
        why = "it is not said to be reached"
    elif _TORQUE.search(said, torque.end()):
        why = "there are several; make a step of each"
    if why:
        remarks.append(f"not asked, the torque in '{said[:60]}': {why}")
    return why != ""


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
