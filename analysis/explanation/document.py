"""An explanation as a JSON document, and its trace as a table of files."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.class_places import in_class
from analysis.explanation.explanation import Explanation, GateNote, OutputNote, ReadingNote, sds
from analysis.partial.partial_place import partial_document
from analysis.report.nouns import as_json

if TYPE_CHECKING:
    import pandas as pd


def explanation_body(found: Explanation) -> dict[str, Any]:
    """Everything said about one product as plain nouns; null where there is nothing."""
    return {
        "readings": [_reading(note) for note in found.readings],
        "gates": [_gate(note) for note in found.gates],
        "outputs": {note.output.name: _output(found, note) for note in found.outputs},
        "correlated_errors": [{"scores": list(pair), "correlation": r} for pair, r in found.together.items()],
        "disputed": as_json(found.disputed),
        "partial": partial_document(found.partial, found.table.catalogue.products),
        "challenges": [
            {"output": one.output.name}
            | {name: as_json(getattr(one, name)) for name in ("before", "after", "move", "remarks")}
            for one in found.challenges
        ],
    }


def _gate(note: GateNote) -> dict[str, Any]:
    return {name: as_json(getattr(note, name)) for name in ("name", "condition", "values", "reach", "remark")}


def _reading(note: ReadingNote) -> dict[str, Any]:
    measure = note.measure
    return {
        "measure": measure.name,
        "unit": measure.unit,
        "repeats": list(note.repeats),
        "summary": measure.repeats.value,
        **{name: as_json(getattr(note, name)) for name in ("value", "repeat_sd", "u", "freedom")},
        "components": as_json(note.parts),
        "converted": as_json(note.converted),
        "arithmetic": note.arithmetic or None,
    }


def _output(found: Explanation, note: OutputNote) -> dict[str, Any]:
    product, column = found.product, note.column
    return {
        "value": as_json(column.value[product]),
        "shown": as_json(column.shown[product]),
        "rank": as_json(column.rank[product]),
        "of": int(np.sum(~np.isnan(column.rank))),
        **in_class(column.within, product),
        "band": found.table.band_name(column, product) or None,
        "status": column.status_text(product),
        "remarks": list(column.remarks.get(product, ())),
        "decided_by": list(found.table.decided_by(column, product)),
        "trace": [
            {name: as_json(getattr(line, name)) for name in ("kind", "address", "arithmetic", "value", "leans_on")}
            for line in note.lines
        ],
        "contributions": as_json(note.contributions),
        "uncertainty": as_json(note.uncertainty),
        "next_band": _next_band(found, note),
    }


def _next_band(found: Explanation, note: OutputNote) -> dict[str, Any] | None:
    if note.next_band is None:
        return None
    known, (name, edge) = sds(found), note.next_band
    changes = [as_json(change) | {"repeat_sd": known.get(change.measure)} for change in note.changes]
    return {"name": name, "edge": edge, "changes": changes}


def explanation_frame(found: Explanation) -> pd.DataFrame:
    """The trace: one row a line, under the rating or score that it is told of, with what is published of that."""
    import pandas as pd  # slow to import, and a terminal needs none

    rows = []
    for note in found.outputs:
        column = note.column
        for line in note.lines:
            rows.append(
                {
                    "score": note.output.name,
                    "output": line.output,
                    "kind": line.kind,
                    "address": line.address,
                    "source": line.source,
                    "arithmetic": line.arithmetic,
                    "value": line.value,
                    "shown": float(column.shown[found.product]),
                    "rank": float(column.rank[found.product]),
                    "band": found.table.band_name(column, found.product),
                    "status": column.status_text(found.product),
                }
            )
    names = ("score", "output", "kind", "address", "source", "arithmetic", "value", "shown", "rank", "band", "status")
    return pd.DataFrame(rows, columns=list(names))
