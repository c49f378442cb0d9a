"""An explanation as a JSON document."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from analysis.cautions import cautions
from analysis.explanation.explanation import Explanation, OutputNote, ReadingNote, sds
from analysis.json_text import number_or_none
from analysis.partial.document import partial_document
from analysis.report_document import plain


def explanation_document(explanation: Explanation) -> dict[str, Any]:
    """Everything said about one product as plain nouns; null where there is nothing."""
    form, catalogue = explanation.table.form, explanation.table.catalogue
    return {
        "formula": {"name": form.name, "version": form.version, "sha256": form.sha256},
        "catalogue": {"sha256": catalogue.sha256, "products": len(catalogue.products)},
        "product": catalogue.products[explanation.product],
        "set_aside": list(explanation.set_aside),
        "seed": explanation.seed,
        "draws": explanation.draws,
        "cautions": list(cautions(form)),
        "readings": [_reading(note) for note in explanation.readings],
        "gates": [plain(asdict(note)) for note in explanation.gates],
        "outputs": {note.output.name: _output(explanation, note) for note in explanation.outputs},
        "correlated_errors": [{"scores": list(pair), "correlation": r} for pair, r in explanation.together.items()],
        "partial": partial_document(explanation.partial, catalogue.products),
        "challenges": [
            {
                "output": c.output.name,
                "before": dict(zip(("shown", "rank", "band"), c.before, strict=True)),
                "after": dict(zip(("shown", "rank", "band"), c.after, strict=True)),
                "move": number_or_none(c.move),
                "remarks": c.remarks,
            }
            for c in explanation.challenges
        ],
    }


def _reading(note: ReadingNote) -> dict[str, Any]:
    return {
        "measure": note.measure.name,
        "unit": note.measure.unit,
        "repeats": list(note.repeats),
        "summary": note.measure.repeats.value,
        "value": number_or_none(note.value),
        "repeat_sd": note.repeat_sd,
        "u": number_or_none(note.u),
        "freedom": plain(note.freedom),
        "components": plain([asdict(part) for part in note.parts]),
    }


def _output(explanation: Explanation, note: OutputNote) -> dict[str, Any]:
    product, column = explanation.product, note.column
    place = number_or_none(column.rank[product])
    known = sds(explanation)
    return {
        "value": number_or_none(column.value[product]),
        "shown": number_or_none(column.shown[product]),
        "rank": place,
        "of": int(np.sum(~np.isnan(column.rank))),
        "band": explanation.table.band_name(column, product) or None,
        "status": column.status_text(product),
        "remarks": list(column.remarks.get(product, ())),
        "trace": [
            {"kind": line.kind, "address": line.address, "arithmetic": line.arithmetic, "value": line.value}
            for line in note.lines
        ],
        "contributions": None if note.contributions is None else asdict(note.contributions),
        "uncertainty": None if note.uncertainty is None else plain(asdict(note.uncertainty)),
        "next_band": None
        if note.next_band is None
        else {
            "name": note.next_band[0],
            "edge": note.next_band[1],
            "changes": [asdict(change) | {"repeat_sd": known.get(change.measure)} for change in note.changes],
        },
    }
