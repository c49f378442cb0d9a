"""Cells: from what is written in a table to a number, a reading below the limit, a gap, or a fault.

A cell of readings holds one of
  - a number: sign, digits, point and digits, exponent (`22`, `-0.5`, `1.2e-3`), and nothing else;
  - `< 22`: below the reporting limit of 22;
  - nothing, `missing`, or `missing: why`;
  - `not applicable` or `n/a`, also with `: why`.
Blanks around these and the case of the words do not matter. The number cells of a typed table (Parquet, XLSX,
ODS ...) are taken as numbers.
"""

from __future__ import annotations

import datetime
import decimal
import functools
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scoring.catalogue.cell_hints import cell_hint
from scoring.catalogue.readings import State
from scoring.numbers.array_types import Array, Flags, Texts

LONGEST_NAME = 300
BLANKS = " \t"

_NUMBER = r"[+-]?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?"
_PLAIN = re.compile(_NUMBER)
_BELOW = re.compile(rf"<\s*({_NUMBER})")
#: With a decimal comma; a point after a leading 0 can be nothing else, neither between thousands nor in a date.
_WITH_COMMA = _NUMBER.replace(r"\.", ",") + r"|[+-]?0\.[0-9]+"
_PLAIN_COMMA = re.compile(_WITH_COMMA)
_UNIT = r"\s*(?P<unit>[^\W\d_][^\s\d]*[0-9]?|[%°][CFK]?)"
_WITH_UNIT = re.compile(rf"(?P<number>(?:<\s*)?(?:{_NUMBER})){_UNIT}")
_WITH_UNIT_COMMA = re.compile(rf"(?P<number>(?:<\s*)?(?:{_WITH_COMMA})){_UNIT}")
_BELOW_COMMA = re.compile(rf"<\s*({_WITH_COMMA})")
_GAP = re.compile(r"(missing|not applicable|not_applicable|n/a)\s*(?::\s*(.*))?", re.IGNORECASE | re.DOTALL)
_UNSAFE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069]")
CELL_EXPECTED = "a number, `< 22`, `missing`, `not applicable` or an empty cell"


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with one cell."""

    found: str
    expected: str
    hint: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class CellRules:
    """How a table's texts are written, where not as steelyard itself writes them.

    comma : whether a decimal comma stands in numbers
    words : what a cell may say that is no number, in small letters (`str.casefold`), and what it means; it keeps it as the reason
    """

    comma: bool = False
    words: Mapping[str, State] = field(default_factory=dict)

    def plain(self, text: str) -> bool:
        """Whether a text is a number as this table writes it."""
        return (_PLAIN_COMMA if self.comma else _PLAIN).fullmatch(text) is not None

    def means(self, cell: object) -> State | None:
        """What a cell means by its words alone; None where they are not listed."""
        return self.words.get(text_of(cell).casefold()) if self.words else None


#: As steelyard writes it: with a decimal point.
POINT = CellRules()


@dataclass(frozen=True, slots=True, eq=False)
class Parsed:
    """A run of cells, read: arrays of shape (n_cells,); `reasons` and `faults` by the cell's index.

    A faulty cell is held as MISSING; a BELOW cell holds its limit, or NaN where it states none.
    """

    numbers: Array
    states: NDArray[np.uint8]
    reasons: dict[int, str]
    faults: dict[int, Fault]

    def said(self) -> Flags:
        """Which cells say anything, if only why there is no reading; shape (n_cells,)."""
        said = self.states != State.MISSING
        said[[*self.reasons, *self.faults]] = True
        return np.asarray(said)


def parse_cells(cells: Texts, rules: CellRules = POINT) -> Parsed:
    """Read a run of cells as readings.

    Parameters
    ----------
    cells : object array, shape (n_cells,): texts or typed cells; None is an empty cell
    rules : how texts are written
    """
    listed = cells.tolist()
    numbers = np.full(len(listed), np.nan)
    states = np.full(len(listed), State.MISSING, dtype=np.uint8)
    reasons: dict[int, str] = {}
    faults: dict[int, Fault] = {}
    is_plain = (_PLAIN_COMMA if rules.comma else _PLAIN).fullmatch
    plain = [i for i, cell in enumerate(listed) if type(cell) is float or (type(cell) is str and is_plain(cell))]
    if any(rules.plain(word) for word in rules.words):  # numbers that stand for no reading, such as 999
        plain = [i for i in plain if rules.means(listed[i]) is None]
    numbers[plain] = _floats([listed[i] for i in plain]) if rules.comma else [float(listed[i]) for i in plain]
    states[plain] = State.VALUE
    for i in np.flatnonzero((states != State.VALUE) | ~np.isfinite(numbers)).tolist():
        read = _read_cell(listed[i], rules)
        if isinstance(read, Fault):
            numbers[i], states[i], faults[i] = np.nan, State.MISSING, read
        else:
            numbers[i], states[i], reason = read
            if reason:
                reasons[i] = reason
    return Parsed(numbers, states, reasons, faults)


def _floats(cells: Sequence[Any]) -> list[float]:
    """Cells with a decimal comma, or of numbers, as numbers."""
    return [float(cell.replace(",", ".") if type(cell) is str else cell) for cell in cells]


def _read_cell(cell: object, rules: CellRules) -> tuple[float, State, str] | Fault:
    """What a cell says that is no plain number: words that the table lists come first."""
    meant = rules.means(cell)
    if meant is not None:
        return math.nan, meant, text_of(cell)
    return _read_text(cell, rules.comma) if isinstance(cell, str) else _read_typed(cell)


def has_number(cells: Texts, rules: CellRules = POINT) -> bool:
    """Whether any cell of a column, of shape (n_rows,), reads as a number."""
    is_plain = (_PLAIN_COMMA if rules.comma else _PLAIN).fullmatch
    return any(is_plain(cell.strip(BLANKS)) if isinstance(cell, str) else _is_number(cell) for cell in cells.tolist())


def text_of(cell: object) -> str:
    """A cell as text: a whole number without `.0`, a date as year-month-day, nothing for an empty cell."""
    if cell is None:
        return ""
    if isinstance(cell, str):
        return cell.strip(BLANKS)
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 2**53:
        return str(int(cell))
    if isinstance(cell, datetime.datetime) and cell.time() == datetime.time():
        return cell.date().isoformat()
    if isinstance(cell, datetime.date | datetime.time):
        return cell.isoformat()
    return str(cell)


def texts_of(cells: Texts) -> list[str]:
    """Every cell of a column, of shape (n_rows,), as text."""
    return [cell.strip(BLANKS) if type(cell) is str else text_of(cell) for cell in cells.tolist()]


def read_id(cell: object) -> str | Fault:
    """A product's id as text, or what is wrong with it.

    A number cell of a typed table is taken where it is whole (7.0 is `7`); zeros in front are lost already.
    """
    expected = "the product's id as text"
    text = cell if isinstance(cell, str) else text_of(cell)
    if not isinstance(cell, str | None) and not (_is_number(cell) and text.isdecimal()):
        hint = "Format the column as text" + (", then type the id again." if _is_day(cell) else ".")
        return Fault(f"the id {shown(cell)}, {kind_of(cell)}", expected, hint)
    if not text.strip():
        return Fault("no id", expected, "Every row needs one.")
    if text != text.strip():
        return Fault(f"the id {shown(text)} with a blank at its edge", expected, "Remove the blank.")
    return name_fault(text, "an id") or text


def name_fault(text: str, what: str) -> Fault | None:
    """Say what is wrong with a name: too long, or holding characters that do not show."""
    if len(text) > LONGEST_NAME:
        return Fault(f"{what} of {len(text)} characters, {shown(text)}", f"at most {LONGEST_NAME} characters")
    if not text.isprintable():
        hint = "Delete the character and type it again; a special space comes with pasted text."
        return Fault(f"{what} {shown(text)} with a control or invisible character", "characters that show", hint)
    return None


def text_fault(text: str) -> Fault | None:
    """Say what is wrong with free text: characters that steer a terminal or turn the direction of writing."""
    if _UNSAFE.search(text):
        return Fault(f"{shown(text)} with a control character", "text without control characters")
    return None


def shown(cell: object) -> str:
    """A cell as a message shows it: in backticks, on one line, control characters spelt out, not endless."""
    text = text_of(cell) if not isinstance(cell, str) else cell
    text = "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in text[:61])
    return f"`{text[:60]}...`" if len(text) > 60 else f"`{text}`"


@functools.lru_cache(maxsize=4096)
def _read_text(cell: str, comma: bool) -> tuple[float, State, str] | Fault:
    text = cell.strip(BLANKS)
    if not text:
        return math.nan, State.MISSING, ""
    gap = _GAP.fullmatch(text)
    if gap:
        reason = (gap[2] or "").strip()
        state = State.MISSING if gap[1].lower() == "missing" else State.NOT_APPLICABLE
        return _reason_fault(reason) or (math.nan, state, reason)
    below = (_BELOW_COMMA if comma else _BELOW).fullmatch(text)
    if below or (_PLAIN_COMMA if comma else _PLAIN).fullmatch(text):
        number = float((below[1] if below else text).replace(",", "."))
        if not math.isfinite(number):
            return Fault(f"{shown(text)}, too large to hold", "a finite number")
        return number, State.BELOW if below else State.VALUE, ""
    if comma and _PLAIN.fullmatch(text):
        hint = "The recipe says `decimal: comma`: write a comma, or say `decimal: point` of this table."
        return Fault(f"{shown(text)}, with a point", "a number with a decimal comma", hint)
    return Fault(shown(text), CELL_EXPECTED, cell_hint(text) if len(text) <= LONGEST_NAME else "")


def _reason_fault(reason: str) -> Fault | None:
    if len(reason) > LONGEST_NAME:
        return Fault(f"a reason of {len(reason)} characters", f"at most {LONGEST_NAME} characters")
    return text_fault(reason)


def _read_typed(cell: object) -> tuple[float, State, str] | Fault:
    if cell is None:
        return math.nan, State.MISSING, ""
    if isinstance(cell, Fault):  # a format could not read it, and says why
        return cell
    if not _is_number(cell):
        found = f"{shown(cell)}, {kind_of(cell)} where a number should stand"
        hint = "Format the cell as a number" + (", then type the reading again." if _is_day(cell) else ".")
        return Fault(found, CELL_EXPECTED, hint)
    try:
        number = float(cell)  # type: ignore[arg-type]
    except (OverflowError, ValueError):  # a whole number or a decimal that no float holds
        number = math.inf
    if not math.isfinite(number):
        hint = "For a missing reading leave the cell empty (null)."
        return Fault(f"{shown(cell)}, not a finite number", "a finite number", hint)
    return number, State.VALUE, ""


def _is_number(cell: object) -> bool:
    return isinstance(cell, int | float | decimal.Decimal) and not isinstance(cell, bool)


def _is_day(cell: object) -> bool:
    return isinstance(cell, datetime.date | datetime.time | datetime.timedelta)


def kind_of(cell: object) -> str:
    """What a cell is that is no text."""
    if isinstance(cell, bool):
        return "a truth value"
    if _is_day(cell):
        return "a date or a time"
    return "a number with decimals" if _is_number(cell) else f"a cell of type {type(cell).__name__}"


def number_and_unit(cell: object, rules: CellRules = POINT) -> tuple[str, str] | None:
    """A cell that states its own unit behind its number, in two; None for any other.

    Examples
    --------
    >>> number_and_unit("31.5 dB"), number_and_unit("<2,5mm", CellRules(comma=True)), number_and_unit("31.5")
    (('31.5', 'dB'), ('<2,5', 'mm'), None)
    """
    if not isinstance(cell, str) or rules.means(cell) is not None:
        return None
    parts = (_WITH_UNIT_COMMA if rules.comma else _WITH_UNIT).fullmatch(cell.strip(BLANKS))
    return (parts["number"], parts["unit"]) if parts else None
