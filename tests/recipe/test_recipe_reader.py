"""Recipes as texts: what they say, what they may not say, and their JSON Schema."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from ruamel.yaml import YAML

from scoring.errors import CatalogueError
from scoring.recipe import RECIPE, TABLE, is_recipe, read_recipe, recipe_schema
from scoring.recipe.nouns import DECLARED

WHOLE = """\
# As the bench leaves it.
readings: bench-2026
note: Invented.
decimal: comma
words:
  missing: [TBD, "-"]
  not_applicable: [no edge]
  below: ["<LOD"]
duplicates: repeats
product: Model
ignore: [Notes, "Tested by"]
fill: [Model]
sessions: {column: Session}
specimens: {column: Specimen}
dates: {column: "Read on"}
measures:
  noise_dba: {column: Noise}
  sit_drop: {columns: ["Edge A", "Edge B"], unit: in}
attributes:
  class: {column: Type}
tables:
  - {file: bench.xlsx, sheets: [Spring, Summer], header: 4, skip: [5], skip_where: {Model: [Average]}, until: {Model: Total}}
  - {file: prices.csv, separator: ";", encoding: windows-1252, header: [1, 2], units: 3, decimal: point, join: known, sheets: all}
  - {database: bench.sqlite, query: select 1, ignore: [Who], words: {missing: [n/a]}, until: blank, sessions: {each: sheet}}
  - {database: {from_environment: BENCH}, query: select 1, until: 40, long: {measure: Test, value: Reading}, measures: {noise_dba: {column: Lärm}}}
