"""What a notebook shows of a formula: its measures, curves and weights, as HTML without styles or scripts of its own."""

from __future__ import annotations

from scoring.door.drawn_curve import drawn_curve, leans_on_catalogue
from scoring.form import Measure, Output, Part
from scoring.html import Safe, joined, table, tag
from scoring.program.program import Program
from scoring.table.table_html import made_from


def formula_html(program: Program, settings: tuple[str, ...] = ()) -> Safe:
    """A formula: what it is, its measures, its ratings with their curves, its scores with their weights."""
    form = program.form
    parts = [
        tag("h3", form.title or form.name),
        made_from(form, settings),
        table(("measure", "label", "unit", "better", "plausible"), [_measure_row(one) for one in form.measures]),
    ]
    for heading, outputs in (("rating", form.ratings), ("score", form.scores)):
        if outputs:
            rows = [(one.name, one.label, _how(one), _pictures(program, one)) for one in outputs]
            width = 4 if any(row[3] for row in rows) else 3
            parts.append(table((heading, "label", "made of", "curves")[:width], [row[:width] for row in rows]))
    parts += [tag("p", f"! {caution}") for caution in form.cautions]
    return tag("div", *parts)


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
