"""A report as a workbook: its one table first, a sheet a table, and what they all are on the last; whatever their names are."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pandas as pd
import pytest
from written_beds import write_trial

from analysis import Report, stability, weights, write_report
from analysis.outputs import table_files
from analysis.outputs.guard import is_ours
from analysis.report.report import Section
from analysis.report.source import Source, source_of
from analysis.report.tables import Column, Table, counts, figures, words
from analysis.report.workbook import ABOUT_COLUMNS, LONGEST_NAME, sheet_names
from analysis.scores.report import figures_report
from scoring import read_catalogue, read_formula, score
from scoring.errors import FileError

LONG = "reading_in_bed_on_the_left_side"
HOSTILE = ["=1+1", "+2", "-x", "@y", "\tz", "#N/A", "'q", "<b>", "A & B", "سرير"]
Sheets = dict[str, pd.DataFrame]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A formula, a catalogue and a study."""
    return write_trial(tmp_path_factory.mktemp("workbook"))


@pytest.fixture(scope="module")
def firm(folder: Path) -> Report:
    """A report with many tables, of two scores."""
    return stability(folder / "beds.yaml", folder / "beds.csv", study=folder / "study.yaml", draws=128, seed=3)


@pytest.fixture(scope="module")
def source(folder: Path) -> Source:
    """What a report was made from."""
    formula = read_formula(folder / "beds.yaml")
    return source_of(score(formula, read_catalogue(folder / "beds.csv", formula)))


@pytest.fixture
def report_of(source: Source) -> Callable[[Sequence[Section]], Report]:
    """A report of the sections that are given, with one table of two rows."""

    def made(sections: Sequence[Section]) -> Report:
        return Report(
            "trial",
            "=A trial",
            "A trial.",
            source,
            tuple(sections),
            body=dict,
            whole=lambda: pd.DataFrame({"row": [1, 2]}),
            found=None,
            closing=("=What is said at the end.",),
        )

    return made


def section(name: str, *tables: Table) -> Section:
    """A section of tables."""
    return Section(name, name, (), tables)


def of_one(name: str, value: float = 1.0) -> Table:
    """A table of one row."""
    return Table(name, f"The {name}", (figures("value", "value", [value], 1, unit="point"),))


def read_by_pandas(path: Path) -> Sheets:
    """Every sheet, with each text as it stands."""
    return pd.read_excel(path, sheet_name=None, keep_default_na=False, na_values=[""])


def test_a_workbook_has_every_table_of_the_report(firm: Report, tmp_path: Path) -> None:
    """The one table first, as the CSV has it; then each of `frames` in order, cell by cell; `about` at the end."""
    path = write_report(firm, tmp_path / "firm.xlsx")
    sheets = read_by_pandas(path)
    assert list(sheets) == ["scores", *firm.tables, "about"]
    kinds = {"agreement", "open", "places", "typical_weights", "catalogue", "factors"}
    assert {name.rpartition(".")[2] for name in firm.tables} == kinds
    table = pd.read_csv(write_report(firm, tmp_path / "firm.csv"), keep_default_na=False, na_values=[""])
    pd.testing.assert_frame_equal(sheets["scores"], table, check_dtype=False)
    for name, frame in firm.frames.items():
        read = sheets[name]
        assert list(read.columns) == list(frame.columns)
        assert len(read) == len(frame)
        for column in frame:
            for found, stated in zip(read[column].tolist(), frame[column].tolist(), strict=True):
                assert same(found, stated), (name, column, found, stated)


def same(found: Any, stated: Any) -> bool:
    """Whether a cell says what the table says: an empty one says nothing, and a text that would run has an apostrophe."""
    is_nothing = stated is None or stated == "" or (isinstance(stated, float) and math.isnan(stated))
    if is_nothing:
        return isinstance(found, float) and math.isnan(found)
    if isinstance(stated, str):
        return bool(found == table_files.neutral(stated))
    return bool(found == pytest.approx(stated, rel=1e-15))


def test_figures_are_numbers_and_heads_are_frozen(firm: Report, tmp_path: Path) -> None:
    """In every sheet: numbers are numbers, truths are truths, texts are texts, and the first row stays in sight."""
    book = openpyxl.load_workbook(write_report(firm, tmp_path / "firm.xlsx"))
    assert book.active.title == "scores"
    for sheet in book:
        assert sheet.freeze_panes == "B2"
        assert all(cell.data_type == "s" for cell in sheet[1])
        assert all(sheet.column_dimensions[cell.column_letter].width <= table_files.WIDEST for cell in sheet[1])
    places = book["reading.places"]
    kinds = {column[0].value: {cell.data_type for cell in column[1:]} for column in places.iter_cols()}
    assert kinds["product"] == {"s"}
    assert kinds["median"] == kinds["first"] == kinds["published_score"] == {"n"}
    bounds = book["reading.open"]
    kinds = {column[0].value: {cell.data_type for cell in column[1:]} for column in bounds.iter_cols()}
    assert kinds["set_low"] == kinds["shrunken"] == {"n"}
    assert kinds["set_low_unsure"] == kinds["in_top_set"] == {"b"}


