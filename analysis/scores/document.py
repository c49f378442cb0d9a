"""The score table as a JSON document, and as one flat table for files. Both shapes are a promise: examples/guide/publish.md."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from analysis.class_places import in_class, whole_place
from analysis.json_text import number_or_none
from analysis.report.source import source_of
from scoring.table.frames import attribute_columns, column_figures
from scoring.table.table import Column, ScoreTable

if TYPE_CHECKING:
    import pandas as pd


def products_of(table: ScoreTable) -> Iterator[dict[str, Any]]:
    """Each product as plain nouns, ready for JSON, one after another: null where nothing is published."""
    for index in table.rows.tolist():
        yield {
            "id": table.catalogue.products[index],
            "ratings": {
                column.output.name: _figures(column, index) | _decided(table, column, index) for column in table.ratings
            },
            "scores": {column.output.name: _standing(table, column, index) for column in table.scores},
        }


def _figures(column: Column, product: int) -> dict[str, Any]:
    return {
        "value": number_or_none(column.value[product]),
        "shown": number_or_none(column.shown[product]),
        "status": column.status_text(product),
    }


def _decided(table: ScoreTable, column: Column, product: int) -> dict[str, list[str]]:
    """What decided a figure, where one part or a limit alone can."""
    return {"decided_by": list(table.decided_by(column, product))} if column.output.name in table.deciders else {}


def _standing(table: ScoreTable, column: Column, product: int) -> dict[str, Any]:
    figures = _figures(column, product)
    status = figures.pop("status")
    return {
        **figures,
        "rank": whole_place(column.rank[product]),
        **in_class(column.within, product),
        "band": table.band_name(column, product) or None,
        "status": status,
        "remarks": list(column.remarks.get(product, ())),
        **_decided(table, column, product),
    }


def flat_frame(table: ScoreTable, beside: Collection[str] = ()) -> pd.DataFrame:
    """One row a product: attributes, then value, shown and status of each rating, then of each score with rank and band.

    An attribute of the name of another column, of one of the last that say what it was made from, or of one that is to stand
    `beside` these, is led by `attribute.`.
    """
    import pandas as pd  # slow to import, and most commands make no frame

    figures: dict[str, Any] = {}
    for column in table.ratings + table.scores:
        held, _ = column_figures(table, column)
        figures |= {f"{column.output.name}.{key}": value for key, value in held.items()}
    words = attribute_columns(table, {"product", *figures, *source_of(table).columns(), *beside})
    attributes = {name: list(of) for name, of in words.items()}
    frame = pd.DataFrame({"product": list(table.catalogue.products)} | attributes | figures)
    return frame if table.selected is None else frame.iloc[table.rows].reset_index(drop=True)


def score_frame(table: ScoreTable, settings: Sequence[str] = (), beside: Collection[str] = ()) -> pd.DataFrame:
    """The same with its last columns, as files have it: formula, hashes, values tried (empty for none), cautions."""
    source = replace(source_of(table), settings=tuple(settings))
    return source.on(flat_frame(table, beside))
