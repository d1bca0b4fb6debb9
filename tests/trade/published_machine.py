"""Published values for bus termination, wheels, stacking, lifting and insulation."""

from __future__ import annotations

import math
from functools import partial

import numpy as np

from sayso.trade.lifting import recommended_weight_limit
from sayso.trade.units import quantity
from tests.trade.conversions import INCH
from tests.trade.outside_check import OutsideCheck, add_rows

CHECKS: list[OutsideCheck] = []
add = partial(add_rows, CHECKS)

# fmt: off
# The rows are laid out by hand: one value a line would make this table four times as long.

# bus


def _parallel(ohms: list[float]) -> float:
    """Resistance between two nodes by nodal analysis: 1 A in, read the voltage."""
    conductance = np.array([[sum(1.0 / one for one in ohms)]])
    return float(np.linalg.solve(conductance, np.array([1.0]))[0])


add("terminators, resistance",
    "60 ohm with two, 120 with one (service manuals of 2008 and 2009), 40 with three " "(obd-cable.com)",
    "second hand", "termination_resistance", [((2,), 60.0), ((1,), 120.0), ((3,), 40.0)], relative=1e-09)
add("terminators, library", "numpy.linalg.solve on four 120 ohm resistors", "library",
    "termination_resistance", [((4,), _parallel([120.0] * 4))], relative=1e-09)
add("terminators counted",
    "obd-cable.com: 0 to 5 short, 40 three, 60 right, 120 one missing; over 10 kohm open", "second hand",
    "terminators_fitted", [((60,), 2), ((120,), 1), ((40,), 3), ((0.5,), -1), ((10000,), 0)])
add("terminators right", "autodtcs.com: 54 to 66 ohm is normal", "second hand", "termination_is_right", [
    ((54,), True), ((66,), True), ((53.5,), False), ((120,), False)])
add("terminators, finding", "obd-cable.com: about 120 ohm is one terminator missing", "second hand",
    "termination_finding", [((119.0,), "One terminator is missing, or a wire to it is broken.")])

# wheels
add("tyre diameter",
    "superglobalcalculator.com: 265/70R17 31.6 in (its worked line adds up to 31.57 by a "
    "slip), 285/75R17 33.8 in; qammunity.org: 205/75R14 26.10, 185/75R14 24.92 in", "second hand",
    "tyre_diameter", [((265, 70, 17), 31.6 * INCH), ((285, 75, 17), 33.8 * INCH),
    ((205, 75, 14), 26.1 * INCH), ((185, 75, 14), 24.92 * INCH)], absolute=0.05 * INCH)
add("rolling circumference",
    "qammunity.org: 26.10 in tyre 82 in round; 3.1 % less loaded (tigersunited.com)", "second hand",
    "rolling_circumference", [((26.1 * INCH, 0), 82 * 0.0254), ((26.1 * INCH, 3.1), 82 * 0.0254 * 0.969)],
    relative=0.001)
add("revolutions", "ecomodder.com: 27.52 in tyre 733.33 a mile", "second hand", "revolutions", [
    ((1609.344, math.pi * 27.52 * 0.0254), 733.33)], relative=0.001)
_MPH = 1.609344
add("ground speed", "youcanic.com: 3000 r/min, 3.73, 28 in 67 mph, 26 in 62 mph", "second hand",
    "ground_speed", [((3000, 3.73, math.pi * 28 * 0.0254), 67 * _MPH),
    ((3000, 3.73, math.pi * 26 * 0.0254), 62 * _MPH)], relative=0.005)
add("motor speed", "the youcanic.com example backwards", "second hand", "motor_speed", [
    ((67 * _MPH, 3.73, math.pi * 28 * 0.0254), 3000.0)], relative=0.002)
add("reading correction",
    "60 shown is 64 (superglobalcalculator.com), 66 (youcanic.com), 63 (qammunity.org)", "second hand",
    "reading_correction", [((31.6 * INCH, 33.8 * INCH, 3.55, 3.55), 64 / 60),
    ((28 * INCH, 31 * INCH, 3.73, 3.73), 66 / 60), ((24.92 * INCH, 26.1 * INCH, 3.0, 3.0), 63 / 60)],
    relative=0.008)
add("reading correction, ratio",
    "superglobalcalculator.com: 3.55 to 4.10 changes the reading by about 13 %", "second hand",
    "reading_correction", [((700, 700, 3.55, 4.1), 1 - 0.13)], relative=0.01)

# stacking, lifting, insulation
add("load on the lowest", "packtest.com: 10 cartons of 20 kg press with 180 kg", "second hand",
    "load_on_lowest", [((10, 20), 180.0)], relative=1e-09)
