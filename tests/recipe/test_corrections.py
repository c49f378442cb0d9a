"""Corrections: a cell is read otherwise than it stands, with its reason; the file stays, and nothing is corrected unseen."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from recipes import by_recipe, faults_of, held

from analysis import explain
from analysis.report.report import Report, Said
from scoring.errors import CatalogueError
from scoring.recipe import read_recipe

TYPED: dict[str, list[list[Any]]] = {
    "Spring": [["Bench"], ["Model", "Noise (dB)", "class"], ["IB-121", 30, "foam"], ["IB-121", 31.5, "foam"]]
}
BOOK = "readings: r\nproduct: Model\nmeasures: {noise_dba: {column: Noise}}\ntables:\n  - {file: bench.xlsx, header: 2, corrections: [%s]}\n"
TEXT = 'readings: r\ndecimal: comma\ntables:\n  - {file: bench.csv, separator: ";", corrections: [%s]}\n'
ID = "{cell: A4, is: IB-122, instead_of: IB-121, because: the sheet of products says so, on: 2026-03-02}"


def test_a_mistyped_id_of_a_workbook(tmp_path: Path) -> None:
    """Two rows of one product become two products; the catalogue holds what was corrected."""
    read = by_recipe(tmp_path, BOOK % ID, bench=TYPED)
    assert held(read) == {"IB-121": [30.0], "IB-122": [31.5]}
    (one,) = read.corrections
    assert (one.product, one.of) == ("IB-122", "product")
    assert one.says.endswith(
        "bench.xlsx, sheet Spring, cell A4 (Model): `IB-122` instead of `IB-121` (2026-03-02): the sheet of products says so"
    )


def test_the_file_is_not_written(tmp_path: Path) -> None:
    """And its correction is part of the hash, with the recipe."""
    read = by_recipe(tmp_path, BOOK % ID, bench=TYPED)
    content = (tmp_path / "bench.xlsx").read_bytes()
    again = by_recipe(tmp_path, BOOK % ID.replace("says so", "shows it"))
    assert (tmp_path / "bench.xlsx").read_bytes() == content
    assert read.sha256 != again.sha256


@pytest.mark.parametrize(
    ("correction", "found"),
    [
        ("{cell: B4, is: 32.5, instead_of: 31.5, because: misread}", {"IB-121": [30.0, 32.5]}),
        ("{cell: b4, is: 32.5, instead_of: 31.50, because: misread}", {"IB-121": [30.0, 32.5]}),
        ('{cell: B4, is: "missing: probe fell", instead_of: 31.5, because: noted}', {"IB-121": [30.0]}),
        ('{row: 4, column: Noise, is: 32.5, instead_of: "31.5", because: misread}', {"IB-121": [30.0, 32.5]}),
        ("{cell: B2, is: Noise (dBA), instead_of: Noise (dB), because: typed wrong}", None),
    ],
)
def test_a_cell_of_a_workbook(tmp_path: Path, correction: str, found: dict[str, list[float]] | None) -> None:
    """A number stays one; a word is read as words are; the header may be corrected as well."""
    recipe = f"duplicates: repeats\n{BOOK % correction}".replace(
        "duplicates: repeats\nreadings: r", "readings: r\nduplicates: repeats"
    )
    if found is None:
        assert all("dBA" in fault for fault in faults_of(tmp_path, recipe, bench=TYPED))
    else:
        assert held(by_recipe(tmp_path, recipe, bench=TYPED)) == found


def test_a_cell_of_a_text_file_and_of_a_long_table(tmp_path: Path) -> None:
    """By row and column."""
    wide = "id;noise_dba\nA;30,5\nB;30.0\n"
    line = '{row: 3, column: noise_dba, is: "30,0", instead_of: "30.0", because: typed with a point}'
    assert held(by_recipe(tmp_path, TEXT % line, bench=wide)) == {"A": [30.5], "B": [30.0]}
    long = "id;measure;value\nA;noise_dba;30,5\nA;noise_dba;31,5\n"
    line = "{row: 3, column: id, is: B, instead_of: A, because: typed wrong}"
    read = by_recipe(tmp_path, TEXT % line, bench=long)
    assert held(read) == {"A": [30.5], "B": [31.5]}
    assert read.corrections[0].product == "B"


FAULTS: list[tuple[str, str]] = [
    ("{cell: A4, is: IB-122, instead_of: IB-120, because: x}", "readings.yaml:5:49: `IB-121` in bench.xlsx, sheet Spring, cell A4 (Model); expected `IB-120`, as `instead_of` says. Look at it again: the file was changed, or another cell is meant."),
    ("{cell: A4, is: IB-121, instead_of: IB-120, because: x}", "readings.yaml:5:49: `IB-121` in bench.xlsx, sheet Spring, cell A4 (Model); expected `IB-120`, as `instead_of` says. Take the correction away: the file is mended."),
    ("{cell: A9, is: IB-122, instead_of: IB-121, because: x}", "readings.yaml:5:49: A9, which is no cell of the table; expected a cell of the header or below it."),
    ("{cell: Z4, is: IB-122, instead_of: IB-121, because: x}", "readings.yaml:5:49: Z4, which is no cell of the table; expected a cell of the header or below it."),
    ("{row: 4, column: Modell, is: IB-122, instead_of: IB-121, because: x}", "readings.yaml:5:49: no column `Modell`; expected a column of the table."),
    ("{cell: A4, sheet: Summer, is: IB-122, instead_of: IB-121, because: x}", "readings.yaml:5:49: a correction of A4, which is not read; expected a cell of the table in a column that is read."),
]  # fmt: skip


@pytest.mark.parametrize(("line", "says"), FAULTS, ids=[line[:34] for line, _ in FAULTS])
def test_a_correction_that_corrects_nothing_is_a_fault(tmp_path: Path, line: str, says: str) -> None:
    """It never outlives what it corrects."""
    recipe = (BOOK % line).replace("product: Model", "product: Model\nduplicates: repeats")
    assert faults_of(tmp_path, recipe, bench=TYPED) == [says.replace(":5:", ":6:")]


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("{cell: A4, row: 4, column: B, is: a, instead_of: b, because: x}", "expected `cell`, or `row` and `column`"),
        ("{row: 4, is: a, instead_of: b, because: x}", "expected `cell`, or `row` and `column`"),
        ("{is: a, instead_of: b, because: x}", "no cell in tables.1.corrections.1"),
        ("{cell: 4A, is: a, instead_of: b, because: x}", "`4A` for tables.1.corrections.1.cell; expected a cell"),
        ("{cell: A4, is: a, instead_of: a, because: x}", "`is` and `instead_of` alike"),
        ("{cell: A4, is: a, instead_of: b, because: x, on: May}", "expected a day, as 2026-03-02"),
        ("{cell: A4, is: a, instead_of: b}", "because"),
    ],
)
def test_a_correction_is_written_in_full(line: str, says: str) -> None:
    """One cell, what it says, what is read, and why."""
    with pytest.raises(CatalogueError) as caught:
        read_recipe(BOOK % line, "readings.yaml")
    assert says in str(caught.value)


def test_blanks_at_the_edges_of_ids_are_passed_over_and_told(tmp_path: Path) -> None:
    """Nobody edits the bench's file for a blank."""
    read = by_recipe(tmp_path, "readings: r\ntables: [{file: bench.csv}]\n", bench="id,noise_dba\nA ,30\nB,31\n")
    assert held(read) == {"A": [30.0], "B": [31.0]}
    (said,) = read.remarks
    assert said.startswith("Read without the blank at its edge: the id `A` in ")
    assert said.endswith("bench.csv, row 2, column id.")


