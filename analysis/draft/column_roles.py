"""What each column of a table is for: products, conditions of reading, measures, words about a product, words for nobody."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from enum import Enum

from analysis.draft.cell_kinds import Kind, kind_of, number_of
from analysis.draft.column_heads import MONEY, Head, read_head, repeats_told_apart
from analysis.draft.table_extent import Extent
from scoring.catalogue.cells import text_of
from scoring.catalogue.column_names import ID_COLUMNS


class Role(Enum):
    """What a column is for."""

    PRODUCT = "names the products"
    NAME = "the name of a product"
    MAKER = "the maker"
    CLASS = "the kind"
    SESSION = "the session of a row's readings"
    SPECIMEN = "the specimen of a row's readings"
    DATE = "the day of a row's readings"
    REPEAT = "the number of a repeat"
    PERSON = "who read it"
    NOTE = "notes"
    SERIAL = "numbers rows"
    MEASURE = "readings"
    PRICE = "a price"
    DERIVED = "worked out from other columns"
    TEST = "which measure a row is of"
    VALUE = "the reading of a row"
    UNIT = "the unit of a row"
    WORDS = "other words"
    EMPTY = "nothing"


#: Words of a header, by what they say of the column; those of a later line do not count where an earlier one fits. Common
#: practice of benches, no source.
_SAID: tuple[tuple[Role, str], ...] = (
    (
        Role.PERSON,
        "tested by|read by|operator|tester|technician|initials|analyst|by|inspector|observer|person|staff|who",
    ),
    (Role.NOTE, "notes?|remarks?|comments?|observations?|bemerkung(?:en)?|memo|mail"),
    (Role.SESSION, "(?:[a-z]+ )?(?:session|campaign|round|batch|season|wave)s?(?: no\\.?)?|bench day|test day"),
    (Role.SPECIMEN, "specimen|sample|piece|unit no\\.?"),
    (Role.DATE, "date|read on|tested on|tested|day|datum|when|measured on"),
    (Role.REPEAT, "repeat|rep\\.?|run|trial|no\\.?|nr\\.?|#|repetition"),
    (Role.MAKER, "maker|brand|manufacturer|make|company|supplier|hersteller"),
    (Role.CLASS, "class|type|kind|category|group|construction|core|family|firmness class"),
    (Role.NAME, "name|model|title|product name|model name|bed name|item name|article|description"),
    (Role.TEST, "measure|test|parameter|property|quantity|characteristic|variable|test name|measurement"),
    (Role.UNIT, "units?|uom|einheit"),
)
_PATTERNS = tuple((role, re.compile(rf"(?:{words})", re.IGNORECASE)) for role, words in _SAID)
_VALUE = re.compile(r"value|reading|result|measured value|wert|measured|figure", re.IGNORECASE)
_PRICE = re.compile(r"\b(?:price|cost|rrp|msrp|preis)\b", re.IGNORECASE)
_SERIAL = re.compile(r"(?:no\.?|nr\.?|#|row|pos\.?|s/?n|lfd\.?(?: nr\.?)?|line|index|seq\.?|order)", re.IGNORECASE)
#: Words in the name of a column of products, the likeliest first.
PRODUCT_WORDS = (
    *("product", "id", "sku", "code", "ref", "reference", "bed", "mattress", "item", "article", "model", "specimen"),
    *("sample", "no", "nr", "number", "name"),
)
_ID = re.compile(r"[A-Za-z]{0,6}[-_ /.]?[0-9]{1,8}(?:[-_ /.]?[A-Za-z0-9]{1,4})?")
#: How a role counts against a column as that of the products.
_NO_PRODUCTS = {
    Role.PERSON,
    Role.NOTE,
    Role.SESSION,
    Role.DATE,
    Role.MAKER,
    Role.CLASS,
    Role.UNIT,
    Role.TEST,
    Role.REPEAT,
}


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """One column of a table's rows of products: `cells` has as many as the body rows."""

    index: int
    head: Head
    cells: tuple[object, ...]
    role: Role = Role.WORDS

    @property
    def texts(self) -> list[str]:
        """Its cells as texts."""
        return [text_of(cell).strip() for cell in self.cells]

    @property
    def kinds(self) -> Counter[Kind]:
        """How many cells are of each kind."""
        return Counter(map(kind_of, self.cells))


def columns_of(extent: Extent, products: Collection[str] = ()) -> tuple[Column, ...]:
    """The columns of a table with their roles.

    Parameters
    ----------
    products : ids that other tables name, so that the column of the same is found in this one
    """
    heads = repeats_told_apart([read_head(name) for name in extent.names])
    units = extent.unit_row
    columns = []
    for index, head in enumerate(heads):
        cells = tuple(row[index] if index < len(row) else None for _, row in extent.body)
        below = units[index] if index < len(units) else ""
        columns.append(Column(index, head if head.unit or not below else replace(head, unit=below), cells))
    sorted_out = _as_long(columns)
    naming = _product_column(sorted_out, products)
    return tuple(replace(column, role=_role(column, naming)) for column in sorted_out)


def said_role(words: str) -> Role | None:
    """The role that a header's words say by themselves."""
    for role, pattern in _PATTERNS:
        if pattern.fullmatch(words.strip()):
            return role
    return None


