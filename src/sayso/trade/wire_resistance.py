"""Resistance of copper wire: from physics at any temperature, and from two public tables."""

from __future__ import annotations

from typing import Final

from sayso.trade.limits import Limits, magnitude_within, not_in_table
from sayso.trade.units import Quantity, quantity
from sayso.trade.wire_gauge import gauge_area, gauge_number

# International Annealed Copper Standard (IEC 60028): 1/58 ohm mm²/m at 20 °C, and its temperature
# coefficient at constant mass (from memory; NBS Handbook 100 tables second hand).
IACS_RESISTIVITY: Final = 1.0 / 58.0
IACS_TEMPERATURE_COEFFICIENT: Final = 0.00393

_LENGTH: Final = Limits("conductor length", "m", 0.0, 10_000.0, "give the length of one conductor")
_AREA: Final = Limits("copper area", "mm**2", 0.001, 2000.0, "check the number and the unit")
_TEMPERATURE: Final = Limits(
    "conductor temperature", "degC", -50.0, 150.0, "the straight line for copper holds from -50 to 150 °C"
)

# NEC (NFPA 70) Chapter 9 Table 8, direct-current resistance at 75 °C, uncoated copper, ohm/kft.
# Second hand: voltdropcalc.com, which names no edition (values from memory the same from the 2011 to the
# 2023 edition). That page calls all rows stranded; its rows 14 to 8 are the table's solid wire.
NEC_TABLE_8_OHM_PER_KFT: Final[dict[str, float]] = {
    "14": 3.07, "12": 1.93, "10": 1.21, "8": 0.764, "6": 0.491, "4": 0.308, "3": 0.245, "2": 0.194,
    "1": 0.154, "1/0": 0.122, "2/0": 0.0967, "3/0": 0.0766, "4/0": 0.0608,
}  # fmt: skip

# IEC 60228 largest resistance at 20 °C of plain copper, ohm/km. The standard itself was not read: second
# hand from uecables.com and mycableengineering.com, which agree in every row kept here.
IEC_60228_OHM_PER_KM: Final[dict[str, dict[float, float]]] = {
    "2": {1.5: 12.1, 2.5: 7.41, 4: 4.61, 6: 3.08, 10: 1.83, 16: 1.15, 25: 0.727, 35: 0.524, 50: 0.387,
          70: 0.268, 95: 0.193, 120: 0.153},
    "5": {1.5: 13.3, 2.5: 7.98, 4: 4.95, 6: 3.30, 10: 1.91, 16: 1.21, 25: 0.780, 35: 0.554, 50: 0.386,
          70: 0.272, 95: 0.206, 120: 0.161},
}  # fmt: skip


def copper_resistance(area: Quantity, length: Quantity, temperature: Quantity) -> Quantity:
    """Resistance of one copper conductor, in ohm: length / (58 · area) · (1 + 0.003 93 · (t - 20 °C)).

    Source: International Annealed Copper Standard, IEC 60028 (from memory); NBS Handbook 100 table values
        second hand (cirris.com). A stranded cable has about 2 % more: its wires are longer than the cable.
    Range: 0.001 to 2000 mm², up to 10 km, -50 to 150 °C.
    """
    mm2 = magnitude_within(area, _AREA)
    metres = magnitude_within(length, _LENGTH)
    warmth = magnitude_within(temperature, _TEMPERATURE) - 20.0
    return quantity(IACS_RESISTIVITY * metres / mm2 * (1.0 + IACS_TEMPERATURE_COEFFICIENT * warmth), "ohm")


def gauge_resistance(gauge: str | int, length: Quantity, temperature: Quantity) -> Quantity:
    """Resistance of one solid copper wire of this gauge, in ohm.

    Source: `copper_resistance` with ASTM B258 geometry.
    Range: gauges 4/0 to 40, lengths and temperatures of `copper_resistance`.
    """
    return copper_resistance(gauge_area(gauge), length, temperature)


def nec_resistance(gauge: str | int, length: Quantity) -> Quantity:
    """Resistance of one conductor at 75 °C by NEC Chapter 9 Table 8, in ohm.

    Source: NEC (NFPA 70) Chapter 9 Table 8, uncoated copper (second hand: voltdropcalc.com, no edition
        named there; from memory unchanged in the editions 2011 to 2023). 14 to 8 solid, 6 and up stranded.
    Range: the gauges listed, up to 10 km.
    """
    number = gauge_number(gauge)
    for name, ohm_per_kft in NEC_TABLE_8_OHM_PER_KFT.items():
        if gauge_number(name) == number:
            metres = magnitude_within(length, _LENGTH)
            return quantity(ohm_per_kft * metres / 304.8, "ohm")
    raise not_in_table("NEC Table 8 gauge", gauge, NEC_TABLE_8_OHM_PER_KFT, "use gauge_resistance instead")


def iec_cable_resistance(area: Quantity, conductor_class: str, length: Quantity) -> Quantity:
    """Largest resistance of one new plain copper conductor at 20 °C, in ohm.

    Class "2" is stranded, class "5" flexible.

    Source: IEC 60228 maximum resistance (second hand: uecables.com and mycableengineering.com; the standard
        itself was not read).
    Range: the areas listed, 1.5 to 120 mm², up to 10 km.
    """
    table = IEC_60228_OHM_PER_KM.get(str(conductor_class))
    if table is None:
        raise not_in_table(
            "conductor class", conductor_class, IEC_60228_OHM_PER_KM, "2 is stranded, 5 flexible"
        )
    mm2 = magnitude_within(area, _AREA)
    for listed, ohm_per_km in table.items():
        if abs(listed - mm2) < 1e-6:
            return quantity(ohm_per_km * magnitude_within(length, _LENGTH) / 1000.0, "ohm")
    raise not_in_table("cable area in mm²", f"{mm2:g}", table, "take the area printed on the cable")


def resistance_at(resistance: Quantity, measured_at: Quantity, wanted_at: Quantity) -> Quantity:
    """A copper resistance measured at one temperature, at another.

    Source: IACS coefficient 0.003 93 per K at 20 °C (from memory); IEC 60228 correction factors second hand
        (uecables.com; within 0.5 % because they use 0.004).
    Range: both temperatures -50 to 150 °C.
    """
    cold = 1.0 + IACS_TEMPERATURE_COEFFICIENT * (magnitude_within(measured_at, _TEMPERATURE) - 20.0)
    warm = 1.0 + IACS_TEMPERATURE_COEFFICIENT * (magnitude_within(wanted_at, _TEMPERATURE) - 20.0)
    ohms = magnitude_within(
        resistance, Limits("resistance", "ohm", 0.0, 1e6, "check the number and the unit")
    )
    return quantity(ohms * warm / cold, "ohm")
