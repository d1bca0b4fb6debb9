"""Every trade function against something outside the project, with the source named beside the value.

`standing` says how good the source is: "second hand" (a copy or a quotation that was read), "from memory"
(nobody looked it up again), "library" (another program worked it out), "by hand" (arithmetic to be followed).
tests/trade/README.md is written from this list: python -m tests.trade.write_readme
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import fluids.constants
import fluids.piping
import numpy as np
import scipy.constants as si
from scipy.integrate import quad, solve_ivp

from sayso.trade import TRADE_FUNCTIONS
from sayso.trade.lifting import recommended_weight_limit
from sayso.trade.units import quantity
from sayso.trade.wire_resistance import NEC_TABLE_8_OHM_PER_KFT

if TYPE_CHECKING:
    from collections.abc import Callable

    from sayso.trade.catalogue import PlainValue


@dataclass(frozen=True)
class OutsideCheck:
    """One value: `group` is its row in the README, `relative` and `absolute` what may be apart."""

    group: str
    function: str
    arguments: tuple[PlainValue, ...]
    published: PlainValue
    source: str
    standing: str
    relative: float = 0.0
    absolute: float = 0.0
    other_call: Callable[[], PlainValue] | None = None

    def ours(self) -> PlainValue:
        if self.other_call is not None:
            return self.other_call()
        return TRADE_FUNCTIONS[self.function](*self.arguments)


CHECKS: list[OutsideCheck] = []


def add(
    group: str,
    source: str,
    standing: str,
    function: str,
    rows: list[tuple[tuple[PlainValue, ...], PlainValue]],
    relative: float = 0.0,
    absolute: float = 0.0,
) -> None:
    CHECKS.extend(
        OutsideCheck(group, function, arguments, value, source, standing, relative, absolute)
        for arguments, value in rows
    )


FOOT, INCH, POUND = 0.3048, 25.4, 0.45359237
LBF = POUND * 9.80665
LBF_FT = LBF * FOOT
SQUARE_INCH = INCH**2

# ---------------------------------------------------------------- torque units
add(
    "torque units",
    "scipy.constants: lbf·foot, lbf·inch, g·m, oz·g·inch",
    "library",
    "torque_from",
    [
        ((1, "lbf.ft"), si.lbf * si.foot),
        ((1, "lbf.in"), si.lbf * si.inch),
        ((1, "kgf.m"), si.g),
        ((1, "kgf.cm"), si.g / 100),
        ((1, "ozf.in"), si.oz * si.g * si.inch),
    ],
    relative=1e-12,
)
add(
    "torque units, second library",
    "fluids.constants: lbf·foot",
    "library",
    "torque_from",
    [((80, "lbf.ft"), 80 * fluids.constants.lbf * fluids.constants.foot)],
    relative=1e-12,
)
add(
    "torque units, printed",
    "NIST SP 811 appendix B: 1.355 818, 0.112 984 8, 9.806 65",
    "from memory",
    "torque_from",
    [((1, "lbf.ft"), 1.355818), ((1, "lbf.in"), 0.1129848), ((1, "kgf.m"), 9.80665)],
    relative=5e-7,
)
add(
    "torque in the wrench's unit",
    "reciprocals of NIST SP 811: 0.737 562 1, 8.850 745",
    "from memory",
    "torque_in",
    [((1, "lbf.ft"), 0.7375621), ((1, "lbf.in"), 8.850745)],
    relative=1e-6,
)
add(
    "torque band",
    "9 N·m within 10 % is 8.1 to 9.9",
    "by hand",
    "torque_low",
    [((9, 10), 8.1)],
    relative=1e-12,
)
add(
    "torque band",
    "9 N·m within 10 % is 8.1 to 9.9",
    "by hand",
    "torque_high",
    [((9, 10), 9.9)],
    relative=1e-12,
)
add(
    "torque inside its band",
    "80 lbf·in is 9.04 N·m, 90 lbf·in is 10.17 N·m; band 8.1 to 9.9",
    "by hand",
    "torque_is_within",
    [((80 * LBF * 0.0254, 9, 10), True), ((90 * LBF * 0.0254, 9, 10), False)],
)
add(
    "nearest mark",
    "9 N·m is 79.66 lbf·in: mark 80 on a scale of 5",
    "by hand",
    "nearest_mark",
    [((9, "lbf.in", 5), 80.0), ((9, "lbf.ft", 1), 7.0)],
    absolute=1e-9,
)
add(
    "wrench range",
    "a tool's range starts at its lowest mark: ISO 6789:2017, norbar.com articles 67, 68",
    "second hand",
    "wrench_covers",
    [((9, 10, 50), False), ((10, 10, 50), True), ((51, 10, 50), False)],
)

# ---------------------------------------------------------------- adapters
add(
    "adapter, setting",
    "agentcalc.com: 80 N·m, 40 cm, 5 cm straight: 71.1; at 90°: 80",
    "second hand",
    "adapter_setting",
    [((80, 400, 50, 0), 71.1), ((80, 400, 50, 90), 80.0)],
    absolute=0.05,
)
add(
    "adapter, angle table",
    "cal11.calculator.city: 100 lbf·ft, 18 in, 3 in: 85.71, 89.46, 100.00",
    "second hand",
    "adapter_setting",
    [((100, 457.2, 76.2, 0), 85.71), ((100, 457.2, 76.2, 45), 89.46), ((100, 457.2, 76.2, 90), 100.0)],
    absolute=0.005,
)
add(
    "adapter, torque at the fastener",
    "toolcroze.com: E/L = 0.25 at 75°, 80°, 85°, 95°, 100°: +6.5, +4.3, +2.2, -2.2, -4.3 %",
    "second hand",
    "torque_with_adapter",
    [
        ((100, 400, 100, angle), 100 + change)
        for angle, change in ((75, 6.5), (80, 4.3), (85, 2.2), (90, 0.0), (95, -2.2), (100, -4.3))
    ],
    absolute=0.05,
)

# ---------------------------------------------------------------- threads and bolts
add(
    "stress area, metric coarse",
    "EN ISO 898-1 table at usefastener.com",
    "second hand",
    "stress_area",
    [
        (("M3",), 5.03),
        (("M4",), 8.78),
        (("M5",), 14.2),
        (("M6",), 20.1),
        (("M8",), 36.6),
        (("M10",), 58.0),
        (("M12",), 84.3),
        (("M14",), 115.0),
        (("M16",), 157.0),
        (("M18",), 192.0),
        (("M20",), 245.0),
        (("M22",), 303.0),
        (("M24",), 353.0),
    ],
    relative=0.004,
)
add(
    "stress area, unified",
    "mwcomponents.com table (square inches)",
    "second hand",
    "stress_area",
    [
        (("1/4-20",), 0.0318 * SQUARE_INCH),
        (("1/4-28",), 0.03637 * SQUARE_INCH),
        (("5/16-18",), 0.0524 * SQUARE_INCH),
        (("5/16-24",), 0.058 * SQUARE_INCH),
        (("3/8-16",), 0.0775 * SQUARE_INCH),
        (("3/8-24",), 0.0878 * SQUARE_INCH),
        (("7/16-14",), 0.1063 * SQUARE_INCH),
        (("7/16-20",), 0.1187 * SQUARE_INCH),
    ],
    relative=0.0015,
)
_PROOF_N = {
    "M3": (1910, 2920, 4180, 4880),
    "M4": (3340, 5100, 7290, 8520),
    "M5": (5400, 8230, 11800, 13800),
    "M6": (7640, 11600, 16700, 19500),
    "M8": (13900, 21200, 30400, 35500),
    "M10": (22000, 33700, 48100, 56300),
    "M12": (32000, 48900, 70000, 81800),
    "M14": (43700, 66700, 95500, 112000),
    "M16": (59700, 91000, 130000, 152000),
    "M18": (73000, 115000, 159000, 186000),
    "M20": (93100, 147000, 203000, 238000),
    "M22": (115000, 182000, 252000, 294000),
    "M24": (134000, 212000, 293000, 342000),
}
add(
    "proof load, 5.8 to 12.9",
    "EN ISO 898-1 table at staging2.optimas.com; slsbearings.com the same",
    "second hand",
    "proof_load",
    [
        ((size, grade), newtons / 1000.0)
        for size, row in _PROOF_N.items()
        for grade, newtons in zip(("5.8", "8.8", "10.9", "12.9"), row, strict=True)
    ],
    relative=0.007,
)
_CLAMP_LBF = {
    "1/4-20": (1313, 2029, 2864),
    "5/16-18": (2163, 3342, 4719),
    "3/8-16": (3196, 4940, 6974),
    "7/16-14": (4385, 6777, 9568),
    "1/2-13": (5853, 9046, 12771),
    "5/8-11": (9323, 14408, 20340),
    "3/4-10": (13797, 21322, 30101),
    "1/4-28": (1500, 2319, 3274),
    "5/16-24": (2395, 3702, 5226),
    "3/8-24": (3623, 5599, 7905),
    "7/16-20": (4897, 7568, 10684),
    "1/2-20": (6598, 10197, 14396),
    "5/8-18": (10558, 16317, 23036),
    "3/4-16": (15385, 23776, 33566),
}
add(
    "preload at 75 % of proof",
    "SAE J429 chart at engineersedge.com (lbf)",
    "second hand",
    "preload",
    [
        ((size, grade, 75), force * LBF / 1000.0)
        for size, row in _CLAMP_LBF.items()
        for grade, force in zip(("SAE 2", "SAE 5", "SAE 8"), row, strict=True)
    ],
    relative=0.0005,
)
add(
    "torque by factor K",
    "SAE J429 chart at engineersedge.com: 1/2-13 grade 5 (K 0.15, 0.18, 0.20), 5/8-18 grade 8, "
    "1/4-20 grade 5 (in·lbf)",
    "second hand",
    "torque_by_factor",
    [
        (("1/2-13", 9046 * LBF / 1000, 0.15), 57 * LBF_FT),
        (("1/2-13", 9046 * LBF / 1000, 0.18), 68 * LBF_FT),
        (("1/2-13", 9046 * LBF / 1000, 0.20), 75 * LBF_FT),
        (("5/8-18", 23036 * LBF / 1000, 0.20), 240 * LBF_FT),
        (("1/4-20", 2029 * LBF / 1000, 0.20), 101 * LBF_FT / 12),
    ],
    relative=0.009,
)
add(
    "torque by factor K, second chart",
    "coxhardware.com: grade 2 dry: 3/8-16 20, 1/2-13 48.8, 3/4-10 172 lbf·ft",
    "second hand",
    "torque_by_factor",
    [
        (("3/8-16", 3197 * LBF / 1000, 0.2), 20 * LBF_FT),
        (("1/2-13", 5853 * LBF / 1000, 0.2), 48.8 * LBF_FT),
        (("3/4-10", 13778 * LBF / 1000, 0.2), 172 * LBF_FT),
    ],
    relative=0.003,
)
add(
    "preload by factor K",
    "SAE J429 chart at engineersedge.com, read backwards: 1/2-13 grade 8",
    "second hand",
    "preload_by_factor",
    [(("1/2-13", 106 * LBF_FT, 0.2), 12771 * LBF / 1000)],
    relative=0.005,
)

# VDI 2230 (2001) table for fine threads at 90 % of Rp0.2: friction -> preloads in kN and torques in N·m for
# classes 8.8, 10.9 and 12.9.
_VDI_FINE = {
    "M8x1": {
        0.10: ((20.7, 30.4, 35.6), (22.8, 33.5, 39.2)),
        0.12: ((20.2, 29.7, 34.7), (26.1, 38.3, 44.9)),
        0.14: ((19.7, 28.9, 33.9), (29.2, 42.8, 50.1)),
    },
    "M10x1.25": {
        0.10: ((32.4, 47.5, 55.6), (44, 65, 76)),
        0.12: ((31.6, 46.4, 54.3), (51, 75, 87)),
        0.14: ((30.8, 45.2, 52.9), (57, 83, 98)),
    },
    "M12x1.25": {
        0.10: ((49.1, 72.1, 84.4), (79, 116, 135)),
        0.12: ((48.0, 70.5, 82.5), (90, 133, 155)),
        0.14: ((46.8, 68.7, 80.4), (101, 149, 174)),
    },
    "M14x1.5": {
        0.10: ((66.4, 97.5, 114.1), (124, 182, 213)),
        0.12: ((64.8, 95.2, 111.4), (142, 209, 244)),
        0.14: ((63.2, 92.9, 108.7), (159, 234, 274)),
    },
    "M16x1.5": {
        0.10: ((89.6, 131.6, 154.0), (189, 278, 325)),
        0.12: ((87.6, 128.7, 150.6), (218, 320, 374)),
        0.14: ((85.5, 125.5, 146.9), (244, 359, 420)),
    },
    "M18x1.5": {
        0.10: ((120, 171, 200), (283, 403, 472)),
        0.12: ((117, 167, 196), (327, 465, 544)),
        0.14: ((115, 163, 191), (368, 523, 613)),
    },
    "M20x1.5": {
        0.10: ((151, 215, 252), (392, 558, 653)),
        0.12: ((148, 211, 246), (454, 646, 756)),
        0.14: ((144, 206, 241), (511, 728, 852)),
    },
    "M22x1.5": {
        0.10: ((186, 264, 309), (529, 754, 882)),
        0.12: ((182, 259, 303), (613, 873, 1022)),
        0.14: ((178, 253, 296), (692, 985, 1153)),
    },
    "M24x2": {
        0.10: ((213, 304, 355), (666, 949, 1110)),
        0.12: ((209, 297, 348), (769, 1095, 1282)),
        0.14: ((204, 290, 339), (865, 1232, 1442)),
    },
}
_VDI_ROWS = [
    (size, grade, friction, forces[column], torques[column])
    for size, by_friction in _VDI_FINE.items()
    for friction, (forces, torques) in by_friction.items()
    for column, grade in enumerate(("8.8", "10.9", "12.9"))
]
_VDI = "VDI 2230 (2001) fine threads, 90 % of Rp0.2, at mastik.pt page 685"
add(
    "preload at 90 % of yield",
    _VDI,
    "second hand",
    "preload_at_yield_share",
    [((size, grade, 90, friction), force) for size, grade, friction, force, _ in _VDI_ROWS],
    relative=0.004,
)
add(
    "torque at 90 % of yield",
    _VDI,
    "second hand",
    "torque_at_yield_share",
    [((size, grade, 90, friction), torque) for size, grade, friction, _, torque in _VDI_ROWS],
    relative=0.011,
)
add(
    "torque by friction",
    _VDI + ", torque from the printed preload",
    "second hand",
    "torque_by_friction",
    [((size, force, friction, friction), torque) for size, _, friction, force, torque in _VDI_ROWS],
    relative=0.011,
)
add(
    "torque at 90 % of yield, coarse",
    "VDI 2230 (2003) coarse threads 8.8, friction 0.12: M6 10.1, M8 24.6, M10 48, M12 84, M16 206, M20 415",
    "from memory",
    "torque_at_yield_share",
    [
        ((size, "8.8", 90, 0.12), torque)
        for size, torque in (
            ("M6", 10.1),
            ("M8", 24.6),
            ("M10", 48.0),
            ("M12", 84.0),
            ("M16", 206.0),
            ("M20", 415.0),
        )
    ],
    relative=0.01,
)
add(
    "torque at 90 % of yield, older edition",
    "plant maker's manual (page 99 of a copy), DIN 13 coarse, 8.8, friction 0.14: an older "
    "edition gives about 9 % less than VDI 2230 (2001) and than ours",
    "second hand",
    "torque_at_yield_share",
    [
        ((size, "8.8", 90, 0.14), torque)
        for size, torque in (
            ("M8", 25.0),
            ("M10", 49.0),
            ("M12", 85.0),
            ("M16", 210.0),
            ("M20", 425.0),
            ("M24", 730.0),
        )
    ],
    relative=0.10,
)

# ---------------------------------------------------------------- wire
_CIRRIS = {
    "12": (80.808, 0.1588),
    "14": (64.084, 0.2525),
    "16": (50.820, 0.4016),
    "18": (40.303, 0.6385),
    "20": (31.961, 1.015),
    "24": (20.100, 2.567),
    "30": (10.025, 10.32),
}
add(
    "gauge diameter",
    "cirris.com wire table (mils)",
    "second hand",
    "gauge_diameter",
    [((gauge,), mils * 0.0254) for gauge, (mils, _) in _CIRRIS.items()],
    relative=5e-5,
)
add(
    "gauge diameter, library",
    "fluids.piping.t_from_gauge(schedule='AWG'), gauges 1 to 36, to its 0.1 mil",
    "library",
    "gauge_diameter",
    [((n,), 1000 * fluids.piping.t_from_gauge(n, SI=True, schedule="AWG")) for n in range(1, 37)],
    absolute=0.00128,
)
_CIRCULAR_MIL = math.pi / 4 * 0.0254**2
add(
    "gauge area",
    "NEC Chapter 9 Table 8 circular mils at voltdropcalc.com",
    "second hand",
    "gauge_area",
    [
        ((gauge,), mils * _CIRCULAR_MIL)
        for gauge, mils in (
            ("14", 4110),
            ("12", 6530),
            ("10", 10380),
            ("8", 16510),
            ("6", 26240),
            ("4", 41740),
            ("3", 52620),
            ("2", 66360),
            ("1", 83690),
            ("1/0", 105600),
            ("2/0", 133100),
            ("3/0", 167800),
            ("4/0", 211600),
        )
    ],
    relative=0.001,
)
add(
    "gauge for an area",
    "NEC circular mils: 25 mm² is 49 340 cmil, between 4 AWG (41 740) and 3 AWG (52 620)",
    "by hand",
    "gauge_at_least",
    [((25,), "3"), ((107,), "4/0"), ((53.4,), "1/0")],
)
add(
    "gauge resistance at 20 °C",
    "cirris.com wire table (ohm per 100 ft)",
    "second hand",
    "gauge_resistance",
    [((gauge, 30.48, 20), ohms) for gauge, (_, ohms) in _CIRRIS.items()],
    relative=0.0015,
)
add(
    "gauge resistance at 75 °C, solid",
    "NEC Chapter 9 Table 8 at voltdropcalc.com, solid rows",
    "second hand",
    "gauge_resistance",
    [((gauge, 304.8, 75), NEC_TABLE_8_OHM_PER_KFT[gauge]) for gauge in ("14", "12", "10", "8")],
    relative=0.005,
)
add(
    "copper resistance",
    "IACS 17.241 ohm·mm²/km at 20 °C (tnlab.org)",
    "second hand",
    "copper_resistance",
    [((1, 1000, 20), 17.241), ((2.5, 1000, 20), 17.241 / 2.5)],
    relative=5e-5,
)
add(
    "NEC Table 8 look-up",
    "the page's own ohm/km column at voltdropcalc.com",
    "second hand",
    "nec_resistance",
    [
        ((gauge, 1000), ohms)
        for gauge, ohms in (
            ("14", 10.072),
            ("12", 6.332),
            ("10", 3.970),
            ("8", 2.507),
            ("6", 1.611),
            ("4", 1.010),
            ("3", 0.804),
            ("2", 0.636),
            ("1", 0.505),
            ("1/0", 0.400),
            ("2/0", 0.317),
            ("3/0", 0.251),
            ("4/0", 0.199),
        )
    ],
    relative=0.003,
)
_IEC = "IEC 60228 class {} in a third copy ({})"
add(
    "IEC 60228 class 2",
    _IEC.format(2, "kabelmetal-indonesia.com"),
    "second hand",
    "iec_cable_resistance",
    [
        ((area, "2", 1000), ohms)
        for area, ohms in (
            (1.5, 12.1),
            (2.5, 7.41),
            (4, 4.61),
            (6, 3.08),
            (10, 1.83),
            (16, 1.15),
            (25, 0.727),
            (35, 0.524),
            (50, 0.387),
            (70, 0.268),
            (95, 0.193),
            (120, 0.153),
        )
    ],
    relative=1e-9,
)
add(
    "IEC 60228 class 5",
    "mycableengineering.com",
    "second hand",
    "iec_cable_resistance",
    [
        ((area, "5", 1000), ohms)
        for area, ohms in (
            (1.5, 13.3),
            (2.5, 7.98),
            (4, 4.95),
            (6, 3.30),
            (10, 1.91),
            (16, 1.21),
            (25, 0.78),
            (35, 0.554),
            (50, 0.386),
            (70, 0.272),
            (95, 0.206),
            (120, 0.161),
        )
    ],
    relative=1e-9,
)
add(
    "resistance at another temperature",
    "IEC 60228 factors at uecables.com: 5 °C 1.064, 30 °C 0.962, 50 °C 0.893, 75 °C 0.820, 100 °C 0.758",
    "second hand",
    "resistance_at",
    [
        ((1, warm, 20), factor)
        for warm, factor in ((5, 1.064), (30, 0.962), (50, 0.893), (75, 0.820), (100, 0.758))
    ],
    relative=0.006,
)
add(
    "two-wire drop",
    "2·L·I·R/1000 with NEC Table 8: 2/0, 10 ft, 200 A 0.387 V; 2 AWG, 12 ft, 100 A 0.466 V",
    "by hand",
    "two_wire_drop",
    [((200, 3.048, 0.0967 / 0.3048), 0.387), ((100, 3.6576, 0.194 / 0.3048), 0.466)],
    absolute=0.0005,
)
add(
    "drop as a share",
    "0.387 V of 48 V is 0.806 %",
    "by hand",
    "drop_share",
    [((0.387, 48), 0.80625)],
    relative=1e-9,
)
add(
    "longest run",
    "the two-wire example backwards: 0.3868 V at 200 A on 2/0 is 10 ft",
    "by hand",
    "longest_run",
    [((200, 0.3868, 0.0967 / 0.3048), 3.048)],
    relative=1e-6,
)
add(
    "area for a drop",
    "2·L·I/(58·U) at 20 °C, 200 A over 3 m for 0.5 V is 41.4 mm²",
    "by hand",
    "area_for_drop",
    [((200, 3, 0.5, 20), 2 * 3 * 200 / (58 * 0.5))],
    relative=1e-9,
)
add(
    "ampacity at 75 °C",
    "NEC Table 310-16, older edition at ask-the-electrician.com",
    "second hand",
    "table_ampacity",
    [
        ((gauge, 75), amps)
        for gauge, amps in (
            ("14", 20),
            ("12", 25),
            ("10", 35),
            ("8", 50),
            ("6", 65),
            ("4", 85),
            ("3", 100),
            ("2", 115),
            ("1", 130),
        )
    ],
    absolute=0,
)
add(
    "ampacity at 90 °C",
    "NEC Table 310-16, older edition at ask-the-electrician.com (3 and 1 AWG changed since)",
    "second hand",
    "table_ampacity",
    [
        ((gauge, 90), amps)
        for gauge, amps in (("14", 25), ("12", 30), ("10", 40), ("8", 55), ("6", 75), ("4", 95), ("2", 130))
    ],
    absolute=0,
)
_AMBIENT = {
    60: (1.29, 1.22, 1.15, 1.08, 1.0, 0.91, 0.82, 0.71, 0.58, 0.41),
    75: (1.20, 1.15, 1.11, 1.05, 1.0, 0.94, 0.88, 0.82, 0.75, 0.67, 0.58),
    90: (1.15, 1.12, 1.08, 1.04, 1.0, 0.96, 0.91, 0.87, 0.82, 0.76, 0.71),
}
add(
    "ambient correction",
    "NEC 310.15(B)(1) factors 10 to 60 °C at wiresizes.com",
    "second hand",
    "ambient_factor",
    [
        ((column, 10 + 5 * step), factor)
        for column, row in _AMBIENT.items()
        for step, factor in enumerate(row)
    ],
    absolute=0.0055,
)
add(
    "corrected ampacity",
    "wiresizes.com: 12 AWG, 75 °C, in 40 °C: 22 A",
    "second hand",
    "ampacity",
    [(("12", 75, 40), 22.0)],
    absolute=0.1,
)

# ---------------------------------------------------------------- packs
add(
    "pack voltages, LiFePO4",
    "bestlifepo4batteries.co.uk: 4, 8, 16 cells 12.8, 25.6, 51.2 V nominal",
    "second hand",
    "nominal_voltage",
    [(("LiFePO4", 4), 12.8), (("LiFePO4", 8), 25.6), (("LiFePO4", 16), 51.2)],
    relative=1e-9,
)
add(
    "pack voltages, LiFePO4 full",
    "bestlifepo4batteries.co.uk: 14.6, 29.2, 58.4 V",
    "second hand",
    "full_voltage",
    [(("LiFePO4", 4), 14.6), (("LiFePO4", 8), 29.2), (("LiFePO4", 16), 58.4)],
    relative=1e-9,
)
add(
    "pack voltages, LiFePO4 empty",
    "bestlifepo4batteries.co.uk: from 10.0, 20.0, 40.0 V",
    "second hand",
    "empty_voltage",
    [(("LiFePO4", 4), 10.0), (("LiFePO4", 8), 20.0), (("LiFePO4", 16), 40.0)],
    relative=1e-9,
)
add(
    "pack voltages, lead-acid",
    "studylib.net 18054160: 1.75 V per cell at nothing",
    "second hand",
    "empty_voltage",
    [(("lead-acid", 6), 10.5)],
    relative=1e-9,
)
add(
    "too cold to charge",
    "no charging of LiFePO4 below 0 °C: classcycles.fr, atoallinks.com",
    "second hand",
    "may_be_charged_at",
    [(("LiFePO4", -1), False), (("LiFePO4", 1), True)],
)
add(
    "series voltage",
    "codingace.net: 13 of 3.7 V are 48.1 V; vppowerbattery.com: 4 of 12.8 V are 51.2 V",
    "second hand",
    "pack_voltage",
    [((3.7, 13), 48.1), ((12.8, 4), 51.2)],
    relative=1e-9,
)
add(
    "parallel capacity",
    "schneider-electric.us FA229757: 6 of 120 A·h 720 A·h, 3 strings 360 A·h; codingace.net 10.4 A·h",
    "second hand",
    "pack_capacity",
    [((120, 6), 720.0), ((120, 3), 360.0), ((2.6, 4), 10.4)],
    relative=1e-9,
)
add(
    "pack energy",
    "vppowerbattery.com: 4S4P of 12.8 V 100 A·h 20.48 kW·h; calculator.city: 2S2P 74.0 W·h",
    "second hand",
    "pack_energy",
    [((12.8, 100, 4, 4), 20480.0), ((7.4, 2.5, 2, 2), 74.0)],
    relative=1e-9,
)
add(
    "run time",
    "codingace.net: 331 W·h at 250 W about 1.32 h",
    "second hand",
    "run_time",
    [((331, 100, 250), 1.32)],
    absolute=0.005,
)
add(
    "constant-current time",
    "online-tools-battery.pages.dev: 80 % of 5 A·h at 2.5 A 96 min",
    "second hand",
    "constant_current_time",
    [((5, 2.5, 0, 80, 1.0), 96 / 60)],
    relative=1e-9,
)


def _taper_hours(missing_ah: float, current_a: float, cut_off_a: float) -> float:
    """Find by bisection the time constant whose exponential, integrated by scipy, delivers the charge."""
    low, high = 1e-6, 1e4
    for _ in range(200):
        tau = math.sqrt(low * high)
        end = tau * math.log(current_a / cut_off_a)
        delivered, _error = quad(lambda t, tau=tau: current_a * math.exp(-t / tau), 0.0, end)
        low, high = (tau, high) if delivered < missing_ah else (low, tau)
    return end


add(
    "taper time",
    "scipy.integrate.quad over the exponential current",
    "library",
    "taper_time",
    [((1, 2.5, 0.25), _taper_hours(1, 2.5, 0.25)), ((20, 30, 5), _taper_hours(20, 30, 5))],
    relative=1e-6,
)
add(
    "whole charge",
    "96 min of the page above and the integrated taper",
    "library",
    "charge_time",
    [((5, 2.5, 0, 80, 0.25, 1.0), 1.6 + _taper_hours(1, 2.5, 0.25))],
    relative=1e-6,
)
_BCI = "Battery Council International table at 80 °F: studylib.net 18054160, discoverbattery.com"
_80_F = (80 - 32) / 1.8
add(
    "lead-acid rest voltage",
    _BCI,
    "second hand",
    "lead_acid_state",
    [
        ((volts, 6, _80_F), state)
        for volts, state in ((12.65, 100.0), (12.45, 75.0), (12.24, 50.0), (12.06, 25.0), (11.89, 0.0))
    ],
    absolute=0.01,
)
add(
    "lead-acid rest voltage, colder",
    "discoverbattery.com: subtract 0.024 V at 70 °F, 0.096 V at 40 °F",
    "second hand",
    "lead_acid_state",
    [((12.45 + 0.024, 6, (70 - 32) / 1.8), 75.0), ((12.24 + 0.096, 6, (40 - 32) / 1.8), 50.0)],
    absolute=0.01,
)


def _band_holds(cell_volts: float, state: float) -> bool:
    low, high = (TRADE_FUNCTIONS[f"lifepo4_state_{end}"](cell_volts) for end in ("low", "high"))
    return float(low) <= state <= float(high)


for _function in ("lifepo4_state_low", "lifepo4_state_high"):
    for _volts, _state in (
        (3.45, 95.0),
        (3.40, 95.0),
        (3.40, 90.0),
        (3.35, 85.0),
        (3.35, 90.0),
        (3.30, 75.0),
        (3.30, 80.0),
        (3.20, 50.0),
        (3.10, 25.0),
        (3.10, 30.0),
        (2.90, 10.0),
    ):
        CHECKS.append(
            OutsideCheck(
                "LiFePO4 rest voltage",
                _function,
                (),
                True,
                "the points of two tables that disagree lie in our band: "
                "bestlifepo4batteries.co.uk, lifepo4batteryhq.com",
                "second hand",
                other_call=lambda volts=_volts, state=_state: _band_holds(volts, state),
            )
        )

# ---------------------------------------------------------------- capacitors


def _rc_voltage(resistance: float, capacitance: float, start: float, supply: float, seconds: float) -> float:
    """The capacitor's voltage from its differential equation, by scipy."""
    solved = solve_ivp(
        lambda _t, u: (supply - u) / (resistance * capacitance),
        (0.0, seconds),
        [start],
        rtol=1e-10,
        atol=1e-12,
    )
    return float(solved.y[0][-1])


