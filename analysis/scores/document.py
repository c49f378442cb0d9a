"""The score table as a JSON document, and as one flat table for files. Both shapes are a promise: examples/guide/publish.md."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

import pandas as pd

from analysis.cautions import cautions
from analysis.json_text import number_or_none
from analysis.outputs.marks import WRITTEN_BY
from scoring.table.frames import attribute_columns, column_figures
from scoring.table.table import Column, ScoreTable


def score_document(table: ScoreTable, settings: Sequence[str] = ()) -> dict[str, Any]:
    """The whole table as plain nouns, ready for JSON; null where nothing is published.

    `settings` are the values that were tried on the formula; a formula as it stands has none.
    """
    document = score_stream(table, settings)
    return document | {"products": list(document["products"])}


def score_stream(table: ScoreTable, settings: Sequence[str] = ()) -> dict[str, Any]:
    """The same, with an iterator over the products, for catalogues whose document would fill the memory."""
    form = table.form
    return {
        **WRITTEN_BY,
        "formula": {"name": form.name, "version": form.version, "sha256": form.sha256},
        "catalogue": {"sha256": table.catalogue.sha256, "products": len(table.catalogue.products)},
        "set": list(settings),
        "cautions": list(cautions(form)),
        "products": (
            {
                "id": product,
                "ratings": {c.output.name: _figures(c, index) for c in table.ratings},
                "scores": {c.output.name: _standing(table, c, index) for c in table.scores},
            }
            for index, product in enumerate(table.catalogue.products)
        ),
    }


def _figures(column: Column, product: int) -> dict[str, Any]:
    return {
        "value": number_or_none(column.value[product]),
        "shown": number_or_none(column.shown[product]),
        "status": column.status_text(product),
    }


def _standing(table: ScoreTable, column: Column, product: int) -> dict[str, Any]:
    figures = _figures(column, product)
    status = figures.pop("status")
    rank = number_or_none(column.rank[product])
    return {
        **figures,
        "rank": int(rank) if rank is not None and rank == int(rank) else rank,
        "band": table.band_name(column, product) or None,
        "status": status,
        "remarks": list(column.remarks.get(product, ())),
    }


def score_frame(table: ScoreTable, settings: Sequence[str] = (), beside: Collection[str] = ()) -> pd.DataFrame:
    """One row a product: attributes, then value, shown and status of each rating, then of each score with rank and band.

    The last columns say what it was made from: formula, hashes, values tried (empty for the formula as it stands),
    cautions. An attribute of the name of another column, or of one that is to stand `beside` these, is led by `attribute.`.
    """
    form, figures = table.form, dict[str, Any]()
    for column in table.ratings + table.scores:
        held, _ = column_figures(table, column)
        figures |= {f"{column.output.name}.{key}": value for key, value in held.items()}
    made_from = {
        "formula": f"{form.name} {form.version}".strip(),
        "formula_sha256": form.sha256,
        "catalogue_sha256": table.catalogue.sha256,
        "set": "; ".join(settings),
        "cautions": " ".join(cautions(form)),
    }
    words = attribute_columns(table, {"product", *figures, *made_from, *beside})
    attributes = {name: list(of) for name, of in words.items()}
    return pd.DataFrame({"product": list(table.catalogue.products)} | attributes | figures | made_from)
