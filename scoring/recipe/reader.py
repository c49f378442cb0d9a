"""Reading a recipe: its text to its nouns, every fault gathered with its file, line and column."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from scoring.errors import CatalogueError, FormulaError, Place, Problem
from scoring.reader.declared import made, read_key
from scoring.reader.fields import Fields, Reader
from scoring.reader.sources import YAML_ENDINGS, leads_out
from scoring.reader.wording import clip
from scoring.recipe.corrections import read_corrections
from scoring.recipe.layout import read_layout
from scoring.recipe.nouns import LAYOUT, RECIPE, TABLE, Database, Layout, Recipe, Table
from scoring.recipe.rows import read_end, read_rows, words_by_column
from scoring.texts.document import Mapping as MappingNode
from scoring.texts.document import Node, Scalar, read_document
from scoring.texts.file_limits import FORMULA_BYTES
from scoring.texts.input_files import decoded, file_bytes

#: What a recipe is called in a folder that is read by it.
NAMES = tuple(f"readings{ending}" for ending in YAML_ENDINGS)
#: The first key of a recipe, after comments.
_FIRST_KEY = re.compile(
    rb"(?:\xef\xbb\xbf)?(?:\s+|#[^\n]*(?:\n|$)|---[^\n]*\n|%[^\n]*\n)*\{?\s*[\"']?readings[\"']?\s*:"
)
#: The first key stands within so many bytes.
_HEAD = 20_000


def is_recipe(path: Path) -> bool:
    """Whether a path is that of a recipe: a YAML file whose first key is `readings`."""
    if path.suffix.lower() not in YAML_ENDINGS or not os.path.isfile(path):
        return False
    try:
        with path.open("rb") as stream:
            return _FIRST_KEY.match(stream.read(_HEAD)) is not None
    except OSError:
        return False


def load_recipe(path: Path) -> Recipe:
    """The recipe written in a file.

    Raises
    ------
    CatalogueError : every fault of the file, each with its file, line and column
    """
    try:
        text = decoded(file_bytes(path, FORMULA_BYTES), str(path), "Save the file in UTF-8.")
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or "no such path"
        raise CatalogueError([Problem(Place(str(path)), reason, "a recipe that can be read")]) from None
    if isinstance(text, Problem):
        raise CatalogueError([text])
    return replace(read_recipe(text.removeprefix("\ufeff"), str(path)), text=text)


def read_recipe(text: str, source: str) -> Recipe:
    """The recipe written in a text; files that it names are looked for beside `source`.

    Raises
    ------
    CatalogueError : every fault of the text
    """
    problems: list[Problem] = []
    try:
        recipe = _read(read_document(text, source), Reader(0, problems, whole="the recipe"), text, source)
    except FormulaError as fault:
        raise CatalogueError(_of_a_recipe(problem) for problem in fault.problems) from None
    if problems or recipe is None:
        raise CatalogueError(sorted(set(problems), key=lambda problem: problem.place))
    return recipe


def _of_a_recipe(problem: Problem) -> Problem:
    """What the reader of documents says of an empty file, said of a recipe."""
    if problem.found != "an empty file":
        return problem
    return replace(problem, expected="a recipe", hint="Start with `readings: NAME`.")


def _read(root: Node, reader: Reader, text: str, source: str) -> Recipe | None:
    fields = reader.noun(root, "", RECIPE)
    if fields is None:
        return None
    name = read_key(RECIPE.fields["name"], fields)
    layout = Layout(**read_layout(fields, None))
    given = {name: getattr(layout, name) for name in LAYOUT}
    tables = tuple(_tables(fields, layout))
    given |= {"source": source, "text": text, "places": _places(fields)}
    return made(RECIPE, fields, name=name, tables=tables, **given)


def _places(fields: Fields) -> dict[str, Place]:
    """Where each key that is written stands."""
    return {key: fields.place_of(key) for key in fields.keys}


def _tables(fields: Fields, above: Layout) -> Iterator[Table]:
    node = fields.required("tables", "As in `tables: [{file: bench.xlsx}]`.")
    items = fields.reader.items(node, "tables", "tables")
    if node is not None and not items and not fields.reader.problems:
        fields.reader.fault(node.place, "no table", "one or more", "As in `tables: [{file: bench.xlsx}]`.")
    for number, item in enumerate(items, start=1):
        own = fields.reader.noun(item, f"tables.{number}", TABLE)
        if own is not None:
            yield _table(own, above)


def _table(own: Fields, above: Layout) -> Table:
    database = _database(own)
    header = read_rows(own, "header")
    if list(header) != sorted(set(header)):
        own.reader.fault(own.place_of("header"), f"{own.path('header')} out of order", "each row once, the upper first")
    units, sheets = read_rows(own, "units"), _sheets(own)
    given: dict[str, Any] = {
        "file": _file(own, "file"),
        "database": database,
        "sheets": sheets,
        "corrections": read_corrections(own, sheets),
        "header": header,
        "units": units[0] if units else 0,
        "skip": read_rows(own, "skip"),
        "skip_where": words_by_column(own, own.node_of("skip_where"), own.path("skip_where")),
        "until": read_end(own),
        "separator": _separator(own),
        "own": own.keys,
        "places": _places(own),
    }
    _check_source(own)
    if units and header and units[0] <= header[-1]:
        expected = "a row below the header"
        own.reader.fault(own.place_of("units"), f"{own.path('units')} in row {units[0]}", expected)
    table = made(TABLE, own, **read_layout(own, above), **given)
    assert table is not None  # no key that must be written
    return table


def _check_source(own: Fields) -> None:
    """A table stands in a file, or is asked of a database."""
    reader, where = own.reader, own.address
    if ("file" in own) == ("database" in own):
        found = (
            f"{'both' if 'file' in own else 'neither'} `file` {'and' if 'file' in own else 'nor'} `database` in {where}"
        )
        reader.fault(own.place, found, "one of the two", "As in `{file: bench.xlsx}`.")
    if "database" in own and "query" not in own:
        reader.fault(own.place_of("database"), f"no `query` in {where}", "what is asked of the database, in SQL")
    if "query" in own and "database" not in own:
        reader.fault(own.place_of("query"), f"`query` in {where} without a database", "`database: FILE` beside it")


def _file(own: Fields, key: str) -> str:
    """A file in the recipe's folder or below it, through links too."""
    file = own.text(key)
    if key not in own:
        return ""
    folder = Path(own.place.source).parent
    expected = "a file in the recipe's folder or below it"
    if not file or "\x00" in file or Path(file).is_absolute() or ".." in Path(file).parts:
        own.reader.fault(own.place_of(key), f"`{clip(file)}` for {own.path(key)}", expected)
    elif leads_out(folder, file):
        found = f"`{clip(file)}` for {own.path(key)}, a link out of the folder"
        own.reader.fault(own.place_of(key), found, expected, "Put a copy of the file there.")
    return file