"""


def test_every_key_is_read() -> None:
    """A table has what it says itself, and for the rest what the recipe says of all."""
    recipe = read_recipe(WHOLE, "readings.yaml")
    first, second, third, fourth = recipe.tables
    assert (recipe.name, recipe.note, recipe.text) == ("bench-2026", "Invented.", WHOLE)
    assert (first.decimal.value, second.decimal.value) == ("comma", "point")
    assert (first.sheets, second.sheets, third.sheets) == (("Spring", "Summer"), (), None)
    assert (first.header, second.header, third.header, second.units) == ((4,), (1, 2), (), 3)
    assert (first.skip, first.skip_where, first.until) == ((5,), {"Model": ("Average",)}, {"Model": ("Total",)})
    assert (third.until, fourth.until) == ("blank", 40)
    assert (first.ignore, third.ignore) == (("Notes", "Tested by"), ("Notes", "Tested by", "Who"))
    assert first.words
    assert third.words
    assert (first.words.missing, third.words.missing) == (("TBD", "-"), ("n/a", "TBD", "-"))
    assert third.words.below == ("<LOD",)
    assert first.sessions
    assert third.sessions
    assert third.sessions.each
    assert (first.sessions.column, third.sessions.column, third.sessions.each.value) == ("Session", "", "sheet")
    assert (first.measures["noise_dba"].column, fourth.measures["noise_dba"].column) == ("Noise", "Lärm")
    assert first.measures["sit_drop"].columns == fourth.measures["sit_drop"].columns == ("Edge A", "Edge B")
    assert third.database
    assert fourth.database
    assert fourth.long
    assert (third.database.file, fourth.database.variable, fourth.long.value) == ("bench.sqlite", "BENCH", "Reading")
    assert (second.separator, second.encoding, second.join.value, second.own >= {"join", "units"}) == (
        ";", "windows-1252", "known", True,
    )  # fmt: skip


TABLES = "tables: [{file: a.csv}]\n"
FAULTY = [
    ("", "readings.yaml:1:1: an empty file; expected a recipe. Start with `readings: NAME`."),
    ("[1]", "readings.yaml:1:1: a list; expected a recipe as a mapping of keys."),
    ("readings: x\n", "readings.yaml:1:1: no `tables` in the recipe; expected `tables: ...`. As in `tables: [{file: bench.xlsx}]`."),
    (TABLES, "readings.yaml:1:1: no `readings` in the recipe; expected `readings: ...`."),
    ("readings: x\ntables: []\n", "readings.yaml:2:9: no table; expected one or more. As in `tables: [{file: bench.xlsx}]`."),
    (f"readings: x\ndecimals: comma\n{TABLES}", "readings.yaml:2:1: the key `decimals` in the recipe; expected a known key. Did you mean `decimal`?"),
    (f"readings: x\ndecimal: dot\n{TABLES}", "readings.yaml:2:10: `dot` for decimal; expected one of point, comma."),
    (f"readings: x\nwords: {{missing: [a], below: [A]}}\n{TABLES}", "readings.yaml:2:1: the word `A` under missing and below; expected one meaning a word."),
    (f"readings: x\nsessions: {{column: S, each: sheet}}\n{TABLES}", "readings.yaml:2:11: column and each under sessions; expected one of column, each, called."),
    (f"readings: x\nsessions: {{}}\n{TABLES}", "readings.yaml:2:11: nothing under sessions; expected one of column, each, called."),
    (f"readings: x\nduplicates: specimens\nspecimens: {{column: S}}\n{TABLES}", "readings.yaml:2:1: `duplicates: specimens` and a column of specimens in the recipe; expected one of the two."),
    (f"readings: x\nmeasures: {{a: {{column: A, columns: [B]}}}}\n{TABLES}", "readings.yaml:2:15: `column` and `columns` in measures.a; expected one of the two."),
    ("readings: x\ntables: [{sheets: all}]\n", "readings.yaml:2:10: neither `file` nor `database` in tables.1; expected one of the two. As in `{file: bench.xlsx}`."),
    ("readings: x\ntables: [{file: ../a.csv}]\n", "readings.yaml:2:11: `../a.csv` for tables.1.file; expected a file in the recipe's folder or below it."),
    ("readings: x\ntables: [{file: /etc/a.csv}]\n", "readings.yaml:2:11: `/etc/a.csv` for tables.1.file; expected a file in the recipe's folder or below it."),
    ("readings: x\ntables: [{database: a.db}]\n", "readings.yaml:2:11: no `query` in tables.1; expected what is asked of the database, in SQL."),
    ("readings: x\ntables: [{file: a.csv, query: q}]\n", "readings.yaml:2:24: `query` in tables.1 without a database; expected `database: FILE` beside it."),
    ("readings: x\ntables: [{database: 'sql://u:secret@h', query: q}]\n", "readings.yaml:2:21: an address for tables.1.database; expected a file beside the recipe, or the name of a variable. Put the address into a variable and write `database: {from_environment: BENCH_DATABASE}`."),
    ("readings: x\ntables: [{file: a.csv, header: 0}]\n", "readings.yaml:2:32: 0 for tables.1.header; expected a number at least 1 and at most 2.14748e+09."),
    ("readings: x\ntables: [{file: a.csv, header: 1.5}]\n", "readings.yaml:2:32: 1.5 for tables.1.header; expected the number of a row. Rows count from 1."),
    ("readings: x\ntables: [{file: a.csv, header: [2, 1]}]\n", "readings.yaml:2:24: tables.1.header out of order; expected each row once, the upper first."),
    ("readings: x\ntables: [{file: a.csv, header: 4, units: 3}]\n", "readings.yaml:2:35: tables.1.units in row 3; expected a row below the header."),
    ("readings: x\ntables: [{file: a.csv, until: end}]\n", "readings.yaml:2:31: `end` for tables.1.until; expected the number of a row, `blank`, or words by column. As in `until: {Model: Total}`."),
    ("readings: x\ntables: [{file: a.csv, skip_where: Model}]\n", "readings.yaml:2:36: `Model`; expected words by column for tables.1.skip_where. As in `{Model: [Average, Mean]}`."),
    ("readings: x\ntables: [{file: a.csv, separator: ab}]\n", "readings.yaml:2:35: `ab` for tables.1.separator; expected one sign, as `;`, or `tab`."),
]  # fmt: skip


@pytest.mark.parametrize(("text", "says"), FAULTY, ids=[says.split(": ", 1)[1][:40] for _, says in FAULTY])
def test_a_fault_has_its_line_and_column(text: str, says: str) -> None:
    """And says what was expected and what to try; nothing shows an address with its password."""
    with pytest.raises(CatalogueError) as caught:
        read_recipe(text, "readings.yaml")
    assert [str(problem) for problem in caught.value.problems] == [says]
    assert "secret" not in str(caught.value)


def test_all_faults_come_at_once() -> None:
    """In the order of the text."""
    text = "readings: x\ndecimal: dot\nproducts: Model\ntables: [{file: a.csv, header: x}, {}]\n"
    with pytest.raises(CatalogueError) as caught:
        read_recipe(text, "readings.yaml")
    assert [problem.place.line for problem in caught.value.problems] == [2, 3, 4, 4]


def test_a_file_may_not_lie_behind_a_link_out_of_the_folder(tmp_path: Path) -> None:
    """What the recipe reads lies where it lies."""
    (tmp_path / "out.csv").write_text("x")
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "a.csv").symlink_to(tmp_path / "out.csv")
    with pytest.raises(CatalogueError, match=r"a link out of the folder; .*Put a copy of the file there"):
        read_recipe("readings: x\ntables: [{file: a.csv}]\n", str(folder / "readings.yaml"))


@pytest.mark.parametrize(
    ("text", "is_one"),
    [
        ("readings: x\n", True),
        ("\ufeff# remark\n\n---\n  readings : x\n", True),
        ("{readings: x, tables: []}", True),
        ('"readings": x', True),
        ("formula: x\nreadings: y\n", False),
        ("# readings: x\nformula: y\n", False),
        ("", False),
        ("readings", False),
    ],
)
def test_the_first_key_tells_a_recipe(tmp_path: Path, text: str, is_one: bool) -> None:
    """After remarks, and whatever else stands in the file."""
    path = tmp_path / "some.yaml"
    path.write_text(text, encoding="utf-8")
    assert is_recipe(path) is is_one
    assert not is_recipe(path.rename(tmp_path / "some.txt"))


def test_the_schema_takes_what_the_reader_takes() -> None:
    """And refuses an unknown key, in the recipe and in a table."""
    validator = jsonschema.Draft202012Validator(recipe_schema())
    written = json.loads(json.dumps(YAML(typ="safe").load(WHOLE)))
    assert list(validator.iter_errors(written)) == []
    for broken in (
        {**written, "decimals": "comma"},
        {**written, "tables": [{"file": "a.csv", "head": 1}]},
        {"readings": "x"},
    ):
        assert not validator.is_valid(broken)


@pytest.mark.parametrize("declaration", [RECIPE, *DECLARED], ids=lambda one: one.name)
def test_every_example_is_read(declaration: object) -> None:
    """The line that stands beside a key on the page of keys."""
    validator = jsonschema.Draft202012Validator(recipe_schema())
    for key in declaration.keys.values():  # type: ignore[attr-defined]  # both are declarations
        if declaration in (RECIPE, TABLE):
            more = {"file": "a.csv"} if declaration is TABLE and key.name not in ("file", "database", "query") else {}
            said = YAML(typ="safe").load(key.example)
            if declaration is TABLE:
                partner = {"database": {"query": "q"}, "query": {"database": "a.db"}}.get(key.name, {})
                said = {"tables": [{**more, **said, **partner}]}
            text = {"readings": "x", "tables": [{"file": "a.csv"}], **said}
            assert validator.is_valid(text), key.example
            read_recipe(json.dumps(text), "readings.yaml")
