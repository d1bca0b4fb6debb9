"""Whether two questions set the same limits, whatever unit each is written in: 45 °C and 113 °F."""

from __future__ import annotations

import math
from collections.abc import Iterable

from sayso.procedure.model import Ask, AskMeasure, AskTorque
from sayso.trade.units import UNITS, parse_unit, same_kind

_LIMITS = ("below", "above", "at_least", "at_most")
#: What is lost in working a number out in another unit. A rounded figure (6.6 lbf.ft for 9 N.m) is another
#: limit.
_EXACTLY = 1e-9


def only_the_unit(old: Ask, new: Ask) -> bool:
    """The unit differs, and no limit, target or number of fasteners does."""
    if isinstance(old, AskMeasure) and isinstance(new, AskMeasure):
        return old.unit != new.unit and _are_alike(old, new) and same_in_units(old, new, _LIMITS)
    if isinstance(old, AskTorque) and isinstance(new, AskTorque):
        # targets and limits are kept in newton metres, whatever the procedure states
        return (
            old.unit != new.unit
            and old.fasteners == new.fasteners
            and all(_same(getattr(old, name), getattr(new, name)) for name in ("target", "low", "high"))
        )
    return False


def same_in_units(old: AskMeasure, new: AskMeasure, names: Iterable[str]) -> bool:
    """The limits in the fields `names`, each in the unit of its question."""
    limits = [(getattr(old, name), getattr(new, name)) for name in names]
    if any((before is None) is not (after is None) for before, after in limits):
        return False
    set_ = [(before, after) for before, after in limits if before is not None]
    if not set_ or old.unit == new.unit:
        return all(_same(before, after) for before, after in set_)
    if not (old.unit and new.unit):
        return False
    was, now = parse_unit(old.unit), parse_unit(new.unit)
    return same_kind(was, now) and all(
        _same(before, float(UNITS.Quantity(after, now).m_as(was))) for before, after in set_
    )


def _are_alike(old: AskMeasure, new: AskMeasure) -> bool:
    """Volts instead of millimetres is another question, even where neither has a limit."""
    return bool(old.unit and new.unit) and same_kind(parse_unit(old.unit), parse_unit(new.unit))


def _same(one: float, other: float) -> bool:
    return math.isclose(one, other, rel_tol=_EXACTLY, abs_tol=_EXACTLY)
