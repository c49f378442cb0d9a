"""Limits of what is read: each is a fault in one line, looked at before a file is unpacked, and lifted by an option."""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import asdict
from pathlib import Path

import openpyxl
import pyarrow
import pyarrow.parquet
import pytest
from catalogues import PLAIN, read_text
from from_readme import guide
from typer.testing import CliRunner

from analysis.cli.main import app
from scoring.catalogue import read_catalogue
from scoring.catalogue.sheet_file import read_sheet
from scoring.catalogue.sheets import Sheet
from scoring.errors import CatalogueError, Place, Problem, SteelyardError
from scoring.texts.file_limits import BY_DEFAULT, COUNTS, Limits, lifted, limits, over_limits, read_limits

ROWS = "product,sag\nA,1\nB,2\nC,3\n"
LONG = "product,measure,value\nA,sag,1\nA,x,2\nA,y,3\n"
NAMESPACE = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
HEADER = '<row r="1"><c r="A1" t="inlineStr"><is><t>product</t></is></c><c r="B1" t="inlineStr"><is><t>sag</t></is></c></row>'


def faults(content: str | bytes, folder: Path, name: str = "bench.csv", **lower: int) -> list[str]:
    """What is said of a file where some limits are lower."""
    with lifted(**lower), pytest.raises(CatalogueError) as caught:
        read_text(folder, content, PLAIN, name)
    return [str(problem).removeprefix(f"{folder}/") for problem in caught.value.problems]


def workbook(**parts: str) -> bytes:
    """A workbook of two cells, with parts of it written anew; `sheet` and `styles` name them."""
    book = openpyxl.Workbook()
    book.active.append(["product", "sag"])
    book.active.append(["A", 1.5])
    whole, stream = io.BytesIO(), io.BytesIO()
    book.save(whole)
    names = {"sheet": "xl/worksheets/sheet1.xml", "styles": "xl/styles.xml"}
    anew = {names[part]: text for part, text in parts.items()}
    with zipfile.ZipFile(whole) as old, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, anew.get(name, old.read(name)))
    return stream.getvalue()


def sheet_of_rows(rows: str) -> bytes:
    """A workbook whose sheet holds these rows, as XML, below its header."""
    return workbook(sheet=f"<worksheet {NAMESPACE}><sheetData>{HEADER}{rows}</sheetData></worksheet>")


def parquet(**columns: object) -> bytes:
    """A Parquet file of these columns."""
    stream = io.BytesIO()
    pyarrow.parquet.write_table(pyarrow.table(columns), stream, compression="zstd")
    return stream.getvalue()


@pytest.mark.parametrize(
    ("content", "lower", "says"),
    [
        (ROWS, {"file_bytes": 20}, "bench.csv: 24 bytes; expected at most 20."),
        (ROWS, {"rows": 2}, "bench.csv: at least 3 rows; expected at most 2."),
        (ROWS, {"cells": 5}, "bench.csv: at least 6 cells; expected at most 5."),
        (ROWS, {"columns": 1}, "bench.csv:1: 2 columns; expected at most 1."),
        (LONG, {"columns": 2}, None),
        ("product,sag #1,sag #900\nA,1,\nB,2,\n", {"cells": 1000}, "bench.csv, column sag: 1 800 cells; expected at most 1 000."),
    ],
    ids=["bytes", "rows", "cells", "columns", "columns of a long file", "repeats"],
)  # fmt: skip
def test_a_csv_beyond_a_limit_is_refused(content: str, lower: dict[str, int], says: str | None, tmp_path: Path) -> None:
    """With the option that lifts it."""
    (name,) = lower
    lift = f" `steelyard --limit {name}=N COMMAND ...` reads more, where there is memory for it."
    says = says or "bench.csv:1: 3 columns; expected at most 2."
    assert faults(content, tmp_path, **lower) == [says + lift]


def test_a_long_file_of_very_many_measures_is_refused(tmp_path: Path) -> None:
    """Each different name would be held against every measure."""
    content = "product,measure,value\n" + "".join(f"A,x{i},1\n" for i in range(4))
    (told,) = faults(content, tmp_path, columns=3)
    assert told.startswith("bench.csv, row 1, column measure: 4 different measures; expected at most 3.")


@pytest.mark.parametrize(
    ("rows", "lower", "says"),
    [
        ("".join(f'<row r="{i}"><c r="XFD{i}"><v>1</v></c></row>' for i in range(2, 50)), {"cells": 100_000}, "at least 114 690 cells"),
        ("".join(f'<row r="{i}"><c r="A{i}"><v>1</v></c></row>' for i in range(2, 50)), {"rows": 10}, "at least 11 rows"),
        ("<row/>" * 1000, {"unpacked": 2000}, "bytes once unpacked; expected at most 2 000"),
    ],
    ids=["one cell far to the right", "rows", "unpacked"],
)  # fmt: skip
def test_a_workbook_that_unpacks_to_very_much_is_refused(
    rows: str, lower: dict[str, int], says: str, tmp_path: Path
) -> None:
    """What its directory says is believed first; rows and cells are counted as they are read."""
    (told,) = faults(sheet_of_rows(rows), tmp_path, "bench.xlsx", **lower)
    assert says in told


def test_a_workbook_of_very_many_formats_is_refused(tmp_path: Path) -> None:
    """A format takes a hundred times its bytes in memory; nothing of them is read."""
    (told,) = faults(workbook(styles="<x>" + "<xf/>" * 2_000_001 + "</x>"), tmp_path, "bench.xlsx")
    assert re.search(
        r"bench\.xlsx: \d+ bytes of formats and the like, once unpacked; expected at most 10000000\.", told
    )