add("most tiers", "packtest.com: 10 cartons of 20 kg need 180 kg times the safety factor", "second hand",
    "most_tiers", [((20, 180 * 3, 3), 10), ((20, 180 * 3 - 1, 3), 9), ((20, 0, 3), 1)])
add("tipping angle", "centre as high as half the base is wide: 45°", "by hand", "tipping_angle", [
    ((800, 400), 45.0)], relative=1e-09)
add("slender stack", "height to base 3:1, interlocked 4:1 (ehsdailyadvisor.blr.com)", "second hand",
    "is_slender", [((2400, 800, False), False), ((2401, 800, False), True), ((3000, 800, True), False)])
add("weight limit",
    "homeworksource.com 1089113: H 25, V 55, D 95 cm, 3 a minute for 45 min, fair: 15.7 kg",
    "second hand", "recommended_weight_limit", [((25, 55, 95, 0, 3, 0.75, "fair"), 15.7)], absolute=0.05)
add("lifting index", "homeworksource.com 1089113: 12 kg of 15.72 kg is 0.76", "second hand",
    "lifting_index", [((12, 15.72), 0.76)], absolute=0.004)


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


_NIOSH = "NIOSH 94-110 (2021) Example 4, page 46 (transcription read in a public repository)"
CHECKS.append(OutsideCheck("weight limit, NIOSH example, start", "recommended_weight_limit", (), 34.8,
    _NIOSH + ": 34.9 lb with rounded multipliers, 34.8 in full", "second hand", absolute=0.05,
    other_call=lambda: _us_limit(10, 22, 37, 3, 0.75, 22)))
CHECKS.append(OutsideCheck("weight limit, NIOSH example, end", "recommended_weight_limit", (), 15.3,
    _NIOSH + ": 15.2 lb with rounded multipliers, 15.3 in full (reach 20 in from memory)", "second hand",
    absolute=0.05,
    other_call=lambda: _us_limit(20, 59, 37, 3, 0.75, 22)))
_PRESS = "NIOSH 94-110 Example 1, punch press stock, with the table's HM .44 for 23 in (formula .435)"
CHECKS.append(OutsideCheck("weight limit, NIOSH example 1, start", "recommended_weight_limit", (), 16.3,
    _PRESS, "from memory", relative=0.02, other_call=lambda: _us_limit(23, 15, 48, 0.2, 0.5, 15)))
CHECKS.append(OutsideCheck("weight limit, NIOSH example 1, end", "recommended_weight_limit", (), 14.5,
    _PRESS, "from memory", relative=0.02, other_call=lambda: _us_limit(23, 63, 48, 0.2, 0.5, 15)))
CHECKS.append(OutsideCheck("weight limit without rate", "recommended_weight_limit", (), 18.4,
    "wizedu.com 203981: H 20, V 6, D 16 in, fair: 18.4 lb with rounded multipliers", "second hand",
    absolute=0.15, other_call=lambda: _us_limit(20, 6, 16, 0.2, 0.5, 6)))
add("smallest insulation, road",
    "UN Regulation 100, 5.1.3.1: 100 ohm/V direct, 500 ohm/V alternating (lawinsider.com)", "second hand",
    "smallest_insulation", [((400, "road vehicle dc"), 40000.0), ((400, "road vehicle ac"), 200000.0)],
    relative=1e-12)
add("smallest insulation, trucks",
    "EN 1175 in a truck maker's manual of 2017 (manualslib.fr): 24, 48, 80 V: 24, 48, 80 "
    "kohm; battery 1.2, 2.4, 4 kohm", "second hand", "smallest_insulation", [
    ((volts, "truck"), volts * 1000.0) for volts in (24.0, 48.0, 80.0)] + [
    ((24, "truck battery"), 1200.0), ((48, "truck battery"), 2400.0), ((80, "truck battery"), 4000.0)],
    relative=1e-12)


def _pole_to_chassis(pack: float, positive: float, negative: float, extra: float | None) -> float:
    """Voltage from the negative pole to chassis by nodal analysis of the two insulation resistances."""
    to_negative = 1.0 / negative + (1.0 / extra if extra else 0.0)
    chassis = np.linalg.solve(np.array([[1.0 / positive + to_negative]]), np.array([pack / positive]))
    return float(chassis[0])


add("insulation from two readings",
    "numpy.linalg.solve: 48 V pack, 90 and 200 kohm to chassis, known 50 kohm", "library",
    "insulation_from_voltages", [((48, _pole_to_chassis(48, 90000.0, 200000.0, None),
    _pole_to_chassis(48, 90000.0, 200000.0, 50000.0), 50000.0), 90000.0)], relative=1e-09)
