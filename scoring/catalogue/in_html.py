"""What a notebook shows of a catalogue, as HTML without styles or scripts of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scoring.catalogue.readings import Readings, State
from scoring.html import MOST_PRODUCTS, Safe, counted_products, more_products, table, tag

if TYPE_CHECKING:
    from scoring.catalogue.catalogue import Catalogue


def catalogue_html(catalogue: Catalogue) -> Safe:
    """A catalogue: a row a product, a column a measure, each cell with its readings as a file would have them."""
    names = list(catalogue.readings)
    headers = ["product", *catalogue.attributes]
    headers += [f"{name} [{catalogue.units[name]}]" if name in catalogue.units else name for name in names]
    rows = [
        [
            product,
            *(words[index] for words in catalogue.attributes.values()),
            *(_cell(readings, index) for readings in catalogue.readings.values()),
        ]
        for index, product in enumerate(catalogue.products[:MOST_PRODUCTS])
    ]
    said = [tag("p", f"{catalogue.source}: {counted_products(len(catalogue.products))}")]
    if catalogue.unused:
        said.append(tag("p", f"In the catalogue and not in the formula: {', '.join(catalogue.unused)}."))
    if catalogue.left_out:
        said.append(tag("p", f"Left out, not declared under attributes: {', '.join(catalogue.left_out)}."))
    right = range(1 + len(catalogue.attributes), len(headers))
    return tag("div", *said, table(headers, rows, right=right), more_products(len(catalogue.products)))


def _cell(readings: Readings, product: int) -> str:
    """The readings of one product as a file has them, one after another; behind what was converted, what its cell says."""
    said = []
    for repeat, mark in enumerate(readings.marks[product].tolist()):
        reason = readings.reasons.get((product, repeat), "")
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
