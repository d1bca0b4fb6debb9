"""Answers that may be given at a step: at least one for every way that leads on from it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import regex

from sayso.procedure import conditions
from sayso.procedure.graph import case_value, possible_values
from sayso.procedure.model import (
    AskChoice,
    AskCount,
    AskMeasure,
    AskSerial,
    AskTorque,
    AskWitness,
    AskYesNo,
    Step,
)
from sayso.procedure.serial_patterns import Serials, look
from sayso.trade.units import UNITS, parse_unit

_NO_SERIALS = Serials(True, (), (), None)

Value = bool | int | float | str

#: The way of an edge: the branch case as written, 'otherwise', 'next' or 'out of limits'.
OTHERWISE, NEXT, OUT_OF_LIMITS = "otherwise", "next", "out of limits"


@dataclass(frozen=True, slots=True)
class LegalAnswer:
    """`text` is what is typed or said; `way` the branch that it should take by the text of the procedure."""

    text: str
    value: Value
    way: str


def legal_answers(
    step: Step,
    values: Mapping[str, Value],
    witnesses: tuple[tuple[str, str], ...],
    *,
    decisive: frozenset[str] | None = None,
) -> list[LegalAnswer]:
    """One answer for each way that can be taken with the answers given so far.

    `decisive`: conditions of other steps read the answer and compare it with these texts, so each way gets
    several answers: those texts, the lowest and the highest number beside the plainest, all of a short list.
    """
    found: dict[str, list[LegalAnswer]] = {}
    own = [case.when for case in step.then.cases if case.is_condition]
    texts = sorted({*(decisive or ()), *(text for source in own for text in quoted_texts(source))})
    for text, value, within in _candidates(step, witnesses, values, tuple(texts)):
        way = way_of(step, value, within, values)
        found.setdefault(way, []).append(LegalAnswer(text, value, way))
    if decisive is None:
        return [answers[0] for answers in found.values()]
    return [answer for answers in found.values() for answer in _spread(answers, decisive)]


def _spread(answers: list[LegalAnswer], compared: frozenset[str]) -> list[LegalAnswer]:
    if len(answers) <= 6 or isinstance(answers[0].value, str):
        return answers[:32]
    ends = [min(answers, key=lambda a: float(a.value)), max(answers, key=lambda a: float(a.value))]
    named = [answer for answer in answers if _as_text(answer.value) in compared]
    return list(dict.fromkeys([answers[0], *ends, *named]))


def way_of(step: Step, value: Value, within: bool, values: Mapping[str, Value]) -> str:
    """The branch that `value` should take from `step` by the text of the procedure."""
    if not within and step.out_of_limits:
        return OUT_OF_LIMITS
    for case in step.then.cases:
        if case.is_condition:
            try:
                if conditions.evaluate(case.when, {**values, step.ask.name: value}):
                    return case.when
            except conditions.ConditionError:
                continue
        elif step.then.compare == "prefix":
            if str(value).casefold().startswith(case.when.casefold()):
                return case.when
        elif case_value(case.when) == case_value(_as_text(value)):
            return case.when
    return OTHERWISE if step.then.otherwise is not None else NEXT


def _as_text(value: Value) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def quoted_texts(condition: str) -> list[str]:
    """The texts that a condition compares with: "CA" of answers.unit.startsWith("CA")."""
    return [double or single for double, single in re.findall(r"\"([^\"]+)\"|'([^']+)'", condition)]


def _candidates(
    step: Step,
    witnesses: tuple[tuple[str, str], ...],
    values: Mapping[str, Value],
    texts: tuple[str, ...],
) -> Iterator[tuple[str, Value, bool]]:
    """(what is said, the value, within its limits), the plainest first. `texts`: those of conditions."""
    ask = step.ask
    if isinstance(ask, AskYesNo):
        yield "yes", True, True
        yield "no", False, True
    elif isinstance(ask, AskChoice):
        for option in ask.options:
            yield option.words[0], option.value, True
    elif isinstance(ask, AskCount):
        listed = possible_values(step) or (str(ask.low), str(ask.high))
        for digits in listed:
            yield digits, int(digits), True
    elif isinstance(ask, AskMeasure):
        for number in _measures(step, ask):
            within = _is_within(ask, number)
            if within or step.out_of_limits:  # without a way of its own a deviation is a talk, not a branch
                yield f"{number:g}", number, within
    elif isinstance(ask, AskTorque):
        unit = parse_unit(ask.unit)
        for newton_metres in (ask.target, ask.high * 1.3):
            stated = round(float(UNITS.Quantity(newton_metres, "newton * meter").m_as(unit)), 1)
            value = float(UNITS.Quantity(stated, unit).m_as("newton * meter"))
            within = ask.low <= value <= ask.high
            if within or step.out_of_limits:
                yield f"{stated:g} {ask.unit}", value, within
    elif isinstance(ask, AskSerial):
        prefixes = tuple(case.when for case in step.then.cases if not case.is_condition)
        serials = look(ask.pattern, prefixes)
        for _, serial in serials.examples if serials else ():
            yield serial, serial, True
        yield from ((serial, serial, True) for serial in _compared_serials(ask, values, texts))
        if serials and serials.uncovered:
            yield serials.uncovered, serials.uncovered, True
    elif isinstance(ask, AskWitness):
        for code, name in ask.codes or witnesses:
            yield code, name, True
    elif ask.kind == "time":
        yield "10:30", "10:30", True
    elif ask.kind == "note":
        yield "nothing unusual was seen", "nothing unusual was seen", True
    else:
        yield "done", True, True


def every_serial_has_a_branch(step: Step) -> bool:
    """No serial of the pattern is left for 'otherwise' (`graph_of` cannot tell, it looks into no pattern)."""
    ask = step.ask
    if not isinstance(ask, AskSerial) or any(case.is_condition for case in step.then.cases):
        return False
    serials = look(ask.pattern, tuple(case.when for case in step.then.cases))
    return serials is not None and serials.uncovered is None


def _compared_serials(ask: AskSerial, values: Mapping[str, Value], texts: tuple[str, ...]) -> Iterator[str]:
    """Serials that begin with a text of a condition, and those given before: "the old part again"."""
    beginnings = tuple(text for text in texts if text.isascii() and text.isalnum())
    for text in beginnings:
        for _, serial in (look(ask.pattern, (text,)) or _NO_SERIALS).examples:
            yield serial
    for value in values.values():
        if isinstance(value, str) and ask.pattern and regex.fullmatch(ask.pattern, value):
            yield value


def _measures(step: Step, ask: AskMeasure) -> list[float]:
    """Readings on both sides of every limit and of every number that a condition compares with."""
    limits = [v for v in (ask.below, ask.above, ask.at_least, ask.at_most) if v is not None]
    low = ask.low if ask.low is not None else min([0.0, *(limit - abs(limit) for limit in limits)])
    high = ask.high if ask.high is not None else max([10.0, *(2 * abs(limit) for limit in limits)])
    marks = set(limits)
    for case in step.then.cases:
        if case.is_condition:
            marks |= {float(number) for number in re.findall(r"(?<![\w.])\d+(?:\.\d+)?", case.when)}
    grid = [low + (high - low) * part / 60 for part in range(61)]
    near = [mark + sign * (high - low) / 200 for mark in marks for sign in (-1, 0, 1)]
    inside = [limit for limit in grid if _is_within(ask, limit)]
    middle = inside[len(inside) // 2 : len(inside) // 2 + 1]
    listed = [*middle, *near, *grid]
    places = 3 if high - low <= 5 else 2 if high - low <= 100 else 1
    return list(dict.fromkeys(round(number, places) for number in listed if low <= number <= high))


def _is_within(ask: AskMeasure, value: float) -> bool:
    return not (
        (ask.below is not None and value >= ask.below)
        or (ask.above is not None and value <= ask.above)
        or (ask.at_least is not None and value < ask.at_least)
        or (ask.at_most is not None and value > ask.at_most)
    )
