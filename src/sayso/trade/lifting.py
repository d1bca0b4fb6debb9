"""How much two hands should lift: the recommended weight limit of the revised NIOSH lifting equation.

For smooth two-handed lifts on firm ground, standing, by a healthy adult. Not for one hand, kneeling, sliding
floors, people or unstable loads (manual page 6, second hand). Above the limit: use a hoist, a table or a
second person, and keep to the local rules.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sayso.trade.limits import Limits, magnitude_within, not_in_table
from sayso.trade.units import Quantity, quantity


@dataclass(frozen=True)
class _UnitSet:
    """One of the two constant sets of the manual. They are rounded apart and not converted."""

    length: str
    mass: str
    load_constant: float
    reach: float  # horizontal distance with no deduction
    furthest: float
    best_height: float
    highest: float
    per_height: float
    travel_constant: float
    least_travel: float


# NIOSH publication 94-110 (revised 9/2021), section 1.3. Second hand: a transcription of the manual read in
# the public code index, scribd.com 550485896 (title pages), what-when-how.com (formulas).
_SETS: Final[dict[str, _UnitSet]] = {
    "metric": _UnitSet("cm", "kg", 23.0, 25.0, 63.0, 75.0, 175.0, 0.003, 4.5, 25.0),
    "us": _UnitSet("inch", "lb", 51.0, 10.0, 25.0, 30.0, 70.0, 0.0075, 1.8, 10.0),
}
# Table 5 of the manual: lifts per minute down, (up to 1, 2, 8 hours) across; the part that both height
# columns share. Second hand: four public programs with the same numbers, solutioninn.com for the first rows.
# Two other programs differ (from 11 lifts a minute; columns swapped) and were not followed.
_RATES: Final = (0.2, 0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0, 13.0, 14.0, 15.0)
_FREQUENCY: Final[dict[int, tuple[float, ...]]] = {
    1: (1.0, 0.97, 0.94, 0.91, 0.88, 0.84, 0.80, 0.75, 0.70, 0.60, 0.52, 0.45, 0.41, 0.37, 0.34, 0.31, 0.28),
    2: (0.95, 0.92, 0.88, 0.84, 0.79, 0.72, 0.60, 0.50, 0.42, 0.35, 0.30, 0.26, 0.23, 0.21, 0.0, 0.0, 0.0),
    8: (0.85, 0.81, 0.75, 0.65, 0.55, 0.45, 0.35, 0.27, 0.22, 0.18, 0.15, 0.13, 0.0, 0.0, 0.0, 0.0, 0.0),
}
# With the hands below 75 cm (30 in) at the start the columns end earlier: no lifting above this rate.
_LAST_RATE_LOW: Final = {1: 12.0, 2: 10.0, 8: 8.0}
# Table 7: hands below / at and above 75 cm.
_COUPLING: Final = {"good": (1.0, 1.0), "fair": (0.95, 1.0), "poor": (0.90, 0.90)}


def recommended_weight_limit(
    reach: Quantity,
    height: Quantity,
    travel: Quantity,
    twist: Quantity,
    lifts_per_minute: float,
    duration: Quantity,
    grip: str,
    *,
    start_height: Quantity | None = None,
    constants: str = "metric",
) -> Quantity:
    """Recommended weight limit RWL = LC · HM · VM · DM · AM · FM · CM, in kg ("metric") or lb ("us").

    `reach`: from between the ankles to the hands. `height`: hands above the floor at the point judged.
    `travel`: up or down. `twist`: away from straight ahead. `duration`: lifting time without a long rest.
    `grip`: good, fair or poor. `start_height` when the point judged is the end of the lift.

    Source: NIOSH 94-110 (revised 9/2021), section 1.3 (second hand, see the tables in this file).
    Range: outside the manual's limits (63 cm, 175 cm, 135°, 15 lifts a minute, 8 h) the limit is nothing:
        OutOfRangeError says which. Nearer than 25 cm and less than 25 cm of travel count as 25 cm.
    """
    used = _SETS.get(constants)
    if used is None:
        raise not_in_table("set of constants", constants, _SETS, "metric is cm and kg, us inch and lb")
    far = _limited(reach, "reach", used.length, used.furthest, "bring the load closer")
    high = _limited(height, "height of the hands", used.length, used.highest, "use a platform or a hoist")
    start = high if start_height is None else _limited(
        start_height, "height of the hands", used.length, used.highest, "use a platform or a hoist"
    )  # fmt: skip
    moved = _limited(travel, "travel", used.length, used.highest, "lift in two stages")
    turned = _limited(twist, "twist", "degree", 135.0, "move the feet or turn the load")
    multipliers = (
        min(1.0, used.reach / max(far, 1e-9)),
        1.0 - used.per_height * abs(high - used.best_height),
        0.82 + used.travel_constant / max(moved, used.least_travel),
        1.0 - 0.0032 * turned,
        frequency_multiplier(lifts_per_minute, duration, quantity(start, used.length), constants=constants),
        _coupling_multiplier(grip, high < used.best_height),
    )
    limit = used.load_constant
    for multiplier in multipliers:
        limit *= multiplier
    return quantity(limit, used.mass)


def frequency_multiplier(
    lifts_per_minute: float, duration: Quantity, start_height: Quantity, *, constants: str = "metric"
) -> float:
    """Multiplier for the rate of lifting, straight between the rows of Table 5.

    Source: NIOSH 94-110 Table 5 (second hand: four public programs that agree).
    Range: up to 15 lifts a minute and 8 h; where the table has no lifting at all, OutOfRangeError. Less than
        0.2 lifts a minute count as 0.2; between a row and "none" the answer is none.
    """
    used = _SETS[constants]
    hours = magnitude_within(duration, Limits("lifting time", "hour", 0.0, 8.0, "share the work out"))
    column = 1 if hours <= 1.0 else 2 if hours <= 2.0 else 8
    table = _FREQUENCY[column]
    last = max(rate for rate, value in zip(_RATES, table, strict=True) if value > 0.0)
    if start_height.m_as(used.length) < used.best_height:
        last = min(last, _LAST_RATE_LOW[column])
    advice = "lift less often, or use a hoist"
    rate = magnitude_within(quantity(lifts_per_minute, ""), Limits("lifts a minute", "", 0.0, last, advice))
    rate = max(rate, _RATES[0])
    above = next(index for index, listed in enumerate(_RATES) if listed >= rate)
    if _RATES[above] == rate:
        return table[above]
    share = (rate - _RATES[above - 1]) / (_RATES[above] - _RATES[above - 1])
    return table[above - 1] + share * (table[above] - table[above - 1])


def lifting_index(load: Quantity, limit: Quantity) -> float:
    """Load over recommended weight limit; the aim is 1 or less, above 3 nearly all people are at risk.

    Source: NIOSH 94-110, sections 1.1.2 and 1.4.3 (second hand).
    Range: limit above nothing.
    """
    pounds_of_limit = magnitude_within(
        limit, Limits("recommended limit", "kg", 1e-6, 23.2, "work it out first")
    )
    return (
        magnitude_within(load, Limits("load", "kg", 0.0, 1000.0, "check the number and unit"))
        / pounds_of_limit
    )


def _limited(value: Quantity, name: str, unit: str, high: float, advice: str) -> float:
    return magnitude_within(value, Limits(name, unit, 0.0, high, f"no load is recommended there: {advice}"))


def _coupling_multiplier(grip: str, is_low: bool) -> float:
    if grip not in _COUPLING:
        raise not_in_table("grip", grip, _COUPLING, "good handles are good, a plain box is fair or poor")
    low, high = _COUPLING[grip]
    return low if is_low else high
