"""A catalogue written out in a layout by chance, and read back by the recipe that says so, is the same catalogue."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from extent import examples
from forms import attribute, form, measure
from hypothesis import given, settings
from hypothesis import strategies as st
from recipes import workbook

from scoring.catalogue import Catalogue, read_catalogue
from scoring.catalogue.conditions_of_reading import conditions_of

FORM = form(
    [measure("noise", unit="dB"), measure("drop", unit="mm"), measure("rise", unit="delta_degC")],
    [attribute("kind")],
)
MEASURES = ("noise", "drop", "rise")
UNITS = {"noise": "dB", "drop": "mm", "rise": "delta_degC"}
#: What stands in a cell: a number, a gap with its word, one below a limit.
CELL = st.integers(-9999, 9999).map(lambda number: number / 8) | st.sampled_from([None, "TBD", "n.m.", "< 2"])
IDS = st.lists(st.sampled_from([f"Q-{number}" for number in range(12)]), min_size=1, max_size=5, unique=True)


@dataclass(frozen=True)
class Bench:
    """What was read: products with a word each, and the cells of every session, product, measure and repeat."""

    kinds: dict[str, str]
    sessions: tuple[str, ...]
    repeats: dict[str, int]
    cells: dict[tuple[str, str, str, int], Any]


@dataclass(frozen=True)
class Layout:
    """How it is written down."""

    spreadsheet: bool
    comma: bool
    sessions_by: str
    title_rows: int
    split_header: bool
    average: bool
    renamed: bool
    kinds_apart: bool
    empty_column: bool


@st.composite
def benches(draw: st.DrawFn) -> Bench:
    """Something that a bench may have read."""
    products = draw(IDS)
    sessions = tuple(draw(st.lists(st.sampled_from(["S1", "S2", "S3"]), min_size=1, max_size=3, unique=True)))
    repeats = {name: draw(st.integers(1, 3)) for name in MEASURES}
    keys = [(s, p, m, r) for s in sessions for p in products for m in MEASURES for r in range(repeats[m])]
    cells = draw(st.lists(CELL, min_size=len(keys), max_size=len(keys)))
    kinds = {product: draw(st.sampled_from(["foam", "coil", ""])) for product in products}
    return Bench(kinds, sessions, repeats, dict(zip(keys, cells, strict=True)))


LAYOUTS = st.builds(
    Layout,
    spreadsheet=st.booleans(),
    comma=st.booleans(),
    sessions_by=st.sampled_from(["column", "sheet", "file"]),
    title_rows=st.integers(0, 3),
    split_header=st.booleans(),
    average=st.booleans(),
    renamed=st.booleans(),
    kinds_apart=st.booleans(),
    empty_column=st.booleans(),
)


def plain_text(bench: Bench) -> str:
    """The bench as a long file of steelyard's own: a row a reading."""
    lines = [["product", "measure", "value", "unit", "flag", "reason", "session"]]
    for (session, product, name, _), cell in _in_order(bench):
        word = cell if isinstance(cell, str) and not cell.startswith("<") else ""
        value = "" if word or cell is None else str(cell)
        lines.append([product, name, value, UNITS[name], "missing" if not value else "", word, session])
    return _as_csv(lines, ",")


def _in_order(bench: Bench) -> list[tuple[tuple[str, str, str, int], Any]]:
    """The cells in the order in which repeats are numbered; of a product without any, one empty cell."""
    kept = []
    for product in bench.kinds:
        for name in MEASURES:
            own = [(key, cell) for key, cell in bench.cells.items() if key[1] == product and key[2] == name]
            said = [(key, cell) for key, cell in own if cell is not None]
            kept += said if len(bench.sessions) > 1 else own
            kept += own[:1] if len(bench.sessions) > 1 and not said else []
    return kept


