"""Lines of a recipe that met nothing: a slip is a fault with its place in the recipe, the rest is told and no more."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from recipes import BEDS, by_recipe, faults_of, held

from scoring.catalogue import read_catalogue

BENCH = "Model,noise_dba,Tester,Notes\nA-01,30,K,x\nA-07,31,,\nAverage,30.5,,\nTotal,61,,\n"
LINE = "readings: r\nproduct: Model\ntables:\n  - {file: bench.csv%s}\n"

FAULTS: list[tuple[str, str]] = [
    (", skip_where: {Model: [Avarage]}", "readings.yaml:4:23: `Avarage` under `skip_where`, which no cell of `Model` says; expected what a cell of it says. Did you mean `Average`, as in bench.csv, row 4, column Model?"),
    (", skip: [99]", "readings.yaml:4:23: row 99 under `skip`, which holds nothing below the header; expected a row of the table. Rows count as the file does; take the number away."),
    (", skip: [1]", "readings.yaml:4:23: row 1 under `skip`, which holds nothing below the header; expected a row of the table. Rows count as the file does; take the number away."),
    (", until: {Model: Totl}", "readings.yaml:4:23: `Totl` under `until`, which no cell of `Model` says; expected what a cell of it says. Did you mean `Total`, as in bench.csv, row 5, column Model?"),
    (", until: {Model: Ende}", "readings.yaml:4:23: `Ende` under `until`, which no cell of `Model` says; expected what the first row after the table says. Take the line away where the table ends with its file."),
    (", until: 6", "readings.yaml:4:23: `until: 6`, and the last row that holds anything is row 5; expected the first row after the table. Take the line away: a table ends with its file."),
    (", ignore: [Note]", "readings.yaml:4:23: `Note` under `ignore`, which no table has; expected a column of a table. Did you mean `Notes`?"),
    (", fill: [Modl]", "readings.yaml:4:23: `Modl` under `fill`, which no table has; expected a column of a table. Did you mean `Model`?"),
]  # fmt: skip


@pytest.mark.parametrize(("line", "says"), FAULTS, ids=[line.strip(", ") for line, _ in FAULTS])
def test_a_slip_is_a_fault_where_the_recipe_says_it(tmp_path: Path, line: str, says: str) -> None:
    """With the cell or column that was likely meant."""
    assert faults_of(tmp_path, LINE % line, bench=BENCH) == [says]


def test_a_slip_in_one_sheet_is_seen_though_another_has_the_word(tmp_path: Path) -> None:
    """A row of averages in summer is no product because spring spelt it well."""
    sheets: dict[str, list[list[Any]]] = {
        "Spring": [["Model", "noise_dba"], ["A-01", 30], ["Average", 30]],
        "Summer": [["Model", "noise_dba"], ["A-01", 31], ["Avarage", 31]],
    }
    line = "readings: r\nproduct: Model\nsessions: {each: sheet}\ntables:\n  - {file: bench.xlsx, sheets: all, skip_where: {Model: Average}}\n"
    (fault,) = faults_of(tmp_path, line, bench=sheets)
    assert fault.endswith("Did you mean `Avarage`, as in bench.xlsx, sheet Summer, cell A3 (Model)?")


@pytest.mark.parametrize(
    ("own", "says"),
    [
        (
            "measures: {noise_dba: {column: Loud}}",
            "`Loud` for `noise_dba`, which the table does not have; expected a column of it. Known: id, Din, Kind.",
        ),
        (
            "attributes: {class: {column: Kid}}",
            "the column `Kid` of `class`, which no table has; expected a column of a table. Did you mean `Kind`?",
        ),
    ],
)
def test_one_table_has_not_what_it_says_though_another_has(tmp_path: Path, own: str, says: str) -> None:
    """A line of one table holds for that table alone."""
    recipe = (
        "readings: r\nmeasures: {noise_dba: {column: Noise}}\n"
        f"tables:\n  - {{file: one.csv}}\n  - {{file: two.csv, {own}}}\n"
    )
    (fault,) = faults_of(tmp_path, recipe, one="id,Noise,class\nA,30,foam\n", two="id,Din,Kind\nA,31,foam\n")
    assert fault.startswith("readings.yaml:5:")
    assert fault.endswith(says)


def test_what_this_months_files_lack_is_told(tmp_path: Path) -> None:
    """A recipe is kept over months: a word that nobody wrote this time, and a column that is gone, are no faults."""
    recipe = (
        "readings: r\nproduct: Model\nwords: {missing: [TBD, broken], below: [<LOD]}\nignore: [Notes, Weather]\n"
        "measures: {glare: {column: Glare}}\nattributes: {finish: {column: Finish}}\n"
        "tables:\n  - {file: bench.csv, skip_where: {Model: [Average, Total, Median, A-02]}, words: {missing: [lost]}}\n"
    )
    bench = "Model,noise_dba,Notes\nA-01,30,x\nA-07,tbd,\nAverage,30.5,\nTotal,61,\n"
    read = by_recipe(tmp_path, recipe, bench=bench)
    assert held(read) == {"A-01": [30.0], "A-07": []}
    assert read.remarks == (
        "Said in the recipe and met in no table: `skip_where: {Model: Median}`, `skip_where: {Model: A-02}`, "
        "`ignore: Weather`, the word `broken`, the word `<LOD`, the measure `glare`, the attribute `finish`, the word `lost`.",
    )


def test_a_recipe_that_meets_all_it_says_is_told_of_nothing(tmp_path: Path) -> None:
    """Every line has met something."""
    recipe = (
        "readings: r\nproduct: Model\nwords: {missing: [TBD]}\nignore: [Notes, Tester]\n"
        "tables:\n  - {file: bench.csv, skip: [3], skip_where: {Model: Average}, until: {Model: [Total, Sum]}}\n"
    )
    assert (
        by_recipe(tmp_path, recipe, bench=BENCH.replace("A-07,31", "A-07,TBD").replace("30,K", "TBD,K")).remarks == ()
    )


def test_a_product_called_as_a_row_of_sums_is_told(tmp_path: Path) -> None:
    """In every catalogue: by a recipe, a plain file, a frame."""
    (tmp_path / "plain.csv").write_text("id,noise_dba\nA-01,30\nMEAN,31\nMean Street,32\n")
    says = "Scored as a product: `MEAN`. If it sums other rows up, a recipe passes over it: `skip_where: {COLUMN: [MEAN]}`."
    assert read_catalogue(tmp_path / "plain.csv", BEDS).remarks == (says,)
    assert read_catalogue(pd.read_csv(tmp_path / "plain.csv"), BEDS).remarks == (says,)
    assert by_recipe(tmp_path, "readings: r\ntables: [{file: plain.csv}]\n").remarks == (says,)