def test_the_last_sheet_says_what_the_others_are(firm: Report, tmp_path: Path) -> None:
    """Titles, units and notes of every table, then what the report was made from, then the cautions."""
    about = pd.read_excel(write_report(firm, tmp_path / "firm.xlsx"), sheet_name="about", keep_default_na=False)
    assert list(about.columns) == list(ABOUT_COLUMNS)
    of = about[about["table"] != ""].set_index("table")
    assert list(of.index) == list(firm.tables)
    for name, table in firm.tables.items():
        assert of.loc[name, "title"] == table.title
        assert of.loc[name, "notes"] == " ".join(table.notes)
        assert of.loc[name, "units"] == "; ".join(f"{field}: {unit}" for field, unit in table.units.items())
    assert "published_score: point" in of.loc["reading.places", "units"]
    assert about["notes"][about["title"] == "made from"].tolist() == firm.source.lines()
    assert about["notes"][about["title"] == "caution"].tolist() == [*firm.closing, *firm.source.cautions]


def test_the_same_report_gives_the_same_bytes_and_is_ours(folder: Path, tmp_path: Path) -> None:
    """Also of a second run; and the file is known as ours."""
    paths = [tmp_path / "one.xlsx", tmp_path / "two.xlsx"]
    for path in paths:
        report = weights(folder / "beds.yaml", folder / "beds.csv", seed=0)
        assert len(report.tables) > 2
        write_report(report, path)
        assert is_ours(path)
    assert paths[0].read_bytes() == paths[1].read_bytes()


def test_texts_that_a_spreadsheet_would_run_stay_texts(report_of: Callable[..., Report], tmp_path: Path) -> None:
    """In cells, heads, titles, notes and units; characters that no XML can hold are shown as unprintable."""
    hostile = [*HOSTILE, "a\x07b\ud800\ufffe", "_x0041_"]
    table = Table("t", "=title", (words("=field", "=head", hostile, kind="name"),), notes=("+note",))
    measured = Column("=unit", {"@f": list(range(len(hostile)))}, unit="=mm\x00")
    made = report_of([section("s", table, Table("u", "+title", (measured,)))])
    path = write_report(made, tmp_path / "hostile.xlsx")
    book = openpyxl.load_workbook(path)
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type in ("s", "n")
                assert not str(cell.value or "").startswith(table_files.RUNS), (sheet.title, cell.value)
    column = [cell.value for cell in book["s.t"]["A"]]
    assert column == ["'=field", "'=1+1", "'+2", "'-x", "'@y", "'\tz", *HOSTILE[5:], "a\ufffdb\ufffd\ufffd", "_x0041_"]
    frame = read_by_pandas(path)["about"]
    assert {"'=A trial", "'=title", "'+title"} <= set(frame["title"])
    assert {"'+note", "'=What is said at the end."} <= set(frame["notes"])
    assert "'@f: =mm\ufffd" in set(frame["units"])


def test_names_of_sheets_are_legal_and_no_two_alike(report_of: Callable[..., Report], tmp_path: Path) -> None:
    """Names that are long, hostile, the same but for their end or their case, or those of the workbook's own sheets."""
    names = [
        LONG + "_one",
        LONG + "_two",
        LONG.upper() + "_TWO",
        "reading",
        "Reading",
        "READING",
        "straße",
        "STRASSE",
        "[a]:b*c?d/e\\f",
        "'quoted'",
        "\x07bell",
        "😀" * 20,
        "scores",
        "About",
        "history",
        "",
        "'",
    ]
    sections = [section(name, of_one("places", place), of_one("open", place)) for place, name in enumerate(names)]
    alone = [section("", of_one(name)) for name in ("scores", "ABOUT", "History", "'", "x" * 40, "reading.places (2)")]
    made = report_of([*sections, *alone])
    path = write_report(made, tmp_path / "names.xlsx")
    book = openpyxl.load_workbook(path)
    assert len(made.tables) == 2 * len(names) + len(alone)
    assert len(book.sheetnames) == len(made.tables) + 2
    assert len({name.casefold() for name in book.sheetnames}) == len(book.sheetnames)
    for name in book.sheetnames:
        assert 1 <= len(name.encode("utf-16-le")) // 2 <= LONGEST_NAME
        assert not set(name) & set("[]:*?/\\\x07")
        assert not name.startswith("'")
        assert not name.endswith("'")
        assert name.casefold() != "history"
    sheets = read_by_pandas(path)
    about = sheets["about"].dropna(subset=["table"])
    assert len(about) == len(made.tables)
    for (key, table), sheet in zip(made.tables.items(), about["sheet"], strict=True):
        assert sheets[sheet]["value"].tolist() == table.frame()["value"].tolist(), key


def test_a_long_name_keeps_that_of_the_table_and_is_numbered(report_of: Callable[..., Report], tmp_path: Path) -> None:
    """What is cut is the name of the score; the second with the same beginning has a number."""
    keys = [f"{LONG}_one.places", f"{LONG}_two.places", f"{LONG}_two.open", "Reading.places", "reading.places"]
    assert list(sheet_names(keys).values()) == [
        "reading_in_bed_on_the_le.places",
        "reading_in_bed_on_th.places (2)",
        "reading_in_bed_on_the_left.open",
        "Reading.places",
        "reading.places (2)",
    ]
    many = sheet_names(f"{LONG}{number}.places" for number in range(120))
    assert len(set(many.values())) == 120
    assert max(map(len, many.values())) == LONGEST_NAME


