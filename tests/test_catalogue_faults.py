"""Faulty catalogues: every fault is named, with its place and what to do, and all of them at once."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from catalogues import BED, PLAIN, read_text
from forms import form, measure

from scoring.catalogue import State, read_catalogue
from scoring.errors import CatalogueError

BAD_CELLS = [
    ("2,5", "decimal comma"),
    ("1,234.5", "nothing between thousands"),
    ("1_000", "nothing between thousands"),
    ("1 000", "nothing between thousands"),
    ("1\u00a0000", "nothing between thousands"),
    (".5", "both sides of the point"),
    ("5.", "both sides of the point"),
    ("inf", "A reading is finite"),
    ("-Infinity", "A reading is finite"),
    ("NaN", "A reading is finite"),
    ("1e999", "too large"),
    ("0x1f", "decimal digits"),
    ("٣", "digits 0 to 9"),
    ("３", "digits 0 to 9"),
    ("−3", "typographic"),
    ("NA", "Leave the cell empty"),
    ("-", "Leave the cell empty"),
    ("null", "Leave the cell empty"),
    ("#DIV/0!", "spreadsheet's error"),
    ("> 75", "Only `<` and a number"),
    ("< 2,5", "the limit as a plain number"),
    ("<", "the limit as a plain number"),
    ("30 dB", "the unit in the header"),
    ("true", "expected a number"),
    ("2020-01-01", "expected a number"),
    ("missing - mute", "expected a number"),
    ("1e5e5", "expected a number"),
    ("missing: \x1b[2J", "control character"),
]


@pytest.mark.parametrize(("cell", "words"), BAD_CELLS)
@pytest.mark.parametrize(
    ("head", "row"), [("product,noise", "A"), ("product,measure,value", "A,noise")], ids=["wide", "long"]
)
def test_a_cell_that_is_no_reading_is_named(tmp_path: Path, cell: str, words: str, head: str, row: str) -> None:
    """With its row, its column and what to write instead."""
    with pytest.raises(CatalogueError, match=re.escape(words)) as caught:
        read_text(tmp_path, f'{head}\n{row},"{cell}"\n')
    (fault,) = caught.value.problems
    assert (fault.place.line, fault.place.column_name) == (2, head.split(",")[-1])


@pytest.mark.parametrize(
    ("cell", "value"),
    [("1e1", 10.0), ("-0.5", -0.5), ("+3", 3.0), ("007", 7.0), ("1.5E-3", 0.0015), (" 22\t", 22.0)],
)
def test_a_number_is_a_sign_digits_a_point_and_an_exponent(tmp_path: Path, cell: str, value: float) -> None:
    """And blanks around it do not matter."""
    assert read_text(tmp_path, f"product,sag\nA,{cell}\n", PLAIN).readings["sag"].values[0, 0] == value


BAD_FILES = [
    ("", "bench.csv: an empty file"),
    ("\ufeff", "bench.csv: nothing but blanks"),
    ("\n ,\n", "bench.csv: a header and no rows"),
    ("product,noise\n", "bench.csv: a header and no rows"),
    ("item,noise\nA,30\n", "a column called `product` or `id`. "),
    ("product;noise\nA;2,5\n", "semicolons between them; expected commas"),
    ("product\tnoise\nA\t2\n", "tabs between them; expected commas"),
    (b"product,noise\nA,30\nB\xe9,31\n", "bench.csv:3: the byte 0xe9, which is not UTF-8"),
    ("product,noise\nA,30,4\n", "bench.csv:2: a row of 3 cells; expected 2"),
    ("product,noise\nA,30\nB\n", "bench.csv:3: a row of 1 cell; expected 2"),
    ('product,noise\nA,30\nB,"31\nC,32\n', "bench.csv:3: a row that cannot be read (unexpected end of data)"),
    ("product,noise,noise\nA,30,31\n", "column noise: a second column of this name (columns 2 and 3)"),
    ("product,noise,noise #1\nA,30,31\n", "repeat 1 of `noise`, which the column `noise` holds already"),
    ("product,noise [dB,room\nA,30,20\n", "a column of `noise`; expected `name [unit] #repeat`"),
    ("product,noise #0\nA,30\n", "repeat 0; expected repeats numbered from 1"),
    ("product,noise,\nA,30,31\n", "column 3: a column without a name"),
    ("product,noise,x\x1b\nA,30,31\n", "control or invisible character"),
    ("product,noise\nA,30\nB,31\nA,32\n", "row 4, column product: a second row of `A`, after row 2"),
    ("product,noise\n,30\n", "row 2, column product: no id"),
    ("product,noise\n A,30\n", "the id ` A` with a blank at its edge"),
    ("product,noise\nA\u200b,30\n", "an id `A\\u200b` with a control or invisible character"),
    (f"product,noise\n{'A' * 301},30\n", "an id of 301 characters"),
    ("product,noise,heat_flix\nA,30,50\n", "Did you mean `heat_flux`?"),
    ("product,noise,clas\nA,30,foam\n", "Did you mean `class`?"),
    ("product,noise #1,Noise #2\nA,30,31\n", "Did you mean `noise`?"),
    ("product,noize\nA,30\n", "Did you mean `noise`?"),
    ("id,measure,value\nA,noize,30\n", "Did you mean `noise`?"),
    (
        "product,x,y\nA,30,50\n",
        "no column that names a measure of the formula; expected one. Known: noise, heat_flux, room.",
    ),
    (
        "product,noise,class\nA,30,hybird\n",
        "the class `hybird`; expected one of hybrid, foam, coil. Did you mean `hybrid`?",
    ),
    ("product,noise,class\nA,30,\x1b[2J\n", "the class `\\u001b[2J`"),
    ("product,heat_flux\nA,7.1\n", "`heat_flux` of `7.1` W/m2; expected 15 to 130 W/m2, the plausible range."),
    ("product,room [degF]\nA,22\n", "`room` of `22` degF (-5.55556 degC); expected 10 to 30 degC"),
    ("product,noise\nA,2.9\n", "`noise` of `2.9` dB; expected 18 to 75 dB"),
    ("product,noise\nA,< 80\n", "`noise` of `< 80` dB; expected 18 to 75 dB"),
    ("product,heat_flux [mm]\nA,50\n", "row 1, column heat_flux [mm]: the unit `mm`"),
    ("product,room [delta_degC]\nA,20\n", "a temperature and `delta_degC` a difference"),
    ("product,heat_flux [kW/m2]\nA,1e308\n", "expected a finite number of W/m2"),
    ("product,room [degF] #1,room #2\nA,70,20\n", "`room` without a unit, next to readings in degF"),
    ("product,noise #1,noise #2\nA,30,n/a\n", "`noise` not applicable, and a reading of it in row 2, column noise #1"),
    ("id,measure,value,clas\nA,noise,30,foam\n", "column clas: an unknown column"),
    ("id,measure,value,room [degC]\nA,noise,30,20\n", "a column of the measure `room` in a long file"),
    ("id,measure,value\nA,noise,30\nA,heat_fluks,50\n", "the measure `heat_fluks`"),
    ("id,measure,value\nA,zebra,30\n", "no reading of a measure of the formula"),
    ("id,measure,value\nA,,30\nA,noise,30\n", "row 2, column measure: no measure"),
    ("id,measure,repeat,value\nA,noise,1,30\nA,room,1,20\nA,noise,1,31\n", "a second reading of repeat 1, after row 2"),
    ("id,measure,repeat,value\nA,noise,0,30\n", "row 2, column repeat: the repeat `0`; expected a whole number from 1"),
    ("id,measure,repeat,value\nA,noise,1.0,30\n", "the repeat `1.0`; expected a whole number"),
    ("id,measure,repeat,value\nA,noise,9999,30\n", "the repeat `9999`; expected a whole number from 1 to 1000"),
    ("id,measure,value,flag\nA,noise,30,belo\n", "the flag `belo`; expected `below`"),
    ("id,measure,value,flag\nA,noise,30,missing\n", "the flag `missing` on a value that says otherwise"),
    ("id,measure,value,flag\nA,noise,missing,below\n", "the flag `below` on a value that says otherwise"),
    ("id,measure,value,flag\nA,room,,below\n", "`room` below a reporting limit that is not stated"),
    (
        "id,measure,value,class\nA,noise,30,foam\nA,noise,31,coil\n",
        "`coil`, after `foam` in row 2 for the same product",
    ),
    ("id,measure,value,unit\nA,heat_flux,50,mm\n", "row 2, column unit: the unit `mm`"),
]


@pytest.mark.parametrize(("content", "words"), BAD_FILES)
def test_a_faulty_file_is_one_clear_problem(tmp_path: Path, content: str | bytes, words: str) -> None:
    """Each fault alone gives one message, with its place."""
    with pytest.raises(CatalogueError, match=re.escape(words)) as caught:
        read_text(tmp_path, content)
    assert len(caught.value.problems) == 1


def test_all_problems_come_at_once(tmp_path: Path) -> None:
    """Ten faults of seven kinds are ten problems."""
    content = "product,noise,heat_flux,rom\nA,2\u00a05,7.1,1\nA,_,50,2\n B,30,x,3\nC,1\nD,30,50,4,5\n,30,500,\n"
    with pytest.raises(CatalogueError, match="Did you mean `room`") as caught:
        read_text(tmp_path, content)
    assert sorted(problem.place.line for problem in caught.value.problems) == [1, 2, 2, 3, 3, 4, 4, 5, 6, 7, 7]


def test_a_reading_below_the_reporting_limit_may_lie_below_the_low_end(tmp_path: Path) -> None:
    """The limit may be lower than what is plausible; what is below a lower one still is not."""
    using = form([measure("tvoc", unit="mg/m3", plausible=(0.01, 8), reporting_limit=0.005)])
    assert read_text(tmp_path, "product,tvoc\nA,< 0.005\n", using).readings["tvoc"].states[0, 0] == State.BELOW
    with pytest.raises(CatalogueError, match=r"`tvoc` of `< 0\.004` mg/m3; expected 0\.01 to 8 mg/m3"):
        read_text(tmp_path, "product,tvoc\nA,< 0.004\n", using)


@pytest.mark.parametrize("cell", ["2", "<2", "<-40", "< 17.9", "<76"])
def test_a_reading_below_a_bound_is_held_against_the_plausible_range(cell: str, tmp_path: Path) -> None:
    """Of `<2` every reading that it can stand for is as wrong as 2 is; its own limit, the low end, does."""
    using = form([measure("noise", unit="dB", plausible=(18, 75))])
    with pytest.raises(CatalogueError, match=r"expected 18 to 75 dB, the plausible range"):
        read_text(tmp_path, f"product,noise\nA,{cell}\n", using)
    assert read_text(tmp_path, "product,noise\nA,<18\n", using).readings["noise"].values.tolist() == [[18.0]]


@pytest.mark.parametrize("name", ["bench.txt", "bench.xls", "bench"])
def test_an_unknown_ending_names_the_known_ones(tmp_path: Path, name: str) -> None:
    """The format is never guessed from the content."""
    with pytest.raises(
        CatalogueError,
        match=r"ending \.csv, \.tsv, \.xlsx, \.ods, \.parquet, \.arrow, \.feather, \.sqlite, \.sqlite3 or \.db\.",
    ):
        read_text(tmp_path, "product,noise\nA,30\n", BED, name)


def test_a_path_that_is_not_there_names_the_nearest_file(tmp_path: Path) -> None:
    """A slip in the name is the likely cause."""
    read_text(tmp_path, "product,noise\nA,30\n")
    with pytest.raises(CatalogueError, match=r"Did you mean `bench\.csv`"):
        read_catalogue(tmp_path / "bensh.csv", BED)
