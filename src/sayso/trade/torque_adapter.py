"""A crowfoot or other adapter on a torque wrench: what the fastener gets, what to set.

The wrench measures about its square drive; the adapter moves the fastener away from there. With the hand
force at right angles to the handle only the part of the adapter along the handle counts, so the fastener
gets T = setting · (L + E · cos a) / L. At right angles (90°) nothing changes; folded back it gets less.

Both lengths matter: L from the drive to the middle of the grip (hold it there), E from the drive to the
middle of the fastener. The maker's manual of the wrench comes first where it gives its own rule.
"""

from __future__ import annotations

import math
from typing import Final

from sayso.trade.limits import Limits, OutOfRangeError, magnitude_within
from sayso.trade.units import Quantity, quantity

_TORQUE: Final = Limits("torque", "N*m", 0.0, 10_000.0, "check the number and the unit")
_WRENCH: Final = Limits(
    "wrench length", "mm", 50.0, 3000.0, "measure from the square drive to the middle of the grip"
)
_ADAPTER: Final = Limits(
    "adapter length", "mm", 0.0, 1000.0, "measure from the square drive to the middle of the fastener"
)
_ANGLE: Final = Limits(
    "adapter angle", "degree", 0.0, 180.0, "0° is straight on, 90° square to the handle, 180° folded back"
)


def torque_at_fastener(setting: Quantity, wrench: Quantity, adapter: Quantity, angle: Quantity) -> Quantity:
    """Torque at the fastener when the wrench clicks at `setting`, in the setting's unit.

    Source: lever arithmetic; the same relation in agentcalc.com, calculator.city and toolcroze.com
        (second hand).
    Range: wrench 50 to 3000 mm, adapter 0 to 1000 mm, angle 0° to 180°, and the folded-back adapter must
        be shorter than the wrench.
    """
    newton_metres = magnitude_within(setting, _TORQUE) * leverage(wrench, adapter, angle)
    return quantity(newton_metres, "N*m").to(setting.units)


def setting_for_torque(target: Quantity, wrench: Quantity, adapter: Quantity, angle: Quantity) -> Quantity:
    """What to set on the wrench so that the fastener gets `target`, in the target's unit.

    Source: as `torque_at_fastener`, solved for the setting.
    Range: as `torque_at_fastener`.
    """
    newton_metres = magnitude_within(target, _TORQUE) / leverage(wrench, adapter, angle)
    return quantity(newton_metres, "N*m").to(target.units)


def leverage(wrench: Quantity, adapter: Quantity, angle: Quantity) -> float:
    """Torque at the fastener over the setting, (L + E · cos a) / L; 1 at 90°.

    Source: as `torque_at_fastener`.
    Range: as `torque_at_fastener`. Raises OutOfRangeError when the folded-back adapter reaches the grip.
    """
    length = magnitude_within(wrench, _WRENCH)
    reach = magnitude_within(adapter, _ADAPTER)
    # sin(90° - a) and not cos(a): exactly 0 at 90°, where the rule says that nothing changes.
    along = math.sin(math.radians(90.0 - magnitude_within(angle, _ANGLE)))
    ratio = (length + reach * along) / length
    if ratio <= 0.1:
        raise OutOfRangeError(
            f"an adapter of {reach:g} mm folded back on a wrench of {length:g} mm leaves almost no lever: "
            f"use a shorter adapter or turn it to 90°"
        )
    return ratio