def test_a_part_is_known_by_what_it_is_declared_to_be_and_not_by_its_name(tmp_path: Path) -> None:
    """Formats under the name of a sheet or a picture are still formats; a sheet by any name holds cells."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook())) as old, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            text = old.read(name).replace(b"/xl/workbook.xml", b"/xl/media/workbook.xml")
            text = text.replace(b'Target="xl/workbook.xml', b'Target="xl/media/workbook.xml')
            new.writestr(name, text)
        new.writestr("xl/media/workbook.xml", b" " * 10_000_001)
    (told,) = faults(stream.getvalue(), tmp_path, "bench.xlsx")
    assert "bytes of formats and the like, once unpacked; expected at most 10000000." in told


def test_empty_rows_of_a_workbook_count_for_nothing(tmp_path: Path) -> None:
    """A reading in the last row of a sheet is no million rows."""
    with lifted(rows=10):
        rows = '<row r="9000"><c r="A9000" t="inlineStr"><is><t>A</t></is></c><c r="B9000"><v>7</v></c></row>'
        read = read_text(tmp_path, sheet_of_rows(rows), PLAIN, "bench.xlsx")
    assert read.readings["sag"].values.tolist() == [[7.0]]


@pytest.mark.parametrize("name", ["rows", "cells", "columns", "unpacked"])
def test_a_parquet_file_is_held_to_what_it_says_of_itself(name: str, tmp_path: Path) -> None:
    """Thousands of equal numbers are a few bytes in the file."""
    content = parquet(product=["A"] * 5000, sag=[1.0] * 5000)
    (told,) = faults(content, tmp_path, "bench.parquet", **{name: 1})
    assert re.search(rf"bench\.parquet: [0-9 ]+ {COUNTS[name]}; expected at most 1\.", told)


def test_one_long_text_of_many_rows_is_held_once() -> None:
    """A million rows of one text of a million letters are a few kilobytes in the file, and would be a terabyte unpacked."""
    problems: list[Problem] = []
    words = pyarrow.DictionaryArray.from_arrays([0] * 3 + [1, None], ["x" * 1000, "y"])
    sheet = read_sheet(parquet(product=words, sag=[1.0] * 5), "bench.parquet", problems)
    assert sheet is not None
    first, second, *_ = sheet.column("product")
    assert first is second
    assert sheet.column("product").tolist() == ["x" * 1000] * 3 + ["y", None]


def test_the_option_lifts_a_limit_for_one_run(tmp_path: Path) -> None:
    """It stands before the command; the next run goes by the defaults again."""
    formula = "formula: t\nscale: {from: 1, to: 10}\nmeasures: {sag: {unit: mm}}\nratings: {r: {measure: sag, curve: {line: {worst: 9, best: 0}}}}\n"
    (tmp_path / "beds.yaml").write_text(formula, encoding="utf-8")
    (tmp_path / "beds.csv").write_text(ROWS, encoding="utf-8")
    command = ["score", str(tmp_path / "beds.yaml"), str(tmp_path / "beds.csv")]
    refused = CliRunner().invoke(app, ["--limit", "rows=2", *command])
    assert (refused.exit_code, "at least 3 rows; expected at most 2" in refused.stderr) == (2, True)
    assert CliRunner().invoke(app, ["--limit", "rows=3", *command]).exit_code == 0
    assert limits() == BY_DEFAULT


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("cell=5", "--limit: `cell`; expected one of file_bytes, unpacked, rows, columns, cells, record_bytes. Did you mean `cells`?"),
        ("cells", "--limit: `cells`; expected a whole number, as `cells=100000000`."),
        ("cells=0x5", "--limit: `cells=0x5`; expected a whole number, as `cells=100000000`."),
        ("rows=-1", "--limit: `rows=-1`; expected a whole number, as `rows=100000000`."),
    ],
)  # fmt: skip
def test_a_limit_that_is_none_is_refused(written: str, says: str) -> None:
    """With the nearest name, or how it is written."""
    with pytest.raises(SteelyardError) as caught:
        read_limits([written])
    assert str(caught.value) == says
    assert read_limits(["cells=40_000_000", "rows=7"]) == {"cells": 40_000_000, "rows": 7}


def test_the_guide_lists_every_limit() -> None:
    """With the number that is in force."""
    text = guide("readings")
    for name, most in asdict(Limits()).items():
        assert f"`{name}` " + f"{most:_}".replace("_", " ") in text


def test_what_reaches_a_limit_is_within_it() -> None:
    """At most is at most."""
    assert over_limits(Place("x"), rows=limits().rows) == []
    assert len(over_limits(Place("x"), rows=limits().rows + 1, cells=1)) == 1


def test_of_two_columns_of_one_name_the_first_is_found() -> None:
    """The second is a fault of its own."""
    sheet = Sheet("x", ("a", "b", "a"), tuple(map(tuple, ("1", "2", "3"))), ())  # type: ignore[arg-type]
    assert (sheet.column("a"), sheet.column("b")) == (("1",), ("2",))


def test_a_catalogue_of_a_folder_is_held_to_the_limits_too(tmp_path: Path) -> None:
    """Items as well as readings."""
    (tmp_path / "readings.csv").write_text(ROWS, encoding="utf-8")
    (tmp_path / "items.csv").write_text("id\nA\nB\nC\n", encoding="utf-8")
    with lifted(rows=2), pytest.raises(CatalogueError) as caught:
        read_catalogue(tmp_path, PLAIN)
    assert [problem.place.source.rsplit("/", 1)[-1] for problem in caught.value.problems] == [
        "readings.csv",
        "items.csv",
    ]
