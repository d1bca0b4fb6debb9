"""Published values for torque, adapters, threads and bolts."""

from __future__ import annotations

from functools import partial

import fluids.constants
import scipy.constants as si

from tests.trade.conversions import LBF, LBF_FT, SQUARE_INCH
from tests.trade.outside_check import OutsideCheck, add_rows

CHECKS: list[OutsideCheck] = []
add = partial(add_rows, CHECKS)

# fmt: off
# The rows are laid out by hand: one value a line would make this table four times as long.

# torque units
add("torque units", "scipy.constants: lbf·foot, lbf·inch, g·m, oz·g·inch", "library", "torque_from", [
    ((1, "lbf.ft"), si.lbf * si.foot), ((1, "lbf.in"), si.lbf * si.inch), ((1, "kgf.m"), si.g),
    ((1, "kgf.cm"), si.g / 100), ((1, "ozf.in"), si.oz * si.g * si.inch)], relative=1e-12)
add("torque units, second library", "fluids.constants: lbf·foot", "library", "torque_from", [
    ((80, "lbf.ft"), 80 * fluids.constants.lbf * fluids.constants.foot)], relative=1e-12)
add("torque units, printed", "NIST SP 811 appendix B: 1.355 818, 0.112 984 8, 9.806 65", "from memory",
    "torque_from", [((1, "lbf.ft"), 1.355818), ((1, "lbf.in"), 0.1129848), ((1, "kgf.m"), 9.80665)],
    relative=5e-07)
add("torque in the wrench's unit", "reciprocals of NIST SP 811: 0.737 562 1, 8.850 745", "from memory",
    "torque_in", [((1, "lbf.ft"), 0.7375621), ((1, "lbf.in"), 8.850745)], relative=1e-06)
add("torque band", "9 N·m within 10 % is 8.1 to 9.9", "by hand", "torque_low", [((9, 10), 8.1)],
    relative=1e-12)
add("torque band", "9 N·m within 10 % is 8.1 to 9.9", "by hand", "torque_high", [((9, 10), 9.9)],
    relative=1e-12)
add("torque inside its band", "80 lbf·in is 9.04 N·m, 90 lbf·in is 10.17 N·m; band 8.1 to 9.9", "by hand",
    "torque_is_within", [((80 * LBF * 0.0254, 9, 10), True), ((90 * LBF * 0.0254, 9, 10), False)])
add("nearest mark", "9 N·m is 79.66 lbf·in: mark 80 on a scale of 5", "by hand", "nearest_mark", [
    ((9, "lbf.in", 5), 80.0), ((9, "lbf.ft", 1), 7.0)], absolute=1e-09)
add("wrench range", "a tool's range starts at its lowest mark: ISO 6789:2017, norbar.com articles 67, 68",
    "second hand", "wrench_covers", [((9, 10, 50), False), ((10, 10, 50), True), ((51, 10, 50), False)])

# adapters
add("adapter, setting", "agentcalc.com: 80 N·m, 40 cm, 5 cm straight: 71.1; at 90°: 80", "second hand",
    "adapter_setting", [((80, 400, 50, 0), 71.1), ((80, 400, 50, 90), 80.0)], absolute=0.05)
add("adapter, angle table", "cal11.calculator.city: 100 lbf·ft, 18 in, 3 in: 85.71, 89.46, 100.00",
    "second hand", "adapter_setting", [((100, 457.2, 76.2, 0), 85.71), ((100, 457.2, 76.2, 45), 89.46),
    ((100, 457.2, 76.2, 90), 100.0)], absolute=0.005)
add("adapter, torque at the fastener",
    "toolcroze.com: E/L = 0.25 at 75°, 80°, 85°, 95°, 100°: +6.5, +4.3, +2.2, -2.2, -4.3 %",
    "second hand", "torque_with_adapter", [((100, 400, 100, angle), 100 + change) for angle,
    change in ((75, 6.5), (80, 4.3), (85, 2.2), (90, 0.0), (95, -2.2), (100, -4.3))], absolute=0.05)

# threads and bolts
add("stress area, metric coarse", "EN ISO 898-1 table at usefastener.com", "second hand", "stress_area", [
    (("M3",), 5.03), (("M4",), 8.78), (("M5",), 14.2), (("M6",), 20.1), (("M8",), 36.6), (("M10",), 58.0),
    (("M12",), 84.3), (("M14",), 115.0), (("M16",), 157.0), (("M18",), 192.0), (("M20",), 245.0),
    (("M22",), 303.0), (("M24",), 353.0)], relative=0.004)
