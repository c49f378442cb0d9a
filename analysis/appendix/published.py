"""The score table: every rating and score of every product, as it is published."""

from __future__ import annotations

import numpy as np

from analysis.appendix.facts import Run, Runs, Section, Table
from analysis.appendix.workings import Workings
from analysis.appendix.writing import ABSENT, Head, figures_of, link, name, paragraph, place, runs, table
from analysis.stability.told_apart import ToldApart
from scoring.table import Column


def published_section(found: Workings) -> Section:
    """All figures that are published."""
    said = (
        "Shown figures; * marks a partial one, in which a missing part's weight is shared out. A dash, “withheld” and “not"
        " applicable” stand where there is no figure."
    )
    ratings = (_ratings(found),) if found.table.ratings else ()
    scores = tuple(
        Section(f"table-{column.output.name}", (name(column.output.label),), (_score(found, column),))
        for column in found.table.scores
    )
    return Section("published", runs("The score table"), (paragraph(said), *ratings), scores)


def shown(column: Column, product: int) -> str:
    """The figure as it is published, or what stands in its place."""
    status = column.status_text(product)
    text = column.shown_text(product)
    if text:
        return f"{text}*" if status == "partial" else text
    return ABSENT if status == "unrated" else status


def _ratings(found: Workings) -> Table:
    columns, products = found.table.ratings, found.table.catalogue.products
    rows: list[tuple[str | Run | Runs, ...]] = [
        (name(product), *(shown(column, i) for column in columns)) for i, product in enumerate(products)
    ]
    heads: list[Head] = ["product", *(figures_of(column.output.label) for column in columns)]
    return table("ratings", runs("Ratings of every product, in the order of the catalogue."), heads, rows)


def _score(found: Workings, column: Column) -> Table:
    """One score: place, product, figure, band, what the bench leaves open, remarks."""
    bench = _bench(found, column.output.name)
    order = np.argsort(np.where(np.isnan(column.rank), np.inf, column.rank), kind="stable").tolist()
    rows: list[tuple[str | Run | Runs, ...]] = []
    for i in order:
        remarks = "; ".join(column.remarks.get(i, ()))
        band = found.table.band_name(column, i)
        rows.append(
            (
                name(found.table.catalogue.products[i]),
                place(column.rank[i]),
                shown(column, i),
                (name(band),) if band else ABSENT,
                *(bench.get(i, (ABSENT,) * 3) if bench else ()),
                (name(remarks),) if remarks else "",
            )
        )
    count = int((~np.isnan(column.rank)).sum())
    heads = ("product", "place #", "score #", "band", *(("u #", "may hold #", "group") if bench else ()), "remarks")
    caption = runs(name(column.output.label), f": {count} of {len(order)} products are published.")
    return table(f"scores-{column.output.name}", caption, heads, rows, _note(found, column.output.name))


def _bench(found: Workings, score: str) -> dict[int, tuple[str, str, str]]:
    """Product to u, the places that it may hold, and the letters of its groups; empty where the bench says nothing."""
    told = found.benches.get(score)
    one = next((one for one in found.stability if one.quantities.output.name == score), None)
    if told is None or one is None:
        return {}
    return {
        int(product): (f"{told.sd[i]:.3f}", may_hold(told, i), " ".join(told.groups.letters[i]))
        for i, product in enumerate(one.quantities.products.tolist())
    }


def may_hold(told: ToldApart, i: int) -> str:
    """The places that the bench leaves open to a product."""
    low, high = int(told.sets.low[i]), int(told.sets.high[i])
    marks = "~" if told.sets.low_unsure[i] else "", "~" if told.sets.high_unsure[i] else ""
    return f"{low}{marks[0]}" if low == high and not any(marks) else f"{low}{marks[0]} to {high}{marks[1]}"


def _note(found: Workings, score: str) -> Runs:
    told = found.benches.get(score)
    if told is None:
        return ()
    said: list[str | Run] = ["u, may hold and group: see ", link("What the bench can tell apart", "bench"), "."]
    if not told.groups.exact:
        said.append(" Groups are runs of the table here; products that share no letter are told apart.")
    if (told.sets.low_unsure | told.sets.high_unsure).any():
        said.append(" ~ marks a bound within the simulation's own error: another seed may move it.")
    return runs(*said)
