"""Published values for wire: gauges, resistance, voltage drop, ampacity."""

from __future__ import annotations

import math
from functools import partial

import fluids.piping

from sayso.trade.wire_resistance import NEC_TABLE_8_OHM_PER_KFT
from tests.trade.outside_check import OutsideCheck, add_rows

CHECKS: list[OutsideCheck] = []
add = partial(add_rows, CHECKS)

# fmt: off
# The rows are laid out by hand: one value a line would make this table four times as long.

# wire
_CIRRIS = {"12": (80.808, 0.1588), "14": (64.084, 0.2525), "16": (50.82, 0.4016), "18": (40.303, 0.6385),
    "20": (31.961, 1.015), "24": (20.1, 2.567), "30": (10.025, 10.32)}
add("gauge diameter", "cirris.com wire table (mils)", "second hand", "gauge_diameter", [
    ((gauge,), mils * 0.0254) for gauge, (mils, _) in _CIRRIS.items()], relative=5e-05)
add("gauge diameter, library",
    "fluids.piping.t_from_gauge(schedule='AWG'), gauges 1 to 36, to its 0.1 mil", "library",
    "gauge_diameter", [((n,), 1000 * fluids.piping.t_from_gauge(n, SI=True, schedule="AWG"))
    for n in range(1, 37)], absolute=0.00128)
_CIRCULAR_MIL = math.pi / 4 * 0.0254 ** 2
add("gauge area", "NEC Chapter 9 Table 8 circular mils at voltdropcalc.com", "second hand", "gauge_area",
    [((gauge,), mils * _CIRCULAR_MIL) for gauge, mils in (("14", 4110), ("12", 6530), ("10", 10380),
    ("8", 16510), ("6", 26240), ("4", 41740), ("3", 52620), ("2", 66360), ("1", 83690), ("1/0", 105600),
    ("2/0", 133100), ("3/0", 167800), ("4/0", 211600))], relative=0.001)
add("gauge for an area",
    "NEC circular mils: 25 mm² is 49 340 cmil, between 4 AWG (41 740) and 3 AWG (52 620)", "by hand",
    "gauge_at_least", [((25,), "3"), ((107,), "4/0"), ((53.4,), "1/0")])
add("gauge resistance at 20 °C", "cirris.com wire table (ohm per 100 ft)", "second hand",
    "gauge_resistance", [((gauge, 30.48, 20), ohms) for gauge, (_, ohms) in _CIRRIS.items()],
    relative=0.0015)
add("gauge resistance at 75 °C, solid", "NEC Chapter 9 Table 8 at voltdropcalc.com, solid rows",
    "second hand", "gauge_resistance", [((gauge, 304.8, 75), NEC_TABLE_8_OHM_PER_KFT[gauge])
    for gauge in ("14", "12", "10", "8")], relative=0.005)
add("copper resistance", "IACS 17.241 ohm·mm²/km at 20 °C (tnlab.org)", "second hand",
    "copper_resistance", [((1, 1000, 20), 17.241), ((2.5, 1000, 20), 17.241 / 2.5)], relative=5e-05)
add("NEC Table 8 look-up", "the page's own ohm/km column at voltdropcalc.com", "second hand",
    "nec_resistance", [((gauge, 1000), ohms) for gauge, ohms in (("14", 10.072), ("12", 6.332),
    ("10", 3.97), ("8", 2.507), ("6", 1.611), ("4", 1.01), ("3", 0.804), ("2", 0.636), ("1", 0.505),
    ("1/0", 0.4), ("2/0", 0.317), ("3/0", 0.251), ("4/0", 0.199))], relative=0.003)
_IEC = "IEC 60228 class {} in a third copy ({})"
add("IEC 60228 class 2", _IEC.format(2, "kabelmetal-indonesia.com"), "second hand",
    "iec_cable_resistance", [((area, "2", 1000), ohms) for area, ohms in ((1.5, 12.1), (2.5, 7.41),
    (4, 4.61), (6, 3.08), (10, 1.83), (16, 1.15), (25, 0.727), (35, 0.524), (50, 0.387), (70, 0.268),
    (95, 0.193), (120, 0.153))], relative=1e-09)
