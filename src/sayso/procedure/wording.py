"""Questions and quantities in written words, for drawings, cards and differences. Spoken: sayso.dialogue."""

from __future__ import annotations

from sayso.procedure.model import (
    AskChoice,
    AskCount,
    AskDone,
    AskMeasure,
    AskSerial,
    AskTorque,
    AskWitness,
    Part,
    Step,
)
from sayso.trade.units import UNITS, parse_unit, symbol_for_unit


def question_in_short(step: Step) -> str:
    """' (8.1 to 9.9 N·m)': what the answer must be, in brackets; '' for 'done'."""
    words = answer_in_short(step)
    return f" ({words})" if words else ""


def answer_in_short(step: Step) -> str:
    ask = step.ask
    match ask:
        case AskDone():
            return ""
        case AskChoice():
            return " / ".join(option.value for option in ask.options)
        case AskCount():
            return f"{ask.low} to {ask.high}"
        case AskMeasure():
            return limits_in_words(ask)
        case AskTorque():
            each = f", {ask.fasteners} fasteners" if ask.fasteners > 1 else ""
            return f"{torque_in_words(ask)}{each}"
        case AskSerial():
            return f"serial {ask.pattern}" if ask.pattern else "serial"
        case AskWitness():
            return f"hold point: {ask.role}"
        case _:
            return ask.kind.replace("_", " / ")


def torque_in_words(ask: AskTorque) -> str:
    """'9 ±0.9 N·m' in the unit that the procedure states; the limits apart when they are not symmetric."""
    unit = parse_unit(ask.unit)
    target, low, high = (
        float(UNITS.Quantity(value, "newton * meter").m_as(unit)) for value in (ask.target, ask.low, ask.high)
    )
    return f"{target:.4g} (±{(high - low) / 2:.3g}) {symbol_for_unit(unit)}"


def limits_in_words(ask: AskMeasure) -> str:
    unit = f" {symbol_for_unit(parse_unit(ask.unit))}" if ask.unit else ""
    said = [
        f"{word} {limit:g}{unit}"
        for word, limit in (
            ("above", ask.above),
            ("at least", ask.at_least),
            ("below", ask.below),
            ("at most", ask.at_most),
        )
        if limit is not None
    ]
    return " and ".join(said) or unit.strip() or "a number"


def part_in_words(part: Part) -> str:
    """'2 × fuse', '3 m of cable'."""
    if part.unit:
        return f"{part.quantity:g} {part.unit} of {part.name}"
    return part.name if part.quantity == 1 else f"{part.quantity:g} × {part.name}"


def time_in_words(seconds: float) -> str:
    """'45 s', '10 min', '1 h 30 min': as one would write it, not 5400 seconds."""
    minutes, left = divmod(seconds, 60)
    hours, minutes = divmod(int(minutes), 60)
    parts = [f"{hours} h"] * bool(hours) + [f"{minutes} min"] * bool(minutes) + [f"{left:g} s"] * bool(left)
    return " ".join(parts) or "0 s"


def listed(names: list[str]) -> str:
    """'a, b and c'."""
    if len(names) < 2:
        return "".join(names)
    return ", ".join(names[:-1]) + " and " + names[-1]
