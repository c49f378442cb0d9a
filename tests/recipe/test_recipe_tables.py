"""Recipes applied: which rows and columns make a table, what its cells say, and how tables are joined."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from forms import form, measure
from recipes import BEDS, by_recipe, faults_of, held, sessions

from scoring.catalogue import State, read_catalogue
from scoring.catalogue.conditions_of_reading import conditions_of

NOISE = "measures: {noise_dba: {column: Noise}}\n"
SHEET: list[list[Any]] = [
    ["Invented readings", None, None],
    [],
    [None, "as the bench leaves them"],
    ["Model", "Noise (dB)", "Noise\n(dB) #2", "Edge A", "Edge B", "Type", "Notes"],
    ["A-01", 30.5, "TBD", 2.5, "2.75", "foam", "see mail by K."],
    [],
    ["A-02", 31, 32.0, 3, "no edge", "coil"],
    [7, "<LOD", "-", None, None, "foam", None, None, "a remark beside"],
    ["Average", 31.2],
    [None],
    ["Total", 3],
    ["written by K."],
]
RECIPE = """\
    readings: bench
    product: Model
    words: {missing: [tbd, "-"], not_applicable: [no edge], below: ["<LOD"]}
    ignore: [Notes]
    measures:
      noise_dba: {column: Noise}
      sit_drop: {columns: [Edge A, Edge B], unit: in}
    attributes: {class: {column: Type}}
    tables:
      - {file: bench.xlsx, header: 4, skip_where: {Model: [average]}, until: {Model: Total}}
