"""CSV and its kin: text with a separator between cells, as a sheet of texts, so that `007` and `NA` stay what they are."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from functools import partial

from scoring.catalogue.formats.grid import Grid, Row, TableFile
from scoring.errors import Place, Problem
from scoring.texts.input_files import decoded

_QUOTES = 'A cell with a comma or a double quote needs double quotes around it, and `""` for one inside.'


def read(file: TableFile, problems: list[Problem]) -> list[Grid]:
    """Read a CSV file; one that cannot be read goes to `problems`.

    A byte order mark and any line ends are accepted; rows without any content are passed over. The separator
    is not guessed: a file with semicolons or tabs is refused, for such files tend to hold decimal commas.
    """
    content, source = file.content, file.source
    text = decoded(content, source, "Save the file as CSV in UTF-8.")
    if isinstance(text, Problem):
        problems.append(text)
        return []
    del text  # the reader decodes a piece at a time: a text held whole takes four bytes a letter there
    line, header = next(_rows(content, source, []), (1, [""]))
    if len(header) == 1 and any(sign in str(header[0]) for sign in ";\t"):
        found = f"cells with {'semicolons' if ';' in str(header[0]) else 'tabs'} between them"
        hint = "Save the file with commas between cells and decimal points in numbers."
        problems.append(Problem(Place(source, line), found, "commas between cells", hint))
        return []
    return [Grid(source, partial(_rows, content, source), too_long=f"{_QUOTES} A decimal comma counts as a comma.")]


def _rows(content: bytes, source: str, problems: list[Problem]) -> Iterator[Row]:
    """Every row with content, and the number of its first line; a row that cannot be read is the last."""
    reader = csv.reader(io.TextIOWrapper(io.BytesIO(content), encoding="utf-8-sig", newline=""), strict=True)
    line = 1
    try:
        for record in reader:
            if record and (record[0] or any(record)):
                yield line, record
            line = reader.line_num + 1
    except csv.Error as fault:
        found = f"a row that cannot be read ({fault})"
        problems.append(Problem(Place(source, line), found, "cells with commas between them", _QUOTES))