add(
    "time constant",
    "systemy-medyczne.pl: 50 ohm and 160 uF 8 ms",
    "second hand",
    "time_constant",
    [((50, 160), 0.008)],
    relative=1e-9,
)
add(
    "pre-charge time",
    "systemy-medyczne.pl: charged after 5 time constants, 40 ms",
    "second hand",
    "precharge_time",
    [((50, 160, 100 * (1 - math.exp(-5))), 0.040)],
    relative=1e-6,
)
add(
    "pre-charged share",
    "63.2 % after one time constant (systemy-medyczne.pl); 95.02, 99.33 % after 3 and 5",
    "second hand",
    "precharged_share",
    [((50, 160, 0.008), 63.2), ((50, 160, 0.024), 95.02), ((50, 160, 0.040), 99.33)],
    absolute=0.02,
)
add(
    "pre-charged share, library",
    "scipy.integrate.solve_ivp, 50 ohm, 4700 uF, 0.3 s",
    "library",
    "precharged_share",
    [((50, 4700, 0.3), 100 * _rc_voltage(50, 4.7e-3, 0.0, 1.0, 0.3))],
    relative=1e-7,
)
add(
    "discharge time",
    "exercise at systemy-medyczne.pl (5 ms, from 100 V to 56, 32, 10 V), answers 2.9, 5.7, 11.5 ms",
    "by hand",
    "discharge_time",
    [((1000, 5, 100, 56), 0.0029), ((1000, 5, 100, 32), 0.0057), ((1000, 5, 100, 10), 0.0115)],
    absolute=0.00005,
)
add(
    "discharge time, library",
    "scipy.integrate.solve_ivp: the voltage at our time is 5 V",
    "library",
    "discharge_time",
    [((2200, 10000, 58.4, _rc_voltage(2200, 0.01, 58.4, 0.0, 54.0)), 54.0)],
    relative=1e-6,
)
add(
    "stored energy",
    "mexle.org: 1 uF at 447.2 V holds 0.1 J",
    "second hand",
    "stored_energy",
    [((1, 447.2), 0.1)],
    relative=0.0005,
)
add(
    "inrush current",
    "mexle.org: 447.2 V and at most 100 mA, so 4472 ohm",
    "second hand",
    "inrush_current",
    [((447.2, 4472), 0.1)],
    relative=1e-9,
)
add(
    "pre-charge resistor",
    "the 50 ohm example backwards",
    "second hand",
    "precharge_resistor",
    [((160, 100 * (1 - math.exp(-5)), 0.040), 50.0)],
    relative=1e-6,
)