"""


def test_a_sheet_that_nobody_prepared(tmp_path: Path) -> None:
    """Title rows, blank rows, a row of means, a total, words, units in the recipe: nothing of the workbook is edited."""
    sheet = [list(row) for row in SHEET]
    sheet[6][4] = 3.5
    catalogue = by_recipe(tmp_path, RECIPE, bench={"Spring": sheet})
    assert catalogue.products == ("A-01", "A-02", "7")
    assert held(catalogue) == {"A-01": [30.5], "A-02": [31, 32], "7": []}
    assert held(catalogue, "sit_drop")["A-01"] == [63.5, 69.85]
    assert catalogue.attributes == {"class": ("foam", "coil", "foam")}
    assert catalogue.readings["noise_dba"].reasons == {(0, 1): "TBD", (2, 0): "<LOD", (2, 1): "-"}
    assert catalogue.readings["noise_dba"].values[2, 0] == 22
    assert catalogue.readings["noise_dba"].states[2].tolist() == [State.BELOW, State.MISSING]
    assert (catalogue.unused, catalogue.left_out) == ((), ("column I",))
    place = catalogue.readings["noise_dba"].place(1, 1)
    assert str(place) == f"{tmp_path}/bench.xlsx, sheet Spring, cell C7 (Noise (dB) #2)"


def test_a_measure_that_does_not_apply_has_no_reading_beside(tmp_path: Path) -> None:
    """As without a recipe, each cell named."""
    (fault,) = faults_of(tmp_path, RECIPE, bench={"Spring": SHEET})
    assert fault.startswith(
        "bench.xlsx, sheet Spring, cell E7 (Edge B): `sit_drop` not applicable, and a reading of it in "
    )


@pytest.mark.parametrize(
    ("table", "rows"),
    [
        ("header: 2", "x,x\nModel,Noise\nA,30\nB,31\n"),
        ("header: [1, 3]", "Model,Noise\n,\n,#1\nA,30\nB,31\n"),
        ("header: 1, units: 2", "Model,Noise\n,[dB]\nA,30\nB,31\n"),
        ("skip: [3, 5]", "Model,Noise\nA,30\nX,99\nB,31\nY,99\n"),
        ("until: 4", "Model,Noise\nA,30\nB,31\nX,99\n"),
        ("until: blank", "Model,Noise\nA,30\nB,31\n,\nX,99\n"),
        ("until: {Noise: [sum, END]}", "Model,Noise\nA,30\nB,31\nX,end\nY,99\n"),
        ("skip_where: {Noise: x, Model: [Mean, MEDIAN]}", "Model,Noise\nA,30\nmean,3\nB,31\nmedian,4\nC,x\n"),
        ("header: 3, until: 6", "Model,Noise\nX,1\nModel,Noise\nA,30\nB,31\nModel,Noise\n"),
        ("skip_where: {Model: Mean}", "Model,Noise\nA,30\nMean,1,2,3\nB,31\n"),
    ],
)  # fmt: skip
def test_rows_of_a_table(tmp_path: Path, table: str, rows: str) -> None:
    """The header, what is passed over, and where the table ends."""
    recipe = f"readings: r\nproduct: Model\n{NOISE}tables: [{{file: bench.csv, {table}}}]\n"
    assert held(by_recipe(tmp_path, recipe, bench=rows)) == {"A": [30], "B": [31]}


def test_a_cell_over_two_lines_is_no_blank_row(tmp_path: Path) -> None:
    """A table ends at a row that holds nothing, and not where a remark takes two lines of a text file."""
    rows = 'Model,Noise,Notes\nA,30,"two\nlines"\nB,31,\n,,\nC,32,\n'
    recipe = f"readings: r\nproduct: Model\n{NOISE}tables: [{{file: bench.csv, until: blank}}]\n"
    assert held(by_recipe(tmp_path, recipe, bench=rows)) == {"A": [30], "B": [31]}


def test_two_tables_below_each_other(tmp_path: Path) -> None:
    """Each has its own rows of the one sheet; a table that begins in column C has no empty columns."""
    rows: list[list[Any]] = [
        [None, None, "Model", "Noise"],
        [None, None, "A", 30],
        [None, None, "B", 31],
        [],
        [None, None, "Model", "Edge drop"],
        [None, None, "B", 50],
    ]
    recipe = """\
        readings: r
        product: Model
        measures: {noise_dba: {column: Noise}, sit_drop: {column: Edge drop}}
        tables: [{file: bench.xlsx, until: blank}, {file: bench.xlsx, header: 5}]
    """
    catalogue = by_recipe(tmp_path, recipe, bench={"Bench": rows})
    assert held(catalogue) == {"A": [30], "B": [31]}
    assert held(catalogue, "sit_drop") == {"A": [], "B": [50]}
    assert str(catalogue.readings["sit_drop"].place(1, 0)).endswith("sheet Bench, cell D6 (Edge drop)")
    assert (catalogue.unused, catalogue.left_out) == ((), ())


def test_columns_of_one_name_are_repeats_where_the_recipe_names_them(tmp_path: Path) -> None:
    """In their order; without a line in the recipe, a second column of one name is a fault."""
    rows = "Model,Noise (dB),Noise (dB),Noise\nA,30,31,32\n"
    recipe = f"readings: r\nproduct: Model\n{NOISE}tables: [{{file: bench.csv}}]\n"
    assert held(by_recipe(tmp_path, recipe, bench=rows)) == {"A": [30, 31, 32]}
    (fault,) = faults_of(
        tmp_path, "readings: r\ntables: [{file: bench.csv}]\n", bench="id,noise_dba,noise_dba\nA,30,31\n"
    )
    assert fault == (
        "bench.csv, row 1, column noise_dba: repeat 1 of `noise_dba`, which the column `noise_dba` holds already; expected one "
        "column a repeat. Columns that are its repeats in their order: `measures: {noise_dba: {column: noise_dba}}`."
    )


def test_merged_cells_are_filled_where_it_is_asked(tmp_path: Path) -> None:
    """An empty cell means what stands above it."""
    rows: list[list[Any]] = [["Model", "Noise"], ["A", 30], [None, 31], ["B", 32]]
    recipe = f"readings: r\nproduct: Model\nfill: [Model]\nduplicates: repeats\n{NOISE}tables: [{{file: bench.xlsx}}]\n"
    assert held(by_recipe(tmp_path, recipe, bench={"Bench": rows})) == {"A": [30, 31], "B": [32]}


CELLS = [
    ("decimal: comma", "30,5", 30.5),
    ("decimal: comma", "30", 30.0),
    ("decimal: comma", "3,05e1", 30.5),
    ("decimal: point", "30.5", 30.5),
    ("words: {missing: [999]}", "999", None),
    ("words: {missing: [n/a]}", "N/A", None),
    ("words: {missing: [not measured]}", " Not Measured ", None),
]


@pytest.mark.parametrize(("line", "cell", "value"), CELLS)
def test_what_a_cell_says(tmp_path: Path, line: str, cell: str, value: float | None) -> None:
    """By the recipe's decimal sign and its words, which come before what cells mean anyway."""
    recipe = f"readings: r\n{line}\ntables: [{{file: bench.csv}}]\n"
    catalogue = by_recipe(tmp_path, recipe, bench=f'id,noise_dba\nA,"{cell}"\n')
    assert held(catalogue) == {"A": [] if value is None else [value]}
    assert catalogue.readings["noise_dba"].marks[0, 0] == (State.MISSING if value is None else State.VALUE)
    assert catalogue.readings["noise_dba"].reasons == ({(0, 0): cell.strip()} if value is None else {})


