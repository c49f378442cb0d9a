"""Units: spellings that are one unit, conversions with known results, and pairs that must not convert."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from extent import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from scoring.errors import SteelyardError
from scoring.units.conversion import UnitError, convert, is_offset_unit, same_unit, unit_problem

SPELLINGS = [
    ("%", "percent"),
    ("1", ""),
    ("dB", "dB(A)"),
    ("dBA", "dB(A)"),
    ("degC", "°C"),
    ("degC", "deg C"),
    ("degC", "℃"),
    ("degF", "°F"),
    ("delta_degC", "Δ°C"),
    ("delta_degC", "delta degC"),
    ("m2.Pa/W", "m^2*Pa/W"),
    ("m2.Pa/W", "m²·Pa/W"),
    ("m2.Pa/W", "(Pa.m2)/W"),
    ("W/m2", "W m-2"),
    ("W/(m2.K)", "W.m-2.K-1"),
    ("cm2", "cm**2"),
    ("mmHg", "mm Hg"),
    ("ug/m3", "µg/m3"),
    ("m/s2", "m/s^2"),
    ("m/s2", "m/s/s"),
    ("in", "inch"),
    ("1/min", "min-1"),
    ("shore A", "shore A"),
    ("dB(C)", "dBC"),
    ("dB(C)", "dB (C)"),
    ("dB(Z)", "dBZ"),
    ("inch", '"'),
    ("inch", "''"),
    ("inch", "″"),
    ("foot", "'"),
    ("%", "%RH"),
    ("%", "% r.h."),
    ("ppb", "ppbv"),
    ("m2.K/W", "m²K/W"),
    ("m2.Pa/W", "m2Pa/W"),
    ("mPa2", "mPa²"),
    ("sone", "sones"),
]

# Each with where its factor comes from; "definition" is the SI or the international yard and pound.
CONVERSIONS = [
    ("degF", "degC", 71.6, 22.0),  # definition: (F - 32) / 1.8
    ("degC", "degF", 20.0, 68.0),  # definition
    ("degC", "K", 20.0, 293.15),  # definition
    ("delta_degF", "delta_degC", 36.0, 20.0),  # definition: 1 degC step is 1.8 degF steps
    ("delta_degC", "K", 3.5, 3.5),  # definition
    ("%", "1", 45.0, 0.45),  # definition
    ("in", "mm", 2.0, 50.8),  # definition: 25.4 mm
    ("lb", "kg", 1.0, 0.45359237),  # definition
    ("lbf/in", "N/mm", 1.0, 0.1751268),  # 4.4482216152605 N over 25.4 mm, worked by hand
    ("mmHg", "kPa", 1.0, 0.1333224),  # ISO 80000-4 conventional millimetre of mercury, from memory
    ("ug/m3", "mg/m3", 500.0, 0.5),  # definition
    ("m2.Pa/W", "m2.kPa/W", 60.0, 0.06),  # definition
    ("W/(m2.degF)", "W/(m2.K)", 1.0, 1.8),  # definition: per step of temperature
    ("cm2", "in2", 6.4516, 1.0),  # definition
    ("min", "s", 2.0, 120.0),  # definition
    ("ppm", "ppb", 0.12, 120.0),  # definition
    ("ppb", "%", 1e7, 1.0),  # definition
    ("clo", "m2.K/W", 1.0, 0.155),  # NIST SP 811 (2008), B.8: 1.55 E-01
    ("tog", "m2.K/W", 4.5, 0.45),  # BS 4745: a tenth of a m2.K/W, from memory
    ("clo", "tog", 1.0, 1.55),  # of both
    ("met", "W/m2", 1.0, 58.2),  # ISO 7730:2005, from memory
    ("mPa2", "Pa2", 4.0, 4e-6),  # definition: the square of a millipascal
    ("kPa", "mmHg", 10.0, 75.00616),  # ISO 80000-4 conventional millimetre of mercury, from memory
    ("gsm", "oz/yd2", 33.90575, 1.0),  # 28.349523125 g over 0.9144 m squared, worked by hand
    ("cfm", "m3/h", 1.0, 1.699011),  # 0.3048 m cubed times 60, worked by hand
    ('"', "mm", 2.0, 50.8),  # definition: 25.4 mm
]

REFUSED = [
    ("degC", "delta_degC", "a temperature and `delta_degC` a difference"),
    ("delta_degF", "degC", "`degC` is a temperature and `delta_degF` a difference"),
    ("mm", "s", "measure different things"),
    ("C", "degC", "a temperature is `degC`"),
    ("dB", "1", "Decibels are not converted"),
    ("dB(C)", "dB(A)", "Decibels are not converted"),
    ("dBC", "dB", "Decibels are not converted"),
    ("ppb", "ug/m3", "only by its molar mass, and at a stated temperature and pressure"),
    ("mg/m3", "ppm", "only by its molar mass"),
    ("ug/L", "ppb", "only by its molar mass"),
    ("ppm", "mm", "measure different things"),
    ("sone", "1", "measure different things"),
    ("sone", "dB(A)", "Decibels are not converted"),
    ("phon", "sone", "not known"),
    ("met", "clo", "measure different things"),
    ("Np", "1", "logarithmic"),
    ("bananas", "mm", "not known"),
    ("W/m2.K", "W/(m2.K)", "put it in parentheses"),
    ("9**9**9**9", "mm", "names with whole powers"),
    ("__import__('os')", "mm", "names with whole powers"),
    ("m" * 61, "mm", "the longest allowed is 60"),
    ("m\x1b", "mm", "control or invisible character"),
]


@pytest.mark.parametrize(("one", "other"), SPELLINGS)
def test_spellings_of_one_unit_are_the_same(one: str, other: str) -> None:
    """The trade writes one unit in several ways."""
    assert same_unit(one, other)
    assert same_unit(other, one)


@pytest.mark.parametrize(
    ("one", "other"), [("degC", "delta_degC"), ("dB(A)", "dB(C)"), ("W/m2.K", "W/(m2.K)"), ("mm", "Mm"), ("K", "degC")]
)
def test_different_units_are_told_apart(one: str, other: str) -> None:
    """A temperature is no difference, another weighting is another level, and prefixes are case-sensitive."""
    assert not same_unit(one, other)


@pytest.mark.parametrize(("source", "target", "value", "expected"), CONVERSIONS)
def test_conversions_give_the_defined_result(source: str, target: str, value: float, expected: float) -> None:
    """Known factors, and back again."""
    assert convert([value], source, target) == pytest.approx([expected], rel=1e-6)
    assert convert(convert([value], source, target), target, source) == pytest.approx([value], rel=1e-12)


@pytest.mark.parametrize(("source", "target", "words"), REFUSED)
def test_pairs_that_do_not_convert_say_why(source: str, target: str, words: str) -> None:
    """A wrong pair is an error with a reason, never a number."""
    with pytest.raises(UnitError, match=words.replace("(", r"\(")):
        convert([1.0], source, target)


def test_a_unit_error_is_one_of_the_family() -> None:
    """Whoever catches the family of errors catches this one."""
    with pytest.raises(SteelyardError, match="measure different things"):
        convert([1.0], "mm", "s")


@pytest.mark.parametrize(
    ("unit", "expected"), [("degC", True), ("°F", True), ("delta_degC", False), ("K", False), ("mm", False)]
)
def test_only_temperatures_count_from_a_zero_of_their_own(unit: str, expected: bool) -> None:
    """A share of 20 degC means nothing, a share of a difference does."""
    assert is_offset_unit(unit) is expected


@pytest.mark.parametrize(("unit", "words"), [("dB #1", "keeps for itself"), ("m\n", "control"), ("x" * 61, "longest")])
def test_a_unit_that_no_header_could_hold_is_reported(unit: str, words: str) -> None:
    """The form's reader asks this of every unit."""
    assert words in (unit_problem(unit) or "")


