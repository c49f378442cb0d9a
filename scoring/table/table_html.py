"""What a notebook shows of a score table, as HTML without styles or scripts of its own."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from scoring.form import Form
from scoring.html import MOST_PRODUCTS, Safe, joined, more_products, table, tag
from scoring.table.classes import Classes, in_class_text
from scoring.table.missing import STARRED
from scoring.table.selection import OF_THE_WHOLE

if TYPE_CHECKING:
    from scoring.table.table import Column, ScoreTable

ABSENT = "–"


def table_html(scores: ScoreTable) -> Safe:
    """A score table: scores (ratings, where a formula has no scores) side by side, in the order of the first one's places."""
    columns = scores.scores or scores.ratings
    classes = scores.classes
    own = ("#", "band") if classes is None else ("#", f"in {classes.label}", "band")
    headers = ["product", *(name for column in columns for name in (column.output.name, *own))]
    places = (columns[0].rank if columns else np.zeros(len(scores.catalogue.products)))[scores.rows]
    order = scores.rows[np.argsort(np.where(np.isnan(places), np.inf, places), kind="stable")]
    rows: list[list[str]] = []
    for product in order[:MOST_PRODUCTS].tolist():
        row = [scores.catalogue.products[product]]
        for column in columns:
            row += [_figure(column, product), _place(column.rank[product]), *_in_class(classes, column, product)]
            row.append(scores.band_name(column, product))
        rows.append(row)
    each = 1 + len(own)
    starred = any(cell.endswith("*") for row in rows for cell in row[1::each])
    return tag(
        "div",
        tag("h3", scores.form.title or scores.form.name),
        made_from(scores.form, scores.settings),
        *([tag("p", scores.selected.in_words, " ", OF_THE_WHOLE)] if scores.selected is not None else []),
        table(headers, rows, right=[number for number in range(len(headers)) if number % each in (1, 2)]),
        *([tag("p", STARRED)] if starred else []),
        more_products(len(scores.rows)),
        *(tag("p", f"! {caution}") for caution in scores.form.cautions),
    )


def made_from(form: Form, settings: tuple[str, ...]) -> Safe:
    """Name, version, hash, and what was tried."""
    said = joined(f"{form.name} {form.version}".strip(), ", sha256 ", tag("code", form.sha256[:12]))
    return tag("p", said, f", with {', '.join(settings)}" if settings else "")


def _figure(column: Column, product: int) -> str:
    """The shown figure, starred where partial; the status where there is none."""
    shown, status = column.shown_text(product), column.status_text(product)
    return f"{shown}*" if status == "partial" else shown or status


def _in_class(classes: Classes | None, column: Column, product: int) -> list[str]:
    """The place within its class, where the formula counts them."""
    if classes is None or column.within is None:
        return []
    return [in_class_text(column.within.place[product], column.within.of[product], classes.words[product])]


def _place(place: float) -> str:
    return ABSENT if math.isnan(place) else f"{place:g}"