def test_two_ids_that_differ_by_a_blank_are_one(tmp_path: Path) -> None:
    """Its second row is a fault as any other."""
    (fault,) = faults_of(tmp_path, "readings: r\ntables: [{file: bench.csv}]\n", bench="id,noise_dba\nA ,30\nA,31\n")
    assert "a second row of `A`, after row 2" in fault


def test_corrections_are_told_beside_the_readings(tmp_path: Path) -> None:
    """In the explanation of the product, in the JSON of every report, and at the foot of every document."""
    form = tmp_path / "beds.yaml"
    form.write_text(
        "formula: beds\nproduct_column: Model\nattributes: {class: {public: no}}\n"
        "measures: {noise_dba: {unit: dB, better: lower, plausible: [18, 75], column: Noise}}\n"
        "ratings: {quiet: {measure: noise_dba, curve: {line: {worst: 60, best: 20}}}}\n"
        "scale: {from: 1, to: 10, show: {step: 0.1}}\nscores: {overall: {blend: weighted mean, weights: {quiet: 1}}}\n"
    )
    private = "{cell: C4, is: coil, instead_of: foam, because: seen again}"
    by_recipe(tmp_path, BOOK % f"{ID}, {private}", bench=TYPED)
    report = explain(form, tmp_path / "readings.yaml", "IB-122")
    says = "cell A4 (Model): `IB-122` instead of `IB-121` (2026-03-02): the sheet of products says so"
    (told,) = said_of_corrections(report)
    assert told.endswith(says)
    assert [one["is"] for one in report.document["catalogue"]["corrections"]] == ["IB-122"]
    (line,) = [line for line in report.source.lines() if line.startswith("Corrected by the recipe: ")]
    assert line.endswith(says)
    assert not said_of_corrections(explain(form, tmp_path / "readings.yaml", "IB-121"))