@pytest.mark.parametrize("unit", ["mm", "m2.Pa/W", "points out of 5", "%", "W/m2.K"])
def test_a_house_unit_is_no_problem_until_it_must_convert(unit: str) -> None:
    """A laboratory may have units of its own."""
    assert unit_problem(unit) is None


def test_equal_units_do_not_load_the_unit_library() -> None:
    """The library takes a fifth of a second; a catalogue in the form's own units never asks it."""
    code = (
        "import sys; from scoring.units.conversion import convert, unit_problem\n"
        "convert([1.0], 'm2.Pa/W', 'Pa*m2/W'); unit_problem('mm'); assert 'pint' not in sys.modules\n"
        "convert([1.0], 'mm', 'm'); assert 'pint' in sys.modules"
    )
    root = Path(__file__).resolve().parents[1]
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=root)
    assert (done.returncode, done.stderr) == (0, "")


def test_a_converted_temperature_carries_no_dust_of_kelvin() -> None:
    """71.6 degF is 22 degC, so that a tie in one unit is a tie in the other."""
    assert convert([71.6, 68.0, 75.2], "degF", "degC").tolist() == [22.0, 20.0, 24.0]


def test_missing_readings_stay_missing_and_the_input_stays_as_it_was() -> None:
    """NaN in, NaN out; the caller's array is not written to."""
    given_values = np.array([1.0, np.nan])
    converted = convert(given_values, "in", "mm")
    assert np.isnan(converted[1])
    assert given_values[0] == 1.0
    assert convert(given_values, "in", "in") is not given_values


@given(st.text(max_size=30), st.sampled_from(["mm", "degC", "1", "m2.Pa/W", "dB"]))
@settings(deadline=None, max_examples=examples(200))
def test_any_text_is_a_unit_or_a_unit_error(unit: str, target: str) -> None:
    """No text makes the reader of units fail in another way."""
    try:
        fitting = convert([1.0], unit, target).shape == (1,)
    except UnitError as fault:
        fitting = len(fault.problems) == 1
    assert fitting
