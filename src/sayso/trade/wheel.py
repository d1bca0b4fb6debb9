"""Wheels: tyre size, revolutions, speed from motor speed and ratio, correction when either changes."""

from __future__ import annotations

import math
from typing import Final

from sayso.trade.limits import Limits, magnitude_within, number_within
from sayso.trade.units import Quantity, quantity

_DIAMETER: Final = Limits("tyre diameter", "mm", 20.0, 4000.0, "measure the tyre from ground to top")
_RATIO: Final = Limits("gear ratio", "", 0.1, 500.0, "motor turns for one turn of the wheel")
_SPEED: Final = Limits("speed", "km/h", 0.0, 400.0, "check the number and the unit")
_TURNS: Final = Limits(
    "motor speed", "revolutions_per_minute", 0.0, 50_000.0, "check the number and the unit"
)
_SQUASH: Final = Limits("squash", "percent", 0.0, 15.0, "3 % is usual for an air tyre, 0 % for a solid one")


def tyre_diameter(width: Quantity, aspect: Quantity, rim: Quantity) -> Quantity:
    """Outside diameter of a metric tyre, rim + 2 · width · aspect, in mm: 205/75R14 is 663 mm.

    Source: ISO 4000 / tyre marking (second hand: superglobalcalculator.com, 0xff.com).
    Range: width 20 to 1000 mm, aspect 10 to 120 %, rim 50 to 1500 mm.
    """
    wide = magnitude_within(width, Limits("tyre width", "mm", 20.0, 1000.0, "read it from the side wall"))
    share = magnitude_within(aspect, Limits("aspect", "percent", 10.0, 120.0, "read it from the side wall"))
    return quantity(
        magnitude_within(
            rim, Limits("rim diameter", "mm", 50.0, 1500.0, "read it in inches from the side wall")
        )
        + 2.0 * wide * share / 100.0,
        "mm",
    )


def rolling_circumference(diameter: Quantity, squash: Quantity) -> Quantity:
    """Distance in one turn, pi · d less the share by which a loaded tyre is squashed, in metre.

    Source: geometry; 3.1 % less under load is called an industry average (second hand: tigersunited.com).
        Better: mark the tyre, roll the loaded machine ten turns, measure.
    Range: diameter 20 to 4000 mm, squash 0 to 15 %.
    """
    share = magnitude_within(squash, _SQUASH) / 100.0
    return quantity(math.pi * magnitude_within(diameter, _DIAMETER) / 1000.0 * (1.0 - share), "m")


def revolutions(distance: Quantity, circumference: Quantity) -> float:
    """Turns of the wheel over a distance.

    Source: arithmetic; worked example second hand (ecomodder.com: 733 turns a mile for 225/65R16).
    Range: distance 0 to 100 000 km, circumference 0.05 to 13 m.
    """
    metres = magnitude_within(distance, Limits("distance", "m", 0.0, 1e8, "check the number and the unit"))
    return metres / magnitude_within(circumference, _CIRCUMFERENCE)


def ground_speed(motor_speed: Quantity, ratio: float, circumference: Quantity) -> Quantity:
    """Speed over ground without slip, in km/h. `ratio` is motor turns for one wheel turn, all gears together.

    Source: kinematics; the handbook form mph = r/min · inch · pi / (ratio · 1056) second hand
        (superglobalcalculator.com, youcanic.com). One calculator found (15201.com) multiplies by the ratio,
        which is wrong.
    Range: 0 to 50 000 r/min, ratio 0.1 to 500.
    """
    per_minute = magnitude_within(motor_speed, _TURNS)
    metres = per_minute / number_within(ratio, _RATIO) * magnitude_within(circumference, _CIRCUMFERENCE)
    return quantity(metres * 60.0 / 1000.0, "km/h")


def motor_speed(speed: Quantity, ratio: float, circumference: Quantity) -> Quantity:
    """Motor speed at a ground speed without slip, in r/min.

    Source: `ground_speed` solved for the motor.
    Range: as `ground_speed`, 0 to 400 km/h.
    """
    metres_per_minute = magnitude_within(speed, _SPEED) * 1000.0 / 60.0
    turns = metres_per_minute / magnitude_within(circumference, _CIRCUMFERENCE) * number_within(ratio, _RATIO)
    return quantity(turns, "revolutions_per_minute")


def reading_correction(
    old_diameter: Quantity, new_diameter: Quantity, old_ratio: float, new_ratio: float
) -> float:
    """True speed over shown speed after another tyre or axle ratio, when speed is taken from the motor.

    Multiply a speed or distance reading by it; put it into the controller where that has such a setting.

    Source: `ground_speed` before and after; worked examples second hand (superglobalcalculator.com: 60
        shown is 64; youcanic.com: 60 shown is 66).
    Range: diameters 20 to 4000 mm, ratios 0.1 to 500.
    """
    tyres = magnitude_within(new_diameter, _DIAMETER) / magnitude_within(old_diameter, _DIAMETER)
    return tyres * number_within(old_ratio, _RATIO) / number_within(new_ratio, _RATIO)


_CIRCUMFERENCE: Final = Limits("rolling circumference", "m", 0.05, 13.0, "roll ten turns and measure")
