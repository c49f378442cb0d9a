"""What is wrong with the tables of a recipe: each fault once for its kind, with sheet and cell, and what would settle it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from recipes import BEDS, by_recipe, faults_of, held, workbook

from scoring.catalogue import read_catalogue
from scoring.catalogue.told_once import told_once
from scoring.errors import CatalogueError, Place, Problem

TITLED: list[list[Any]] = [
    ["Bench"],
    [],
    ["Model", "Noise", "Edge"],
    ["A", 30, 50],
    ["B", 31, 51],
    ["C", 31, 51],
    ["D", 31, 51],
]
NAMED = "readings: r\nproduct: Model\nmeasures: {noise_dba: {column: Noise}}\ntables: [{file: bench.xlsx%s}]\n"

FAULTS: list[tuple[str, dict[str, Any], str]] = [
    (NAMED % "", {"bench": {"S": TITLED}}, "bench.xlsx, sheet S, row 1: no column of products; expected a column called `Model`, as the recipe says. Is the header in row 3? Write `header: 3` in the recipe."),
    (NAMED % ", header: 2", {"bench": {"S": TITLED}}, "bench.xlsx, sheet S, row 2: a row that holds nothing; expected the names of columns, as `header: 2` says."),
    (NAMED % ", header: 3, skip_where: {Modell: [x]}", {"bench": {"S": TITLED}}, "bench.xlsx, sheet S, row 3: no column `Modell`; expected one, as `skip_where` names it. Did you mean `Model`?"),
    (NAMED % ", header: 3, units: 9", {"bench": {"S": TITLED}}, "bench.xlsx, sheet S, row 9: a row that holds nothing; expected units, as `units: 9` says."),
    (NAMED % ", sheets: [Spring]", {"bench": {"Spring 1": TITLED, "Summer": TITLED}}, "bench.xlsx: no sheet called `Spring`; expected one of its 2 sheets. Did you mean `Spring 1`?"),
    (NAMED % "", {"bench": {"Spring 1": TITLED, "Summer": TITLED}}, "bench.xlsx: 2 sheets; expected one sheet, or one called `bench`. Write `sheets: [\"Spring 1\", Summer]` in the recipe, those that hold readings; or `sheets: all`."),
    (NAMED % ", header: 3, measures: {noise_dba: {columns: [Noise, Sound]}}", {"bench": {"S": TITLED}}, "bench.xlsx, sheet S, row 3: no column `Sound`; expected one, as `measures: {noise_dba: {columns: [...]}}` names it. Known: Model, Noise, Edge."),
    (NAMED % ", header: 3, specimens: {column: Bed}", {"bench": {"S": TITLED}}, "bench.xlsx, sheet S, row 3: no column `Bed`; expected one, as `specimens: {column: ...}` names it. Known: Model, Noise, Edge."),
    ("readings: r\ntables: [{file: benches.csv}]\n", {"bench": "id,noise_dba\nA,30\n"}, "readings.yaml:2:10: `benches.csv`: a file that cannot be read (No such file or directory); expected a table file. Did you mean `bench.csv`?"),
    ("readings: r\nsessions: {column: Sesion}\ntables: [{file: bench.csv}]\n", {"bench": "id,noise_dba,Session\nA,30,S\n"}, "readings.yaml:2:11: the column `Sesion`, which no table has; expected the column of sessions. Did you mean `Session`?"),
    ("readings: r\nmeasures: {noise_dba: {column: Nois}}\ntables: [{file: bench.csv}]\n", {"bench": "id,Noise,sit_drop\nA,30,50\n"}, "readings.yaml:2:23: `Nois` for `noise_dba`, which no table has; expected a column of a table. Did you mean `Noise`?"),
    ("readings: r\nmeasures: {nois_dba: {column: Noise}}\ntables: [{file: bench.csv}]\n", {"bench": "id,Noise,sit_drop\nA,30,50\n"}, "readings.yaml:2:22: the measure `nois_dba`, which the formula does not know; expected one of it. Did you mean `noise_dba`?"),
    ("readings: r\nattributes: {class: {column: Kind}}\ntables: [{file: bench.csv}]\n", {"bench": "id,noise_dba,Kid\nA,30,x\n"}, "readings.yaml:2:21: the column `Kind` of `class`, which no table has; expected a column of a table. Did you mean `Kid`?"),
    ("readings: r\ntables: [{file: bench.csv}]\n", {"bench": "id,Words\nA,x\n"}, "readings.yaml: no table that holds a measure of the formula; expected one or more. Known: noise_dba, sit_drop, rise."),
    ("readings: r\ntables: [{file: bench.csv}]\n", {"bench": "id,noise_dba\nA,30\nA,31\n"}, "bench.csv, row 3, column id: a second row of `A`, after row 2; expected one row a product. In the recipe, `duplicates: repeats` takes its readings as further repeats, `duplicates: specimens` as those of another specimen, and `skip` passes over the row by its number."),
    ("readings: r\ntables: [{file: bench.csv}]\n", {"bench": "id,session,noise_dba\nA,S,30\nA,S,31\n"}, "bench.csv, row 3, column id: a second row of `A`, after row 2; expected one row a product and session. In the recipe, `duplicates: repeats` takes its readings as further repeats, `duplicates: specimens` as those of another specimen, and `skip` passes over the row by its number."),
    ("readings: r\ntables: [{file: bench.csv}]\n", {"bench": "id,measure,repeat,value\nA,rise,1,3\nA,rise,1,4\n"}, "bench.csv, row 3, column repeat: a second reading of repeat 1 of `A`, `rise`; expected one reading for a product, a measure and a repeat. In the recipe, `duplicates: repeats` takes it as a further repeat; or name the column of `sessions`."),
    ("readings: r\ntables: [{file: bench.csv}, {file: list.csv, join: complete}]\n", {"bench": "id,noise_dba\nA-1,30\nB-1,33\n", "list": "id,class\nA-1,foam\nB-l,foam\n"}, "bench.csv, row 3, column id: the product `B-1`, which the complete table does not list; expected a product that it lists. Did you mean `B-l`?"),
    ("readings: r\ntables: [{file: bench.csv}, {file: list.csv}]\n", {"bench": "id,noise_dba,class\nA,30,foam\n", "list": "id,class\nA,coil\n"}, "list.csv, row 2, column class: the class `coil` of `A`, which is `foam` in a table before; expected one word a product."),
    ("readings: r\ndecimal: comma\ntables: [{file: bench.csv}]\n", {"bench": "id,noise_dba\nA,30.5\n"}, "bench.csv, row 2, column noise_dba: `30.5`, with a point; expected a number with a decimal comma. The recipe says `decimal: comma`: write a comma, or say `decimal: point` of this table."),
    ("readings: r\ntables: [{file: bench.csv}]\n", {"bench": "id,noise_dba,rise\nA,30\nB,30,1\n"}, "bench.csv:2: a row of 2 cells; expected 3, as in the header. An empty cell still has its separator."),
    ("readings: r\nsessions: {column: Run}\ntables: [{file: bench.csv}]\n", {"bench": "id,noise_dba,Run\nA,30,S\u200b1\n"}, "bench.csv, row 2, column Run: the session `S\\u200b1` with a control or invisible character; expected characters that show. Delete the character and type it again; a special space comes with pasted text."),
]  # fmt: skip


@pytest.mark.parametrize(("recipe", "files", "says"), FAULTS, ids=[says.split(": ", 1)[1][:45] for *_, says in FAULTS])
def test_a_fault_says_where_and_what_settles_it(tmp_path: Path, recipe: str, files: dict[str, Any], says: str) -> None:
    """One line, with the sheet and the cell or the row and column."""
    assert faults_of(tmp_path, recipe, **files) == [says]


def test_a_fault_of_many_cells_is_said_once(tmp_path: Path) -> None:
    """With the cells by their columns, and the line of a recipe."""
    rows: list[list[Any]] = [
        ["id", "noise_dba", "rise"],
        *([f"P{i}", "TBD", f"{i},5"] for i in range(30)),
        ["Q", "-", 1],
    ]
    first, second, third = faults_of(tmp_path, "readings: r\ntables: [{file: bench.xlsx}]\n", bench={"S": rows})
    cells = ", ".join(f"B{i}" for i in range(2, 22))
    assert first == (
        f"bench.xlsx, sheet S, cell B2 (noise_dba): `TBD`, in 30 cells (noise_dba: {cells}; 10 more); expected a number, `< 22`, "
        "`missing`, `not applicable` or an empty cell. Leave the cell empty, or write `missing: why`. In a recipe: "
        "`words: {missing: [TBD]}`."
    )
    assert second.startswith("bench.xlsx, sheet S, cell B32 (noise_dba): `-`; ")
    assert second.endswith('In a recipe: `words: {missing: ["-"]}`.')
    assert third.startswith(
        "bench.xlsx, sheet S, cell C2 (rise): `0,5`, `1,5`, `2,5` and others, in 30 cells (rise: C2, "
    )
    assert third.endswith("A decimal comma? Write the number with a decimal point. In a recipe: `decimal: comma`.")


def test_three_cells_are_told_apart() -> None:
    """Four are not; rows of a text file are told by their numbers, and faults of no cell are left as they are."""
    faults = [Problem(Place("a.csv", line, column_name="noise"), f"`{line}`", "less", "Try.") for line in range(2, 6)]
    whole = Problem(Place("a.csv"), "empty", "more")
    assert told_once([*faults[:3], whole]) == [*faults[:3], whole]
    (one, last) = told_once([*faults, whole])
    assert (one.place, one.expected, last) == (faults[0].place, "less", whole)
    assert one.found == "`2`, `3`, `4` and others, in 4 cells (noise: rows 2, 3, 4, 5)"


def test_a_header_below_a_title_is_found_without_a_recipe(tmp_path: Path) -> None:
    """And named, in place of a fault for every row."""
    workbook(tmp_path / "bench.xlsx", {"Bench": TITLED})
    with pytest.raises(CatalogueError) as caught:
        read_catalogue(tmp_path / "bench.xlsx", BEDS)
    first = str(caught.value.problems[0]).replace(f"{tmp_path}/", "")
    assert first == (
        "bench.xlsx, sheet Bench, row 3: a row of 3 cells, and 4 more rows of another length than the header; expected 1, as in "
        "the header. Is the header in row 3? A recipe says so with `header: 3`."
    )
    (tmp_path / "bench.csv").write_text("Bench,,\nproduct,noise_dba,rise\nA,30,1\n")
    with pytest.raises(
        CatalogueError, match=r"Is the header in row 2\? Delete the rows above it, or write a recipe with `header: 2`"
    ):
        read_catalogue(tmp_path / "bench.csv", BEDS)


def test_two_recipes_in_a_folder(tmp_path: Path) -> None:
    """Nobody says which holds."""
    for name in ("readings.yaml", "readings.yml"):
        (tmp_path / name).write_text("readings: r\ntables: [{file: bench.csv}]\n")
    with pytest.raises(CatalogueError, match=r"readings\.yaml and readings\.yml side by side"):
        read_catalogue(tmp_path, BEDS)


def test_a_header_that_is_none_gives_no_words_away(tmp_path: Path) -> None:
    """Of a row that was taken for the header, three short cells are told: who tested, and what was noted, are not."""
    bench = "Model,class,noise_dba,Tester,Notes\nA-01,foam,31.5,Quill Marrow,not for print\nA-02,foam,31.5,,\n"
    recipe = (
        "readings: r\nproduct: Bed\ntables: [{file: bench.csv, header: 2, skip_where: {Bed: [Average]}, fill: [Bed]}]\n"
    )
    faults = faults_of(tmp_path, recipe, bench=bench)
    assert faults[0] == (
        "bench.csv:2: no column `Bed`; expected one, as `skip_where` names it. Known: A-01, foam, 31.5, and 2 more."
    )
    assert not any("Quill" in fault or "not for print" in fault for fault in faults)
    (tmp_path / "plain.csv").write_text("A-01,foam,31.5,Quill Marrow,not for print\nA-02,foam,31.5,,\n")
    with pytest.raises(CatalogueError) as caught:
        read_catalogue(tmp_path / "plain.csv", BEDS)
    assert "Quill" not in str(caught.value)
    assert "and 2 more" in str(caught.value)


UNIT = "readings: r\nproduct: Model\nmeasures:\n  sit_drop: {%s, unit: in}\ntables:\n  - {file: bench.csv%s}\n"


def test_a_unit_against_the_header_is_a_fault_and_a_correction_settles_it(tmp_path: Path) -> None:
    """Neither wins in silence: the recipe takes its unit back, or corrects the header."""
    bench = "Model,Edge (mm)\nA,2.44\n"
    fault, *_ = faults_of(tmp_path, UNIT % ("column: Edge", ""), bench=bench)
    line = 'corrections: [{row: 1, column: "Edge (mm)", is: "Edge (in)", instead_of: "Edge (mm)", because: ...}]'
    assert fault == (
        "readings.yaml:4:13: `unit: in` of `sit_drop`, and the header says mm (bench.csv, row 1, column Edge (mm)); expected the "
        f"unit where no header states one. Take `unit` away; or, where the header is wrong, write `{line}` at its table."
    )
    settled = UNIT % ("column: Edge", f", {line.replace('...', 'the tape was in inches')}")
    assert held(by_recipe(tmp_path, settled, bench=bench), "sit_drop") == {"A": [pytest.approx(61.976)]}


@pytest.mark.parametrize("header", ["Edge", "Edge (in)", "Edge ( in )", "Edge [in]"])
def test_a_unit_that_the_header_leaves_unsaid_or_says_too(tmp_path: Path, header: str) -> None:
    """No fault; nor where one column of several states another."""
    recipe = UNIT % ("column: Edge", "")
    assert held(by_recipe(tmp_path, recipe, bench=f"Model,{header}\nA,2.5\n"), "sit_drop") == {"A": [63.5]}
    several = UNIT % (f'columns: ["{header}", Other (mm)]', "")
    read = by_recipe(tmp_path, several, bench=f"Model,{header},Other (mm)\nA,2.5,63\n")
    assert held(read, "sit_drop") == {"A": [63.5, 63.0]}
