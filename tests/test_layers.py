"""The order of the rooms: what may import what, and which module owns which library."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

import pytest

from scoring.table_formats import FORMATS

ROOT = Path(__file__).parents[1]
MODULES = sorted(path for room in ("scoring", "analysis") for path in (ROOT / room).rglob("*.py"))
OWNERS = {
    "ruamel": {"scoring/texts/document.py"},
    "mpmath": {"scoring/numbers/intervals.py"},
    "pint": {"scoring/units/conversion.py"},
    "pyarrow": {f"scoring/catalogue/formats/{name}.py" for name in ("arrow", "arrow_columns", "parquet")},
    "sqlite3": {"scoring/catalogue/formats/database.py", "scoring/catalogue/formats/sqlite.py"},
    "openpyxl": {"scoring/catalogue/formats/xlsx.py"},
    "matplotlib": {
        "analysis/report/pictures.py",
        "analysis/comparison/figures.py",
        "analysis/indices/figures.py",
        "analysis/scores/curve_and_parts.py",
        *(
            f"analysis/figures/{name}.py"
            for name in (
                "canvas",
                "causes",
                "cells",
                "contribution_bars",
                "curves",
                "indices",
                "moves",
                "ranks",
                "rows",
                "strip",
                "uncertainty",
            )
        ),
    },
    "PIL": {"analysis/figures/canvas.py"},
    "jinja2": {"analysis/templates.py"},
    "markupsafe": {"analysis/templates.py"},
    "typst": {"analysis/languages/pdf.py"},
    "jsonschema": {"analysis/json_shapes.py"},
    "rich": {"analysis/cli/terminal.py"},
    "typer": {
        f"analysis/cli/{name}.py"
        for name in ("main", "arguments", "scoring_commands", "study_commands", "publishing_commands", "project_words")
    },
}


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    """Everything that stands in a file, read once."""
    return tuple(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))


def imports(path: Path) -> Iterator[str]:
    """Every module that a file imports, wherever in it, relative ones made absolute."""
    package = list(path.relative_to(ROOT).parent.parts)
    for node in nodes(path):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = package[: len(package) - node.level + 1] if node.level else []
            yield ".".join([*above, node.module or ""]).strip(".")


SCORING = [path for path in MODULES if path.relative_to(ROOT).parts[0] == "scoring"]


@pytest.mark.parametrize("path", SCORING, ids=lambda path: str(path.relative_to(ROOT)))
def test_scoring_never_imports_analysis(path: Path) -> None:
    """Nothing flows back: the engine knows no study and no command."""
    assert [name for name in imports(path) if name.split(".")[0] == "analysis"] == []


@pytest.mark.parametrize("library", OWNERS)
def test_each_library_has_one_owner(library: str) -> None:
    """One module imports each outside library that has an owner."""
    users = {
        str(path.relative_to(ROOT).as_posix())
        for path in MODULES
        if any(name.split(".")[0] == library for name in imports(path))
    }
    assert users == OWNERS[library]


def name_of(path: Path) -> str:
    """A file as Python imports it."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def room_of(module: str) -> str:
    """The room that a module stands in; the module itself, where it stands at the root of its package."""
    first = ".".join(module.split(".")[:2])
    return first if (ROOT / first.replace(".", "/")).is_dir() else module


KNOWN = frozenset(name_of(path) for path in MODULES)


@cache
def imported(path: Path, *, in_functions: bool) -> tuple[str, ...]:
    """Our modules that a file imports when it runs: as it is loaded, or only inside its functions."""
    untold = {id(inner) for node in nodes(path) if _is_for_types(node) for inner in ast.walk(node)}
    functions = [node for node in nodes(path) if isinstance(node, ast.FunctionDef)]
    inside = {id(inner) for function in functions for inner in ast.walk(function)}
    found = []
    for node in nodes(path):
        if not isinstance(node, ast.ImportFrom) or id(node) in untold or (id(node) in inside) is not in_functions:
            continue
        for alias in node.names:
            whole = f"{node.module}.{alias.name}"
            found.append(whole if whole in KNOWN else str(node.module))
    if in_functions and name_of(path) == "scoring.catalogue.formats.formats":
        found += [f"scoring.catalogue.formats.{format_.module}" for format_ in FORMATS]  # loaded by their names
    return tuple(name for name in found if name in KNOWN)


def _is_for_types(node: ast.AST) -> bool:
    return isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"


def circle_in(graph: dict[str, set[str]]) -> list[str]:
    """What is left of a graph when all that leans on nothing that is left is taken away, again and again."""
    left = dict(graph)
    while ready := [name for name, below in left.items() if not below & left.keys() - {name}]:
        for name in ready:
            del left[name]
    return sorted(left)


@pytest.mark.parametrize("of", [room_of, str], ids=["rooms", "files"])
def test_nothing_imports_in_a_circle(of: Callable[[str], str]) -> None:
    """Rooms stand in an order, and so do the files in each, imports inside functions counted."""
    graph: dict[str, set[str]] = {}
    for path in MODULES:
        below = {*imported(path, in_functions=False), *imported(path, in_functions=True)}
        graph.setdefault(of(name_of(path)), set()).update(of(name) for name in below)
    assert circle_in(graph) == []


def test_a_circle_is_found() -> None:
    """Two that lean on each other, and one above them, are left; one that leans on nothing is not."""
    assert circle_in({"a": {"b"}, "b": {"a", "d"}, "c": {"a"}, "d": set()}) == ["a", "b", "c"]


def test_only_commands_import_where_they_run() -> None:
    """Elsewhere an import inside a function hides how rooms lean on each other.

    One exception: what draws is loaded when a picture is asked for. Readers of formats are loaded by their names.
    """
    late = {name_of(path): set(imported(path, in_functions=True)) for path in MODULES}
    assert late.pop("scoring.catalogue.formats.formats")
    below = {name: found for name, found in late.items() if found and not name.startswith("analysis.cli.")}
    assert {one for found in below.values() for one in found if "figures" not in one} == set()


def test_only_the_terminal_prints() -> None:
    """Below the command line nothing prints."""
    printing = {
        str(path.relative_to(ROOT).as_posix())
        for path in MODULES
        for node in nodes(path)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print"
    }
    assert printing == set()


def test_one_room_writes_files() -> None:
    """What it guards (inputs, records, files of others) holds for every command; the rest writes by hand, or into scratch."""
    calls = {"write_bytes", "write_text", "link", "mkstemp", "touch"}
    writing = {
        str(path.relative_to(ROOT).as_posix())
        for path in MODULES
        for node in nodes(path)
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and (node.func.attr in calls or ast.unparse(node.func) in ("os.replace", "os.rename"))
    }
    assert {name for name in writing if not name.startswith("analysis/outputs/")} == {
        "analysis/languages/pdf.py",
        "analysis/selftest/shelf_page.py",
    }


@pytest.mark.parametrize(
    "arguments", [["--help"], ["--version"], ["score", "--help"], ["sensitivity", "--help"]], ids=" ".join
)
def test_help_loads_no_heavy_library(arguments: list[str]) -> None:
    """`--help` answers without numpy, sympy, scipy, pandas or matplotlib."""
    code = (
        "import sys\n"
        "from analysis.cli.main import app\n"
        f"try:\n    app({arguments!r})\nexcept SystemExit:\n    pass\n"
        "heavy = {'numpy', 'sympy', 'scipy', 'pandas', 'matplotlib', 'pyarrow', 'mpmath', 'pint', 'ruamel'}\n"
        "print('LOADED', sorted(heavy & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert "LOADED []" in done.stdout
