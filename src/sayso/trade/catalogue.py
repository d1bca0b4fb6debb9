"""The trade functions by plain names and plain numbers, for conditions and expected values in procedures.

`torque_with_adapter(80, 400, 50, 0)` in a CEL expression calls the function of that name with numbers in the
units that its parameter names end in (`_nm` N·m, `_mm` mm, `_c` °C, `_uf` µF, `_percent` %, ...), and gives
a plain number in `result_unit`. Sizes, grades and kinds are texts: "M6", "8.8", "2/0", "LiFePO4".
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final, Literal, TypeAlias

import pint

from sayso.trade import (
    ampacity,
    bolt_grades,
    can_bus,
    cell_figures,
    charge_time,
    fastener_torque,
    insulation,
    lifting,
    pack,
    precharge,
    rest_voltage,
    screw_threads,
    stacking,
    torque_adapter,
    torque_units,
    voltage_drop,
    wheel,
    wire_gauge,
    wire_resistance,
)
from sayso.trade.limits import TradeError
from sayso.trade.units import Quantity, parse_unit, quantity, symbol_for_unit

PlainValue: TypeAlias = float | int | bool | str
Kind: TypeAlias = Literal["quantity", "number", "count", "text", "unit", "yes_no"]


class WrongArgumentError(TradeError):
    """A trade function called with the wrong number or kind of values; says how it is called."""


@dataclass(frozen=True)
class Parameter:
    """One plain parameter. `unit` is the unit its number is in, for the kind "quantity"."""

    name: str
    kind: Kind
    unit: str = ""


@dataclass(frozen=True)
class TradeFunction:
    """A trade function that takes and gives plain values.

    Called with too few, too many or unfit values it raises WrongArgumentError; out of range, the errors of
    the function itself. All of them are ValueErrors with a sentence to show.
    """

    name: str
    parameters: tuple[Parameter, ...]
    result_unit: str
    function: Callable[..., Any]
    pick: int | None = None  # which of several results, for functions that give a low and a high end

    def __call__(self, *values: PlainValue) -> PlainValue:
        if len(values) != len(self.parameters):
            raise WrongArgumentError(
                f"{self.name} takes {len(self.parameters)} values, not {len(values)}: write {self.signature}"
            )
        arguments = [
            _argument(self, parameter, value)
            for parameter, value in zip(self.parameters, values, strict=True)
        ]
        result = self.function(*arguments)
        return _plain(result if self.pick is None else result[self.pick], self.result_unit)

    @property
    def signature(self) -> str:
        """How it is called: "preload(size, grade, share_percent)"."""
        return f"{self.name}({', '.join(parameter.name for parameter in self.parameters)})"

    @property
    def docs(self) -> str:
        """What it gives, where it is from and where it holds: the docstring of the function."""
        return inspect.getdoc(self.function) or ""

    @property
    def summary(self) -> str:
        """The first sentence of the docs."""
        which = {None: "", 0: "The first of two: ", 1: "The second of two: "}[self.pick]
        return which + self.docs.split("\n\n")[0].replace("\n", " ")

    @property
    def source(self) -> str:
        """The source named in the docs."""
        return _section(self.docs, "Source")

    @property
    def valid_range(self) -> str:
        """The range named in the docs."""
        return _section(self.docs, "Range")


def _section(docs: str, name: str) -> str:
    found = re.search(rf"^{name}: (.*?)(?=\n\S|\Z)", docs, re.DOTALL | re.MULTILINE)
    return " ".join(found.group(1).split()) if found else ""


def _argument(function: TradeFunction, parameter: Parameter, value: PlainValue) -> Any:
    kind = parameter.kind
    if kind == "text":
        return f"{value:g}" if isinstance(value, float) else str(value)
    if kind == "unit":
        return parse_unit(str(value))
    if kind == "yes_no" and isinstance(value, bool):
        return value
    if kind != "yes_no" and isinstance(value, int | float) and not isinstance(value, bool):
        return quantity(value, parameter.unit) if kind == "quantity" else value
    wanted = (
        "true or false"
        if kind == "yes_no"
        else f"a number{f' in {parameter.unit}' if parameter.unit else ''}"
    )
    raise WrongArgumentError(
        f"{parameter.name} of {function.name} must be {wanted}, not {value!r}: write {function.signature}"
    )


def _plain(result: Any, unit: str) -> PlainValue:
    if isinstance(result, pint.Quantity):
        return float(result.m_as(unit)) if unit else float(result.magnitude)
    plain: PlainValue = result
    return plain


# The unit is the last word of a parameter's name, so that a call can be read and checked by eye.
_UNIT_BY_ENDING: Final[dict[str, str]] = {
    "nm": "N*m", "mm": "mm", "cm": "cm", "mm2": "mm**2", "m": "m", "in": "inch", "deg": "degree", "kn": "kN",
    "v": "V", "a": "A", "w": "W", "ah": "ampere_hour", "wh": "watt_hour", "ohm": "ohm", "uf": "microfarad",
    "km": "ohm/km", "c": "degC", "percent": "percent", "s": "s", "h": "hour", "kg": "kg", "kmh": "km/h",
    "rpm": "revolutions_per_minute",
}  # fmt: skip
_KIND_BY_NAME: Final[dict[str, Kind]] = {
    "size": "text", "grade": "text", "gauge": "text", "kind": "text", "rule": "text", "grip": "text",
    "conductor_class": "text", "unit": "unit", "series": "count", "parallel": "count", "cells": "count",
    "fitted": "count", "tiers": "count", "ratio": "number", "old_ratio": "number", "new_ratio": "number",
    "friction": "number", "number": "number", "charge_factor": "number",
    "thread_friction": "number", "head_friction": "number", "factor": "number",
    "step": "number", "lifts_per_minute": "number", "interlocked": "yes_no",
}  # fmt: skip


def _parameter(name: str) -> Parameter:
    if name in _KIND_BY_NAME:
        return Parameter(name, _KIND_BY_NAME[name])
    return Parameter(name, "quantity", _UNIT_BY_ENDING[name.rsplit("_", 1)[-1]])


def _entry(
    signature: str, result_unit: str, function: Callable[..., Any], pick: int | None = None
) -> TradeFunction:
    name, _, inside = signature.rstrip(")").partition("(")
    names = [part.strip() for part in inside.split(",") if part.strip()]
    return TradeFunction(name, tuple(_parameter(part) for part in names), result_unit, function, pick)


def _to_newton_metres(number: float, unit: Any) -> Quantity:
    """A torque read on a wrench in any unit, in N·m.

    Source: as `convert_torque`, exact by definition.
    Range: 0 to 10 000 N·m.
    """
    return torque_units.convert_torque(quantity(number, unit), parse_unit("N.m"))


def _nearest_mark(target: Quantity, unit: Any, step: float) -> float:
    """The mark nearest to a target on a wrench scale in this unit, as a number of that unit.

    Source: as `nearest_setting`.
    Range: as `nearest_setting`.
    """
    return float(torque_units.nearest_setting(target, unit, step).m_as(unit))


def _slender(height: Quantity, base: Quantity, interlocked: bool) -> bool:
    return stacking.is_slender(height, base, interlocked)


_slender.__doc__ = stacking.is_slender.__doc__

_ENTRIES: Final = (
    # torque
    _entry("torque_in(torque_nm, unit)", "", torque_units.convert_torque),
    _entry("torque_from(number, unit)", "N*m", _to_newton_metres),
    _entry("torque_low(target_nm, within_percent)", "N*m", torque_units.torque_band, 0),
    _entry("torque_high(target_nm, within_percent)", "N*m", torque_units.torque_band, 1),
    _entry("torque_is_within(torque_nm, target_nm, within_percent)", "", torque_units.is_within_band),
    _entry("nearest_mark(target_nm, unit, step)", "", _nearest_mark),
    _entry("wrench_covers(target_nm, lowest_nm, highest_nm)", "", torque_units.wrench_covers),
    _entry("torque_with_adapter(setting_nm, wrench_mm, adapter_mm, angle_deg)", "N*m",
           torque_adapter.torque_at_fastener),
    _entry("adapter_setting(target_nm, wrench_mm, adapter_mm, angle_deg)", "N*m",
           torque_adapter.setting_for_torque),
    # fasteners
    _entry("stress_area(size)", "mm**2", screw_threads.stress_area),
    _entry("proof_load(size, grade)", "kN", bolt_grades.proof_load),
    _entry("preload(size, grade, share_percent)", "kN", fastener_torque.preload),
    _entry("torque_by_factor(size, force_kn, factor)", "N*m", fastener_torque.torque_by_factor),
    _entry("preload_by_factor(size, torque_nm, factor)", "kN", fastener_torque.preload_by_factor),
    _entry("torque_by_friction(size, force_kn, thread_friction, head_friction)", "N*m",
           fastener_torque.torque_by_friction),
    _entry("preload_at_yield_share(size, grade, share_percent, friction)", "kN",
           fastener_torque.preload_at_yield_share),
    _entry("torque_at_yield_share(size, grade, share_percent, friction)", "N*m",
           fastener_torque.torque_at_yield_share),
    # wire
    _entry("gauge_diameter(gauge)", "mm", wire_gauge.gauge_diameter),
    _entry("gauge_area(gauge)", "mm**2", wire_gauge.gauge_area),
    _entry("gauge_at_least(area_mm2)", "", wire_gauge.gauge_at_least),
    _entry("copper_resistance(area_mm2, length_m, temperature_c)", "ohm", wire_resistance.copper_resistance),
    _entry("gauge_resistance(gauge, length_m, temperature_c)", "ohm", wire_resistance.gauge_resistance),
    _entry("nec_resistance(gauge, length_m)", "ohm", wire_resistance.nec_resistance),
    _entry("iec_cable_resistance(area_mm2, conductor_class, length_m)", "ohm",
           wire_resistance.iec_cable_resistance),
    _entry("resistance_at(measured_ohm, measured_c, wanted_c)", "ohm", wire_resistance.resistance_at),
    _entry("two_wire_drop(current_a, one_way_m, ohm_per_km)", "V", voltage_drop.two_wire_drop),
    _entry("drop_share(drop_v, system_v)", "percent", voltage_drop.drop_share),
    _entry("longest_run(current_a, drop_v, ohm_per_km)", "m", voltage_drop.longest_run),
    _entry("area_for_drop(current_a, one_way_m, drop_v, temperature_c)", "mm**2", voltage_drop.area_for_drop),
    _entry("table_ampacity(gauge, insulation_c)", "A", ampacity.table_ampacity),
    _entry("ambient_factor(insulation_c, ambient_c)", "", ampacity.ambient_factor),
    _entry("ampacity(gauge, insulation_c, ambient_c)", "A", ampacity.ampacity),
    # packs
    _entry("nominal_voltage(kind, cells)", "V", cell_figures.nominal_voltage),
    _entry("full_voltage(kind, cells)", "V", cell_figures.full_voltage),
    _entry("empty_voltage(kind, cells)", "V", cell_figures.empty_voltage),
    _entry("may_be_charged_at(kind, cell_c)", "", cell_figures.may_be_charged_at),
    _entry("pack_voltage(unit_v, series)", "V", pack.pack_voltage),
    _entry("pack_capacity(unit_ah, parallel)", "ampere_hour", pack.pack_capacity),
    _entry("pack_energy(unit_v, unit_ah, series, parallel)", "watt_hour", pack.pack_energy),
    _entry("run_time(energy_wh, usable_percent, load_w)", "hour", pack.run_time),
    _entry("constant_current_time(capacity_ah, current_a, state_percent, taper_from_percent,"
           " charge_factor)", "hour", charge_time.constant_current_time),
    _entry("taper_time(missing_ah, current_a, cut_off_a)", "hour", charge_time.taper_time),
    _entry("charge_time(capacity_ah, current_a, state_percent, taper_from_percent, cut_off_a,"
           " charge_factor)", "hour", charge_time.charge_time),
    _entry("lead_acid_state(rest_v, cells, electrolyte_c)", "percent", rest_voltage.lead_acid_state),
    _entry("lifepo4_state_low(cell_v)", "percent", rest_voltage.lifepo4_state_band, 0),
    _entry("lifepo4_state_high(cell_v)", "percent", rest_voltage.lifepo4_state_band, 1),
    # capacitors
    _entry("time_constant(resistance_ohm, capacitance_uf)", "s", precharge.time_constant),
    _entry("precharge_time(resistance_ohm, capacitance_uf, share_percent)", "s", precharge.precharge_time),
    _entry("precharged_share(resistance_ohm, capacitance_uf, wait_s)", "percent", precharge.precharged_share),
    _entry("precharge_resistor(capacitance_uf, share_percent, wait_s)", "ohm",
           precharge.resistor_for_precharge),
    _entry("inrush_current(supply_v, resistance_ohm)", "A", precharge.inrush_current),
    _entry("discharge_time(resistance_ohm, capacitance_uf, start_v, safe_v)", "s", precharge.discharge_time),
    _entry("stored_energy(capacitance_uf, voltage_v)", "J", precharge.stored_energy),
    # bus
    _entry("termination_resistance(fitted)", "ohm", can_bus.termination_resistance),
    _entry("terminators_fitted(reading_ohm)", "", can_bus.terminators_fitted),
    _entry("termination_is_right(reading_ohm)", "", can_bus.termination_is_right),
    _entry("termination_finding(reading_ohm)", "", can_bus.termination_finding),
    # wheels
    _entry("tyre_diameter(width_mm, aspect_percent, rim_in)", "mm", wheel.tyre_diameter),
    _entry("rolling_circumference(diameter_mm, squash_percent)", "m", wheel.rolling_circumference),
    _entry("revolutions(distance_m, circumference_m)", "", wheel.revolutions),
    _entry("ground_speed(motor_rpm, ratio, circumference_m)", "km/h", wheel.ground_speed),
    _entry("motor_speed(speed_kmh, ratio, circumference_m)", "revolutions_per_minute", wheel.motor_speed),
    _entry("reading_correction(old_mm, new_mm, old_ratio, new_ratio)", "", wheel.reading_correction),
    # stacking, lifting, insulation
    _entry("load_on_lowest(tiers, mass_kg)", "kg", stacking.load_on_lowest),
    _entry("most_tiers(mass_kg, strength_kg, factor)", "", stacking.most_tiers),
    _entry("tipping_angle(base_mm, centre_height_mm)", "degree", stacking.tipping_angle),
    _entry("is_slender(height_mm, base_mm, interlocked)", "", _slender),
    _entry("recommended_weight_limit(reach_cm, height_cm, travel_cm, twist_deg, lifts_per_minute, duration_h,"
           " grip)", "kg", lifting.recommended_weight_limit),
    _entry("lifting_index(load_kg, limit_kg)", "", lifting.lifting_index),
    _entry("smallest_insulation(voltage_v, rule)", "ohm", insulation.smallest_insulation),
    _entry("insulation_from_voltages(pack_v, before_v, with_resistor_v, resistor_ohm)", "ohm",
           insulation.insulation_from_voltages),
)  # fmt: skip

TRADE_FUNCTIONS: Final[Mapping[str, TradeFunction]] = MappingProxyType(
    {entry.name: entry for entry in _ENTRIES}
)
"""Every trade function by its plain name."""


def trade_function_table() -> str:
    """All functions as a Markdown table (call, result unit, what it gives, source), for the docs."""
    rows = ["| call | gives | what | source |", "|---|---|---|---|"]
    for entry in TRADE_FUNCTIONS.values():
        unit = parse_unit(entry.result_unit) if entry.result_unit else None
        shown = symbol_for_unit(unit) if unit is not None else ""
        cells = (f"`{entry.signature}`", shown, entry.summary, entry.source)
        rows.append("| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |")
    return "\n".join(rows) + "\n"
