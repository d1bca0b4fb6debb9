"""Published values for battery packs and capacitors."""

from __future__ import annotations

import math
from functools import partial

from scipy.integrate import quad, solve_ivp

from sayso.trade import TRADE_FUNCTIONS
from tests.trade.outside_check import OutsideCheck, add_rows

CHECKS: list[OutsideCheck] = []
add = partial(add_rows, CHECKS)

# fmt: off
# The rows are laid out by hand: one value a line would make this table four times as long.

# packs
add("pack voltages, LiFePO4", "bestlifepo4batteries.co.uk: 4, 8, 16 cells 12.8, 25.6, 51.2 V nominal",
    "second hand", "nominal_voltage", [(("LiFePO4", 4), 12.8), (("LiFePO4", 8), 25.6),
    (("LiFePO4", 16), 51.2)], relative=1e-09)
add("pack voltages, LiFePO4 full", "bestlifepo4batteries.co.uk: 14.6, 29.2, 58.4 V", "second hand",
    "full_voltage", [(("LiFePO4", 4), 14.6), (("LiFePO4", 8), 29.2), (("LiFePO4", 16), 58.4)],
    relative=1e-09)
add("pack voltages, LiFePO4 empty", "bestlifepo4batteries.co.uk: from 10.0, 20.0, 40.0 V", "second hand",
    "empty_voltage", [(("LiFePO4", 4), 10.0), (("LiFePO4", 8), 20.0), (("LiFePO4", 16), 40.0)],
    relative=1e-09)
add("pack voltages, lead-acid", "studylib.net 18054160: 1.75 V per cell at nothing", "second hand",
    "empty_voltage", [(("lead-acid", 6), 10.5)], relative=1e-09)
add("too cold to charge", "no charging of LiFePO4 below 0 °C: classcycles.fr, atoallinks.com",
    "second hand", "may_be_charged_at", [(("LiFePO4", -1), False), (("LiFePO4", 1), True)])
add("series voltage", "codingace.net: 13 of 3.7 V are 48.1 V; vppowerbattery.com: 4 of 12.8 V are 51.2 V",
    "second hand", "pack_voltage", [((3.7, 13), 48.1), ((12.8, 4), 51.2)], relative=1e-09)
add("parallel capacity", "schneider-electric.us FA229757: 6 of 120 A·h 720 A·h, 3 strings 360 A·h; "
    "codingace.net 10.4 A·h", "second hand", "pack_capacity", [((120, 6), 720.0), ((120, 3), 360.0),
    ((2.6, 4), 10.4)], relative=1e-09)
add("pack energy",
    "vppowerbattery.com: 4S4P of 12.8 V 100 A·h 20.48 kW·h; calculator.city: 2S2P 74.0 W·h",
    "second hand", "pack_energy", [((12.8, 100, 4, 4), 20480.0), ((7.4, 2.5, 2, 2), 74.0)],
    relative=1e-09)
add("run time", "codingace.net: 331 W·h at 250 W about 1.32 h", "second hand", "run_time", [
    ((331, 100, 250), 1.32)], absolute=0.005)
add("constant-current time", "online-tools-battery.pages.dev: 80 % of 5 A·h at 2.5 A 96 min",
    "second hand", "constant_current_time", [((5, 2.5, 0, 80, 1.0), 96 / 60)], relative=1e-09)


def _taper_hours(missing_ah: float, current_a: float, cut_off_a: float) -> float:
    """Find by bisection the time constant whose exponential, integrated by scipy, delivers the charge."""
    low, high = 1e-6, 1e4
    for _ in range(200):
        tau = math.sqrt(low * high)
        end = tau * math.log(current_a / cut_off_a)
        delivered, _error = quad(lambda t, tau=tau: current_a * math.exp(-t / tau), 0.0, end)
        low, high = (tau, high) if delivered < missing_ah else (low, tau)
    return end


add("taper time", "scipy.integrate.quad over the exponential current", "library", "taper_time", [
    ((1, 2.5, 0.25), _taper_hours(1, 2.5, 0.25)), ((20, 30, 5), _taper_hours(20, 30, 5))], relative=1e-06)
