"""What a notebook shows of a catalogue, as HTML without styles or scripts of its own."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from scoring.catalogue.readings import Readings, State
from scoring.html import MOST_PRODUCTS, Safe, counted_products, more_products, table, tag

if TYPE_CHECKING:
    from scoring.catalogue.catalogue import Catalogue


def catalogue_html(catalogue: Catalogue) -> Safe:
    """A catalogue: a row a product, a column a measure, each cell with its readings as a file would have them."""
    names = list(catalogue.readings)
    headers = ["product", *catalogue.published]
    headers += [f"{name} [{catalogue.units[name]}]" if name in catalogue.units else name for name in names]
    rows = [
        [
            product,
            *(words[index] for words in catalogue.published.values()),
            *(_cell(readings, index, reasons=catalogue.roles.reasons) for readings in catalogue.readings.values()),
        ]
        for index, product in enumerate(catalogue.products[:MOST_PRODUCTS])
    ]
    # a notebook is handed on: neither the folder nor what the formula does not name
    said = [tag("p", f"{Path(catalogue.source).name}: {counted_products(len(catalogue.products))}")]
    if catalogue.unused:
        said.append(
            tag("p", f"In the catalogue and not in the formula: {len(catalogue.unused)} (`unused` names them).")
        )
    if catalogue.left_out:
        said.append(
            tag("p", f"Left out, not declared under attributes: {len(catalogue.left_out)} (`left_out` names them).")
        )
    right = range(1 + len(catalogue.published), len(headers))
    return tag("div", *said, table(headers, rows, right=right), more_products(len(catalogue.products)))


def _cell(readings: Readings, product: int, *, reasons: bool) -> str:
    """The readings of one product as a file has them, one after another; behind what was converted, what its cell says.

    reasons : whether why one is missing is said, too
    """
    said = []
    for repeat, mark in enumerate(readings.marks[product].tolist()):
        reason = readings.reasons.get((product, repeat), "") if reasons else ""
        why = f": {reason}" if reason else ""
        cell = readings.said(product, repeat)
        beside = "" if cell is None else f" ({cell})"
        match State(mark):
            case State.VALUE:
                said.append(f"{readings.written[product, repeat]:.6g}{beside}")
            case State.BELOW:
                said.append(f"<{readings.written[product, repeat]:.6g}{beside}")
            case State.MISSING:
                said.append(f"missing{why}")
            case State.NOT_APPLICABLE:
                said.append(f"not applicable{why}")
    return ", ".join(said)