def test_empty_tables_and_those_in_another_order(report_of: Callable[..., Report], tmp_path: Path) -> None:
    """A table without rows has its heads, one without columns an empty sheet; rows come in the order that they are shown in."""
    empty = Table("empty", "None", (words("name", "name", []), figures("value", "value", np.array([]), 1)))
    turned = Table(
        "turned", "Turned", (counts("value", "value", [10, 20, 30]),), rows=[2, 0], hidden={"more": [1, 2, 3]}
    )
    made = report_of([section("s", empty, turned, Table("bare", "Bare", ()))])
    sheets = read_by_pandas(write_report(made, tmp_path / "empty.xlsx"))
    assert list(sheets) == ["scores", "s.empty", "s.turned", "s.bare", "about"]
    assert list(sheets["s.empty"].columns) == ["name", "value"]
    assert len(sheets["s.empty"]) == 0
    assert sheets["s.turned"].to_dict("list") == {"value": [30, 10], "more": [3, 1]}
    assert sheets["s.bare"].shape == (0, 0)


def test_cells_of_every_kind(report_of: Callable[..., Report], tmp_path: Path) -> None:
    """Numbers of numpy and Python are numbers, truths truths; nothing and what is not a number is empty; a list is a text."""
    values = [1, np.int64(2), 2.5, np.float64(0.1), float("nan"), None, True, np.bool_(False), "x", ("a", 1)]
    made = report_of([section("", Table("t", "T", (words("value", "value", values),)))])
    book = openpyxl.load_workbook(write_report(made, tmp_path / "kinds.xlsx"))
    cells = [cell for (cell,) in book["t"].iter_rows(min_row=2)]
    assert [cell.value for cell in cells] == [1, 2, 2.5, 0.1, None, None, True, False, "x", "a; 1"]
    assert [cell.data_type for cell in cells] == ["n", "n", "n", "n", "n", "n", "b", "b", "s", "s"]


def test_a_table_that_no_sheet_can_hold_is_left_out_and_named(
    report_of: Callable[..., Report], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The one table is written all the same; the last sheet says which others are not there, and why."""
    many = Table("many", "Many", (counts("value", "value", range(500)),))
    long = Table("long", "Long", (words("value", "value", ["x" * 5000]),))
    made = report_of([section("", many, long, of_one("short"))])
    monkeypatch.setattr(table_files, "MOST_CELLS", 250)
    monkeypatch.setattr(table_files, "MOST_CHARACTERS", 4000)
    sheets = read_by_pandas(write_report(made, tmp_path / "left.xlsx"))
    assert list(sheets) == ["scores", "short", "about"]
    about = sheets["about"].set_index("table")
    assert "501 cells are more than this workbook has room for" in about.loc["many", "notes"]
    assert "5,000 characters in one cell, and a sheet at most 4,000" in about.loc["long", "notes"]
    assert about["sheet"].isna().loc[["many", "long"]].all()
    monkeypatch.setattr(table_files, "MOST_CELLS", 10)
    with pytest.raises(FileError, match="expected at most 10"):
        write_report(made, tmp_path / "none.xlsx")


def test_a_workbook_holds_so_many_cells_on_all_sheets_together(
    report_of: Callable[..., Report], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of two tables that fit alone, the second has no room beside the first; a short one after it has."""
    first, second = (Table(name, name, (counts("value", "value", range(120)),)) for name in ("first", "second"))
    made = report_of([section("", first, second, of_one("short"))])
    cells = (2 + 1) * made.frame.shape[1]
    monkeypatch.setattr(table_files, "MOST_CELLS", cells + 121 + 2)
    sheets = read_by_pandas(write_report(made, tmp_path / "room.xlsx"))
    assert list(sheets) == ["scores", "first", "short", "about"]
    assert "121 cells" in sheets["about"].set_index("table").loc["second", "notes"]


def test_figures_alone_are_one_table_and_what_it_is(folder: Path, tmp_path: Path) -> None:
    """Of a large catalogue nothing else is worked out; CSV and Parquet hold the one table."""
    formula = read_formula(folder / "beds.yaml")
    made = figures_report(score(formula, read_catalogue(folder / "beds.csv", formula)))
    sheets = read_by_pandas(write_report(made, tmp_path / "scores.xlsx"))
    assert list(sheets) == ["scores", "about"]
    assert sheets["about"]["sheet"].dropna().tolist() == ["scores"]
    assert sheets["about"]["notes"].tolist()[1:-1] == [*made.source.lines(), *made.source.cautions][:-1]
    for path in (write_report(made, tmp_path / "s.csv"), write_report(made, tmp_path / "s.parquet")):
        read: Callable[[Path], pd.DataFrame] = pd.read_csv if path.suffix == ".csv" else pd.read_parquet
        assert read(path).shape == made.frame.shape