add("stress area, unified", "mwcomponents.com table (square inches)", "second hand", "stress_area", [
    (("1/4-20",), 0.0318 * SQUARE_INCH), (("1/4-28",), 0.03637 * SQUARE_INCH),
    (("5/16-18",), 0.0524 * SQUARE_INCH), (("5/16-24",), 0.058 * SQUARE_INCH),
    (("3/8-16",), 0.0775 * SQUARE_INCH), (("3/8-24",), 0.0878 * SQUARE_INCH),
    (("7/16-14",), 0.1063 * SQUARE_INCH), (("7/16-20",), 0.1187 * SQUARE_INCH)], relative=0.0015)
_PROOF_N = {"M3": (1910, 2920, 4180, 4880), "M4": (3340, 5100, 7290, 8520), "M5": (5400, 8230, 11800,
    13800), "M6": (7640, 11600, 16700, 19500), "M8": (13900, 21200, 30400, 35500), "M10": (22000, 33700,
    48100, 56300), "M12": (32000, 48900, 70000, 81800), "M14": (43700, 66700, 95500, 112000),
    "M16": (59700, 91000, 130000, 152000), "M18": (73000, 115000, 159000, 186000), "M20": (93100, 147000,
    203000, 238000), "M22": (115000, 182000, 252000, 294000), "M24": (134000, 212000, 293000, 342000)}
add("proof load, 5.8 to 12.9", "EN ISO 898-1 table at staging2.optimas.com; slsbearings.com the same",
    "second hand", "proof_load", [((size, grade), newtons / 1000.0) for size, row in _PROOF_N.items()
    for grade, newtons in zip(("5.8", "8.8", "10.9", "12.9"), row, strict=True)], relative=0.007)
_CLAMP_LBF = {"1/4-20": (1313, 2029, 2864), "5/16-18": (2163, 3342, 4719), "3/8-16": (3196, 4940, 6974),
    "7/16-14": (4385, 6777, 9568), "1/2-13": (5853, 9046, 12771), "5/8-11": (9323, 14408, 20340),
    "3/4-10": (13797, 21322, 30101), "1/4-28": (1500, 2319, 3274), "5/16-24": (2395, 3702, 5226),
    "3/8-24": (3623, 5599, 7905), "7/16-20": (4897, 7568, 10684), "1/2-20": (6598, 10197, 14396),
    "5/8-18": (10558, 16317, 23036), "3/4-16": (15385, 23776, 33566)}
add("preload at 75 % of proof", "SAE J429 chart at engineersedge.com (lbf)", "second hand", "preload", [
    ((size, grade, 75), force * LBF / 1000.0) for size, row in _CLAMP_LBF.items() for grade,
    force in zip(("SAE 2", "SAE 5", "SAE 8"), row, strict=True)], relative=0.0005)
add("torque by factor K",
    "SAE J429 chart at engineersedge.com: 1/2-13 grade 5 (K 0.15, 0.18, 0.20), 5/8-18 "
    "grade 8, 1/4-20 grade 5 (in·lbf)", "second hand", "torque_by_factor", [
    (("1/2-13", 9046 * LBF / 1000, 0.15), 57 * LBF_FT),
    (("1/2-13", 9046 * LBF / 1000, 0.18), 68 * LBF_FT), (("1/2-13", 9046 * LBF / 1000, 0.2), 75 * LBF_FT),
    (("5/8-18", 23036 * LBF / 1000, 0.2), 240 * LBF_FT),
    (("1/4-20", 2029 * LBF / 1000, 0.2), 101 * LBF_FT / 12)], relative=0.009)
add("torque by factor K, second chart",
    "coxhardware.com: grade 2 dry: 3/8-16 20, 1/2-13 48.8, 3/4-10 172 lbf·ft", "second hand",
    "torque_by_factor", [(("3/8-16", 3197 * LBF / 1000, 0.2), 20 * LBF_FT),
    (("1/2-13", 5853 * LBF / 1000, 0.2), 48.8 * LBF_FT),
    (("3/4-10", 13778 * LBF / 1000, 0.2), 172 * LBF_FT)], relative=0.003)
add("preload by factor K", "SAE J429 chart at engineersedge.com, read backwards: 1/2-13 grade 8",
    "second hand", "preload_by_factor", [(("1/2-13", 106 * LBF_FT, 0.2), 12771 * LBF / 1000)],
    relative=0.005)
