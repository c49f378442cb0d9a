"""What cells say and what columns hold, as a recipe says it: words, measures, attributes, sessions, long tables."""

from __future__ import annotations

from scoring.declaration import Declaration, OneOf, key, kinds, noun
from scoring.errors import Place
from scoring.form import Choice
from scoring.recipe.kinds import WORD, WORDS, Asked

EACH = {
    "sheet": "every sheet is one, called as the sheet",
    "file": "every file is one, called as the file without ending",
}


@noun
class Words:
    """What cells say that are no numbers."""

    missing: tuple[str, ...] = key(WORDS, "They mean that there is no reading.", 'missing: [TBD, "-"]')
    not_applicable: tuple[str, ...] = key(
        WORDS, "They mean that the measure does not apply to the product.", "not_applicable: [no edge]"
    )
    below: tuple[str, ...] = key(
        WORDS, "They mean a reading below the reporting limit, which the formula states.", 'below: ["<LOD"]'
    )


WORDS_OF = Declaration(
    Words,
    "words",
    called="the words of a recipe",
    short="words",
    title="Words in cells",
    lead="Under `words`. A cell that says one of them, in capitals or not, is read as said here, and keeps the word as its "
    "reason. They come before what cells mean anyway, so that `n/a` may be said to be missing.",
    as_in="{missing: [TBD]}",
)


@noun
class ColumnsOfMeasure:
    """Which columns hold a measure; `unit` is that of readings beside which no header states one."""

    column: str = key(
        WORD,
        "Every column of this name once `(unit)`, `[unit]` and `#n` are taken out of it, wherever these stand; in a long table, "
        "what the column of measures calls it.",
        "column: Noise",
    )
    columns: tuple[str, ...] = key(
        kinds.Several(WORD, "columns", fewest=1, once=True),
        "Its repeats, one a column, in this order.",
        'columns: ["Edge A", "Edge B"]',
    )
    unit: str = key(WORD, "The unit where no header states one.", "unit: in")
    place: Place


COLUMNS_OF_MEASURE = Declaration(
    ColumnsOfMeasure,
    "columns_of_measure",
    called="the columns of a measure",
    short="the columns of a measure",
    title="Columns of a measure",
    lead="Under `measures`, as `NAME: {...}` with the formula's name of the measure. A measure that is not named here has the "
    "column that the formula says.",
    as_in="{column: Noise}",
)


@noun
class ColumnOfAttribute:
    """Which column holds an attribute."""

    column: str = key(WORD, "The column that holds it.", "column: Type", required=True)
    place: Place


COLUMN_OF_ATTRIBUTE = Declaration(
    ColumnOfAttribute,
    "column_of_attribute",
    called="the column of an attribute",
    short="the column of an attribute",
    title="Columns of attributes",
    lead="Under `attributes`, as `NAME: {...}` with the formula's name of the attribute.",
    as_in="{column: Type}",
)


@noun
class Sessions:
    """In which session readings were taken."""

    column: str = key(WORD, "The column that names the session of a row's readings.", "column: Session")
    each: Choice | None = key(Asked(EACH), "What is a session of its own.", "each: sheet")
    called: str = key(WORD, "All readings of the table are of this one session.", "called: spring")
    place: Place


SESSIONS = Declaration(
    Sessions,
    "sessions",
    called="the sessions of a recipe",
    short="sessions",
    title="Sessions",
    lead="Under `sessions`.",
    as_in="{column: Session}",
    rules=(OneOf(("column", "each", "called")),),
)


@noun
class InColumn:
    """What stands beside each reading, in a column of its own."""

    column: str = key(WORD, "The column that says it of a row's readings.", "column: Specimen", required=True)
    place: Place


IN_COLUMN = Declaration(
    InColumn,
    "in_column",
    called="a column beside readings",
    short="a column beside readings",
    title="Specimens and dates",
    lead="Under `specimens` and `dates`.",
    as_in="{column: Specimen}",
)


@noun
class LongTable:
    """The columns of a table with a row a reading; empty for one that there is not."""

    measure: str = key(WORD, "The column that names the measure.", "measure: Test", required=True)
    value: str = key(WORD, "The column of the readings.", "value: Reading", required=True)
    unit: str = key(WORD, "The column of their units.", "unit: Unit")
    repeat: str = key(WORD, "The column that numbers the repeats.", "repeat: No")
    flag: str = key(WORD, "The column of flags: `below`, `missing`, `not_applicable` or nothing.", "flag: Flag")
    reason: str = key(WORD, "The column that says why there is no reading.", "reason: Why")
    place: Place


LONG_TABLE = Declaration(
    LongTable,
    "long_table",
    called="the columns of a long table",
    short="the columns of a long table",
    title="Long tables",
    lead="Under `long`, for a table with a row a reading. One with columns `measure` and `value` is long without it.",
    as_in="{measure: Test, value: Reading}",
)