add("IEC 60228 class 5", "mycableengineering.com", "second hand", "iec_cable_resistance", [
    ((area, "5", 1000), ohms) for area, ohms in ((1.5, 13.3), (2.5, 7.98), (4, 4.95), (6, 3.3),
    (10, 1.91), (16, 1.21), (25, 0.78), (35, 0.554), (50, 0.386), (70, 0.272), (95, 0.206),
    (120, 0.161))], relative=1e-09)
add("resistance at another temperature",
    "IEC 60228 factors at uecables.com: 5 °C 1.064, 30 °C 0.962, 50 °C 0.893, 75 °C "
    "0.820, 100 °C 0.758", "second hand", "resistance_at", [((1, warm, 20), factor) for warm,
    factor in ((5, 1.064), (30, 0.962), (50, 0.893), (75, 0.82), (100, 0.758))], relative=0.006)
add("two-wire drop",
    "2·L·I·R/1000 with NEC Table 8: 2/0, 10 ft, 200 A 0.387 V; 2 AWG, 12 ft, 100 A 0.466 V", "by hand",
    "two_wire_drop", [((200, 3.048, 0.0967 / 0.3048), 0.387), ((100, 3.6576, 0.194 / 0.3048), 0.466)],
    absolute=0.0005)
add("drop as a share", "0.387 V of 48 V is 0.806 %", "by hand", "drop_share", [((0.387, 48), 0.80625)],
    relative=1e-09)
add("longest run", "the two-wire example backwards: 0.3868 V at 200 A on 2/0 is 10 ft", "by hand",
    "longest_run", [((200, 0.3868, 0.0967 / 0.3048), 3.048)], relative=1e-06)
add("area for a drop", "2·L·I/(58·U) at 20 °C, 200 A over 3 m for 0.5 V is 41.4 mm²", "by hand",
    "area_for_drop", [((200, 3, 0.5, 20), 2 * 3 * 200 / (58 * 0.5))], relative=1e-09)
add("ampacity at 75 °C", "NEC Table 310-16, older edition at ask-the-electrician.com", "second hand",
    "table_ampacity", [((gauge, 75), amps) for gauge, amps in (("14", 20), ("12", 25), ("10", 35),
    ("8", 50), ("6", 65), ("4", 85), ("3", 100), ("2", 115), ("1", 130))], absolute=0)
add("ampacity at 90 °C",
    "NEC Table 310-16, older edition at ask-the-electrician.com (3 and 1 AWG changed since)",
    "second hand", "table_ampacity", [((gauge, 90), amps) for gauge,
    amps in (("14", 25), ("12", 30), ("10", 40), ("8", 55), ("6", 75), ("4", 95), ("2", 130))],
    absolute=0)
_AMBIENT = {60: (1.29, 1.22, 1.15, 1.08, 1.0, 0.91, 0.82, 0.71, 0.58, 0.41), 75: (1.2, 1.15, 1.11, 1.05,
    1.0, 0.94, 0.88, 0.82, 0.75, 0.67, 0.58), 90: (1.15, 1.12, 1.08, 1.04, 1.0, 0.96, 0.91, 0.87, 0.82,
    0.76, 0.71)}
add("ambient correction", "NEC 310.15(B)(1) factors 10 to 60 °C at wiresizes.com", "second hand",
    "ambient_factor", [((column, 10 + 5 * step), factor) for column, row in _AMBIENT.items() for step,
    factor in enumerate(row)], absolute=0.0055)
add("corrected ampacity", "wiresizes.com: 12 AWG, 75 °C, in 40 °C: 22 A", "second hand", "ampacity", [
    (("12", 75, 40), 22.0)], absolute=0.1)