def test_a_number_that_means_missing_does_so_in_a_number_cell(tmp_path: Path) -> None:
    """As a spreadsheet holds it."""
    recipe = "readings: r\nwords: {missing: [999]}\ntables: [{file: bench.xlsx}]\n"
    catalogue = by_recipe(tmp_path, recipe, bench={"Bench": [["id", "noise_dba"], ["A", 999.0], ["B", 30]]})
    assert held(catalogue) == {"A": [], "B": [30]}


def test_a_decimal_comma_keeps_number_cells_and_limits(tmp_path: Path) -> None:
    """`decimal` is of texts; a point after a leading 0 is certain."""
    recipe = "readings: r\ndecimal: comma\ntables: [{file: bench.xlsx}]\n"
    rows = [["id", "noise_dba", "rise"], ["A", 30.5, "2,5"], ["B", "< 22,5", "0.5"]]
    catalogue = by_recipe(tmp_path, recipe, bench={"Bench": rows})
    assert held(catalogue) == {"A": [30.5], "B": [22.5]}
    assert held(catalogue, "rise") == {"A": [2.5], "B": [0.5]}


def test_a_cell_may_state_its_own_unit(tmp_path: Path) -> None:
    """Which then holds, whatever the header says; a letter that is no unit of the bench is none."""
    recipe = "readings: r\ntables: [{file: bench.csv}]\n"
    rows = "id,sit_drop [mm],noise_dba\nA,2 in,31.5 dB\nB,60,< 22dB\nC,5cm,33\nD,70 mm,\n"
    catalogue = by_recipe(tmp_path, recipe, bench=rows)
    assert held(catalogue, "sit_drop") == {"A": [50.8], "B": [60], "C": [50], "D": [70]}
    assert held(catalogue) == {"A": [31.5], "B": [22], "C": [33], "D": []}
    assert catalogue.readings["noise_dba"].marks[1, 0] == State.BELOW
    faults = faults_of(tmp_path, recipe, bench="id,sit_drop,rise\nA,31 A,5\nB,2 dB,6\n")
    assert [fault.split(":")[0] for fault in faults] == [
        "bench.csv, row 2, column sit_drop",
        "bench.csv, row 1, column sit_drop",
    ]
    assert "Write the unit in the header" in faults[0]
    assert "dB" in faults[1]


