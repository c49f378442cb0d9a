"""Catalogues: what a file says, what can be held in memory, and what can be set aside."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from catalogues import NOISE, read_text

from scoring.catalogue import State, from_arrays, without
from scoring.catalogue.reporting_limit import recount
from scoring.errors import CatalogueError, Place


def test_a_wide_file_holds_four_different_states(tmp_path: Path) -> None:
    """A value, a reading below the limit, a gap with its reason, and what does not apply."""
    readings = read_text(
        tmp_path, "product,noise #1,noise #2\nA,31.5,< 22\nB,missing: mute,\nC,n/a,not applicable\n"
    ).readings["noise"]
    assert readings.states.tolist() == [[State.VALUE, State.BELOW], [State.MISSING] * 2, [State.NOT_APPLICABLE] * 2]
    np.testing.assert_array_equal(readings.values, [[31.5, 22.0], [np.nan] * 2, [np.nan] * 2])
    assert readings.reasons == {(1, 0): "mute"}


@pytest.mark.parametrize(
    ("cell", "state", "reason"),
    [
        ("Missing", State.MISSING, ""),
        ("missing : no motor: burnt", State.MISSING, "no motor: burnt"),
        ("missing:", State.MISSING, ""),
        ("N/A", State.NOT_APPLICABLE, ""),
        ("Not applicable: air bed", State.NOT_APPLICABLE, "air bed"),
        ("not_applicable", State.NOT_APPLICABLE, ""),
    ],
)
def test_words_for_a_gap_may_be_written_in_any_case(tmp_path: Path, cell: str, state: State, reason: str) -> None:
    """With a reason or without one."""
    readings = read_text(tmp_path, f"product,noise\nA,{cell}\n").readings["noise"]
    assert readings.states[0, 0] == state
    assert readings.reasons == ({(0, 0): reason} if reason else {})


def test_a_long_file_holds_the_same_states_and_knows_absent_repeats(tmp_path: Path) -> None:
    """Flags say what wide cells say; a product without a second repeat has none."""
    catalogue = read_text(
        tmp_path,
        "id,measure,repeat,value,flag,reason,operator\nA,noise,1,31.5,,,Jo\nA,noise,2,22,below,,Al\n"
        "B,noise,1,,missing,mute,Jo\nC,noise,1,,not_applicable,no motor,\n",
    )
    readings = catalogue.readings["noise"]
    assert readings.states.tolist() == [
        [State.VALUE, State.BELOW],
        [State.MISSING, State.NONE],
        [State.NOT_APPLICABLE, State.NONE],
    ]
    assert readings.reasons == {(1, 0): "mute", (2, 0): "no motor"}
    assert catalogue.extras["operator"]["noise"].tolist() == [["Jo", "Al"], ["Jo", ""], ["", ""]]


def test_repeats_are_numbered_in_order_where_a_long_file_does_not(tmp_path: Path) -> None:
    """Rows of other products in between do not matter."""
    readings = read_text(
        tmp_path, "id,measure,value\nA,noise,30\nB,noise,40\nA,noise,31\nA,heat_flux,50\nA,noise,32\n"
    ).readings
    np.testing.assert_array_equal(readings["noise"].values, [[30, 31, 32], [40, np.nan, np.nan]])
    np.testing.assert_array_equal(readings["heat_flux"].values, [[50], [np.nan]])


@pytest.mark.parametrize("product", ["007", "NA", "None", "null", "1e5", "true", "2020-01-01", "=1+1", "Ä-12", "a b"])
def test_ids_stay_text(tmp_path: Path, product: str) -> None:
    """Nothing that looks like a number, a date or nothing is taken for one."""
    assert read_text(tmp_path, f"product,noise\n{product},30\n").products == (product,)


@pytest.mark.parametrize(
    "content",
    ["product,noise\r\nA,30\r\nB,31\r\n", "product,noise\rA,30\rB,31", "\ufeffproduct,noise\n\nA,30\n,\nB,31\n\n"],
    ids=["carriage returns", "old line ends", "byte order mark and blank rows"],
)
def test_line_ends_byte_order_marks_and_blank_rows_do_not_matter(tmp_path: Path, content: str) -> None:
    """Spreadsheets write all of these."""
    catalogue = read_text(tmp_path, content)
    assert (catalogue.products, catalogue.readings["noise"].values.tolist()) == (("A", "B"), [[30.0], [31.0]])


def test_readings_know_where_they_stand(tmp_path: Path) -> None:
    """Blank rows and a line feed inside a cell do not shift the rows of later messages."""
    readings = read_text(tmp_path, 'product,maker,noise #1,noise #2\n\nA,"Zub\nSons",30,31\nB,Que,32,33\n').readings[
        "noise"
    ]
    assert readings.place(1, 1) == Place(readings.source, 5, column_name="noise #2")


def test_columns_are_measures_attributes_unused_or_left_out(tmp_path: Path) -> None:
    """Numbers that resemble no measure are one of another formula; words that nobody declares are nobody's business."""
    catalogue = read_text(tmp_path, "id,class,maker,noise,price,noise_old\nA,foam,Zub,30,100,31\nB,,Que 5,31,,\n")
    assert catalogue.attributes == {"class": ("foam", "")}
    assert catalogue.left_out == ("maker",)
    assert catalogue.unused == ("price", "noise_old")
    assert list(catalogue.readings) == ["noise"]


