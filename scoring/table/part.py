"""The score table of a part of its catalogue.

A score stays what it is in the whole catalogue: a live population, pooled repeatability and sessions lean on everything that was
read. What is shown, ranked and studied is the part. Products outside it keep their readings, and have no value, no place and no
remark, so that whatever goes by the columns of a table leaves them out, and draws of a product's errors are the same as ever.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from scoring.numbers.array_types import Flags
from scoring.table.selection import Selected, Where, chosen_of, conditions_of
from scoring.table.table import NOT_SELECTED, Column, ScoreTable, places_in, within_classes


def select(table: ScoreTable, where: Where) -> ScoreTable:
    """The score table of a part of its catalogue; the table itself where nothing is asked for.

    Raises
    ------
    CatalogueError : an attribute or a word that is not there, or a part without a product
    """
    conditions = conditions_of(where, [table.catalogue])
    return narrowed(table, Selected(conditions, chosen_of(conditions, table.catalogue)) if conditions else None)


def narrowed(table: ScoreTable, selected: Selected | None) -> ScoreTable:
    """The same of products that were chosen before; the table itself for None."""
    if selected is None:
        return table
    return replace(
        table,
        ratings=tuple(_only(column, selected.chosen) for column in table.ratings),
        scores=tuple(_only(column, selected.chosen) for column in table.scores),
        selected=selected,
    )


def _only(column: Column, chosen: Flags) -> Column:
    """A column of the chosen products alone, shape (products,), with their places among themselves."""
    value, shown = np.where(chosen, column.value, np.nan), np.where(chosen, column.shown, np.nan)
    return replace(
        column,
        value=value,
        shown=shown,
        status=np.where(chosen, column.status, np.uint8(NOT_SELECTED)),
        rank=places_in(column.output, value, shown),
        within=None if column.within is None else within_classes(column.output, column.within.classes, value, shown),
        band=np.where(chosen, column.band, -1),
        remarks={product: said for product, said in column.remarks.items() if chosen[product]},
    )
