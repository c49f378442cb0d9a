"""A catalogue as a pandas frame: a row a reading, units and source in `attrs`; a gap is NaN, never a number."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from scoring.catalogue.conditions_of_reading import conditions_of
from scoring.catalogue.readings import Readings, State
from scoring.numbers.array_types import Array, Texts

if TYPE_CHECKING:
    import pandas as pd

    from scoring.catalogue.catalogue import Catalogue

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
    "as_read": float,
    "unit_as_read": object,
}


def catalogue_frame(catalogue: Catalogue) -> pd.DataFrame:
    """A row a reading, in the columns of a long file; then what the reporting limit makes of it, and what its cell says."""
    import pandas as pd  # slow to import, and most commands make no frame

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
    numbers, units = _as_read(readings, unit)
    return {
        "row": product,
        "measure": np.full(len(product), name, object),
        "repeat": repeat + 1,
        "value": readings.written[product, repeat],
        "unit": np.full(len(product), unit, object),
        "flag": flags_of(readings.marks[product, repeat]),
        "reason": np.array(reasons, object),
        "session": conditions.sessions[product, repeat],
        "specimen": conditions.specimens[product, repeat],
        "counts_as": readings.values[product, repeat],
        "as_read": numbers[product, repeat],
        "unit_as_read": units[product, repeat],
    }


def _as_read(readings: Readings, unit: str) -> tuple[Array, Texts]:
    """The numbers in the cells and the units that these are in, both of shape (n_products, n_repeats)."""
    units = np.full(readings.written.shape, unit, object)
    said = readings.as_read
    if said is None:
        return readings.written, units
    for code, name in enumerate(said.units):
        units[said.codes == code] = name
    return np.where(said.codes >= 0, said.numbers, readings.written), units


def flags_of(states: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    """The flag of each state."""
    return np.array([FLAGS[State(state)] for state in states.tolist()], object)