def _product_column(columns: Sequence[Column], products: Collection[str]) -> int | None:
    """The index of the likeliest column of products; None where no column may be."""
    is_long = any(column.role is Role.TEST for column in columns)
    free = [column for column in columns if column.role is Role.WORDS]
    likely = [(_likelihood(column, products, is_long), -column.index) for column in free]
    best = max(likely, default=(0.0, 0))
    return -best[1] if best[0] > 0 else None


def _likelihood(column: Column, products: Collection[str], is_long: bool) -> float:
    """How likely a column names the products; 0 where it does not. The weights are ours, and tried on layouts.

    Where a row is a reading (`is_long`), a product stands in as many rows as it has readings.
    """
    kinds, n = column.kinds, len(column.cells)
    filled = n - kinds[Kind.BLANK]
    texts = [text for text in column.texts if text]
    if (
        not filled
        or kinds[Kind.DAY] > filled / 2
        or any("." in text or "," in text for text in texts if _is_bare(text))
    ):
        return 0.0
    words = [word for word in re.split(r"[\W_]+", column.head.words.casefold()) if word]
    known = [PRODUCT_WORDS.index(word) for word in words if word in PRODUCT_WORDS]
    distinct = len(set(texts)) / filled
    is_number = kinds[Kind.NUMBER] > filled / 2
    is_rare = distinct < 0.1 and not is_long
    if (is_number and not known) or is_rare or column.head.unit:
        return 0.0
    score = 3 * distinct + 2 * filled / n - 0.2 * column.index
    score += 3 - 0.15 * min(known) if known else 0.0
    score += 3 if column.head.text.casefold() in ID_COLUMNS else 0.0
    score += 2 if not is_number and sum(1 for text in texts if _ID.fullmatch(text)) > 0.8 * filled else 0.0
    score -= 5 if said_role(column.head.words) in _NO_PRODUCTS and not known else 0.0
    score += 10 * len(set(texts) & set(products)) / max(len(products), 1) if products else 0.0
    return score


def _is_bare(text: str) -> bool:
    return number_of(text) is not None


def _as_long(columns: Sequence[Column]) -> list[Column]:
    """The same columns; where rows are of single readings, with the measure, the reading and their kin given their roles."""
    tests = [
        one for one in columns if said_role(one.head.words) is Role.TEST and one.kinds[Kind.TEXT] > len(one.cells) / 2
    ]
    values = [
        one for one in columns if _VALUE.fullmatch(one.head.words) and one.kinds[Kind.NUMBER] > len(one.cells) / 3
    ]
    if not tests or not values or len(set(tests[0].texts)) > len(tests[0].cells) / 2:
        return list(columns)
    given = {tests[0].index: Role.TEST, values[0].index: Role.VALUE}
    return [replace(one, role=given.get(one.index, one.role)) for one in columns]


def _role(column: Column, naming: int | None) -> Role:
    """What one column is for."""
    if column.index == naming:
        return Role.PRODUCT
    if column.role is not Role.WORDS:
        return column.role
    kinds = column.kinds
    filled = len(column.cells) - kinds[Kind.BLANK]
    if not filled:
        return Role.EMPTY
    said = said_role(column.head.words) if not column.head.unit else None
    numbers = kinds[Kind.NUMBER] + kinds[Kind.BELOW]
    is_measured = numbers > 0 and numbers >= (filled - kinds[Kind.GAP]) / 2
    if kinds[Kind.DAY] > filled / 2:
        return Role.DATE
    if (is_measured and _PRICE.search(column.head.text)) or column.head.unit.casefold() in MONEY:
        return Role.PRICE
    if is_measured and (_counts_rows(column) or _counts_days(column)):
        return Role.SERIAL
    if is_measured and said not in (Role.SESSION, Role.SPECIMEN, Role.REPEAT):
        return Role.MEASURE
    if said in (Role.SESSION, Role.SPECIMEN, Role.REPEAT) and _is_whole(column):
        return said
    if is_measured:
        return Role.MEASURE
    if said in (Role.TEST, None):
        return Role.WORDS
    return said


def _is_whole(column: Column) -> bool:
    """Whether its numbers are whole and small, as those that count sessions are."""
    numbers = [number_of(cell) for cell in column.cells]
    return all(number is None or (number.is_integer() and 0 <= number < 10_000) for number in numbers)


def _counts_days(column: Column) -> bool:
    """Whether a column holds years, months or weeks."""
    return bool(re.fullmatch(r"year|month|week|jahr|kw", column.head.words, re.IGNORECASE)) and _is_whole(column)


def _counts_rows(column: Column) -> bool:
    """Whether a column without a unit numbers the rows: 1, 2, 3 ..."""
    numbers = [number_of(cell) for cell in column.cells if kind_of(cell) is not Kind.BLANK]
    if column.head.unit or len(numbers) < 3 or None in numbers:
        return False
    steps = {new - old for old, new in itertools.pairwise(numbers) if old is not None and new is not None}
    return steps == {1.0} and (numbers[0] in (0.0, 1.0) or bool(_SERIAL.fullmatch(column.head.words)))