def said_of_corrections(report: Report) -> list[str]:
    """The sentences of an explanation on cells that were corrected."""
    said = [block for section in report.sections for block in section.blocks if isinstance(block, Said)]
    return [line for block in said for line in block.lines if line.startswith("corrected: ")]


def test_one_point_among_commas_is_settled_by_a_correction_of_its_cell(tmp_path: Path) -> None:
    """The fault shows the line, and the line settles it; `decimal: point` would make faults of all others."""
    wide = "id;noise_dba\nA;30,5\nB;30.0\nC;31,5\n"
    recipe = 'readings: r\ndecimal: comma\ntables:\n  - {file: bench.csv, separator: ";"%s}\n'
    (fault,) = faults_of(tmp_path, recipe % "", bench=wide)
    line = 'corrections: [{row: 3, column: noise_dba, is: "30,0", instead_of: "30.0", because: ...}]'
    assert fault == (
        "bench.csv, row 3, column noise_dba: `30.0`, with a point; expected a number with a decimal comma. The other cells of "
        f"the table have the other sign. In the recipe, at this table: `{line}`."
    )
    settled = line.replace("...", "typed with a point")
    assert held(by_recipe(tmp_path, recipe % f", {settled}"))["B"] == [30.0]


def test_one_comma_among_points_is_settled_in_the_same_way(tmp_path: Path) -> None:
    """On a sheet, by its cell."""
    sheets: dict[str, list[list[Any]]] = {"S 1": [["id", "noise_dba"], ["A", "30.5"], ["B", "30,0"], ["C", "31.5"]]}
    recipe = "readings: r\ntables:\n  - {file: bench.xlsx%s}\n"
    (fault,) = faults_of(tmp_path, recipe % "", bench=sheets)
    line = 'corrections: [{cell: B3, sheet: S 1, is: "30.0", instead_of: "30,0", because: ...}]'
    assert fault.endswith(f"at this table: `{line}`.")
    assert held(by_recipe(tmp_path, recipe % f", {line.replace('...', 'a comma')}"))["B"] == [30.0]
