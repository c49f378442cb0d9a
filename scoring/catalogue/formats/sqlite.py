"""SQLite: a database file; each of its tables is a sheet, or one query is the only one.

It is read from the bytes that were hashed, as a copy in memory, so that nothing that it or a query says can reach the file. A
query, or a view of the database, may read and nothing else, and may not work for ever.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from functools import partial

from scoring.catalogue.formats.grid import Grid, Row, TableFile
from scoring.catalogue.formats.queries import counted, fault_of_query, in_one_line
from scoring.errors import CatalogueError, Place, Problem
from scoring.texts.file_limits import limits

_MAGIC = b"SQLite format 3\0"
#: Bytes 18 and 19 say that a log is kept beside the file. A copy in memory has none, and then holds 1 there (SQLite, C interface,
#: `sqlite3_deserialize`).
_LOGGED = slice(18, 20)
_ALLOWED = frozenset({sqlite3.SQLITE_SELECT, sqlite3.SQLITE_READ, sqlite3.SQLITE_FUNCTION, sqlite3.SQLITE_RECURSIVE})
_TABLES = "select name from sqlite_master where type = 'table' and name not like 'sqlite@_%' escape '@' order by rowid"
_LONGEST_CELL = 1_000_000  # bytes
#: Steps of the database's machine for each cell that may be read, before a query counts as endless.
_STEPS_A_CELL = 40
_STEPS = 1_000_000  # between two looks at how many it was
_TRY = "The query is one `select`. Try it in the program that keeps the database."


def read(file: TableFile, problems: list[Problem]) -> list[Grid]:
    """The tables of a database, or what its query gives: numbers, texts, and NULL as empty cells."""
    database = _Database(file)
    query = file.options.query
    fault = fault_of_query(query, Place(file.source)) if query else None
    if fault is not None:
        problems.append(fault)
        return []
    if query:
        return [Grid(file.source, partial(database.rows, query))]
    try:
        with closing(database.open()) as connection:
            names = [str(name) for (name,) in connection.execute(_TABLES)]
    except (sqlite3.Error, sqlite3.Warning) as broken:
        problems.append(database.unreadable(broken))
        return []
    if not names:
        problems.append(Problem(Place(file.source), "a database without tables", "one table, or several"))
    return [Grid(file.source, partial(database.rows, _all_of(name)), name) for name in names]


@dataclass(frozen=True, slots=True, eq=False)
class _Database:
    """A database file, and the ways into a copy of it."""

    file: TableFile

    def open(self) -> sqlite3.Connection:
        """A copy of the database in memory, in which statements can read, and no more.

        Raises
        ------
        sqlite3.Error : the file is no database, or the library cannot read one from memory
        """
        content = bytearray(self.file.content)
        if not content.startswith(_MAGIC):
            raise sqlite3.DatabaseError("file is not a database")
        content[_LOGGED] = b"\1\1"
        connection = sqlite3.connect(":memory:")
        try:
            connection.deserialize(bytes(content))
            restrain(connection)
        except Exception:
            connection.close()
            raise
        return connection

    def rows(self, query: str, _problems: list[Problem]) -> Iterator[Row]:
        """The names of the columns, and the rows of a query, as they come."""
        try:
            with closing(self.open()) as connection:
                cursor = connection.execute(query)
                names = [column[0] for column in cursor.description or ()]
                yield from counted(names, cursor, self.file.source)
        except (sqlite3.Error, sqlite3.Warning) as broken:
            raise CatalogueError([self.unreadable(broken)]) from broken

    def unreadable(self, fault: sqlite3.Error | sqlite3.Warning) -> Problem:
        """What the library says of the file, or of a query."""
        return said_of(fault, Place(self.file.source), asked=bool(self.file.options.query))


def restrain(connection: sqlite3.Connection) -> None:
    """From here on statements of a connection can read and nothing else, and not for ever."""
    connection.execute("pragma trusted_schema = off")
    connection.execute("pragma cell_size_check = on")
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, _LONGEST_CELL)
    connection.setlimit(sqlite3.SQLITE_LIMIT_ATTACHED, 0)
    connection.set_authorizer(_authorised)
    left = [_STEPS_A_CELL * limits().cells // _STEPS + 1]

    def is_over() -> bool:
        left[0] -= 1
        return left[0] < 0

    connection.set_progress_handler(is_over, _STEPS)


def said_of(fault: sqlite3.Error | sqlite3.Warning, place: Place, *, asked: bool) -> Problem:
    """A fault of the library in our words."""
    code = getattr(fault, "sqlite_errorcode", None)
    if code == sqlite3.SQLITE_AUTH:
        return Problem(place, "a query that does more than read", "one statement that reads", _TRY)
    if code == sqlite3.SQLITE_INTERRUPT:
        hint = "Ask for less, or lift the limit of cells: `steelyard --limit cells=N COMMAND ...`."
        return Problem(place, "a query that comes to no end", "a query that is done soon", hint)
    if code == sqlite3.SQLITE_TOOBIG:
        return Problem(place, "a very long text or number of bytes in one cell", f"at most {_LONGEST_CELL} bytes")
    if asked and code in (sqlite3.SQLITE_ERROR, None):
        return Problem(
            place, f"a query that SQLite does not take ({in_one_line(fault)})", "one statement that reads", _TRY
        )
    return Problem(place, f"a file that cannot be read as SQLite ({in_one_line(fault)})", "an SQLite database")


def _authorised(action: int, _first: str | None, second: str | None, *_where: str | None) -> int:
    is_loading = action == sqlite3.SQLITE_FUNCTION and second == "load_extension"
    return sqlite3.SQLITE_OK if action in _ALLOWED and not is_loading else sqlite3.SQLITE_DENY


def _all_of(table: str) -> str:
    """The query of a whole table: its name as it is, whatever stands in it."""
    name = table.replace('"', '""')
    return f'select * from "{name}"'  # noqa: S608 - quoted, and nothing but reading is allowed
