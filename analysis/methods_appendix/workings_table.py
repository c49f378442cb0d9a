"""What stands beside the document: of every product the value of each measure, and each rating and score unrounded."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from analysis.methods_appendix.workings import Workings
from analysis.outputs.table_files import csv_bytes
from analysis.scores.document import score_frame
from scoring.catalogue import State

NAME = "workings.csv"
#: The state of a product's value of a measure, as the file says it.
STATES = {
    State.VALUE: "value",
    State.BELOW: "below the reporting limit",
    State.MISSING: "missing",
    State.NOT_APPLICABLE: "does not apply",
    State.NONE: "not read",
}


def workings_files(found: Workings) -> dict[str, bytes]:
    """The file by its name."""
    return {NAME: csv_bytes(workings_frame(found))}


def workings_frame(found: Workings) -> pd.DataFrame:
    """One row a product: its attributes, each measure's value after the rule for repeats with its state, then the score table.

    Values of measures are in the measure's unit, after repeats are summarised, floored and rounded as the formula says, and
    unrounded else; the columns of ratings and scores are those of `steelyard score --out`.
    """
    inputs = found.table.inputs
    n_products = len(found.table.catalogue.products)
    columns: dict[str, Any] = {}
    for measure in found.form.measures:
        if measure.name in inputs.values:
            columns[f"{measure.name}.value"] = np.broadcast_to(inputs.values[measure.name][0], n_products)
            columns[f"{measure.name}.state"] = [STATES[State(state)] for state in inputs.states[measure.name].tolist()]
    scores = score_frame(found.table, found.asked.settings, beside=columns)
    first = 1 + len(found.table.catalogue.attributes)
    return pd.concat(
        [scores.iloc[:, :first], pd.DataFrame(columns, index=scores.index), scores.iloc[:, first:]], axis=1
    )
