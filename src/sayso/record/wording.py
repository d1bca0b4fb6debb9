"""How values, times and units are written in a report."""

from __future__ import annotations

from datetime import datetime, tzinfo
from typing import Any

from sayso.answers.measure import NOT_KNOWN
from sayso.answers.torque import said_without_number
from sayso.record.story import Deviation, Given, Tool
from sayso.trade.units import parse_unit, quantity, symbol_for_unit


def number(value: float) -> str:
    """Four significant figures at most, no exponent for workshop values: 10.85, 24, 0.0005."""
    if value != value or abs(value) >= 1e9:
        return f"{value:g}"
    text = f"{value:.4g}"
    return text if "e" not in text else f"{value:.10f}".rstrip("0").rstrip(".")


def unit_symbol(unit: str) -> str:
    """'N.m' -> 'N·m', 'lbf.in' -> 'lbf·in', 'ohm' -> 'Ω'; an unknown unit as it is."""
    try:
        return symbol_for_unit(parse_unit(unit)) if unit else ""
    except Exception:  # a record outlives the table of units: show what was recorded
        return unit


def in_unit(value: float, unit: str, wanted: str) -> float | None:
    """`value` converted, None when the two do not fit each other."""
    try:
        return float(quantity(value, unit).to(parse_unit(wanted)).magnitude)
    except Exception:  # as above
        return None


def value_text(given: Given) -> str:
    """The value as people write it, with its unit."""
    value: Any = given.value
    if given.kind == "done":
        return "done"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if given.kind == "note":
        return "note"
    if isinstance(value, int | float):
        return f"{number(float(value))} {unit_symbol(given.unit)}".rstrip()
    return str(value)


def words_for_number(given: Given) -> str:
    """'it keeps turning', 'clicked', in a quiz 'tell me': said where there was no number to read; else ''."""
    no_number = (given.kind == "torque" and said_without_number(given.said.split())) or (
        given.kind == "measure" and given.said.lower() in NOT_KNOWN
    )
    return given.said if no_number else ""


def plain(value: Any) -> str:
    """Any recorded value in words, for corrections."""
    if value is None:
        return "taken back"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return number(float(value))
    return str(value)


def limits_text(given: Given) -> str:
    """'9.76 to 11.93 N·m', 'below 5 V', 'at least 54 Ω'; '' without limits."""
    unit = unit_symbol(given.unit)
    low, high = given.low, given.high
    if low is not None and high is not None and given.low_included and given.high_included:
        return f"{number(low)} to {number(high)} {unit}".rstrip()
    parts = []
    if low is not None:
        parts.append(f"{'at least' if given.low_included else 'above'} {number(low)}")
    if high is not None:
        parts.append(f"{'at most' if given.high_included else 'below'} {number(high)}")
    return f"{', '.join(parts)} {unit}".rstrip() if parts else ""


def deviation_text(deviation: Deviation) -> str:
    """'300 lbf·in, not 191 to 233 lbf·in', 'Skipped: not fitted', 'Not finished: stopped'."""
    match deviation.kind:
        case "out of limits" if deviation.given is not None:
            given = deviation.given
            words = words_for_number(given)
            said = f" (\u201c{words}\u201d)" if words else ""
            if (
                not words
                and given.said_unit
                and given.said_unit != given.unit
                and given.said_value is not None
            ):
                said = f" (said as {number(given.said_value)} {unit_symbol(given.said_unit)})"
            return f"{value_text(given)}{said}, not {limits_text(given)}"
        case "skipped":
            return f"Skipped: {deviation.what}"
        case "kept":
            return f"Done on the way given up, and kept: {deviation.what}"
        case "tool overdue":
            return f"Tool in hand after its calibration had ended: {deviation.what}"
        case _:
            return f"Not finished: {deviation.what}"


def tool_text(tool: Tool) -> str:
    """'wrench 3, calibrated until 2027-03-31'."""
    return f"{tool.name}, calibrated until {tool.until}" if tool.until else tool.name


def clock(at_ms: int, zone: tzinfo | None) -> str:
    return _when(at_ms, zone).strftime("%H:%M:%S")


def at(at_ms: int, zone: tzinfo | None, began_ms: int) -> str:
    """The time of day; with the day where it is not the one on which the job began (a job on hold over
    night), and with the distance to UTC where the clocks were changed since: 02:30 comes twice that night."""
    when, began = _when(at_ms, zone), _when(began_ms, zone)
    year = f" {when.year}" if when.year != began.year else ""
    on = f"{when.day} {when:%B}{year}, " if when.date() != began.date() else ""
    changed = f" (UTC{when:%z})" if when.utcoffset() != began.utcoffset() else ""
    return f"{on}{clock(at_ms, zone)}{changed}"


def day(at_ms: int, zone: tzinfo | None) -> str:
    when = _when(at_ms, zone)
    return f"{when.day} {when:%B %Y}"


def moment(at_ms: int, zone: tzinfo | None) -> str:
    when = _when(at_ms, zone)
    return f"{when.day} {when:%B %Y, %H:%M:%S} (UTC{when:%z})"


def _when(at_ms: int, zone: tzinfo | None) -> datetime:
    when = datetime.fromtimestamp(at_ms / 1000, zone)
    return when if zone is not None else when.astimezone()


def duration(ms: int | None) -> str:
    """'42 s', '3 min 05 s', '1 h 12 min'; '' when unknown."""
    if ms is None:
        return ""
    seconds = round(max(0, ms) / 1000)
    if seconds < 60:
        return f"{seconds} s"
    if seconds < 3600:
        return f"{seconds // 60} min {seconds % 60:02} s"
    return f"{seconds // 3600} h {seconds % 3600 // 60:02} min"