# ---------------------------------------------------------------- bus


def _parallel(ohms: list[float]) -> float:
    """Resistance between two nodes by nodal analysis: 1 A in, read the voltage."""
    conductance = np.array([[sum(1.0 / one for one in ohms)]])
    return float(np.linalg.solve(conductance, np.array([1.0]))[0])


add(
    "terminators, resistance",
    "60 ohm with two, 120 with one (service manuals of 2008 and 2009), 40 with three (obd-cable.com)",
    "second hand",
    "termination_resistance",
    [((2,), 60.0), ((1,), 120.0), ((3,), 40.0)],
    relative=1e-9,
)
add(
    "terminators, library",
    "numpy.linalg.solve on four 120 ohm resistors",
    "library",
    "termination_resistance",
    [((4,), _parallel([120.0] * 4))],
    relative=1e-9,
)
add(
    "terminators counted",
    "obd-cable.com: 0 to 5 short, 40 three, 60 right, 120 one missing; over 10 kohm open",
    "second hand",
    "terminators_fitted",
    [((60,), 2), ((120,), 1), ((40,), 3), ((0.5,), -1), ((10000,), 0)],
)
add(
    "terminators right",
    "autodtcs.com: 54 to 66 ohm is normal",
    "second hand",
    "termination_is_right",
    [((54,), True), ((66,), True), ((53.5,), False), ((120,), False)],
)
add(
    "terminators, finding",
    "obd-cable.com: about 120 ohm is one terminator missing",
    "second hand",
    "termination_finding",
    [((119.0,), "One terminator is missing, or a wire to it is broken.")],
)

