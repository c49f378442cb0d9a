"""Results as pandas frames: products down, units and what they were made from in `attrs`; a gap is NaN, never a number."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from scoring.catalogue.conditions_of_reading import conditions_of
from scoring.catalogue.readings import State
from scoring.errors import AddressError, Place, Problem, nearest
from scoring.unit_role import POINTS_UNIT
from scoring.units import difference_of

if TYPE_CHECKING:
    from scoring.catalogue.catalogue import Catalogue
    from scoring.table import Column, ScoreTable

#: What ranks are counted in.
PLACE = "place"
#: How a state stands in the column `flag` of a long file of readings.
FLAGS = {State.VALUE: "", State.BELOW: "below", State.MISSING: "missing", State.NOT_APPLICABLE: "not_applicable"}

#: The columns of a frame of readings.
LONG_COLUMNS = {
    "measure": object,
    "repeat": np.int64,
    "value": float,
    "unit": object,
    "flag": object,
    "reason": object,
    "session": object,
    "specimen": object,
    "counts_as": float,
}


def table_frame(table: ScoreTable) -> pd.DataFrame:
    """A row a product: its attributes, then each rating, then each score, in columns `NAME.value`, `NAME.shown` and so on.

    The columns are those of the files that `steelyard score --out` writes, without the last ones, which stand in `attrs`.
    """
    figures: dict[str, Any] = {}
    units: dict[str, str] = {}
    for column in table.ratings + table.scores:
        held, theirs = column_figures(table, column)
        figures |= {f"{column.output.name}.{key}": value for key, value in held.items()}
        units |= {f"{column.output.name}.{key}": unit for key, unit in theirs.items()}
    words = attribute_columns(table, {"product", *figures})
    return _framed(table, {name: np.array(of, object) for name, of in words.items()} | figures, units)


def attribute_columns(table: ScoreTable, taken: Collection[str]) -> dict[str, tuple[str, ...]]:
    """The attributes under the names of columns; one whose name is `taken` is led by `attribute.`, and none is lost."""
    columns: dict[str, tuple[str, ...]] = {}
    names = table.catalogue.attributes
    for name, words in names.items():
        free = name
        while free in taken or free in columns or (free != name and free in names):
            free = f"attribute.{free}"
        columns[free] = words
    return columns


def output_frame(table: ScoreTable, name: str) -> pd.DataFrame:
    """One rating or score in full, a row a product.

    Raises
    ------
    AddressError : there is no such rating or score; the nearest is named
    """
    known = {column.output.name: column for column in table.ratings + table.scores}
    if name not in known:
        place = Place(f"the formula {table.form.name}")
        raise AddressError([Problem(place, f"no rating or score `{name}`", "one of its own", nearest(name, known))])
    return _framed(table, *column_figures(table, known[name]))


def readings_frame(table: ScoreTable) -> pd.DataFrame:
    """The summarised readings that were scored, a row a product: `MEASURE`, `MEASURE.flag`, `MEASURE.uncertainty`."""
    columns: dict[str, Any] = {}
    units: dict[str, str] = {}
    for measure in table.form.measures:
        if measure.name not in table.inputs.values:
            continue
        columns[measure.name] = table.inputs.values[measure.name][0]
        columns[f"{measure.name}.flag"] = _flags(table.inputs.states[measure.name])
        units[measure.name] = measure.unit
        if measure.name in table.uncertainty:
            columns[f"{measure.name}.uncertainty"] = table.uncertainty[measure.name]
            units[f"{measure.name}.uncertainty"] = difference_of(measure.unit)
    return _framed(table, columns, units)


def catalogue_frame(catalogue: Catalogue) -> pd.DataFrame:
    """A row a reading, in the columns of a long file; `counts_as` is what the reporting limit makes of it."""
    parts = [_long(catalogue, name) for name in catalogue.readings]
    empty = {name: np.array([], kind) for name, kind in LONG_COLUMNS.items()}
    rows = {name: np.concatenate([part[name] for part in parts]) if parts else empty[name] for name in empty}
    row = np.concatenate([part["row"] for part in parts]) if parts else np.zeros(0, np.int64)
    order = np.argsort(row, kind="stable")
    index = pd.Index(np.array(catalogue.products, object)[row[order]], dtype=object, name="product")
    frame = pd.DataFrame({name: column[order] for name, column in rows.items()}, index=index)
    frame.attrs = {
        "units": {name: catalogue.units[name] for name in catalogue.readings if name in catalogue.units},
        "catalogue": catalogue.source,
        "catalogue_sha256": catalogue.sha256,
    }
    return frame


def _long(catalogue: Catalogue, name: str) -> dict[str, Any]:
    """The cells of one measure that hold anything, in the order of products, then repeats."""
    readings, conditions = catalogue.readings[name], conditions_of(catalogue, name)
    unit = catalogue.units.get(name, "")
    product, repeat = np.nonzero(readings.marks != State.NONE)
    reasons = [readings.reasons.get(cell, "") for cell in zip(product.tolist(), repeat.tolist(), strict=True)]
    return {
        "row": product,
        "measure": np.full(len(product), name, object),
        "repeat": repeat + 1,
        "value": readings.written[product, repeat],
        "unit": np.full(len(product), unit, object),
        "flag": _flags(readings.marks[product, repeat]),
        "reason": np.array(reasons, object),
        "session": conditions.sessions[product, repeat],
        "specimen": conditions.specimens[product, repeat],
        "counts_as": readings.values[product, repeat],
    }


def _flags(states: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """The flag of each state."""
    return np.array([FLAGS[State(state)] for state in states.tolist()], object)


def column_figures(table: ScoreTable, column: Column) -> tuple[dict[str, Any], dict[str, str]]:
    """What a rating or score holds, by name, and the units of those that are numbers."""
    products = range(len(table.catalogue.products))
    status = np.array([column.status_text(product) for product in products], object)
    held: dict[str, Any] = {"value": column.value, "shown": column.shown, "status": status}
    units = {"value": POINTS_UNIT, "shown": POINTS_UNIT}
    if column.output.section != "scores":
        return held, units
    held["rank"] = column.rank
    held["band"] = np.array([table.band_name(column, product) for product in products], object)
    held["remarks"] = np.array(["; ".join(column.remarks.get(product, ())) for product in products], object)
    return held, {**units, "rank": PLACE}


def _framed(table: ScoreTable, columns: Mapping[str, Any], units: Mapping[str, str]) -> pd.DataFrame:
    """The columns over the products, with what they were made from."""
    index = pd.Index(np.array(table.catalogue.products, object), dtype=object, name="product")
    frame = pd.DataFrame(dict(columns), index=index, copy=True)
    frame.attrs = {
        "units": dict(units),
        "formula": table.form.name,
        "version": table.form.version,
        "sha256": table.form.sha256,
        "set": list(table.settings),
        "catalogue": table.catalogue.source,
        "catalogue_sha256": table.catalogue.sha256,
    }
    return frame
