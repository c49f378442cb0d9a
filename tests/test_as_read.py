"""What a cell says stays beside the converted value: from the table to frames, notebooks, joined catalogues and records."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from catalogues import PLAIN, read_text
from forms import form, measure
from hypothesis import given
from hypothesis import strategies as st

from analysis.json_shapes import misfits
from analysis.records.drift import data_drift
from analysis.records.schema import SECTION_SHAPES
from analysis.records.sections import catalogue_from, readings_section
from scoring.catalogue import Catalogue, from_arrays, without
from scoring.catalogue.as_read import Said
from scoring.catalogue.joining import for_products
from scoring.table.evaluate import inputs_of
from scoring.units.by_hand import by_hand
from scoring.units.conversion import convert

BED = form([measure("sag", unit="mm", reporting_limit=10.0), measure("room", unit="degC"), measure("noise", unit="dB")])
WIDE = """\
product,sag [in] #1,sag [in] #2,sag [mm] #3,room [degF],noise
A,2.44,< 0.5,62,95.5,31
B,missing: lost,2.5,60,71.6,32
"""
LONG = """\
product,measure,repeat,value,unit
A,sag,1,2.44,in
A,sag,2,6.2,cm
A,sag,3,62,mm
B,sag,1,2.5,in
"""


def said_of(catalogue: Catalogue, name: str) -> list[list[str]]:
    """What each cell of a measure says where it was converted, "" elsewhere."""
    readings = catalogue.readings[name]
    rows, columns = readings.values.shape
    return [[str(readings.said(i, j) or "") for j in range(columns)] for i in range(rows)]


def test_a_wide_file_s_cells_keep_their_number_and_unit(tmp_path: Path) -> None:
    """Those that were converted, a limit included; gaps and cells in the formula's unit say nothing of their own."""
    catalogue = read_text(tmp_path, WIDE, BED)
    assert said_of(catalogue, "sag") == [["2.44 in", "0.5 in", ""], ["", "2.5 in", ""]]
    assert said_of(catalogue, "room") == [["95.5 degF"], ["71.6 degF"]]
    np.testing.assert_allclose(catalogue.readings["sag"].written[0], [61.976, 12.7, 62])
    texts = [catalogue.readings["sag"].as_written(0, repeat) for repeat in range(3)]
    assert texts == ["2.44 in", "< 0.5 in", "62"]
    assert catalogue.readings["sag"].as_written(1, 0) == "missing: lost"


def test_a_catalogue_in_the_formula_s_units_holds_nothing_more(tmp_path: Path) -> None:
    """No array is made where nothing was converted, whether the unit is stated, spelt otherwise, or left out."""
    catalogue = read_text(tmp_path, "product,sag [mm],room [°C],noise\nA,62,22,31\n", BED)
    assert [readings.as_read for readings in catalogue.readings.values()] == [None, None, None]
    assert from_arrays(["A"], {"sag": [1.0]}).readings["sag"].as_read is None


def test_what_is_kept_of_many_readings_is_two_flat_arrays(tmp_path: Path) -> None:
    """Two arrays, of 8 and 2 bytes a reading; no object a cell."""
    rows = "".join(f"P{i},{i % 7 + 1}.5\n" for i in range(500))
    readings = read_text(tmp_path, f"product,sag [in]\n{rows}", PLAIN).readings["sag"]
    assert readings.as_read is not None
    kept = readings.as_read.numbers.nbytes + readings.as_read.codes.nbytes
    before = sum(array.nbytes for array in (readings.values, readings.written, readings.rows, readings.states))
    assert kept == 500 * 10
    assert kept < 0.41 * before


def test_a_long_file_may_state_a_unit_a_row(tmp_path: Path) -> None:
    """Each cell keeps its own."""
    catalogue = read_text(tmp_path, LONG, BED)
    assert said_of(catalogue, "sag") == [["2.44 in", "6.2 cm", ""], ["2.5 in", "", ""]]


def test_a_frame_has_both(tmp_path: Path) -> None:
    """The number in the cell with its unit, beside the value in the formula's; a cell in that unit says the same twice."""
    frame = read_text(tmp_path, LONG, BED).frame()
    assert frame["as_read"].tolist() == [2.44, 6.2, 62.0, 2.5]
    assert frame["unit_as_read"].tolist() == ["in", "cm", "mm", "in"]
    assert frame["value"].tolist() == [61.976, 62.0, 62.0, 63.5]
    assert frame["unit"].tolist() == ["mm"] * 4