# ---------------------------------------------------------------- wheels
add(
    "tyre diameter",
    "superglobalcalculator.com: 265/70R17 31.6 in (its worked line adds up to 31.57 by a slip), 285/75R17 "
    "33.8 in; qammunity.org: 205/75R14 26.10, "
    "185/75R14 24.92 in",
    "second hand",
    "tyre_diameter",
    [
        ((265, 70, 17), 31.6 * INCH),
        ((285, 75, 17), 33.8 * INCH),
        ((205, 75, 14), 26.10 * INCH),
        ((185, 75, 14), 24.92 * INCH),
    ],
    absolute=0.05 * INCH,
)
add(
    "rolling circumference",
    "qammunity.org: 26.10 in tyre 82 in round; 3.1 % less loaded (tigersunited.com)",
    "second hand",
    "rolling_circumference",
    [((26.10 * INCH, 0), 82 * 0.0254), ((26.10 * INCH, 3.1), 82 * 0.0254 * 0.969)],
    relative=0.001,
)
add(
    "revolutions",
    "ecomodder.com: 27.52 in tyre 733.33 a mile",
    "second hand",
    "revolutions",
    [((1609.344, math.pi * 27.52 * 0.0254), 733.33)],
    relative=0.001,
)
_MPH = 1.609344
add(
    "ground speed",
    "youcanic.com: 3000 r/min, 3.73, 28 in 67 mph, 26 in 62 mph",
    "second hand",
    "ground_speed",
    [((3000, 3.73, math.pi * 28 * 0.0254), 67 * _MPH), ((3000, 3.73, math.pi * 26 * 0.0254), 62 * _MPH)],
    relative=0.005,
)
add(
    "motor speed",
    "the youcanic.com example backwards",
    "second hand",
    "motor_speed",
    [((67 * _MPH, 3.73, math.pi * 28 * 0.0254), 3000.0)],
    relative=0.002,
)
add(
    "reading correction",
    "60 shown is 64 (superglobalcalculator.com), 66 (youcanic.com), 63 (qammunity.org)",
    "second hand",
    "reading_correction",
    [
        ((31.6 * INCH, 33.8 * INCH, 3.55, 3.55), 64 / 60),
        ((28 * INCH, 31 * INCH, 3.73, 3.73), 66 / 60),
        ((24.92 * INCH, 26.10 * INCH, 3.0, 3.0), 63 / 60),
    ],
    relative=0.008,
)
add(
    "reading correction, ratio",
    "superglobalcalculator.com: 3.55 to 4.10 changes the reading by about 13 %",
    "second hand",
    "reading_correction",
    [((700, 700, 3.55, 4.10), 1 - 0.13)],
    relative=0.01,
)

