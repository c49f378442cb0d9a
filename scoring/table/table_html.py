"""What a notebook shows of a score table, as HTML without styles or scripts of its own."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from scoring.form import NAME, Form
from scoring.html import MOST_PRODUCTS, Safe, joined, more_products, table, tag
from scoring.table.frames import role_columns
from scoring.table.missing import STARRED
from scoring.table.selection import OF_THE_WHOLE

if TYPE_CHECKING:
    from scoring.table.table import Column, ScoreTable

ABSENT = "–"


def table_html(scores: ScoreTable) -> Safe:
    """A score table: scores (ratings, where a formula has no scores) side by side, in the order of the first one's places."""
    columns = scores.scores or scores.ratings
    called = role_columns(scores.catalogue).get(NAME)
    first = ["product"] if called is None else ["product", "name"]
    before = len(first)
    headers = [*first, *(head for column in columns for head in _heads(column))]
    places = (columns[0].rank if columns else np.zeros(len(scores.catalogue.products)))[scores.rows]
    order = scores.rows[np.argsort(np.where(np.isnan(places), np.inf, places), kind="stable")]
    rows: list[list[str]] = []
    for product in order[:MOST_PRODUCTS].tolist():
        row = [scores.catalogue.products[product], *([] if called is None else [called[product]])]
        for column in columns:
            row += [_figure(column, product), _place(column.rank[product])]
            row += [*_in_class(column, product), scores.band_name(column, product)]
        rows.append(row)
    starred = any(cell.endswith("*") for row in rows for cell in row[before:])
    figures = enumerate(headers[before:], start=before)
    right = [number for number, head in figures if head != "band" and not head.startswith("in ")]
    return tag(
        "div",
        tag("h3", scores.form.title or scores.form.name),
        made_from(scores.form, scores.settings),
        *([tag("p", scores.selected.in_words, " ", OF_THE_WHOLE)] if scores.selected is not None else []),
        table(headers, rows, right=right),
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


def _heads(column: Column) -> tuple[str, ...]:
    """What stands over the figures of one score."""
    within = () if column.within is None else (f"in {column.within.classes.label}",)
    return (column.output.name, "#", *within, "band")


def _in_class(column: Column, product: int) -> list[str]:
    """The place within its class, where the formula counts them."""
    return [] if column.within is None else [column.within.text(product)]


def _place(place: float) -> str:
    return ABSENT if math.isnan(place) else f"{place:g}"
