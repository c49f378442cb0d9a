"""OpenDocument spreadsheets: typed cells, repetitions without end, and what is hostile."""

from __future__ import annotations

import datetime
import io
import random
import zipfile
from pathlib import Path

import pytest
import python_calamine
from catalogues import BED
from spreadsheets import ods, ods_of_xml, row

from scoring.catalogue import read_catalogue
from scoring.catalogue.cells import Fault
from scoring.catalogue.formats.formats import read_grids
from scoring.catalogue.formats.grid import Options, TableFile
from scoring.catalogue.sheet_file import read_sheet
from scoring.errors import CatalogueError, Problem
from scoring.texts.file_limits import lifted

HEADER = row(["product", "noise"])
CELL = "<table:table-cell {}>{}</table:table-cell>"


def rows_of(content: bytes, sheet: int = 0) -> list[tuple[int, list[object]]]:
    """The rows of a sheet that hold anything."""
    problems: list[Problem] = []
    grids = read_grids(TableFile("bench.ods", content), problems)
    assert problems == []
    return [(line, list(cells)) for line, cells in grids[sheet].rows(problems)]


def cells_of(*written: str) -> list[object]:
    """The cells of one row, as they are written."""
    ((_, cells),) = rows_of(ods_of_xml(Sheet=f"<table:table-row>{''.join(written)}</table:table-row>"))
    return cells


def typed(kind: str, value: str = "", shown: str = "shown", **attributes: str) -> str:
    """A cell of a kind, with its value where its kind has it, and what it shows."""
    where = {"float": "value", "percentage": "value", "currency": "value"}.get(kind, f"{kind}-value")
    others = " ".join(f'{name.replace("_", ":", 1)}="{text}"' for name, text in attributes.items())
    stated = f'office:{where}="{value}"' if value else ""
    return CELL.format(f'office:value-type="{kind}" {stated} {others}', f"<text:p>{shown}</text:p>")


@pytest.mark.parametrize(
    ("cell", "means"),
    [
        (typed("float", "31.5"), 31.5),
        (typed("float", "-1.2e-3"), -0.0012),
        (typed("percentage", "0.12", "12 %"), 0.12),
        (typed("currency", "499.9", "€ 499,90"), 499.9),
        (typed("boolean", "true"), True),
        (typed("boolean", "false"), False),
        (typed("date", "2026-11-27"), datetime.datetime(2026, 11, 27)),
        (typed("date", "2026-11-27T08:30:00"), datetime.datetime(2026, 11, 27, 8, 30)),
        (typed("time", "PT08H30M01.5S"), datetime.time(8, 30, 1, 500_000)),
        (typed("time", "PT30H00M00S"), datetime.timedelta(hours=30)),
        (typed("time", "-PT1H"), datetime.timedelta(hours=-1)),
        (typed("string"), "shown"),
        (typed("string", "held"), "held"),
        (CELL.format("", "<text:p>of no kind</text:p>"), "of no kind"),
        (typed("float", "2", table_formula="of:=1+1"), 2.0),
        (typed("string", "", "#DIV/0!", table_formula="of:=1/0", calcext_value__type="error").replace("__", "-"), "#DIV/0!"),
    ],
)  # fmt: skip
def test_a_cell_is_what_its_type_says(cell: str, means: object) -> None:
    """By its stored value, and not by what it shows in some country's way."""
    (found,) = cells_of(cell)
    assert (found, type(found)) == (means, type(means))


@pytest.mark.parametrize(
    ("cell", "says"),
    [
        (CELL.format('table:formula="of:=1+1"', ""), "a formula without a stored result"),
        (typed("float", "", "7"), "`` where the file should hold a number"),
        (typed("float", "1_0"), "`1_0` where the file should hold a number"),
        (typed("date", "27.11.2026"), "`27.11.2026` where the file should hold a date"),
        (typed("boolean", "perhaps"), "`perhaps` where the file should hold a truth value"),
        (typed("time", "8:30"), "`8:30` where the file should hold a time"),
    ],
)
def test_a_cell_without_its_value_is_faulty(cell: str, says: str, tmp_path: Path) -> None:
    """It is no empty cell; where it is read, it is a fault at its address."""
    (found,) = cells_of(cell)
    assert isinstance(found, Fault)
    assert found.found == says
    path = tmp_path / "bench.ods"
    path.write_bytes(
        ods_of_xml(Sheet=f"{HEADER}<table:table-row>{CELL.format('', '<text:p>A</text:p>')}{cell}</table:table-row>")
    )
    with pytest.raises(CatalogueError, match=r"bench\.ods, sheet Sheet, cell B2 \(noise\): "):
        read_catalogue(path, BED)


