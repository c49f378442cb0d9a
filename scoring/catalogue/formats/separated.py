"""CSV, TSV and their kin: texts with a separator between them, so that `007` and `NA` stay what they are."""

from __future__ import annotations

import csv
import io
import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from scoring.catalogue.formats.encodings import encoding_of
from scoring.catalogue.formats.grid import Grid, Row, TableFile
from scoring.errors import Place, Problem

_TAB = "\t"
_BY_ENDING = {".csv": ",", ".tsv": _TAB}
#: What separators are called where there are several of them, and how a recipe writes them.
_NAMES = {",": "commas", ";": "semicolons", _TAB: "tabs", "|": "bars"}
_WRITTEN = {_TAB: "tab"}
#: Among so many upper rows another separator is looked for, where so many are there and so large a share of them agree.
_UPPER_ROWS, _FEWEST_ROWS, _MOSTLY = 20, 3, 0.8


def read(file: TableFile, problems: list[Problem]) -> list[Grid]:
    """The one grid of a text file; a file that cannot be read goes to `problems`.

    A byte order mark and any line ends are accepted; rows without any content are passed over. The separator is not guessed: a
    file of commas that holds semicolons or tabs is refused, for such files tend to hold decimal commas.
    """
    separator = _separator(file, problems)
    encoding = encoding_of(file, problems)
    if not separator or not encoding:
        return []
    text = _Text(file, separator, encoding)
    upper = list(itertools.islice(text.rows([]), _UPPER_ROWS)) or [(1, [""])]
    line, header = upper[0]
    other = _other_separator(str(header[0]), separator) if len(header) == 1 and not file.options.separator else ""
    other = other or _in_every_row([cells for _, cells in upper], separator)
    if other:
        problems.append(_of_another(other, separator, Place(file.source, line)))
        return []
    return [Grid(file.source, text.rows, too_long=f"{text.quotes}{text.decimals}")]


@dataclass(frozen=True, slots=True, eq=False)
class _Text:
    """A text file that can be decoded, and what stands between its cells."""

    file: TableFile
    separator: str
    encoding: str

    @property
    def quotes(self) -> str:
        """What to try for a row that falls apart."""
        one = {",": "a comma", _TAB: "a tab", ";": "a semicolon"}.get(self.separator, f"`{self.separator}`")
        return f'A cell with {one} or a double quote needs double quotes around it, and `""` for one inside.'

    @property
    def decimals(self) -> str:
        return " A decimal comma counts as a comma." if self.separator == "," else ""

    def rows(self, problems: list[Problem]) -> Iterator[Row]:
        """Every row with content, and the number of its first line; a row that cannot be read is the last."""
        # the reader decodes a piece at a time: a text held whole takes four bytes a letter
        stream = io.TextIOWrapper(io.BytesIO(self.file.content), encoding=self.encoding, newline="")
        reader = csv.reader(stream, strict=True, delimiter=self.separator)
        line = 1
        try:
            for record in reader:
                if record and (record[0] or any(record)):
                    yield line, record
                line = reader.line_num + 1
        except csv.Error as fault:
            found = f"a row that cannot be read ({fault})"
            expected = f"cells with {_called(self.separator)} between them"
            problems.append(Problem(Place(self.file.source, line), found, expected, self.quotes))


def _separator(file: TableFile, problems: list[Problem]) -> str:
    """The character between cells; "" where what is given is none."""
    given = file.options.separator
    if not given:
        return _BY_ENDING[Path(file.source).suffix.lower()]
    sign = _TAB if given == "tab" else given
    if len(sign) != 1 or sign in '"\r\n' or not (sign.isprintable() or sign == _TAB):
        expected = "one character, as `;`, or `tab`, and no double quote"
        problems.append(Problem(Place(file.source), f"the separator `{given}`", expected))
        return ""
    return sign


def _other_separator(header: str, separator: str) -> str:
    """The separator that a header of one cell seems to be written with, where that is another."""
    return next((sign for sign in (";", _TAB, ",") if sign in header and sign != separator), "")


def _in_every_row(rows: Sequence[Sequence[object]], separator: str) -> str:
    """The sign that stands equally often in rows that fall apart by the separator of the file; "" where there is none.

    A title above the header may hold the separator itself, and decimal commas do.
    """
    widths = [len(cells) for cells in rows]
    if len(rows) < _FEWEST_ROWS or len(set(widths[1:])) == 1 < widths[-1]:
        return ""
    width = max(widths, key=widths.count)
    lines = [separator.join(map(str, cells)) for cells in rows]
    for sign in (";", _TAB, "|", ","):
        counts = [line.count(sign) for line in lines]
        usual = max(counts, key=counts.count)
        makes_more = usual > 0 and usual + 1 >= width  # else it may stand in the words of a column
        if sign != separator and makes_more and counts.count(usual) >= _MOSTLY * len(rows):
            return sign
    return ""


def _of_another(sign: str, separator: str, place: Place) -> Problem:
    """The fault of a file whose cells stand apart by another sign."""
    line = f'`separator: "{_WRITTEN.get(sign, sign)}"`'
    decimal = ", with `decimal: comma` where its numbers have one" if sign == ";" else ""
    hint = f"A recipe reads the file as it is: {line}{decimal}."
    return Problem(place, f"cells with {_called(sign)} between them", f"{_called(separator)} between cells", hint)


def _called(separator: str) -> str:
    return _NAMES.get(separator, f"`{separator}`")
