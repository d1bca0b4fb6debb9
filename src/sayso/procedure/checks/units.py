"""Units that do not fit what is measured, limits that exclude each other, tolerances no wrench can hold."""

from __future__ import annotations

import re
from collections.abc import Iterator

from sayso.procedure.checks.view import View
from sayso.procedure.model import AskMeasure, AskTorque
from sayso.procedure.problems import Problem
from sayso.procedure.resolving import Resolved

_CHECK = "units"

#: What the name of an answer says is measured -> a unit of that kind.
_MEASURED = {
    "voltage": "V",
    "volts": "V",
    "resistance": "ohm",
    "insulation": "ohm",
    "current": "A",
    "amps": "A",
    "gap": "mm",
    "clearance": "mm",
    "thickness": "mm",
    "diameter": "mm",
    "length": "mm",
    "depth": "mm",
    "height": "mm",
    "width": "mm",
    "distance": "m",
    "play": "mm",
    "runout": "mm",
    "pressure": "kPa",
    "temperature": "degC",
    "speed": "km/h",
    "weight": "kg",
    "mass": "kg",
    "torque": "N.m",
    "capacity": "A.h",
    "frequency": "Hz",
    "angle": "degree",
}

#: Words of the trade for two things: a motor's speed, the play of a steering wheel, what a hoist carries.
_MEASURED_TOO = {
    "speed": ("rpm",),
    "play": ("degree",),
    "capacity": ("kg", "L", "W.h", "F"),
}

#: A setting torque tool may be off by 4 % above 10 N.m and 6 % below (ISO 6789, from memory).
_TOOL_ERROR = 0.04


def find(view: View) -> Iterator[Problem]:
    for one in view.steps:
        ask = one.step.ask
        if isinstance(ask, AskMeasure):
            yield from _measure(view, one, ask)
        elif isinstance(ask, AskTorque):
            share = (ask.high - ask.low) / 2 / ask.target
            if share < _TOOL_ERROR - 1e-9:
                yield view.problem(
                    one,
                    ("ask", "within"),
                    f"a tolerance of {share:.1%} is tighter than a torque wrench surely holds",
                    "write 4 % or more, or name the special tool",
                    "hint",
                    _CHECK,
                )
            elif share > 0.3:
                yield view.problem(
                    one,
                    ("ask", "within"),
                    f"a tolerance of {share:.0%} lets almost any torque pass",
                    "write the tolerance of the joint, often 10 %",
                    "warning",
                    _CHECK,
                )


def _measure(view: View, one: Resolved, ask: AskMeasure) -> Iterator[Problem]:
    from sayso.trade.units import parse_unit, same_kind

    unit = parse_unit(ask.unit)
    if ask.unit and same_kind(unit, parse_unit("N.m")) and "energy" not in ask.name:
        yield view.problem(
            one,
            ("ask", "measure"),
            "a torque is asked as a measure",
            "write 'torque: name' with target and within",
            "warning",
            _CHECK,
        )
    words = re.findall(r"[a-z]+", ask.name.lower())
    measured = [word for word in words if word in _MEASURED]
    # "current_height" is a height: one word that fits is enough
    fits = any(
        same_kind(unit, parse_unit(fitting))
        for word in measured
        for fitting in (_MEASURED[word], *_MEASURED_TOO.get(word, ()))
    )
    if measured and not fits:
        yield view.problem(
            one,
            ("ask", "unit"),
            f"the unit '{ask.unit}' does not fit '{ask.name}'",
            f"write a unit such as {_MEASURED[measured[0]]}, or rename the answer",
            "error",
            _CHECK,
        )
    lows = [
        (v, k)
        for v, k in ((ask.above, "above"), (ask.at_least, "at_least"), (ask.low, "plausible"))
        if v is not None
    ]
    highs = [
        (v, k)
        for v, k in ((ask.below, "below"), (ask.at_most, "at_most"), (ask.high, "plausible"))
        if v is not None
    ]
    for low, low_key in lows:
        for high, high_key in highs:
            if low > high or (low == high and {low_key, high_key} & {"above", "below"}):
                what = (
                    "'plausible' is the wrong way round"
                    if low_key == high_key
                    else f"{low_key} {low:g} and {high_key} {high:g} leave no value"
                )
                yield view.problem(one, ("ask", high_key), what, "swap or correct them", "error", _CHECK)
    yield from _never_out_of_limits(view, one, ask)
    if (
        view.whole  # else a condition may use it in what could not be read
        and all(v is None for v in (ask.below, ask.above, ask.at_least, ask.at_most))
        and ask.name not in view.used_names
    ):
        yield view.problem(
            one,
            ("ask", "measure"),
            f"'{ask.name}' has no limits and no condition uses it",
            "give its limits, or ask it as a record only on purpose",
            "hint",
            _CHECK,
        )


def _never_out_of_limits(view: View, one: Resolved, ask: AskMeasure) -> Iterator[Problem]:
    """What is not plausible is asked again and never recorded: a reading out of limits must be plausible."""
    if ask.low is not None and ask.high is not None and ask.low > ask.high:
        return
    least = ask.above if ask.at_least is None else ask.at_least
    most = ask.below if ask.at_most is None else ask.at_most
    hidden = []
    # Nothing of most things is less than none: a range that begins at zero hides nothing below it.
    if least is not None and ask.low is not None and ask.low >= least and ask.low != 0:
        hidden.append(f"below the limit {least:g}")
    if most is not None and ask.high is not None and ask.high <= most:
        hidden.append(f"above the limit {most:g}")
    if hidden:
        yield view.problem(
            one,
            ("ask", "plausible"),
            f"a value {' or '.join(hidden)} counts as not plausible here and is never recorded",
            "let 'plausible' reach beyond the limits",
            "warning",
            _CHECK,
        )