@pytest.mark.parametrize(
    ("inside", "means"),
    [
        ("<text:p>two  blanks\n and a line</text:p>", "two blanks and a line"),
        ('<text:p>a<text:s text:c="3"/>b<text:tab/>c<text:line-break/>d</text:p>', "a   b\tc\nd"),
        ("<text:p><text:s/>edge<text:s/></text:p>", " edge "),
        ("<text:p>  \n edge \n </text:p>", "edge"),
        ("<text:p>one</text:p><text:p>two</text:p>", "one\ntwo"),
        ('<text:p>a <text:span>bold</text:span> <text:a href="x">link</text:a></text:p>', "a bold link"),
        ("<office:annotation><text:p>who said so</text:p></office:annotation><text:p>cell</text:p>", "cell"),
        ("<text:p>cell</text:p><draw:frame><draw:text-box><text:p>drawn</text:p></draw:text-box></draw:frame>", "cell"),
        ("<text:p>&lt;b&gt; &amp; &#233;</text:p>", "<b> & é"),
    ],
)  # fmt: skip
def test_texts_are_what_a_reader_sees(inside: str, means: str) -> None:
    """Without comments and drawings; blanks count where they are elements."""
    assert cells_of(CELL.format('office:value-type="string"', inside)) == [means]


EMPTY_SHEET_REST = '<table:table-row table:number-rows-repeated="1048000"><table:table-cell table:number-columns-repeated="16384"/></table:table-row>'


def test_empty_cells_and_rows_repeated_a_million_times_are_nothing() -> None:
    """As every spreadsheet ends; what stands behind them keeps its number."""
    wide = "<table:table-row>" + CELL.format('table:number-columns-repeated="2"', "<text:p>x</text:p>")
    wide += '<table:table-cell table:number-columns-repeated="3"/>' + CELL.format("", "<text:p>y</text:p>")
    wide += '<table:table-cell table:number-columns-repeated="16000"/></table:table-row>'
    with lifted(rows=4, cells=20):
        found = rows_of(ods_of_xml(Sheet=HEADER + EMPTY_SHEET_REST + wide + EMPTY_SHEET_REST))
    assert found == [(1, ["product", "noise"]), (1048002, ["x", "x", None, None, None, "y"])]


def test_a_row_that_is_repeated_is_so_many_rows() -> None:
    """Two equal rows are written as one of two."""
    twice = row(["A", 30]).replace("<table:table-row>", '<table:table-row table:number-rows-repeated="2">')
    assert rows_of(ods_of_xml(Sheet=HEADER + twice)) == [(1, ["product", "noise"]), (2, ["A", 30.0]), (3, ["A", 30.0])]


@pytest.mark.parametrize(
    ("repeated", "says"),
    [
        (
            ('table:number-rows-repeated="1000000"', 'table:number-columns-repeated="16384"'),
            "at least 16 384 000 002 cells",
        ),
        (('table:number-rows-repeated="9999999999"', ""), "at least 10 000 000 000 rows"),
        (("", 'table:number-columns-repeated="9999999999"'), "at least 10 000 000 001 cells"),
    ],
)
def test_a_few_bytes_that_say_a_million_times_are_refused(repeated: tuple[str, str], says: str) -> None:
    """Before any of the cells is made."""
    rows, columns = repeated
    cell = CELL.format(f'office:value-type="float" office:value="1" {columns}', "")
    problems: list[Problem] = []
    content = ods_of_xml(Sheet=f"{HEADER}<table:table-row {rows}>{cell}</table:table-row>")
    assert read_sheet(content, "bench.ods", problems) is None
    assert says in str(problems[0])


@pytest.mark.parametrize("count", ["0", "-3", "1e9", "", "9" * 5000, "٣"])
def test_a_count_that_is_none_is_a_broken_file(count: str) -> None:
    """Nothing is taken for it."""
    problems: list[Problem] = []
    content = ods_of_xml(
        Sheet=f'{HEADER}<table:table-row table:number-rows-repeated="{count}">{CELL.format("", "")}</table:table-row>'
    )
    assert read_sheet(content, "bench.ods", problems) is None
    assert "cannot be read as ODS (ValueError)" in str(problems[0])


@pytest.mark.parametrize(
    "declared",
    [
        '<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;&a;">]>',
        '<!DOCTYPE x SYSTEM "file:///etc/hostname">',
        "<!DOCTYPE x>",
    ],
)
def test_a_document_type_is_refused(declared: str) -> None:
    """Without one no entity can be declared: none is unfolded, and nothing is fetched."""
    problems: list[Problem] = []
    assert read_sheet(ods_of_xml(declared, Sheet=HEADER), "bench.ods", problems) is None
    assert "cannot be read as ODS (ValueError)" in str(problems[0])


