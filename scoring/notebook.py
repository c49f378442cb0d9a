"""What a notebook shows: a formula with its curves, a catalogue, a score table, as HTML without styles or scripts of its own."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from scoring.catalogue.readings import Readings, State
from scoring.drawn_curve import drawn_curve, leans_on_catalogue
from scoring.form import Form, Measure, Output, Part
from scoring.html import Safe, joined, table, tag
from scoring.missing import STARRED
from scoring.program import Program

if TYPE_CHECKING:
    from scoring.catalogue.catalogue import Catalogue
    from scoring.table import Column, ScoreTable

#: So many products are shown; a frame has them all.
MOST_PRODUCTS = 100
ABSENT = "–"


def formula_html(program: Program, settings: tuple[str, ...] = ()) -> Safe:
    """A formula: what it is, its measures, its ratings with their curves, its scores with their weights."""
    form = program.form
    parts = [
        tag("h3", form.title or form.name),
        _heading(form, settings),
        table(("measure", "label", "unit", "better", "plausible"), [_measure_row(one) for one in form.measures]),
    ]
    for heading, outputs in (("rating", form.ratings), ("score", form.scores)):
        if outputs:
            rows = [(one.name, one.label, _how(one), _pictures(program, one)) for one in outputs]
            width = 4 if any(row[3] for row in rows) else 3
            parts.append(table((heading, "label", "made of", "curves")[:width], [row[:width] for row in rows]))
    parts += [tag("p", f"! {caution}") for caution in form.cautions]
    return tag("div", *parts)


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
    said = [tag("p", f"{catalogue.source}: {_counted(len(catalogue.products))}")]
    if catalogue.unused:
        said.append(tag("p", f"In the catalogue and not in the formula: {', '.join(catalogue.unused)}."))
    if catalogue.left_out:
        said.append(tag("p", f"Left out, not declared under attributes: {', '.join(catalogue.left_out)}."))
    right = range(1 + len(catalogue.attributes), len(headers))
    return tag("div", *said, table(headers, rows, right=right), _more(len(catalogue.products)))


def table_html(scores: ScoreTable) -> Safe:
    """A score table: scores (ratings, where a formula has no scores) side by side, in the order of the first one's places."""
    columns = scores.scores or scores.ratings
    headers = ["product", *(name for column in columns for name in (column.output.name, "#", "band"))]
    places = columns[0].rank if columns else np.zeros(len(scores.catalogue.products))
    order = np.argsort(np.where(np.isnan(places), np.inf, places), kind="stable")
    rows: list[list[str]] = []
    for product in order[:MOST_PRODUCTS].tolist():
        row = [scores.catalogue.products[product]]
        for column in columns:
            row += [_figure(column, product), _place(column.rank[product]), scores.band_name(column, product)]
        rows.append(row)
    starred = any(cell.endswith("*") for row in rows for cell in row[1::3])
    return tag(
        "div",
        tag("h3", scores.form.title or scores.form.name),
        _heading(scores.form, scores.settings),
        table(headers, rows, right=[number for number in range(len(headers)) if number % 3 in (1, 2)]),
        *([tag("p", STARRED)] if starred else []),
        _more(len(scores.catalogue.products)),
        *(tag("p", f"! {caution}") for caution in scores.form.cautions),
    )


def _heading(form: Form, settings: tuple[str, ...]) -> Safe:
    """Name, version, hash, and what was tried."""
    said = joined(f"{form.name} {form.version}".strip(), ", sha256 ", tag("code", form.sha256[:12]))
    return tag("p", said, f", with {', '.join(settings)}" if settings else "")


def _measure_row(measure: Measure) -> tuple[str, ...]:
    plausible = " to ".join(bound.text for bound in measure.plausible) if measure.plausible else ""
    return measure.name, measure.label, "" if measure.unit == "1" else measure.unit, measure.better.value, plausible


def _how(output: Output) -> Safe:
    """What an output is made of: its blend and weights, or its expression; then its limits."""
    lines: list[object] = [tag("code", output.value.text)] if output.value is not None else []
    if output.blend is not None and len(output.parts) > 1:
        lines.append(f"{output.blend.value} of")
    lines += [_part(part) for part in output.parts]
    for limit in output.limits:
        sense = limit.sense.replace("_", " ")
        if limit.when is not None and limit.bound is not None:
            lines.append(f"{sense} {limit.bound.text} when {limit.when.text}")
        else:
            lines.append(f"{sense} a curve of {limit.on}")
    return joined(*(tag("div", line) for line in lines))


def _part(part: Part) -> str:
    return part.source if part.weight is None else f"{part.source} {part.weight.text}"


def _pictures(program: Program, output: Output) -> Safe:
    """The curve of each part that has one; words where it leans on a catalogue that is not there."""
    return joined(
        *(
            f"{part.source}: leans on the catalogue"
            if leans_on_catalogue(part)
            else Safe(drawn_curve(program, output.name, part.source).to_svg())
            for part in output.parts
            if part.curve is not None
        )
    )


def _cell(readings: Readings, product: int) -> str:
    """The readings of one product as a file has them, one after another."""
    said = []
    for repeat, mark in enumerate(readings.marks[product].tolist()):
        reason = readings.reasons.get((product, repeat), "")
        why = f": {reason}" if reason else ""
        match State(mark):
            case State.VALUE:
                said.append(f"{readings.written[product, repeat]:.6g}")
            case State.BELOW:
                said.append(f"<{readings.written[product, repeat]:.6g}")
            case State.MISSING:
                said.append(f"missing{why}")
            case State.NOT_APPLICABLE:
                said.append(f"not applicable{why}")
    return ", ".join(said)


def _figure(column: Column, product: int) -> str:
    """The shown figure, starred where partial; the status where there is none."""
    shown, status = column.shown_text(product), column.status_text(product)
    return f"{shown}*" if status == "partial" else shown or status


def _place(place: float) -> str:
    return ABSENT if math.isnan(place) else f"{place:g}"


def _counted(number: int) -> str:
    return f"{number} product{'s' if number != 1 else ''}"


def _more(number: int) -> Safe:
    """How many products are not shown."""
    left = number - MOST_PRODUCTS
    return tag("p", f"{left} more: frame() has them all.") if left > 0 else Safe("")
