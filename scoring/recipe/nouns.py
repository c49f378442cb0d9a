"""The recipe: how tables that a laboratory keeps anyway are read as readings, every key declared with what it means.

A table takes what the recipe says above, and may say it again for itself: it is read to a `Table` in which everything is settled.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from scoring.declaration import Declaration, Noun, OneOf, key, kinds, noun
from scoring.errors import Place
from scoring.form import Choice
from scoring.recipe.columns import (
    COLUMN_OF_ATTRIBUTE,
    COLUMNS_OF_MEASURE,
    IN_COLUMN,
    LONG_TABLE,
    SESSIONS,
    WORDS_OF,
    ColumnOfAttribute,
    ColumnsOfMeasure,
    InColumn,
    LongTable,
    Sessions,
    Words,
)
from scoring.recipe.corrections import CORRECTION, Correction
from scoring.recipe.kinds import WORD, End, Row, Rows, Sheets, Source, WordsIn

DECIMAL = {"point": "`6.5`", "comma": "`6,5`"}
DUPLICATES = {
    "fault": "it is a fault",
    "repeats": "its readings are further repeats",
    "specimens": "its readings are of another specimen: the first row of a product is specimen 1, its second specimen 2",
}
JOIN = {
    "all": "a product that stands here alone is one of the catalogue's, too",
    "known": "rows of products that no other table holds are passed over",
    "complete": "it lists the products of the catalogue: one that it does not hold is a fault",
}


@noun
class Layout:
    """What may be said of all tables, and again of one of them."""

    decimal: Choice = key(
        kinds.Word(DECIMAL),
        "How texts write a decimal number; the number cells of a spreadsheet are numbers already.",
        "decimal: comma",
    )
    words: Words | None = key(
        Noun(WORDS_OF), "What cells say that are no numbers; a table's own words join these.", "words: {missing: [TBD]}"
    )
    duplicates: Choice = key(
        kinds.Word(DUPLICATES),
        "What a second row of a product in one table means, in the same session and of the same specimen.",
        "duplicates: repeats",
    )
    product: str = key(
        WORD,
        "The column that names the products; else the one that the formula says, or `product` or `id`.",
        "product: Model",
    )
    ignore: tuple[str, ...] = key(
        kinds.Several(WORD, "columns"),
        "Columns that are nobody's misspelling and are not read; a table's own join these.",
        'ignore: [Notes, "Tested by"]',
    )
    fill: tuple[str, ...] = key(
        kinds.Several(WORD, "columns"),
        "Columns in which an empty cell means what stands above it, as in cells that were merged.",
        "fill: [Model]",
    )
    sessions: Sessions | None = key(
        Noun(SESSIONS),
        "In which session readings were taken; a column `session` or `Session` says it anyway.",
        "sessions: {each: sheet}",
    )
    specimens: InColumn | None = key(
        Noun(IN_COLUMN), "Of which specimen of the product they were taken.", "specimens: {column: Specimen}"
    )
    dates: InColumn | None = key(Noun(IN_COLUMN), "When they were taken.", 'dates: {column: "Read on"}')
    measures: Mapping[str, ColumnsOfMeasure] = key(
        kinds.Named(Noun(COLUMNS_OF_MEASURE), "the columns of measures by name"),
        "Which columns hold a measure, where their names do not say it.",
        "measures: {noise_dba: {column: Noise}}",
    )
    attributes: Mapping[str, ColumnOfAttribute] = key(
        kinds.Named(Noun(COLUMN_OF_ATTRIBUTE), "the columns of attributes by name"),
        "Which column holds an attribute, where its name does not say it.",
        "attributes: {class: {column: Type}}",
    )
    long: LongTable | None = key(
        Noun(LONG_TABLE),
        "The columns of tables with a row a reading, where they are not called `measure` and `value`.",
        "long: {measure: Test, value: Reading, unit: Unit, repeat: No}",
    )


@noun
class Database:
    """A database: a file beside the recipe, or what a variable of the environment says, one of which is empty."""

    file: str
    variable: str


@noun
class Table(Layout):
    """One table, or several alike on the sheets of one file; what it does not say itself it has from the recipe.

    own : the keys that are written in it; places : where each of them stands
    """

    file: str = key(WORD, "The file, in the recipe's folder or below it.", "file: bench.xlsx")
    database: Database | None = key(
        Source(),
        "A database instead: an SQLite file beside the recipe, which is only read, or where a variable of the environment "
        "says. No address with a password stands in a recipe.",
        "database: {from_environment: BENCH_DATABASE}",
    )
    query: str = key(kinds.Text(), "What is asked of the database, in SQL.", "query: select * from readings")
    sheets: tuple[str, ...] | None = key(
        Sheets(),
        "Which sheets of a spreadsheet hold tables of this kind: one name, several, or `all` that are not hidden. Without it, "
        "the only sheet is read, or the one called as the file.",
        "sheets: [Spring, Summer]",
    )
    header: tuple[int, ...] = key(
        Rows(one=True),
        "The row of the columns' names, counted as the file does; of several, the names are read together. The first row that "
        "holds anything by default. What stands above it is not read.",
        "header: 4",
    )
    units: int = key(Row(), "A row of units below the header, where they have one of their own.", "units: 5")
    skip: tuple[int, ...] = key(Rows(), "Rows that are not read, by their numbers.", "skip: [5, 12]")
    skip_where: Mapping[str, tuple[str, ...]] = key(
        WordsIn(),
        "Rows that are not read, by what a cell of theirs says: all of it, in capitals or not.",
        "skip_where: {Model: [Average, Mean]}",
    )
    until: int | str | Mapping[str, tuple[str, ...]] | None = key(
        End(),
        "The first row after the table: its number, `blank` for the first that holds nothing, or what a cell of it says.",
        "until: {Model: Total}",
    )
    separator: str = key(
        kinds.Text(), "What stands between the cells of a text file: a sign, or `tab`.", 'separator: ";"'
    )
    encoding: str = key(kinds.Text(), "How a text file writes letters; UTF-8 by default.", "encoding: windows-1252")
    corrections: tuple[Correction, ...] = key(
        kinds.Several(Noun(CORRECTION), "corrections", fewest=1),
        "Cells that are read otherwise than they stand, each with its reason.",
        "corrections: [{cell: A27, is: IB-122, instead_of: IB-121, because: typed wrong}]",
    )
    join: Choice = key(kinds.Word(JOIN), "What its products are to those of the other tables.", "join: known")
    own: frozenset[str]
    places: Mapping[str, Place]
    place: Place


TABLE = Declaration(
    Table,
    "table",
    called="a table of a recipe",
    short="a table",
    title="Tables of a recipe",
    lead="In the list under `tables`. Tables are joined by product: a measure that stands in two has the repeats of both. Any "
    "key of the recipe that says how tables are read may stand here again, and then holds here.",
    as_in="{file: bench.xlsx, header: 4}",
    rules=(OneOf(("file", "database query")),),
    order="file database query sheets header units skip skip_where until separator encoding corrections join",
)


@noun
class Recipe(Layout):
    """How a laboratory's own files are read as readings; `places` says where each key that is written stands."""

    name: str = key(
        WORD,
        "The name of the recipe. As the first key it marks the file as one.",
        "readings: bench-2026",
        required=True,
        name="readings",
    )
    note: str = key(kinds.Text(), "A remark, for readers of the file.", "note: As the bench leaves it.")
    tables: tuple[Table, ...] = key(
        kinds.Several(Noun(TABLE), "tables", fewest=1),
        "The tables, one or more, in the order in which repeats are numbered.",
        "tables: [{file: bench.xlsx, sheets: all, header: 4}]",
        required=True,
    )
    source: str
    text: str
    places: Mapping[str, Place]


RECIPE = Declaration(
    Recipe,
    "recipe",
    title="Recipes of readings",
    lead="A recipe says how files that a laboratory keeps anyway are read, so that nobody edits them to suit a tool. It is YAML "
    "and stands where a catalogue does; a folder that holds `readings.yaml` is read by it.",
    order="readings note tables decimal words duplicates product ignore fill sessions specimens dates measures attributes long",
)
#: Every noun but the recipe itself, in the order in which the page tells them.
DECLARED: tuple[Declaration[Any], ...] = (
    TABLE,
    WORDS_OF,
    COLUMNS_OF_MEASURE,
    COLUMN_OF_ATTRIBUTE,
    SESSIONS,
    IN_COLUMN,
    LONG_TABLE,
    CORRECTION,
)
#: What a recipe says of all its tables, and a table may say again.
LAYOUT = tuple(Declaration(Layout, "layout", title="").fields)