# ---------------------------------------------------------------- stacking, lifting, insulation
add(
    "load on the lowest",
    "packtest.com: 10 cartons of 20 kg press with 180 kg",
    "second hand",
    "load_on_lowest",
    [((10, 20), 180.0)],
    relative=1e-9,
)
add(
    "most tiers",
    "packtest.com: 10 cartons of 20 kg need 180 kg times the safety factor",
    "second hand",
    "most_tiers",
    [((20, 180 * 3, 3), 10), ((20, 180 * 3 - 1, 3), 9), ((20, 0, 3), 1)],
)
add(
    "tipping angle",
    "centre as high as half the base is wide: 45°",
    "by hand",
    "tipping_angle",
    [((800, 400), 45.0)],
    relative=1e-9,
)
add(
    "slender stack",
    "height to base 3:1, interlocked 4:1 (ehsdailyadvisor.blr.com)",
    "second hand",
    "is_slender",
    [((2400, 800, False), False), ((2401, 800, False), True), ((3000, 800, True), False)],
)
add(
    "weight limit",
    "homeworksource.com 1089113: H 25, V 55, D 95 cm, 3 a minute for 45 min, fair: 15.7 kg",
    "second hand",
    "recommended_weight_limit",
    [((25, 55, 95, 0, 3, 0.75, "fair"), 15.7)],
    absolute=0.05,
)
add(
    "lifting index",
    "homeworksource.com 1089113: 12 kg of 15.72 kg is 0.76",
    "second hand",
    "lifting_index",
    [((12, 15.72), 0.76)],
    absolute=0.004,
)