add("whole charge", "96 min of the page above and the integrated taper", "library", "charge_time", [
    ((5, 2.5, 0, 80, 0.25, 1.0), 1.6 + _taper_hours(1, 2.5, 0.25))], relative=1e-06)
_BCI = "Battery Council International table at 80 °F: studylib.net 18054160, " "discoverbattery.com"
_80_F = (80 - 32) / 1.8
add("lead-acid rest voltage", _BCI, "second hand", "lead_acid_state", [((volts, 6, _80_F), state)
    for volts, state in ((12.65, 100.0), (12.45, 75.0), (12.24, 50.0), (12.06, 25.0), (11.89, 0.0))],
    absolute=0.01)
add("lead-acid rest voltage, colder", "discoverbattery.com: subtract 0.024 V at 70 °F, 0.096 V at 40 °F",
    "second hand", "lead_acid_state", [((12.45 + 0.024, 6, (70 - 32) / 1.8), 75.0),
    ((12.24 + 0.096, 6, (40 - 32) / 1.8), 50.0)], absolute=0.01)


def _band_holds(cell_volts: float, state: float) -> bool:
    low, high = (TRADE_FUNCTIONS[f"lifepo4_state_{end}"](cell_volts) for end in ("low", "high"))
    return float(low) <= state <= float(high)


_TWO_TABLES = ((3.45, 95), (3.40, 95), (3.40, 90), (3.35, 85), (3.35, 90), (3.30, 75), (3.30, 80), (3.20, 50),
               (3.10, 25), (3.10, 30), (2.90, 10))
CHECKS.extend(
    OutsideCheck("LiFePO4 rest voltage", function, (volts,), True, "the points of two tables that differ "
                 "lie in our band: bestlifepo4batteries.co.uk, lifepo4batteryhq.com", "second hand",
                 other_call=partial(_band_holds, volts, state))
    for function in ("lifepo4_state_low", "lifepo4_state_high") for volts, state in _TWO_TABLES)

# capacitors


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


add("time constant", "systemy-medyczne.pl: 50 ohm and 160 uF 8 ms", "second hand", "time_constant", [
    ((50, 160), 0.008)], relative=1e-09)
add("pre-charge time", "systemy-medyczne.pl: charged after 5 time constants, 40 ms", "second hand",
    "precharge_time", [((50, 160, 100 * (1 - math.exp(-5))), 0.04)], relative=1e-06)
add("pre-charged share",
    "63.2 % after one time constant (systemy-medyczne.pl); 95.02, 99.33 % after 3 and 5", "second hand",
    "precharged_share", [((50, 160, 0.008), 63.2), ((50, 160, 0.024), 95.02), ((50, 160, 0.04), 99.33)],
    absolute=0.02)
add("pre-charged share, library", "scipy.integrate.solve_ivp, 50 ohm, 4700 uF, 0.3 s", "library",
    "precharged_share", [((50, 4700, 0.3), 100 * _rc_voltage(50, 0.0047, 0.0, 1.0, 0.3))], relative=1e-07)
add("discharge time", "exercise at systemy-medyczne.pl (5 ms, from 100 V to 56, 32, 10 V), answers 2.9, "
    "5.7, 11.5 ms", "by hand", "discharge_time", [((1000, 5, 100, 56), 0.0029),
    ((1000, 5, 100, 32), 0.0057), ((1000, 5, 100, 10), 0.0115)], absolute=5e-05)
add("discharge time, library", "scipy.integrate.solve_ivp: the voltage at our time is 5 V", "library",
    "discharge_time", [((2200, 10000, 58.4, _rc_voltage(2200, 0.01, 58.4, 0.0, 54.0)), 54.0)],
    relative=1e-06)
add("stored energy", "mexle.org: 1 uF at 447.2 V holds 0.1 J", "second hand", "stored_energy", [
    ((1, 447.2), 0.1)], relative=0.0005)
add("inrush current", "mexle.org: 447.2 V and at most 100 mA, so 4472 ohm", "second hand",
    "inrush_current", [((447.2, 4472), 0.1)], relative=1e-09)
add("pre-charge resistor", "the 50 ohm example backwards", "second hand", "precharge_resistor", [
    ((160, 100 * (1 - math.exp(-5)), 0.04), 50.0)], relative=1e-06)
