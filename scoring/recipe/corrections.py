"""Corrections of single cells, as a recipe says them: what is read, in place of what the file says, and why."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator

from scoring.declaration import Declaration, OneOf, key, kinds, noun
from scoring.errors import Place
from scoring.reader.declared import made
from scoring.reader.fields import Fields
from scoring.reader.wording import clip
from scoring.recipe.kinds import WORD, Row
from scoring.recipe.rows import read_rows

_CELL = re.compile(r"([A-Za-z]{1,3})([1-9][0-9]{0,8})")


@noun
class Correction:
    """One cell that is read otherwise than it stands; the file stays as it is.

    row, column : where it stands, the column by its name or its letters
    """

    cell: str = key(WORD, "The cell of a spreadsheet, by its letters and row.", "cell: A27")
    sheet: str = key(WORD, "Its sheet, where the table stands on several.", "sheet: Spring")
    row: int = key(Row(), "Its row, as the file counts; of a text file or a database.", "row: 27")
    column: str = key(WORD, "Its column, by the name in the header.", "column: Bed")
    becomes: str = key(WORD, "What is read.", "is: IB-122", required=True, name="is")
    instead_of: str = key(
        WORD,
        "What the cell says. It is a fault if the cell says anything else, so that no correction outlives what it corrects.",
        "instead_of: IB-121",
        required=True,
    )
    because: str = key(
        kinds.Text(fewest=1),
        "Why: it is published beside the readings.",
        "because: typed wrong; the sheet of products says IB-122",
        required=True,
    )
    on: str = key(WORD, "The day on which it was decided.", "on: 2026-03-02")
    place: Place

    @property
    def letters(self) -> int:
        """The index of the column that `cell` names, from 0."""
        letters = "".join(filter(str.isalpha, self.cell)).upper()
        number = 0
        for letter in letters:
            number = 26 * number + ord(letter) - ord("A") + 1
        return number - 1


CORRECTION = Declaration(
    Correction,
    "correction",
    called="a correction of a recipe",
    short="a correction",
    title="Corrections",
    lead="In the list under `corrections` of a table. A cell, of the header too, is read as said here; explanations, appendix "
    "and `check` tell it. The file stays as it is.",
    as_in="{cell: A27, is: IB-122, instead_of: IB-121, because: typed wrong}",
    rules=(OneOf(("cell", "row column")),),
    order="cell sheet row column is instead_of because on",
)


def read_corrections(fields: Fields, sheets: tuple[str, ...] | None) -> tuple[Correction, ...]:
    """The corrections of a table that stands on these sheets; none for all of them, None where nothing is said."""
    return tuple(_corrections(fields, sheets))


def _corrections(fields: Fields, sheets: tuple[str, ...] | None) -> Iterator[Correction]:
    section = fields.path("corrections")
    node = fields.node_of("corrections")
    for number, item in enumerate(
        fields.reader.items(node, section, "corrections") if node is not None else (), start=1
    ):
        own = fields.reader.noun(item, f"{section}.{number}", CORRECTION)
        if own is None:
            continue
        rows = read_rows(own, "row")
        read = made(CORRECTION, own, row=rows[0] if rows else 0)
        if read is not None:
            _check(own, read, sheets)
            at = _CELL.fullmatch(read.cell)
            yield read if at is None else made(CORRECTION, own, row=int(at[2])) or read


def _check(own: Fields, read: Correction, sheets: tuple[str, ...] | None) -> None:
    """That it says one cell of one sheet, something else than stands there, and a day that is one."""
    reader = own.reader
    by_row = "row" in own and "column" in own
    if ("cell" in own) == by_row or ("row" in own) != ("column" in own):
        found = (
            f"{', '.join(f'`{key}`' for key in ('cell', 'row', 'column') if key in own) or 'no cell'} in {own.address}"
        )
        reader.fault(own.place, found, "`cell`, or `row` and `column`", "As in `{cell: A27, ...}`.")
    elif "cell" in own and not _CELL.fullmatch(read.cell):
        reader.fault(own.place_of("cell"), f"`{clip(read.cell)}` for {own.path('cell')}", "a cell, as `A27`")
    if (sheets == () or len(sheets or ()) > 1) and not read.sheet:
        reader.fault(
            own.place, f"no `sheet` in {own.address}", "the sheet of the cell, for the table stands on several"
        )
    if read.becomes.strip() == read.instead_of.strip():
        reader.fault(own.place, f"`is` and `instead_of` alike in {own.address}", "another text")
    if read.on and not _is_day(read.on):
        reader.fault(own.place_of("on"), f"`{clip(read.on)}` for {own.path('on')}", "a day, as 2026-03-02")


def _is_day(text: str) -> bool:
    try:
        datetime.date.fromisoformat(text)
    except ValueError:
        return False
    return True