def test_sheets_and_files_are_joined_by_product(tmp_path: Path) -> None:
    """A measure in two tables has the repeats of both, each with its session; a table without readings adds attributes."""
    recipe = """\
        readings: r
        sessions: {each: sheet}
        tables:
          - {file: bench.xlsx, sheets: all}
          - {file: types.csv, attributes: {class: {column: Type}}}
    """
    bench: dict[str, list[list[Any]]] = {
        "Spring": [["id", "noise_dba [dB] #1", "noise_dba [dB] #2"], ["A", 30, 31], ["B", 32, None]],
        "Summer": [["id", "noise_dba [dB] #1", "rise"], ["B", 40, 1.5], ["C", 41, None], ["A", None, 2]],
        "-Old": [["id", "noise_dba"], ["A", 70]],
    }
    catalogue = by_recipe(tmp_path, recipe, bench=bench, types="id,Type\nC,foam\nD,coil\nA,foam\n")
    assert catalogue.products == ("A", "B", "C", "D")
    assert held(catalogue) == {"A": [30, 31], "B": [32, 40], "C": [41], "D": []}
    assert held(catalogue, "rise") == {"A": [2], "B": [1.5], "C": [], "D": []}
    assert sessions(catalogue) == [["Spring", "Spring"], ["Spring", "Summer"], ["Summer", ""], ["", ""]]
    assert catalogue.attributes == {"class": ("foam", "", "foam", "coil")}


def test_the_same_as_one_wide_file(tmp_path: Path) -> None:
    """Where a recipe has nothing to say, it says nothing else than the file alone."""
    rows = "product,class,noise_dba [dB] #1,noise_dba [dB] #2,sit_drop [in],Remarks,load\nA,foam,30,missing: out,2,x,3\nB,,31,32,n/a,,4\n"
    (tmp_path / "bench.csv").write_text(rows)
    plain = read_catalogue(tmp_path / "bench.csv", BEDS)
    read = by_recipe(tmp_path, "readings: r\ntables: [{file: bench.csv}]\n", bench=rows)
    for name, one in plain.readings.items():
        other = read.readings[name]
        assert np.array_equal(one.values, other.values, equal_nan=True)
        assert np.array_equal(one.marks, other.marks)
        assert (one.reasons, one.columns, one.rows.tolist()) == (other.reasons, other.columns, other.rows.tolist())
    assert (plain.products, plain.attributes) == (read.products, read.attributes)
    assert (plain.unused, plain.left_out) == (read.unused, read.left_out)


@pytest.mark.parametrize(
    ("rule", "row", "specimens"),
    [("repeats", [30, 31, 40], [["", "", ""], ["", "", ""]]), ("specimens", [30, 31, 40], [["1", "1", "2"], ["1", "", ""]])],
)  # fmt: skip
def test_what_a_second_row_means(tmp_path: Path, rule: str, row: list[float], specimens: list[list[str]]) -> None:
    """Its readings are further repeats, or of another specimen; blank cells of it are none."""
    rows = "id,noise_dba #1,noise_dba #2\nA,30,31\nB,32,\nA,40,\n"
    recipe = f"readings: r\nduplicates: {rule}\ntables: [{{file: bench.csv}}]\n"
    catalogue = by_recipe(tmp_path, recipe, bench=rows)
    assert held(catalogue) == {"A": row, "B": [32]}
    found = conditions_of(catalogue, "noise_dba").specimens
    assert np.where(np.isfinite(catalogue.readings["noise_dba"].written), found, "").tolist() == specimens


def test_a_row_a_session_is_no_duplicate(tmp_path: Path) -> None:
    """Nor a row a specimen; dates come along."""
    rows = "id,Session,Spec,Read on,noise_dba\nA,S1,a,2026-01-02,30\nA,S2,a,2026-02-03,31\nA,S2,b,2026-02-04,32\nB,S1,a,,33\n"
    recipe = "readings: r\nspecimens: {column: Spec}\ndates: {column: Read on}\ntables: [{file: bench.csv}]\n"
    catalogue = by_recipe(tmp_path, recipe, bench=rows)
    assert held(catalogue) == {"A": [30, 31, 32], "B": [33]}
    assert sessions(catalogue) == [["S1", "S2", "S2"], ["S1", "", ""]]
    assert catalogue.extras["specimen"]["noise_dba"].tolist() == [["a", "a", "b"], ["a", "", ""]]
    assert catalogue.extras["date"]["noise_dba"][0].tolist() == ["2026-01-02", "2026-02-03", "2026-02-04"]


