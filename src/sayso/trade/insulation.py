"""Insulation (isolation) resistance: the smallest value by published rules, and how to measure it.

Work on live packs is for people trained and equipped for it, by local rules. A value above the limit is not a
permit to touch.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sayso.trade.limits import Limits, OutOfRangeError, magnitude_within, not_in_table
from sayso.trade.units import Quantity, quantity


@dataclass(frozen=True)
class InsulationRule:
    """Smallest resistance per volt, and where the number is from."""

    ohm_per_volt: float
    applies_to: str
    source: str


RULES: Final[dict[str, InsulationRule]] = {
    "road vehicle dc": InsulationRule(
        100.0, "direct-current bus of a road vehicle, apart from any alternating-current bus",
        "UN Regulation 100, 5.1.3.1 (second hand: lawinsider.com quotes the paragraph)",
    ),
    "road vehicle ac": InsulationRule(
        500.0, "alternating-current bus of a road vehicle, or joined to the direct-current bus",
        "UN Regulation 100, 5.1.3.1 and 5.1.3.2 (second hand: lawinsider.com)",
    ),
    "truck": InsulationRule(
        1000.0, "industrial truck without its battery, over its life",
        "EN 1175 as quoted in a truck maker's manual, 2017 (second hand: manualslib.fr; 24, 48, 80 kilohm)",
    ),
    "truck battery": InsulationRule(
        50.0, "traction battery of an industrial truck, in use",
        "EN 1175 as quoted in a truck maker's manual, 2017 (second hand: manualslib.fr; 1.2, 2.4, 4 kilohm)",
    ),
}  # fmt: skip

_VOLTAGE: Final = Limits("voltage", "V", 1.0, 1500.0, "check the number and the unit")
# Two equally good poles read half the pack each; two readings one after the other differ a little.
_METER_ERROR: Final = 0.02


def smallest_insulation(voltage: Quantity, rule: str) -> Quantity:
    """Smallest insulation resistance at this voltage by one of RULES, in ohm.

    Source: UN Regulation 100 for road vehicles, EN 1175 for industrial trucks (second hand, see RULES).
    Range: 1 to 1500 V; working voltage for road vehicles, nominal voltage for trucks.
    """
    if rule not in RULES:
        raise not_in_table("insulation rule", rule, RULES, "take the rule that your machine falls under")
    return quantity(RULES[rule].ohm_per_volt * magnitude_within(voltage, _VOLTAGE), "ohm")


def insulation_from_voltages(
    pack: Quantity, before: Quantity, with_resistor: Quantity, resistor: Quantity
) -> Quantity:
    """Insulation resistance of the worse side from two readings, Ri = Ro · Ub · (1/U' - 1/U), in ohm.

    `before`: from the pole with the higher voltage to chassis. `with_resistor`: the same with a known
    resistor put between that pole and chassis.

    Source: UN Regulation 100, Annex on isolation measurement, fourth and fifth step (second hand:
        consautoregs.com).
    Range: pack 1 to 1500 V; `before` at least half the pack voltage (less 2 % for the meters) and not above
        it; `with_resistor` below `before`.
    """
    pack_volts = magnitude_within(pack, _VOLTAGE)
    first = magnitude_within(
        before,
        Limits(
            "first reading",
            "V",
            pack_volts / 2.0 * (1.0 - _METER_ERROR),
            pack_volts,
            "measure from the pole that reads higher",
        ),
    )
    second = magnitude_within(
        with_resistor, Limits("reading with resistor", "V", 1e-6, first, "it cannot rise; measure both again")
    )
    ohms = magnitude_within(resistor, Limits("known resistor", "ohm", 1.0, 1e8, "read its value"))
    if second >= first:
        raise OutOfRangeError(
            f"the reading stays at {first:g} V with the resistor: the insulation is far below "
            f"{ohms:g} ohm or the resistor has no contact; check the contact first"
        )
    return quantity(ohms * pack_volts * (1.0 / second - 1.0 / first), "ohm")
