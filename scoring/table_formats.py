"""Every format of table files that is read. To add one: its line here, and its module in `catalogue/formats/`.

Nothing is imported here, so that the command line can name the formats before anything is loaded.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Format:
    """A format of table files: its name, its endings, its module, and the options that it takes.

    unfinished : what is added to the name of a file beside it that holds changes which are not in it yet
    """

    name: str
    endings: tuple[str, ...]
    module: str
    takes: tuple[str, ...] = ()
    unfinished: tuple[str, ...] = ()


FORMATS = (
    Format("CSV", (".csv",), "separated", takes=("separator", "encoding")),
    Format("TSV", (".tsv",), "separated", takes=("separator", "encoding")),
    Format("XLSX", (".xlsx",), "xlsx", takes=("sheets",)),
    Format("ODS", (".ods",), "ods", takes=("sheets",)),
    Format("Parquet", (".parquet",), "parquet"),
    Format("Arrow", (".arrow", ".feather"), "arrow"),
    Format(
        "SQLite", (".sqlite", ".sqlite3", ".db"), "sqlite", takes=("sheets", "query"), unfinished=("-wal", "-journal")
    ),
)
ENDINGS = tuple(ending for format_ in FORMATS for ending in format_.endings)


def _listed(words: list[str]) -> str:
    return f"{', '.join(words[:-1])} or {words[-1]}"


#: The formats and the endings, as a sentence names them.
ONE_OF_FORMATS = _listed([format_.name for format_ in FORMATS])
ONE_OF_ENDINGS = _listed(list(ENDINGS))

_BY_ENDING = {ending: format_ for format_ in FORMATS for ending in format_.endings}


def format_of(source: str) -> Format | None:
    """The format of a file by its ending, or None."""
    return _BY_ENDING.get(Path(source).suffix.lower())
