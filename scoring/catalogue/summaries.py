"""Rows that sum others up and are read as products: nothing is set aside, and each is told."""

from __future__ import annotations

from collections.abc import Sequence

#: What such a row is called; a whole id, in capitals or not.
SUMMARIES = frozenset(("average", "avg", "mean", "median", "total", "sum", "max", "maximum", "min", "minimum"))
_TOLD = 12


def summaries(products: Sequence[str]) -> tuple[str, ...]:
    """A sentence on the products that are called as rows of sums are; none where there are none.

    Examples
    --------
    >>> summaries(["A-01", "MEAN"])
    ('Scored as a product: `MEAN`. If it sums other rows up, a recipe passes over it: `skip_where: {COLUMN: [MEAN]}`.',)
    """
    found = [product for product in products if product.strip(" .:").casefold() in SUMMARIES]
    if not found:
        return ()
    named = " and ".join(f"`{product}`" for product in found[:_TOLD])
    what, it, sums = ("a product", "it", "it sums") if len(found) == 1 else ("products", "them", "they sum")
    line = f"`skip_where: {{COLUMN: [{', '.join(found[:_TOLD])}]}}`"
    return (f"Scored as {what}: {named}. If {sums} other rows up, a recipe passes over {it}: {line}.",)
