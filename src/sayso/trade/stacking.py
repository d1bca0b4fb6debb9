"""Stacking: what presses on what, an order that no item is crushed in, and how steady the stack is.

Storage in tiers must be stable and secure against sliding and collapse (29 CFR 1910.176(b), second hand:
ehsdailyadvisor.blr.com). Packs and dangerous goods have their own limits on the label: those come first.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from sayso.trade.limits import Limits, OutOfRangeError, count_within, magnitude_within, number_within
from sayso.trade.units import Quantity, quantity

if TYPE_CHECKING:
    from collections.abc import Sequence

_MASS: Final = Limits("mass", "kg", 0.0, 100_000.0, "check the number and the unit")
_HEIGHT: Final = Limits("height", "mm", 1.0, 20_000.0, "check the number and the unit")
_SAFETY: Final = Limits("safety factor", "", 1.0, 10.0, "2 to 5 is used for cartons")


@dataclass(frozen=True)
class StackItem:
    """One thing to stack. `may_carry` is the mass that may lie on it, from its label or its maker."""

    name: str
    mass: Quantity
    may_carry: Quantity
    height: Quantity


def stack_order(items: Sequence[StackItem]) -> tuple[StackItem, ...]:
    """An order, lowest first, in which no item carries more than it may: the heaviest lowest if that works.

    When heaviest lowest would crush an item, the order by mass plus permitted load is taken: if any order
    works, that one does (swap two neighbours and compare).

    Source: exchange argument, checked against all orders in the tests; "heaviest lowest" is common practice,
        no source.
    Range: 1 to 1000 items. Raises OutOfRangeError naming the item that would be crushed in every order.
    """
    count_within(len(items), "number of items", 1, 1000, "stack at least one")
    heaviest_lowest = sorted(items, key=lambda item: (-_kg(item.mass), -_kg(item.may_carry)))
    if overloaded_item(heaviest_lowest) is None:
        return tuple(heaviest_lowest)
    strongest_lowest = sorted(items, key=lambda item: -(_kg(item.mass) + _kg(item.may_carry)))
    crushed = overloaded_item(strongest_lowest)
    if crushed is None:
        return tuple(strongest_lowest)
    raise OutOfRangeError(
        f"no order of these {len(items)} items is allowed: {crushed.name} may carry {crushed.may_carry:g~P}. "
        f"Make two stacks or put {crushed.name} on top of another one"
    )


def overloaded_item(order: Sequence[StackItem]) -> StackItem | None:
    """The lowest item of this order (lowest first) that carries more than it may, or None.

    Source: sum of the masses above.
    Range: masses 0 to 100 000 kg.
    """
    above = sum(_kg(item.mass) for item in order)
    for item in order:
        above -= _kg(item.mass)
        if above > _kg(item.may_carry) + 1e-9:
            return item
    return None


def centre_of_mass_height(order: Sequence[StackItem]) -> Quantity:
    """Height of the stack's centre of mass above the floor (lowest item first), in mm.

    Source: mean of the heights weighted by mass; each item's centre taken at half its height.
    Range: at least one item with a mass, heights 1 mm to 20 m.
    """
    count_within(len(order), "number of items", 1, 1000, "stack at least one")
    heights = [magnitude_within(item.height, _HEIGHT) for item in order]
    bottoms = itertools.accumulate(heights[:-1], initial=0.0)
    masses = [_kg(item.mass) for item in order]
    total = number_within(math.fsum(masses), Limits("total mass", "", 1e-6, 1e8, "give the masses in kg"))
    moment = math.fsum(
        mass * (bottom + height / 2.0) for mass, bottom, height in zip(masses, bottoms, heights, strict=True)
    )
    return quantity(moment / total, "mm")


def load_on_lowest(tiers: int, mass: Quantity) -> Quantity:
    """What presses on the lowest of equal items, (n - 1) · m, in kg.

    Source: worked example second hand (packtest.com: 10 cartons of 20 kg press with 180 kg).
    Range: 1 to 100 tiers.
    """
    number = count_within(tiers, "number of tiers", 1, 100, "count the items in one column")
    return quantity((number - 1) * magnitude_within(mass, _MASS), "kg")


def most_tiers(mass: Quantity, strength: Quantity, safety_factor: float) -> int:
    """How many equal items may be stacked when one is crushed by `strength` (a mass) put on it.

    Source: strength = load · safety factor (second hand: packtest.com, factor 2 to 5).
    Range: mass above 1 g, factor 1 to 10. At least 1: an item may always stand alone.
    """
    factor = number_within(safety_factor, _SAFETY)
    each = magnitude_within(mass, Limits("mass", "kg", 0.001, 100_000.0, "check the number and the unit"))
    return 1 + math.floor(magnitude_within(strength, _MASS) / (factor * each) + 1e-9)


def tipping_angle(base: Quantity, centre_height: Quantity) -> Quantity:
    """Tilt at which a stack on a base of this width tips over, atan((base/2) / height), in degree.

    Source: statics: the centre of mass stands over the edge.
    Range: base and height 1 mm to 20 m. Sway, soft ground and a sliding load make it tip earlier.
    """
    half = magnitude_within(base, Limits("base width", "mm", 1.0, 20_000.0, "take the narrow side")) / 2.0
    return quantity(math.degrees(math.atan2(half, magnitude_within(centre_height, _HEIGHT))), "degree")


def is_slender(stack_height: Quantity, base: Quantity, interlocked: bool = False) -> bool:
    """True when a stack is higher than 3 times its narrow side (4 times when interlocked).

    Source: rule of thumb, second hand: ehsdailyadvisor.blr.com 2014-05.
    Range: lengths 1 mm to 20 m.
    """
    narrow = magnitude_within(base, Limits("base width", "mm", 1.0, 20_000.0, "take the narrow side"))
    return magnitude_within(stack_height, _HEIGHT) > (4.0 if interlocked else 3.0) * narrow


def _kg(mass: Quantity) -> float:
    return magnitude_within(mass, _MASS)