def _database(own: Fields) -> Database | None:
    node = own.node_of("database")
    if node is None:
        return None
    if isinstance(node, MappingNode):
        keys = own.reader.fields(node, own.path("database"), ("from_environment",), "a database")
        variable = keys.text("from_environment") if keys is not None and keys.required("from_environment") else ""
        if variable and not re.fullmatch(r"[A-Za-z_]\w*", variable):
            own.reader.fault(
                node.place, f"the variable `{clip(variable)}`", "the name of a variable of the environment"
            )
        return Database("", variable)
    if isinstance(node, Scalar) and "://" in node.text:
        hint = "Put the address into a variable and write `database: {from_environment: BENCH_DATABASE}`."
        expected = "a file beside the recipe, or the name of a variable"
        own.reader.fault(node.place, f"an address for {own.path('database')}", expected, hint)
        return None
    return Database(_file(own, "database"), "")


def _sheets(own: Fields) -> tuple[str, ...] | None:
    """The sheets by name; none for all of them, None where nothing is said."""
    node = own.node_of("sheets")
    if node is None:
        return None
    if isinstance(node, Scalar):
        return () if node.text == "all" and not node.quoted else (own.reader.text(node, own.path("sheets")),)
    return own.words("sheets")


def _separator(own: Fields) -> str:
    """The sign between cells; empty where it is not said."""
    node = own.node_of("separator")
    if node is None:
        return ""
    text = node.text if isinstance(node, Scalar) else ""
    if text == "tab":
        return "\t"
    if len(text) != 1 or text in '"\n\r':
        own.reader.fault(node.place, f"`{clip(text)}` for {own.path('separator')}", "one sign, as `;`, or `tab`")
        return ""
    return text