LONG = "Model,Test,No,Reading,Unit,Session\nA,Noise (dB),1,30,dB,S1\nA,Noise (dB),2,31,dB,S1\nA,Noise (dB),1,32,dB,S2\nB,Drop,1,2,in,S1\nB,Smell,1,3,,S1\n"


def test_a_long_table_with_columns_of_any_name(tmp_path: Path) -> None:
    """Measures go by the names that the recipe gives them; repeats are numbered anew in each session."""
    recipe = """\
        readings: r
        product: Model
        long: {measure: Test, value: Reading, unit: Unit, repeat: "No"}
        measures: {noise_dba: {column: Noise}, sit_drop: {column: Drop}}
        tables: [{file: bench.csv}]
    """
    catalogue = by_recipe(tmp_path, recipe, bench=LONG)
    assert held(catalogue) == {"A": [30, 31, 32], "B": []}
    assert held(catalogue, "sit_drop") == {"A": [], "B": [50.8]}
    assert sessions(catalogue)[0] == ["S1", "S1", "S2"]
    assert (catalogue.unused, catalogue.left_out) == (("Smell",), ())
    assert str(catalogue.readings["noise_dba"].place(0, 2)) == f"{tmp_path}/bench.csv, row 4, column Reading"


def test_a_unit_of_the_recipe_holds_where_no_row_states_one(tmp_path: Path) -> None:
    """In a long table as in a wide one."""
    recipe = "readings: r\nmeasures: {sit_drop: {unit: in}}\ntables: [{file: bench.csv}]\n"
    rows = "id,measure,value,unit\nA,sit_drop,2,\nA,sit_drop,60,mm\n"
    assert held(by_recipe(tmp_path, recipe, bench=rows), "sit_drop") == {"A": [50.8, 60]}
    assert held(by_recipe(tmp_path, recipe, bench="id,sit_drop\nA,2\n"), "sit_drop") == {"A": [50.8]}
    several = 'readings: r\nmeasures: {sit_drop: {columns: ["a (mm)", b], unit: in}}\ntables: [{file: bench.csv}]\n'
    assert held(by_recipe(tmp_path, several, bench="id,a (mm),b\nA,60,2\n"), "sit_drop") == {"A": [60, 50.8]}


@pytest.mark.parametrize(
    ("join", "products"), [("all", ("A", "B", "C")), ("known", ("A", "B")), ("complete", ("C", "B", "A"))]
)
def test_which_products_are_the_catalogues(tmp_path: Path, join: str, products: tuple[str, ...]) -> None:
    """Those of all tables, or those of a list."""
    recipe = f"readings: r\ntables: [{{file: bench.csv}}, {{file: list.csv, join: {join}}}]\n"
    catalogue = by_recipe(
        tmp_path, recipe, bench="id,noise_dba\nA,30\nB,31\n", list="id,class\nC,foam\nB,coil\nA,foam\n"
    )
    assert catalogue.products == products
    assert held(catalogue)["B"] == [31]


def test_ignored_columns_are_not_read_and_misspell_nothing(tmp_path: Path) -> None:
    """A column near a measure that is there too is settled by `ignore`, with its whole name or without its unit."""
    rows = "id,noise_dba [dB],noise_dbb [dB] #1,noise_dbb [dB] #2\nA,30,1,2\n"
    recipe = "readings: r\ntables: [{file: bench.csv}]\n"
    (first, _) = faults_of(tmp_path, recipe, bench=rows)
    assert first.endswith(
        "Did you mean `noise_dba`? Write `measures: {noise_dba: {column: noise_dbb}}` in the recipe; or "
        '`ignore: ["noise_dbb [dB] #1"]`, where it is neither.'
    )
    catalogue = by_recipe(tmp_path, f"{recipe}ignore: [noise_dbb]\n", bench=rows)
    assert (held(catalogue), catalogue.unused, catalogue.left_out) == ({"A": [30]}, (), ())
    beside = 'ignore: ["noise_dba (sone)"]\n'
    assert held(by_recipe(tmp_path, f"{recipe}{beside}", bench="id,noise_dba [dB],noise_dba (sone)\nA,30,4\n")) == {
        "A": [30]
    }