def test_long_measures_that_resemble_none_are_unused(tmp_path: Path) -> None:
    """A laboratory measures more than one formula uses, and their cells are not checked."""
    assert read_text(tmp_path, "id,measure,value\nA,noise,30\nA,zebra,oops\n").unused == ("zebra",)


@pytest.mark.parametrize(
    ("header", "cell", "expected"),
    [
        ("room [degF]", "71.6", 22.0),
        ("room [°F]", "68", 20.0),
        ("room [K]", "293.15", 20.0),
        ("heat_flux [W m-2]", "50", 50.0),
        ("heat_flux [kW/m2]", "0.05", 50.0),
        ("noise [dB(A)]", "30", 30.0),
        ("room [degF]", "< 71.6", 22.0),
    ],
)
def test_units_in_the_header_are_converted(tmp_path: Path, header: str, cell: str, expected: float) -> None:
    """Readings are held in the formula's unit, limits as well."""
    readings = read_text(tmp_path, f"product,{header}\nA,{cell}\n").readings[header.split(" [")[0]]
    assert readings.values[0, 0] == pytest.approx(expected, rel=1e-12)


def test_a_column_of_units_converts_row_by_row(tmp_path: Path) -> None:
    """Two benches may report in two units."""
    values = (
        read_text(tmp_path, "id,measure,value,unit\nA,room,71.6,degF\nA,room,21,degC\nA,noise,30,\n")
        .readings["room"]
        .values
    )
    assert values[0] == pytest.approx([22.0, 21.0], rel=1e-12)


def test_a_catalogue_can_be_held_in_memory() -> None:
    """One reading a product or several; NaN is missing; the caller's array is copied."""
    sag = np.array([1.0, np.nan])
    catalogue = from_arrays(["A", "B"], {"sag": sag, "noise": [[30, 31], [32, np.nan]]}, {"class": ["foam", "coil"]})
    sag[0] = 9.0
    np.testing.assert_array_equal(catalogue.readings["sag"].values, [[1.0], [np.nan]])
    assert catalogue.readings["noise"].states.tolist() == [[State.VALUE, State.VALUE], [State.VALUE, State.MISSING]]
    assert catalogue.sha256 != from_arrays(["A", "B"], {"sag": sag}).sha256
    with pytest.raises(ValueError, match="read-only"):
        catalogue.readings["sag"].values[0, 0] = 2.0


@pytest.mark.parametrize(
    ("products", "sag", "words"),
    [
        (["A", "A"], [1, 2], "a product that stands there twice"),
        (["A", "B"], [1, 2, 3], r"of shape \(3, 1\)"),
        (["A", "B"], [1, np.inf], "1 infinite"),
        (["A"], [[[1]]], r"of shape \(1, 1, 1\)"),
    ],
)
def test_arrays_that_do_not_fit_are_refused(products: list[str], sag: list[Any], words: str) -> None:
    """As a file would be."""
    with pytest.raises(CatalogueError, match=words):
        from_arrays(products, {"sag": sag})


def test_a_reading_is_set_aside_in_a_copy(tmp_path: Path) -> None:
    """The challenged reading becomes missing, the rest stays, and the copy says so."""
    catalogue = read_text(tmp_path, "product,noise #1,noise #2\nA,30,63.5\nB,31,32\n")
    copy = without(catalogue, "A", "noise", 2)
    assert copy.readings["noise"].states.tolist() == [[State.VALUE, State.MISSING], [State.VALUE, State.VALUE]]
    assert copy.readings["noise"].reasons == {(0, 1): "set aside"}
    assert copy.set_aside == (("A", "noise", 2),)
    assert catalogue.readings["noise"].values[0, 1] == 63.5
    np.testing.assert_array_equal(recount(NOISE, copy.readings["noise"]).states, copy.readings["noise"].states)


def test_a_reading_below_the_floor_without_a_number_can_be_set_aside(tmp_path: Path) -> None:
    """A flag alone is a reading, too."""
    catalogue = read_text(tmp_path, "id,measure,value,flag\nA,noise,,below\n")
    assert without(catalogue, "A", "noise", 1).readings["noise"].states[0, 0] == State.MISSING


@pytest.mark.parametrize(
    ("product", "name", "repeat", "words"),
    [
        ("QB-2", "noise", 1, "no such product.*Did you mean `QB-1`"),
        ("QB-1", "nois", 1, "no such measure.*Did you mean `noise`"),
        ("QB-1", "noise", 3, "Repeats read there: 1"),
        ("QB-1", "noise", 2, "Repeats read there: 1"),
        ("QB-1", "noise", 0, "Repeats read there: 1"),
    ],
)
def test_what_is_not_there_cannot_be_set_aside(
    tmp_path: Path, product: str, name: str, repeat: int, words: str
) -> None:
    """Nor what is missing already."""
    catalogue = read_text(tmp_path, "product,noise #1,noise #2\nQB-1,30,\n")
    with pytest.raises(CatalogueError, match=words):
        without(catalogue, product, name, repeat)