def test_a_notebook_shows_it(tmp_path: Path) -> None:
    """Behind the converted figure."""
    page = read_text(tmp_path, WIDE, BED)._repr_html_()
    assert "61.976 (2.44 in), &lt;12.7 (0.5 in), 62" in page
    assert "35.2778 (95.5 degF)" in page


def test_a_reading_that_is_set_aside_says_nothing_any_more(tmp_path: Path) -> None:
    """The others do."""
    catalogue = without(read_text(tmp_path, WIDE, BED), "A", "sag", 1)
    assert said_of(catalogue, "sag") == [["", "0.5 in", ""], ["", "2.5 in", ""]]
    assert catalogue.readings["sag"].as_written(0, 0) == "missing: set aside"


def test_joined_catalogues_keep_it(tmp_path: Path) -> None:
    """Each product's own, from two files in two units."""
    first = read_text(tmp_path, WIDE, BED, name="first.csv")
    second = read_text(tmp_path, "product,sag [cm],noise\nB,9.9,1\nC,6.5,30\n", BED, name="second.csv")
    found = for_products(first, second, ("C", "A"))
    assert said_of(found, "sag") == [["6.5 cm", "", ""], ["2.44 in", "0.5 in", ""]]
    assert said_of(found, "room") == [[""], ["95.5 degF"]]
    assert found.readings["noise"].as_read is None


def test_a_record_keeps_it_and_gives_it_back(tmp_path: Path) -> None:
    """By its schema; and a reading that changed is told as both files say it."""
    catalogue = read_text(tmp_path, WIDE, BED)
    kept = readings_section(catalogue, inputs_of(BED, catalogue), BED)
    assert list(misfits(SECTION_SHAPES["readings"], kept, "readings")) == []
    measures = kept[0]["measures"]
    assert measures["sag"]["as_read"] == [{"number": 2.44, "unit": "in"}, {"number": 0.5, "unit": "in"}]
    assert "as_read" not in measures["noise"]
    back = catalogue_from({"readings": kept, "catalogue": {"sha256": "", "unused": []}}, BED)
    assert said_of(back, "sag") == said_of(catalogue, "sag")
    other = read_text(tmp_path, WIDE.replace("2.44", "2.24"), BED, name="other.csv")
    now = readings_section(other, inputs_of(BED, other), BED)
    (finding,) = data_drift({"readings": kept}, {"readings": now}, {"sag": "mm"})
    assert finding.says.endswith("(repeat #1 61.976 (2.44 in) -> 56.896 (2.24 in))")


def test_the_same_reading_in_another_unit_is_no_drift(tmp_path: Path) -> None:
    """What was read is the same; only how it is written differs."""
    kept = []
    for name, text in (("in.csv", "product,sag [in]\nA,2.5\n"), ("mm.csv", "product,sag\nA,63.5\n")):
        catalogue = read_text(tmp_path, text, PLAIN, name=name)
        kept.append({"readings": readings_section(catalogue, inputs_of(PLAIN, catalogue), PLAIN)})
    assert data_drift(kept[0], kept[1], {"sag": "mm"}) == ()


UNITS = (
    ("in", "mm"),
    ("mm", "in"),
    ("degF", "degC"),
    ("degC", "degF"),
    ("degC", "K"),
    ("degF", "K"),
    ("delta_degF", "delta_degC"),
    ("psi", "kPa"),
    ("lb", "kg"),
    ("min", "s"),
    ("ug/m3", "mg/m3"),
    ("m2.Pa/W", "Pa*m^2/kW"),
    ("%", "1"),
)


@pytest.mark.parametrize("pair", UNITS, ids=" to ".join)
@given(number=st.floats(-1000, 1000).map(lambda number: round(number, 3)))
def test_the_conversion_by_hand_gives_what_was_converted(pair: tuple[str, str], number: float) -> None:
    """Keyed in as it is printed, to the 13 digits that it is printed with."""
    from_unit, to_unit = pair
    keyed = eval(by_hand(from_unit, to_unit).of(f"({number!r})"), {"__builtins__": {}})
    assert math.isclose(keyed, float(convert(number, from_unit, to_unit)), rel_tol=1e-12, abs_tol=1e-9)


def test_what_a_cell_says_is_written_as_a_person_writes_it() -> None:
    """No dust of a float, no power of ten for an ordinary reading."""
    assert str(Said(2.4400000000000004, "in")) == "2.44 in"
    assert str(Said(95.0, "degF")) == "95 degF"
    assert by_hand("um", "m").of("31") == "31 / 1000000"
