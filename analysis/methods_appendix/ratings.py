"""The section on ratings: each one's formula, its curve's anchors as a table and as a picture, and what holds outside them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analysis.languages.facts import Block, Equation, Equations, Points, Run, Runs, Section
from analysis.languages.writing import code, figure, labels, name, paragraph, runs, table, with_unit
from analysis.methods_appendix.formulas import formulas_of
from analysis.methods_appendix.own_rules import own_rules_in_words
from analysis.methods_appendix.pictures import drawn
from analysis.methods_appendix.rules import limits_in_words, missing_in_words, rounding_in_words
from analysis.methods_appendix.workings import Workings
from analysis.scores.figures import curve_picture
from analysis.wording import ABSENT
from scoring.addresses.number_units import number_units
from scoring.curves import KINDS
from scoring.form import ENDS, Curve, Output, Part
from scoring.program.kernel import evaluate_expression
from scoring.program.program import Step

OUTSIDE = {
    "held": "{} the figure at the nearer one holds",
    "extended": "{} the line is carried on",
    "error": "a reading {} is refused",
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
    words += [f"; {said}" for said in _outside_in_words(curve)]
    if "better" in choices:
        words.append(f"; {choices['better'].value} is better")
    if curve.reference is not None and curve.reference.live:
        words.append("; the reference population is the catalogue itself, so that other products move this figure")
    elif curve.reference is not None:
        words.append("; the reference population is frozen")
    return runs(label, *words, " [", code(curve.address), "].")


def _outside_in_words(curve: Curve) -> Iterator[str]:
    """What holds beyond the anchors, in one sentence where it is the same at both ends."""
    words = [choice.value for choice in curve.outside]
    if len(set(words)) == 1:
        yield OUTSIDE[words[0]].format("outside its anchors")
        return
    for word, end in zip(words, ENDS.values(), strict=False):
        yield OUTSIDE[word].format(f"{end} of its anchors" if end.startswith("above") else end)


ANCHORS = ("from", "number", "stands at", "rating there", "address")


def ratings_section(found: Workings) -> Section:
    """Every rating."""
    parts = [
        "A rating turns measures into points. Formulas are worked out in binary floating point (about 15 digits) and nothing is"
        " rounded on the way unless a line says so; the worked example prints seven digits of every step. Each number in a"
        " formula has an address, printed beside it in square brackets: it is where the number stands in the formula file.",
    ]
    if not found.form.ratings:
        parts = ["This formula has no ratings: its scores take measures as they are."]
    return Section(
        "ratings",
        runs("Ratings"),
        (paragraph(*parts),),
        tuple(_rating(found, output) for output in found.form.ratings),
    )


def _rating(found: Workings, output: Output) -> Section:
    return Section(f"rating-{anchor_of(output)}", (name(output.label),), tuple(_blocks(found, output)))


def anchor_of(output: Output) -> str:
    """A name as an anchor has it."""
    return output.name


def _blocks(found: Workings, output: Output) -> Iterator[Block]:
    yield paragraph(*about(output))
    yield equations(found, output)
    yield from curves(found, output)
    rules = [*limits_in_words(found.form, output), missing_in_words(found.form, output), rounding_in_words(output)]
    yield Points((*rules, *own_rules_in_words(found.form, output)))


def about(output: Output) -> Iterator[str | Run]:
    """The note of an output, its name and its scale."""
    if output.note:
        yield name(output.note)
        yield " "
    high = output.scale.high
    yield f"On a scale from {output.scale.low.text} {f'to {high.text}' if high is not None else 'up, without a top'}; called "
    yield code(output.name)
    yield " in formulas."
    if output.neutral:
        yield " It describes and does not judge: more is not better in itself."


def equations(found: Workings, output: Output) -> Equations:
    """The lines of an output's formula, typeset."""
    lines = tuple(
        Equation(line.left, line.right, line.address, found.sentences.runs(line.words))
        for line in formulas_of(found.program, output)
    )
    return Equations(f"formula-{output.name}", lines)


def curves(found: Workings, output: Output) -> Iterator[Block]:
    """The curves of an output's parts: in words, as a table of anchors, and drawn."""
    steps = {step.address: step for step in found.program.steps if step.kind == "curve" and step.output == output.name}
    rows: list[Row] = []
    items: list[Runs] = []
    for part in output.parts:
        if part.curve is not None:
            items.append(curve_in_words(found, part, part.curve))
            rows += curve_rows(found, part, part.curve, steps[part.address])
    if items:
        yield Points(tuple(items))
    if rows:
        caption = runs("The anchors of ", name(output.label), ".")
        yield table(f"anchors-{output.name}", caption, ANCHORS, rows)
    for number, part in enumerate(output.parts, start=1):
        if part.curve is not None:
            yield drawn(
                curve_picture(found.program, found.table, output, part, tried=found.tried),
                f"curve-{output.name}-{number}",
            )