# VDI 2230 (2001) table for fine threads at 90 % of Rp0.2: friction -> preloads in kN and torques in N·m for
# classes 8.8, 10.9 and 12.9.
_VDI_FINE: dict[str, dict[float, tuple[tuple[float, ...], tuple[float, ...]]]] = {
    "M8x1": {0.1: ((20.7, 30.4, 35.6), (22.8, 33.5, 39.2)),
    0.12: ((20.2, 29.7, 34.7), (26.1, 38.3, 44.9)), 0.14: ((19.7, 28.9, 33.9), (29.2, 42.8, 50.1))},
    "M10x1.25": {0.1: ((32.4, 47.5, 55.6), (44, 65, 76)), 0.12: ((31.6, 46.4, 54.3), (51, 75, 87)),
    0.14: ((30.8, 45.2, 52.9), (57, 83, 98))}, "M12x1.25": {0.1: ((49.1, 72.1, 84.4), (79, 116, 135)),
    0.12: ((48.0, 70.5, 82.5), (90, 133, 155)), 0.14: ((46.8, 68.7, 80.4), (101, 149, 174))},
    "M14x1.5": {0.1: ((66.4, 97.5, 114.1), (124, 182, 213)), 0.12: ((64.8, 95.2, 111.4), (142, 209, 244)),
    0.14: ((63.2, 92.9, 108.7), (159, 234, 274))},
    "M16x1.5": {0.1: ((89.6, 131.6, 154.0), (189, 278, 325)),
    0.12: ((87.6, 128.7, 150.6), (218, 320, 374)), 0.14: ((85.5, 125.5, 146.9), (244, 359, 420))},
    "M18x1.5": {0.1: ((120, 171, 200), (283, 403, 472)), 0.12: ((117, 167, 196), (327, 465, 544)),
    0.14: ((115, 163, 191), (368, 523, 613))}, "M20x1.5": {0.1: ((151, 215, 252), (392, 558, 653)),
    0.12: ((148, 211, 246), (454, 646, 756)), 0.14: ((144, 206, 241), (511, 728, 852))},
    "M22x1.5": {0.1: ((186, 264, 309), (529, 754, 882)), 0.12: ((182, 259, 303), (613, 873, 1022)),
    0.14: ((178, 253, 296), (692, 985, 1153))}, "M24x2": {0.1: ((213, 304, 355), (666, 949, 1110)),
    0.12: ((209, 297, 348), (769, 1095, 1282)), 0.14: ((204, 290, 339), (865, 1232, 1442))}}
_VDI_ROWS = [(size, grade, friction, forces[column], torques[column]) for size,
    by_friction in _VDI_FINE.items() for friction, (forces, torques) in by_friction.items() for column,
    grade in enumerate(("8.8", "10.9", "12.9"))]
_VDI = "VDI 2230 (2001) fine threads, 90 % of Rp0.2, at mastik.pt page 685"
add("preload at 90 % of yield", _VDI, "second hand", "preload_at_yield_share", [
    ((size, grade, 90, friction), force) for size, grade, friction, force, _ in _VDI_ROWS],
    relative=0.004)
add("torque at 90 % of yield", _VDI, "second hand", "torque_at_yield_share", [
    ((size, grade, 90, friction), torque) for size, grade, friction, _, torque in _VDI_ROWS],
    relative=0.011)
add("torque by friction", _VDI + ", torque from the printed preload", "second hand", "torque_by_friction",
    [((size, force, friction, friction), torque) for size, _, friction, force, torque in _VDI_ROWS],
    relative=0.011)
add("torque at 90 % of yield, coarse",
    "VDI 2230 (2003) coarse threads 8.8, friction 0.12: M6 10.1, M8 24.6, M10 48, M12 "
    "84, M16 206, M20 415", "from memory", "torque_at_yield_share", [((size, "8.8", 90, 0.12), torque)
    for size, torque in (("M6", 10.1), ("M8", 24.6), ("M10", 48.0), ("M12", 84.0), ("M16", 206.0),
    ("M20", 415.0))], relative=0.01)
add("torque at 90 % of yield, older edition",
    "plant maker's manual (page 99 of a copy), DIN 13 coarse, 8.8, friction 0.14: an "
    "older edition gives about 9 % less than VDI 2230 (2001) and than ours", "second hand",
    "torque_at_yield_share", [((size, "8.8", 90, 0.14), torque) for size, torque in (("M8", 25.0),
    ("M10", 49.0), ("M12", 85.0), ("M16", 210.0), ("M20", 425.0), ("M24", 730.0))], relative=0.1)
