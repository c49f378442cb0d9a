"""Score tables as pandas frames: products down, units and what they were made from in `attrs`; a gap is NaN, never a number."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from scoring.catalogue.frame import flags_of
from scoring.errors import AddressError, Place, Problem, nearest
from scoring.form import MAKER, NAME
from scoring.units.conversion import difference_of
from scoring.units.role import POINTS_UNIT

if TYPE_CHECKING:
    import pandas as pd

    from scoring.catalogue import Catalogue
    from scoring.table.table import Column, ScoreTable

#: What ranks are counted in.
PLACE = "place"


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
    """The attributes under the names of columns; one whose name is `taken` is led by `attribute.`, and none is lost.

    What products are called and who made them stands first, as `name` and `maker`.
    """
    names = table.catalogue.published
    columns = role_columns(table.catalogue)
    own = {name for name in columns if columns[name] is names.get(name)}
    for name, words in names.items():
        free = name
        if name in own:
            continue
        while free in taken or free in columns or (free != name and free in names):
            free = f"attribute.{free}"
        columns[free] = words
    return columns


def role_columns(catalogue: Catalogue) -> dict[str, tuple[str, ...]]:
    """The names and makers of products, a text a product, where the formula says which attributes they are."""
    roles = {NAME: catalogue.roles.name, MAKER: catalogue.roles.maker}
    return {key: catalogue.attributes[name] for key, name in roles.items() if name in catalogue.attributes}


def _names(table: ScoreTable) -> dict[str, Any]:
    """What the products are called, where the formula says so; a measure of the same name takes the column."""
    return {key: np.array(of, object) for key, of in role_columns(table.catalogue).items() if key == NAME}


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
    held, units = column_figures(table, known[name])
    return _framed(table, _names(table) | held, units)


def readings_frame(table: ScoreTable) -> pd.DataFrame:
    """The summarised readings that were scored, a row a product: `MEASURE`, `MEASURE.flag`, `MEASURE.uncertainty`."""
    columns: dict[str, Any] = _names(table)
    units: dict[str, str] = {}
    for measure in table.form.measures:
        if measure.name not in table.inputs.values:
            continue
        columns[measure.name] = table.inputs.values[measure.name][0]
        columns[f"{measure.name}.flag"] = flags_of(table.inputs.states[measure.name])
        units[measure.name] = measure.unit
        if measure.name in table.uncertainty:
            columns[f"{measure.name}.uncertainty"] = table.uncertainty[measure.name]
            units[f"{measure.name}.uncertainty"] = difference_of(measure.unit)
    return _framed(table, columns, units)


def column_figures(table: ScoreTable, column: Column) -> tuple[dict[str, Any], dict[str, str]]:
    """What a rating or score holds, by name, and the units of those that are numbers."""
    products = range(len(table.catalogue.products))
    status = np.array([column.status_text(product) for product in products], object)
    held: dict[str, Any] = {"value": column.value, "shown": column.shown, "status": status}
    units = {"value": POINTS_UNIT, "shown": POINTS_UNIT}
    if column.output.section == "scores":
        held["rank"], units["rank"] = column.rank, PLACE
        if column.within is not None:
            held |= {"rank_within": column.within.place, "of_within": column.within.of}
            units["rank_within"] = PLACE
        held["band"] = np.array([table.band_name(column, product) for product in products], object)
        held["remarks"] = np.array(["; ".join(column.remarks.get(product, ())) for product in products], object)
    if column.output.name in table.deciders:
        held["decided_by"] = np.array([", ".join(table.decided_by(column, product)) for product in products], object)
    return held, units


def _framed(table: ScoreTable, columns: Mapping[str, Any], units: Mapping[str, str]) -> pd.DataFrame:
    """The columns over the products, with what they were made from."""
    import pandas as pd  # slow to import, and most commands make no frame

    index = pd.Index(np.array(table.catalogue.products, object), dtype=object, name="product")
    frame = pd.DataFrame(dict(columns), index=index, copy=True)
    if table.selected is not None:
        frame = frame.iloc[table.rows]
    frame.attrs = {
        "units": dict(units),
        "formula": table.form.name,
        "version": table.form.version,
        "sha256": table.form.sha256,
        "set": list(table.settings),
        "catalogue": table.catalogue.source,
        "catalogue_sha256": table.catalogue.sha256,
    }
    if table.selected is not None:
        frame.attrs["where"] = table.selected.typed
    return frame