def write_out(folder: Path, bench: Bench, layout: Layout) -> Path:
    """The bench in its layout, and the recipe that reads it."""
    by_column = layout.sessions_by == "column"
    groups = {"all": bench.sessions} if by_column else {session: (session,) for session in bench.sessions}
    tables = {name: _rows(bench, layout, sessions) for name, sessions in groups.items()}
    header = layout.title_rows + 1
    own: dict[str, Any] = {"header": [header, header + 1] if layout.split_header else header}
    own |= {"skip_where": {"Model": ["Average"]}} if layout.average else {}
    kinds = [["Model", "Kind"], *([product, kind] for product, kind in bench.kinds.items())]
    written: list[dict[str, Any]] = []
    if layout.spreadsheet and layout.sessions_by != "file":
        sheets = dict(tables) | ({"Kinds": kinds} if layout.kinds_apart else {})
        workbook(folder / "bench.xlsx", sheets)
        written.append({"file": "bench.xlsx", "sheets": list(tables), **own})
        written += (
            [{"file": "bench.xlsx", "sheets": ["Kinds"], "sessions": {"called": ""}}] if layout.kinds_apart else []
        )
    else:
        for name, rows in tables.items():
            written.append({"file": _file(folder, name, rows, layout), **own})
            if (
                not by_column and layout.sessions_by == "sheet"
            ):  # a text file has no sheet: the recipe calls its session
                written[-1]["sessions"] = {"called": name}
        written += [{"file": _file(folder, "kinds", kinds, layout)}] if layout.kinds_apart else []
    separator = ";" if layout.comma else ","
    for table in written:
        table |= {"separator": separator} if table["file"].endswith(".csv") else {}
        table.pop("sessions") if table.get("sessions") == {"called": ""} else None
    recipe = {
        "readings": "by-chance",
        "decimal": "comma" if layout.comma else "point",
        "words": {"missing": ["tbd", "N.M."]},
        "product": "Model",
        "sessions": {"column": "Run"} if by_column else {"each": layout.sessions_by},
        "measures": {"noise": {"column": "Lärm"}, "drop": {"column": "Edge, drop"}} if layout.renamed else {},
        "attributes": {"kind": {"column": "Kind"}},
        "tables": written,
    }
    path = folder / "readings.yaml"
    path.write_text(json.dumps(recipe, ensure_ascii=False), encoding="utf-8")
    return path


def _rows(bench: Bench, layout: Layout, sessions: tuple[str, ...]) -> list[list[Any]]:
    """One table: a row for each product and session."""
    names = (
        {"noise": "Lärm", "drop": "Edge, drop", "rise": "rise"} if layout.renamed else {name: name for name in MEASURES}
    )
    columns = [(name, repeat) for name in MEASURES for repeat in range(bench.repeats[name])]
    upper: list[Any] = ["Model", "Run", *([] if layout.kinds_apart else ["Kind"])]
    lower: list[Any] = [None] * len(upper)
    for name, repeat in columns:
        number = f" #{repeat + 1}" if bench.repeats[name] > 1 else ""
        whole = f"{names[name]}{number} ({UNITS[name]})"
        merged = None if repeat else names[name]
        upper.append(merged if layout.split_header else whole)
        lower.append(f"({UNITS[name]}){number}")
    rows: list[list[Any]] = [["Invented"], [], ["by chance"]][: layout.title_rows]
    rows += [upper, lower] if layout.split_header else [upper]
    for session in sessions:
        for product, kind in bench.kinds.items():
            own = [bench.cells[session, product, name, repeat] for name, repeat in columns]
            rows.append([product, session, *([] if layout.kinds_apart else [kind]), *own])
        rows += [[]]
    rows += [["Average", None, *[1.5] * len(columns)]] if layout.average else []
    return [[None, *row] if row else row for row in rows] if layout.empty_column else rows


def _file(folder: Path, name: str, rows: list[list[Any]], layout: Layout) -> str:
    width = max(map(len, rows))
    texts = [[_text(cell, layout) for cell in [*row, *[None] * (width - len(row))]] for row in rows]
    (folder / f"{name}.csv").write_text(_as_csv(texts, ";" if layout.comma else ","), encoding="utf-8")
    return f"{name}.csv"


def _text(cell: Any, layout: Layout) -> str:
    if cell is None:
        return ""
    return str(cell).replace(".", ",") if layout.comma and isinstance(cell, float) else str(cell)


def _as_csv(rows: list[list[str]], separator: str) -> str:
    stream = io.StringIO()
    csv.writer(stream, delimiter=separator, lineterminator="\n").writerows(rows)
    return stream.getvalue()


def content(catalogue: Catalogue) -> dict[str, Any]:
    """What a catalogue holds, whatever it was read from."""
    found: dict[str, Any] = {"products": catalogue.products}
    for name, one in catalogue.readings.items():
        read = one.marks != 4
        found[name] = (
            np.where(np.isnan(one.values), -1e9, one.values).tolist(),
            one.states.tolist(),
            dict(one.reasons),
            np.where(read, conditions_of(catalogue, name).sessions, "").tolist(),
        )
    return found


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One folder for the files of a property."""
    return tmp_path_factory.mktemp("recipes")


@given(bench=benches(), layout=LAYOUTS)
@settings(deadline=None, max_examples=examples(150))
def test_a_layout_and_its_recipe_give_the_catalogue_back(place: Path, bench: Bench, layout: Layout) -> None:
    """Title rows, a header of two rows, renamed columns, decimal commas, sheets, files, sessions: nothing is lost or made up."""
    (place / "plain.csv").write_text(plain_text(bench), encoding="utf-8")
    plain = read_catalogue(place / "plain.csv", FORM)
    read = read_catalogue(write_out(place, bench, layout), FORM)
    assert content(read) == content(plain)
    assert read.attributes["kind"] == tuple(bench.kinds.values())
    assert (read.unused, read.left_out) == ((), () if layout.sessions_by == "column" else ("Run",))
