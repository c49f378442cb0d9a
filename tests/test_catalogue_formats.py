"""Folders, workbooks and column stores: the same readings by other ways, and their own faults."""

from __future__ import annotations

import datetime
import hashlib
import zipfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from catalogues import BED, folder, read_text, workbook
from forms import attribute

from scoring.catalogue import State, read_catalogue
from scoring.errors import CatalogueError

DATED = replace(BED, attributes=(*BED.attributes, attribute("made")))


def test_a_folder_takes_products_and_attributes_from_its_items(tmp_path: Path) -> None:
    """In the order of the items, with those that nobody read."""
    items = "id,maker,class,year\nB,Que,foam,2020\nA,Zub,,2021\nC,Xolm,coil,\n"
    path = folder(tmp_path, items=items, readings="product,noise\nA,30\nB,31\n")
    catalogue = read_catalogue(path, BED)
    assert catalogue.products == ("B", "A", "C")
    assert catalogue.attributes == {"class": ("foam", "", "coil")}
    assert catalogue.left_out == ("maker", "year")
    assert catalogue.readings["noise"].states[:, 0].tolist() == [State.VALUE, State.VALUE, State.NONE]
    assert catalogue.source == str(tmp_path)


@pytest.mark.parametrize(
    ("items", "readings", "words"),
    [
        (
            "id,class\nAB1,foam\n",
            "id,noise\nAB2,30\n",
            "the product `AB2`, which the items do not list.*Did you mean `AB1`",
        ),
        ("id,class\nA,foam\nA,coil\n", "id,noise\nA,30\n", "a second row of `A`, after row 2"),
        ("id,clas\nA,foam\n", "id,noise\nA,30\n", "column clas: .*Did you mean `class`"),
        ("id,noise\nA,30\n", "id,room\nA,20\n", "the measure `noise` among the items' attributes"),
        (
            "id,class\nA,foam\n",
            "id,noise,class\nA,30,coil\n",
            "the class `coil` of `A`, which is `foam` among the items",
        ),
        ("maker\nZub\n", "id,noise\nA,30\n", r"items\.csv:1: no column of products"),
    ],
)
def test_items_and_readings_must_agree(tmp_path: Path, items: str, readings: str, words: str) -> None:
    """What one file says, the other may not deny."""
    with pytest.raises(CatalogueError, match=words):
        read_catalogue(folder(tmp_path, items=items, readings=readings), BED)


def test_a_folder_needs_one_file_of_readings(tmp_path: Path) -> None:
    """None is a problem, and so are two."""
    with pytest.raises(CatalogueError, match="a folder without readings"):
        read_catalogue(tmp_path, BED)
    workbook(tmp_path, [["product", "noise"], ["A", 30]], "readings.xlsx")
    with pytest.raises(CatalogueError, match=r"readings\.csv and readings\.xlsx side by side"):
        read_catalogue(folder(tmp_path, readings="product,noise\nA,30\n"), BED)


def test_hashes_can_be_taken_by_hand(tmp_path: Path) -> None:
    """Of a file its bytes; of a folder the lines that sha256sum prints."""
    items, readings = "id,class\nA,foam\n", "product,noise\nA,30\n"
    path = folder(tmp_path, items=items, readings=readings)
    one, other = (hashlib.sha256(text.encode()).hexdigest() for text in (items, readings))
    assert read_catalogue(path / "readings.csv", BED).sha256 == other
    both = f"{one}  items.csv\n{other}  readings.csv\n"
    assert read_catalogue(path, BED).sha256 == hashlib.sha256(both.encode()).hexdigest()


def test_a_workbook_gives_the_same_readings(tmp_path: Path) -> None:
    """Number cells are numbers, text cells are read as in CSV, dates as days, whole numbers of ids lose their point."""
    rows: list[list[Any]] = [
        ["product", "noise #1", "noise #2", "made", "class"],
        [7, 30.5, "< 22", datetime.date(2020, 1, 2), "foam"],
        [None, None, None, None, None],
        ["007", 31, "missing: mute", None, None],
    ]
    catalogue = read_catalogue(workbook(tmp_path, rows), DATED)
    assert catalogue.products == ("7", "007")
    np.testing.assert_array_equal(catalogue.readings["noise"].values, [[30.5, 22.0], [31.0, np.nan]])
    assert catalogue.attributes == {"made": ("2020-01-02", ""), "class": ("foam", "")}
    assert catalogue.readings["noise"].rows[:, 0].tolist() == [2, 4]


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        (True, "a truth value where a number should stand"),
        (datetime.date(2020, 1, 1), "`2020-01-01`, a date or a time where a number should stand"),
        (datetime.time(12, 30), "a date or a time where a number should stand"),
        ("#DIV/0!", "a spreadsheet's error"),
        ("=1+1", "a formula without a stored result"),
        ("2,5", "decimal comma"),
    ],
)
def test_a_workbook_cell_that_is_no_reading_is_named(tmp_path: Path, cell: object, words: str) -> None:
    """With the sheet and the cell."""
    with pytest.raises(CatalogueError, match=rf"bench.xlsx, sheet Sheet, cell B2 \(noise\): .*{words}"):
        read_catalogue(workbook(tmp_path, [["product", "noise"], ["A", cell]]), BED)