def test_sheets_are_found_by_their_names_and_in_their_order(tmp_path: Path) -> None:
    """Copies of other files' sheets, and tables within cells, are none."""
    copy = row(["not", "this"])
    inner = f"<table:table-row>{CELL.format('', f'<table:table table:name=&quot;In&quot;>{copy}</table:table>'.replace('&quot;', chr(34)))}</table:table-row>"
    content = ods_of_xml(
        Notes=row(["see"]) + inner, **{"'file:///other.ods'#$Sheet1": copy}, Bench=HEADER + row(["A", 30])
    )
    problems: list[Problem] = []
    grids = read_grids(TableFile("bench.ods", content), problems)
    assert [grid.sheet for grid in grids] == ["Notes", "Bench"]
    assert rows_of(content, 1)[1] == (2, ["A", 30.0])
    assert [cells for _, cells in rows_of(content, 0)] == [["see"]]
    (tmp_path / "bench.ods").write_bytes(content)
    assert read_catalogue(tmp_path / "bench.ods", BED).products == ("A",)
    wanted = read_grids(TableFile("x.ods", content, Options(sheets=("bench", "Notes"))), problems)
    assert [grid.sheet for grid in wanted] == ["Bench", "Notes"]
    assert read_grids(TableFile("x.ods", content, Options(sheets=("Bensh",))), problems) == ()
    assert str(problems[0]) == "x.ods: no sheet called `Bensh`; expected one of its 2 sheets. Did you mean `Bench`?"


def test_a_sheet_that_is_kept_from_view_is_known_as_such() -> None:
    """By its style, as spreadsheet programs hide one."""
    style = '<style:style xmlns:style="urn:oasis:names:tc:opendocument:xmlns:style:1.0" style:name="ta2" style:family="table">'
    style += '<style:table-properties table:display="false"/></style:style>'
    whole = ods_of_xml(Shown=HEADER, Hidden=HEADER)
    document = zipfile.ZipFile(io.BytesIO(whole)).read("content.xml").decode()
    document = document.replace(
        "<office:body>", f"<office:automatic-styles>{style}</office:automatic-styles><office:body>"
    )
    document = document.replace('table:name="Hidden"', 'table:name="Hidden" table:style-name="ta2"')
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("content.xml", document)
    grids = read_grids(TableFile("bench.ods", stream.getvalue()), [])
    assert [(grid.sheet, grid.is_hidden) for grid in grids] == [("Shown", False), ("Hidden", True)]


@pytest.mark.parametrize("lower", [{"unpacked": 100}, {"rows": 1}, {"cells": 3}])
def test_a_spreadsheet_is_held_to_the_limits(lower: dict[str, int], tmp_path: Path) -> None:
    """What its directory says is believed first; rows and cells are counted as they are read."""
    path = ods(tmp_path, [["product", "noise"], ["A", 30]])
    with lifted(**lower), pytest.raises(CatalogueError, match="--limit"):
        read_catalogue(path, BED)


def test_another_library_reads_the_same_cells(tmp_path: Path) -> None:
    """On sheets by chance of every kind of cell (python-calamine, which shares nothing with this)."""
    drawn = random.Random(0)
    kinds = [None, "text", "é & <", 0, -1.5, 31.25, True, False, datetime.date(2026, 11, 27), "007"]
    for number in range(20):
        rows = [[drawn.choice(kinds) for _ in range(drawn.randint(1, 8))] for _ in range(drawn.randint(1, 12))]
        path = ods(tmp_path, [["name"], *rows], f"{number}.ods")
        theirs = python_calamine.CalamineWorkbook.from_path(str(path)).get_sheet_by_index(0)
        expected = [_plain(cells) for cells in theirs.to_python(skip_empty_area=False)]
        ours = {line: _plain(cells) for line, cells in rows_of(path.read_bytes())}
        assert [ours.get(line, []) for line in range(1, len(expected) + 1)] == expected


def _plain(cells: list[object]) -> list[object]:
    """Cells as both libraries have them: dates as days, empty texts as nothing, none of these at the end."""
    kept = [
        cell.date() if isinstance(cell, datetime.datetime) else cell or (None if cell == "" else cell) for cell in cells
    ]
    while kept and kept[-1] is None:
        kept.pop()
    return kept


def test_a_broken_spreadsheet_is_a_fault_whatever_is_broken() -> None:
    """Bytes of the archive and letters of the document changed by chance: a fault or a table, and nothing else."""
    drawn = random.Random(0)
    whole = ods_of_xml(Sheet=HEADER + row(["A", 1.5]))
    document = zipfile.ZipFile(io.BytesIO(whole)).read("content.xml")
    for number in range(300):
        broken = bytearray(document if number % 2 else whole)
        for _ in range(drawn.choice([1, 2, 5])):
            broken[drawn.randrange(len(broken))] = drawn.choice(b'<>/"=a1- :&;\x00\xff')
        content = bytes(broken)
        if number % 2:
            stream = io.BytesIO()
            with zipfile.ZipFile(stream, "w") as archive:
                archive.writestr("content.xml", content)
            content = stream.getvalue()
        problems: list[Problem] = []
        sheet = read_sheet(content, "bench.ods", problems)
        assert sheet is not None or problems