def test_the_hash_is_of_the_recipe_and_every_file(tmp_path: Path) -> None:
    """Of the lines that `sha256sum` prints for them by name."""
    recipe = "readings: r\ntables: [{file: bench.csv}, {file: list.csv}, {file: bench.csv}]\n"
    catalogue = by_recipe(tmp_path, recipe, bench="id,noise_dba\nA,30\n", list="id,class\nA,foam\n")
    names = ["bench.csv", "list.csv", "readings.yaml"]
    lines = "".join(f"{hashlib.sha256((tmp_path / name).read_bytes()).hexdigest()}  {name}\n" for name in names)
    assert catalogue.sha256 == hashlib.sha256(lines.encode()).hexdigest()
    assert read_catalogue(tmp_path, BEDS).sha256 == catalogue.sha256
    assert (read_catalogue(tmp_path, BEDS).source, catalogue.source) == (str(tmp_path), str(tmp_path / "readings.yaml"))


def test_a_database_is_read_by_its_query(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file beside the recipe, or where a variable of the environment says."""
    import sqlite3

    with sqlite3.connect(tmp_path / "bench.sqlite") as connection:
        connection.execute("create table readings (id text, noise_dba real)")
        connection.execute("insert into readings values ('A', 30.5), ('B', null)")
    query = "query: select * from readings order by id"
    recipe = f"readings: r\ntables: [{{database: bench.sqlite, {query}}}]\n"
    assert held(by_recipe(tmp_path, recipe)) == {"A": [30.5], "B": []}
    pytest.importorskip("sqlalchemy")
    monkeypatch.setenv("BENCH_DATABASE", f"sqlite:///{tmp_path}/bench.sqlite")
    elsewhere = f"readings: r\ntables: [{{database: {{from_environment: BENCH_DATABASE}}, {query}}}]\n"
    first, second = by_recipe(tmp_path, elsewhere), by_recipe(tmp_path, elsewhere)
    assert held(first) == {"A": [30.5], "B": []}
    assert first.sha256 == second.sha256


def test_sessions_by_file_and_by_one_word(tmp_path: Path) -> None:
    """And a sheet is no session in a format that has none."""
    files = {"spring": "id,noise_dba\nA,30\n", "summer": "id,noise_dba\nA,31\n"}
    tables = "tables: [{file: spring.csv}, {file: summer.csv, %s}]\n"
    for line, more, found in (
        ("sessions: {each: file}", "skip: []", ["spring", "summer"]),
        ("sessions: {called: one}", "sessions: {called: two}", ["one", "two"]),
        ("sessions: {each: sheet}", "skip: []", ["", ""]),
    ):
        assert sessions(by_recipe(tmp_path, f"readings: r\n{line}\n{tables % more}", **files)) == [found]


def test_other_signs_between_cells_and_other_letters(tmp_path: Path) -> None:
    """As the format reads them."""
    recipe = """\
        readings: r
        decimal: comma
        measures: {noise_dba: {column: Lärm}}
        product: Modell
        tables: [{file: bench.csv, separator: ";", encoding: windows-1252}]
    """
    rows = "Modell;Lärm (dB)\nÄ-1;30,5\n".encode("cp1252")
    assert held(by_recipe(tmp_path, recipe, bench=rows)) == {"Ä-1": [30.5]}


def test_a_measure_that_the_formula_lacks_is_set_aside(tmp_path: Path) -> None:
    """One recipe serves several formulas."""
    few = form([measure("noise_dba", unit="dB")])
    recipe = "readings: r\nmeasures: {noise_dba: {column: Noise}, tvoc: {column: Air}}\ntables: [{file: bench.csv}]\n"
    catalogue = by_recipe(tmp_path, recipe, few, bench="id,Noise,Air,Words\nA,30,1,x\n")
    assert (held(catalogue), catalogue.unused, catalogue.left_out) == ({"A": [30]}, ("Air",), ("Words",))
