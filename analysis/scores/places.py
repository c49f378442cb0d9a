"""Products by their places in a score, and those without one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from functools import cached_property
from typing import Any

import numpy as np

from scoring.numbers.array_types import Array, Indices
from scoring.table.table import Column, ScoreTable

#: What stands in place of a place, by status.
PLACELESS = {"unrated": "unrated", "not applicable": "n/a", "withheld": "withheld"}


class ByPlace(Sequence[int]):
    """Every product by place, those without one last, each in the order of the catalogue; sorted when first asked for.

    Parameters
    ----------
    rank : shape (products,), NaN for none
    among : the products that are listed, by their places in the catalogue, shape (n,); all by default
    """

    def __init__(self, rank: Array, among: Indices | None = None) -> None:
        self.rank = rank
        self.among = np.arange(len(rank)) if among is None else among

    @cached_property
    def _rows(self) -> Indices:
        rank = self.rank[self.among]
        return np.asarray(self.among[np.argsort(np.where(np.isnan(rank), np.inf, rank), kind="stable")])

    def __len__(self) -> int:
        return len(self.among)

    def __getitem__(self, row: Any) -> Any:
        return self._rows[row]


def ranked(column: Column) -> list[int]:
    """Products with a place, best first, each tie in the order of the catalogue."""
    return [int(product) for product in ByPlace(column.rank) if not np.isnan(column.rank[product])]


def labels(table: ScoreTable, products: Sequence[int]) -> list[str]:
    """What stands beside the marks of products in a picture."""
    names = table.catalogue.product_names
    return [names.label(table.catalogue.products[product]) for product in products]


def placeless(column: Column) -> str:
    """How many products have no place, by status, for a sentence; "" where there is none."""
    count = Counter(column.status_text(i) for i in np.flatnonzero(np.isnan(column.rank)).tolist())
    return " and ".join(f"{count[status]} {status}" for status in PLACELESS if count[status])