@pytest.mark.parametrize(
    ("cell", "words"), [(7.5, "`7.5`, a number with decimals"), (True, "`True`, a truth value"), (None, "no id")]
)
def test_an_id_that_is_no_text_is_named(tmp_path: Path, cell: object, words: str) -> None:
    """Only a whole number has one way of being written as text."""
    with pytest.raises(CatalogueError, match=rf"sheet Sheet, cell A2 \(product\): .*{words}"):
        read_catalogue(workbook(tmp_path, [["product", "noise"], [cell, 30]]), BED)


def test_a_workbook_of_several_sheets_needs_one_of_its_name(tmp_path: Path) -> None:
    """The right sheet bears the name of the file; otherwise the sheets are listed."""
    readings = [["product", "noise"], ["A", 30]]
    path = workbook(tmp_path, [["notes"]], readings=readings)
    with pytest.raises(CatalogueError, match=r"2 sheets; expected .* `bench`\. Its sheets: Sheet, readings"):
        read_catalogue(path, BED)
    assert read_catalogue(path.rename(tmp_path / "readings.xlsx"), BED).products == ("A",)


@pytest.mark.parametrize("claimed", ["A1:A1", "A1:XFD1048576"])
def test_the_size_that_a_sheet_claims_does_not_matter(tmp_path: Path, claimed: str) -> None:
    """Some writers state it wrongly; believing it drops columns, or builds millions of empty cells."""
    path = workbook(tmp_path, [["product", "noise"], ["A", 30], ["B", 31]])
    with zipfile.ZipFile(path) as archive:
        entries = {name: archive.read(name) for name in archive.namelist()}
    sheet = entries["xl/worksheets/sheet1.xml"]
    assert b'ref="A1:B3"' in sheet
    entries["xl/worksheets/sheet1.xml"] = sheet.replace(b'ref="A1:B3"', f'ref="{claimed}"'.encode())
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in entries.items():
            archive.writestr(name, content)
    assert read_catalogue(path, BED).readings["noise"].values.tolist() == [[30.0], [31.0]]


def test_a_column_store_gives_the_same_readings(tmp_path: Path) -> None:
    """Nulls are gaps; whole numbers, dictionaries and nanoseconds are read as what they mean."""
    columns = {
        "product": pa.array([1, 2]),
        "noise": pa.array([30, None]),
        "heat_flux": pa.array([50.5, 51.0]),
        "class": pa.array(["foam", "coil"]).dictionary_encode(),
        "made": pa.array([0, None], pa.timestamp("ns", "UTC")),
    }
    pq.write_table(pa.table(columns), tmp_path / "bench.parquet")
    catalogue = read_catalogue(tmp_path / "bench.parquet", DATED)
    assert catalogue.products == ("1", "2")
    np.testing.assert_array_equal(catalogue.readings["noise"].values, [[30.0], [np.nan]])
    np.testing.assert_array_equal(catalogue.readings["heat_flux"].values, [[50.5], [51.0]])
    assert catalogue.attributes == {"class": ("foam", "coil"), "made": ("1970-01-01", "")}


def test_a_column_store_may_not_hold_nan(tmp_path: Path) -> None:
    """NaN may be a gap or a failed computation; null is a gap."""
    pq.write_table(pa.table({"product": ["A", "B"], "noise": [30.0, float("nan")]}), tmp_path / "bench.parquet")
    with pytest.raises(CatalogueError, match=r"row 3, column noise: `nan`, not a finite number.*null"):
        read_catalogue(tmp_path / "bench.parquet", BED)


@pytest.mark.parametrize("name", ["bench.parquet", "bench.xlsx"])
@pytest.mark.parametrize(
    "content", [b"junk", b"PK\x03\x04junk", b"PAR1junkPAR1", b"\x00" * 99], ids=["text", "zip", "parquet", "zeros"]
)
def test_a_broken_file_is_a_problem(tmp_path: Path, name: str, content: bytes) -> None:
    """The libraries raise many kinds of exceptions; one kind comes out."""
    with pytest.raises(CatalogueError, match="cannot be read as"):
        read_text(tmp_path, content, BED, name)
