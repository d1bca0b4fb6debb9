"""Units as the workshop writes and says them."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sayso.trade.limits import Limits, OutOfRangeError, WrongUnitError, magnitude_within
from sayso.trade.units import (
    NAMED_UNITS,
    SPOKEN_UNITS,
    UNITS,
    UnknownUnitError,
    parse_quantity,
    parse_unit,
    quantity,
    same_kind,
    symbol_for_unit,
    unit_from_words,
    words_for_unit,
)

NEWTON_METRE = UNITS.Unit("newton * meter")


@pytest.mark.parametrize(
    "written", ["N.m", "N·m", "N m", "Nm", "N*m", "N-m", "newton metres", "newton meter"]
)
def test_a_newton_metre_is_read_however_it_is_written(written: str) -> None:
    assert parse_unit(written) == NEWTON_METRE


@pytest.mark.parametrize(
    "written", ["lbf.ft", "lbf-ft", "lb-ft", "ft-lb", "ft.lbf", "FT LBS", "ftlb", "foot pounds"]
)
def test_a_foot_pound_is_read_however_it_is_written(written: str) -> None:
    assert quantity(1.0, written).m_as("N*m") == pytest.approx(1.3558179483314, rel=1e-12)


def test_the_case_tells_a_torque_from_a_length() -> None:
    assert same_kind(parse_unit("Nm"), NEWTON_METRE)
    assert same_kind(parse_unit("nm"), UNITS.Unit("meter"))
    assert quantity(1.0, "mNm").m_as("N*m") == pytest.approx(1e-3)


@pytest.mark.parametrize(
    ("written", "unit"),
    [
        ("V DC", "V"),
        ("VDC", "V"),
        ("Vdc", "V"),
        ("volts DC", "V"),
        ("mV DC", "mV"),
        ("A DC", "A"),
        ("V D.C.", "V"),
    ],
)
def test_what_a_meter_prints_behind_a_direct_voltage_is_no_unit_of_its_own(written: str, unit: str) -> None:
    """NIST SP 811, 7.4, keeps such letters off the unit (from memory); meters and drawings print them."""
    assert parse_unit(written) == parse_unit(unit)
    assert parse_quantity(f"28.5 {written}") == parse_quantity(f"28.5 {unit}")


@pytest.mark.parametrize("written", ["VAC", "V AC", "Vac", "DC"])
def test_an_alternating_voltage_is_not_taken_for_a_direct_one(written: str) -> None:
    with pytest.raises(UnknownUnitError):
        parse_unit(written)


def test_a_word_that_means_two_things_is_refused_with_what_to_write() -> None:
    with pytest.raises(UnknownUnitError, match="write mm or thou"):
        parse_unit("mil")


@pytest.mark.parametrize("written", ["foo", "/", "12", "lbf.foo"])
def test_an_unknown_unit_is_refused_with_examples(written: str) -> None:
    with pytest.raises(UnknownUnitError, match="write a unit such as"):
        parse_unit(written)


@given(st.text(max_size=12))
def test_no_text_makes_the_reader_of_units_crash(text: str) -> None:
    with contextlib.suppress(UnknownUnitError):
        parse_unit(text)


@given(st.text(max_size=16))
def test_no_text_makes_the_reader_of_quantities_crash(text: str) -> None:
    with contextlib.suppress(UnknownUnitError):
        parse_quantity(text)


def test_a_quantity_is_a_number_and_a_unit() -> None:
    assert parse_quantity("9 N.m").m_as("N*m") == 9
    assert parse_quantity("80ft-lb").m_as("lbf_ft") == 80
    assert parse_quantity("-4e3 mm").m_as("m") == -4
    assert parse_quantity("3").dimensionless


@pytest.mark.parametrize("written", ["12,5 V", "1,000 N.m", "1.000.000 V", "about 9 N.m", "N.m"])
def test_a_number_that_could_be_read_two_ways_is_refused(written: str) -> None:
    with pytest.raises(UnknownUnitError, match=r"write it like 9 N\.m"):
        parse_quantity(written)


@pytest.mark.parametrize("named", NAMED_UNITS, ids=lambda named: named.expression)
def test_what_is_said_of_a_unit_is_understood_as_that_unit(named: object) -> None:
    unit = UNITS.Unit(named.expression)  # type: ignore[attr-defined]
    assert unit_from_words(words_for_unit(unit, 1)) == unit
    assert unit_from_words(words_for_unit(unit, 7)) == unit
    assert parse_unit(symbol_for_unit(unit)) == unit


def test_no_two_units_are_said_with_the_same_words() -> None:
    said = [words.lower() for named in NAMED_UNITS
            for words in {named.singular, named.plural, *named.also_heard}]  # fmt: skip
    assert len(said) == len(set(said)) == len(SPOKEN_UNITS)


def test_one_and_many_are_said_differently() -> None:
    assert words_for_unit(NEWTON_METRE, 1) == "newton metre"
    assert words_for_unit(NEWTON_METRE, 9) == "newton metres"


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("%/h", "percent per hour"), ("1/h", "per hour"), ("V/min", "volts per minute"), ("N", "newtons"),
        ("km/h/s", "kilometres per hour per second"), ("m/s^2", "metres per second squared"),
        ("N/mm²", "newtons per square millimetre"), ("kg*m**2", "kilogram square metres"),
        ("°C/h", "degrees Celsius per hour"), ("lux", "lux"), ("km/h", "kilometres per hour"),
    ],
)  # fmt: skip
def test_a_unit_without_a_name_of_its_own_is_said_by_its_parts(written: str, said: str) -> None:
    """As the SI Brochure names derived units ("metre per second squared", table 5, from memory)."""
    assert words_for_unit(parse_unit(written)) == said


@pytest.mark.parametrize("written", ["% per per h", "%//h", "% per / h", "percent per per h", "%/ per h"])
def test_per_written_twice_is_told(written: str) -> None:
    """pint reads "%//h" and "% per / h" as %/h, and not the others."""
    with pytest.raises(UnknownUnitError, match=r"says 'per' twice: write it once, such as (%|percent)/h$"):
        parse_unit(written)


def test_per_of_nothing_is_told() -> None:
    with pytest.raises(UnknownUnitError, match="says 'per' of nothing: write 1/hour"):
        parse_unit("per hour")
    with pytest.raises(UnknownUnitError, match=r"says 'per' of nothing: write 1/h$"):
        parse_unit("/h")


def test_an_unknown_spoken_unit_is_refused() -> None:
    with pytest.raises(UnknownUnitError, match="furlongs"):
        unit_from_words("furlongs")


@given(st.floats(1e-3, 1e4), st.sampled_from(["N.m", "lbf.ft", "lbf.in", "kgf.m", "ozf.in"]),
       st.sampled_from(["N.m", "lbf.ft", "lbf.in", "kgf.m", "ozf.in"]))  # fmt: skip
def test_a_torque_that_goes_to_another_unit_and_back_is_the_same(
    number: float, first: str, second: str
) -> None:
    there = quantity(number, first).to(parse_unit(second))
    assert there.m_as(parse_unit(first)) == pytest.approx(number, rel=1e-12)


def test_a_value_out_of_range_names_the_range_and_what_to_do() -> None:
    limits = Limits("wrench length", "mm", 50, 3000, "measure again")
    with pytest.raises(
        OutOfRangeError, match=r"wrench length of 4 mm is out of range \(50 to 3000 mm\): measure again"
    ):
        magnitude_within(quantity(4, "mm"), limits)
    with pytest.raises(OutOfRangeError, match="nan"):
        magnitude_within(quantity(float("nan"), "mm"), limits)


def test_a_value_of_another_kind_is_refused() -> None:
    with pytest.raises(WrongUnitError, match=r"wrench length: 4\.0 volt is not a value in mm"):
        magnitude_within(quantity(4, "V"), Limits("wrench length", "mm", 50, 3000, "measure again"))


def test_definitions_kept_from_an_earlier_start_may_be_spoilt_or_impossible_to_keep(tmp_path: Path) -> None:
    """The pound-force per square inch is 6 894.757 Pa (NIST SP 811, appendix B.8)."""
    ask = "from sayso.trade.units import UNITS; print(UNITS.Quantity(1, 'psi').m_as('Pa'))"
    away = {**os.environ, "XDG_CACHE_HOME": str(tmp_path)}

    def start() -> float:
        done = subprocess.run(
            [sys.executable, "-c", ask], env=away, capture_output=True, text=True, check=True
        )
        return float(done.stdout)

    assert start() == pytest.approx(6894.757, rel=1e-6)
    kept = list(tmp_path.rglob("*.pickle"))
    assert kept
    for file in kept:
        file.write_bytes(file.read_bytes()[:-40])
    assert start() == pytest.approx(6894.757, rel=1e-6)
    shutil.rmtree(tmp_path / "sayso")
    (tmp_path / "sayso").write_text("no folder")
    assert start() == pytest.approx(6894.757, rel=1e-6)
