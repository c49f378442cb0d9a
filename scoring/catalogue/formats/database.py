"""A database behind a URL, by SQLAlchemy: what one query gives, as a grid.

The URL stands in an environment variable and nowhere else, for it may hold a password; no message shows it. An SQLite file is
opened to be read only. For any other database nothing is ever committed: give the URL of a user who may only read.
"""

from __future__ import annotations

import os
import sqlite3
import uuid
from collections.abc import Iterator
from functools import partial
from importlib import import_module
from typing import Any
from urllib.parse import quote

from scoring.catalogue.formats.grid import Grid, Row
from scoring.catalogue.formats.queries import counted, fault_of_query, in_one_line
from scoring.catalogue.formats.sqlite import restrain, said_of
from scoring.errors import CatalogueError, Place, Problem

_AT_ONCE = 300  # rows


def read_database(variable: str, query: str, problems: list[Problem]) -> Grid | None:
    """What one query gives of the database whose URL an environment variable holds; faults go to `problems`.

    The hash of it is that of what was read (`sheet_frame.digest_of`), for there are no bytes of a file.
    """
    source = f"the database of {variable}"
    address = os.environ.get(variable, "")
    fault = fault_of_query(query, Place(source))
    if not address:
        hint = f"Set it before the command: `{variable}=sqlite:////the/folder/bench.sqlite`, for example."
        problems.append(Problem(Place(source), "nothing in that environment variable", "the database's URL", hint))
    if fault is not None:
        problems.append(fault)
    if not address or fault is not None:
        return None
    try:
        library = import_module("sqlalchemy")
        url = library.make_url(address)
        if _is_in_memory(url):
            problems.append(
                Problem(Place(source), "a URL of SQLite that names no file", "`sqlite:////the/folder/file`")
            )
            return None
        engine = library.create_engine(url, **_read_only(url))
    except ImportError as missing:
        problems.append(_missing(missing, source))
        return None
    except Exception as broken:  # its words may show the URL
        found = f"a URL that cannot be read ({type(broken).__name__})"
        problems.append(Problem(Place(source), found, "a URL as SQLAlchemy takes it, `dialect+driver://...`"))
        return None
    return Grid(source, partial(_rows, engine, query, source))


def _is_in_memory(url: Any) -> bool:
    return bool(url.get_backend_name() == "sqlite" and url.database in (None, "", ":memory:"))


def _read_only(url: Any) -> dict[str, Any]:
    """How an SQLite file is opened so that nothing can be written to it; nothing special for any other database."""
    if url.get_backend_name() != "sqlite":
        return {}
    return {"creator": partial(_opened, str(url.database or ""))}


def _opened(path: str) -> sqlite3.Connection:
    return sqlite3.connect(f"file:{quote(os.path.abspath(path))}?mode=ro", uri=True, check_same_thread=False)


def _missing(fault: ImportError, source: str) -> Problem:
    """The extra, or the driver, that is not installed."""
    if fault.name == "sqlalchemy":
        hint = "Install it: `pip install 'steelyard[sql]'`."
        return Problem(Place(source), "the library SQLAlchemy is not installed", "the extra `sql` of steelyard", hint)
    found = f"the driver `{fault.name}` is not installed"
    return Problem(Place(source), found, "the driver that the URL names", f"Install it: `pip install {fault.name}`.")


def _rows(engine: Any, query: str, source: str, _problems: list[Problem]) -> Iterator[Row]:
    """The names of the columns, and the rows, as they come; whatever a driver raises comes out as a CatalogueError."""
    errors: Any = import_module("sqlalchemy.exc")
    try:
        with engine.connect() as connection:  # which is rolled back where it ends
            driven = connection.connection.driver_connection
            if isinstance(driven, sqlite3.Connection):
                restrain(driven)
            streamed = connection.execution_options(stream_results=True, max_row_buffer=_AT_ONCE, no_parameters=True)
            result = streamed.exec_driver_sql(query)
            yield from counted(list(result.keys()), (tuple(map(_cell, row)) for row in result), source)
    except errors.SQLAlchemyError as fault:
        raise CatalogueError([_said(fault, source)]) from None  # the cause may show the URL
    finally:
        engine.dispose()


def _cell(value: object) -> object:
    """A value of a driver as a cell: an id of its own kind as text, whatever else as it is."""
    return str(value) if isinstance(value, uuid.UUID) else value


def _said(fault: Any, source: str) -> Problem:
    """What a database says of a query, or why it is not reached; without the link and the query that the library adds."""
    said = getattr(fault, "orig", None)
    if isinstance(said, sqlite3.Error | sqlite3.Warning):
        return said_of(said, Place(source), asked=True)
    words = f" ({in_one_line(said)})" if said is not None else ""
    found = f"a query that the database does not answer: {type(fault).__name__}{words}"
    return Problem(Place(source), found, "one statement that reads, of a database that is there")
