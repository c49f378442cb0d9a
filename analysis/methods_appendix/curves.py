"""One part's curve: what kind it is, its anchors as a table, and what holds outside them."""

from __future__ import annotations

import numpy as np

from analysis.languages.facts import Run, Runs
from analysis.languages.writing import ABSENT, code, figure, labels, name, runs, with_unit
from analysis.methods_appendix.workings import Workings
from scoring.addresses.number_units import number_units
from scoring.curves import KINDS
from scoring.form import Curve, Part
from scoring.program.kernel import evaluate_expression
from scoring.program.program import Step

OUTSIDE = {
    "held": "outside its anchors the figure at the nearer one holds",
    "extended": "outside its anchors the line is carried on",
    "error": "a reading outside its anchors is refused",
}
Row = tuple[str | Run | Runs, ...]


def curve_rows(found: Workings, part: Part, curve: Curve, step: Step) -> list[Row]:
    """Every number of a curve: what it is, where it stands on the measure, the rating there, its address."""
    source = (name(labels(found.form)[part.source]),)
    units = number_units(found.form)
    if curve.anchors:
        return [
            (
                source,
                f"anchor {index}",
                with_unit(at, units),
                gives.text,
                (code(at.address), Run(", "), code(gives.address)),
            )
            for index, (at, gives) in enumerate(curve.anchors, start=1)
        ]
    positions = KINDS[curve.kind].positions(curve)
    rows: list[Row] = []
    for word, number in curve.numbers:
        on_measure = number in positions
        stands = with_unit(number, units)
        gives = figure(_at(found, part, step, number.value), 6) if on_measure else ABSENT
        rows.append((source, word, stands, gives, code(number.address)))
    if curve.reference is not None:
        rows += [
            (source, f"reference {word}", with_unit(number, units), ABSENT, code(number.address))
            for word, number in curve.reference.figures
        ]
    return rows


def _at(found: Workings, part: Part, step: Step, value: float) -> float:
    """The curve's figure where its measure is `value`; NaN where it leans on a population."""
    program = found.program
    symbol = {**program.measures, **program.outputs}[part.source]
    values = {one: number.value for one, number in program.parameters.values()} | {symbol: value}
    known = step.expression.free_symbols <= set(values)
    return float(evaluate_expression(step.expression, values)) if known else np.nan


def curve_in_words(found: Workings, part: Part, curve: Curve) -> Runs:
    """What kind of curve it is, what holds outside its anchors, and what population it leans on."""
    kind = KINDS[curve.kind]
    label = name(labels(found.form)[part.source])
    words = [f": {kind.says.replace('`', '')}"]
    choices = dict(curve.choices)
    if "outside" in choices:
        words.append(f"; {OUTSIDE[choices['outside'].value]}")
    if "better" in choices:
        words.append(f"; {choices['better'].value} is better")
    if curve.reference is not None and curve.reference.live:
        words.append("; the reference population is the catalogue itself, so that other products move this figure")
    elif curve.reference is not None:
        words.append("; the reference population is frozen")
    return runs(label, *words, " [", code(curve.address), "].")