def _us_limit(reach: float, height: float, travel: float, rate: float, hours: float, start: float) -> float:
    limit = recommended_weight_limit(
        quantity(reach, "in"),
        quantity(height, "in"),
        quantity(travel, "in"),
        quantity(0, "degree"),
        rate,
        quantity(hours, "hour"),
        "fair",
        start_height=quantity(start, "in"),
        constants="us",
    )
    return float(limit.m_as("lb"))


_NIOSH = (
    "NIOSH 94-110 (2021) Example 4, Package Inspection, page 46 (transcription read in a public repository)"
)
CHECKS.append(
    OutsideCheck(
        "weight limit, NIOSH example, start",
        "recommended_weight_limit",
        (),
        34.8,
        _NIOSH + ": 34.9 lb with rounded multipliers, 34.8 in full",
        "second hand",
        absolute=0.05,
        other_call=lambda: _us_limit(10, 22, 37, 3, 0.75, 22),
    )
)
CHECKS.append(
    OutsideCheck(
        "weight limit, NIOSH example, end",
        "recommended_weight_limit",
        (),
        15.3,
        _NIOSH + ": 15.2 lb with rounded multipliers, 15.3 in full",
        "second hand",
        absolute=0.05,
        other_call=lambda: _us_limit(20, 59, 37, 3, 0.75, 22),
    )
)
CHECKS.append(
    OutsideCheck(
        "weight limit without rate",
        "recommended_weight_limit",
        (),
        18.4,
        "wizedu.com 203981: H 20, V 6, D 16 in, fair: 18.4 lb with rounded multipliers",
        "second hand",
        absolute=0.15,
        other_call=lambda: _us_limit(20, 6, 16, 0.2, 0.5, 6),
    )
)
add(
    "smallest insulation, road",
    "UN Regulation 100, 5.1.3.1: 100 ohm/V direct, 500 ohm/V alternating (lawinsider.com)",
    "second hand",
    "smallest_insulation",
    [((400, "road vehicle dc"), 40_000.0), ((400, "road vehicle ac"), 200_000.0)],
    relative=1e-12,
)
add(
    "smallest insulation, trucks",
    "EN 1175 in a truck maker's manual of 2017 (manualslib.fr): 24, 48, 80 V: 24, 48, "
    "80 kohm; battery 1.2, 2.4, 4 kohm",
    "second hand",
    "smallest_insulation",
    [((volts, "truck"), volts * 1000.0) for volts in (24.0, 48.0, 80.0)]
    + [((24, "truck battery"), 1200.0), ((48, "truck battery"), 2400.0), ((80, "truck battery"), 4000.0)],
    relative=1e-12,
)


def _pole_to_chassis(pack: float, positive: float, negative: float, extra: float | None) -> float:
    """Voltage from the negative pole to chassis by nodal analysis of the two insulation resistances."""
    to_negative = 1.0 / negative + (1.0 / extra if extra else 0.0)
    chassis = np.linalg.solve(np.array([[1.0 / positive + to_negative]]), np.array([pack / positive]))
    return float(chassis[0])


add(
    "insulation from two readings",
    "numpy.linalg.solve: 48 V pack, 90 and 200 kohm to chassis, known 50 kohm",
    "library",
    "insulation_from_voltages",
    [((48, _pole_to_chassis(48, 90e3, 200e3, None), _pole_to_chassis(48, 90e3, 200e3, 50e3), 50e3), 90e3)],
    relative=1e-9,
)
