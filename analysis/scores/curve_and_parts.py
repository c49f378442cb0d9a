"""Two pictures of a score: a rating's curve with the readings it meets, and what the best products' scores are made of."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from analysis.explanation.contributions import contributions
from analysis.figures.canvas import FILLS, axes_of, blank
from analysis.wording import counted
from scoring.form import Output
from scoring.program.program import Program
from scoring.table.evaluate import Inputs, evaluate, kernel_for, stages
from scoring.table.table import Column, ScoreTable

GRID = 400


def curve_and_parts(table: ScoreTable, program: Program, rating: str, score: str, most: int = 12) -> Figure:
    """A rating's curve beside the parts of a score's best products."""
    figure = blank(9.5, 3.8)
    left, right = axes_of(figure, 1, 2, width_ratios=[1, 1.9])
    draw_curve(left, table, program, program.form.output(rating))
    draw_parts(right, table, program, table.column(score), most)
    return figure


def draw_curve(axes: Axes, table: ScoreTable, program: Program, output: Output) -> None:
    """A rating of one measure over its plausible range; each product's reading is a stroke at the foot."""
    measure = table.form.measure(output.parts[0].source)
    readings = table.inputs.values[measure.name][0]
    known = readings[~np.isnan(readings)]
    low, high = (n.value for n in measure.plausible) if measure.plausible else (known.min(), known.max())
    grid = np.linspace(low, high, GRID)
    alone = Inputs(
        products=("",),
        values={name: np.full((GRID, 1), np.nan) for name in table.inputs.values} | {measure.name: grid[:, None]},
        states={name: states[:1] * 0 for name, states in table.inputs.states.items()},
        words=dict.fromkeys(table.inputs.words, ("",)),
    )
    values = evaluate(kernel_for(program, alone, [output.name]), alone, reference=table.inputs).values[output.name]
    axes.plot(grid, values[:, 0], color="black", linewidth=1.5)
    axes.plot(known, np.full(known.shape, output.scale.low.value), "|", color="0.35", markersize=9)
    axes.set_xlabel(f"{measure.name}, {measure.unit}".removesuffix(", 1"))
    axes.set_ylabel(f"{output.label}, rating points")
    axes.set_title(f"{output.label}: the curve, and {counted(len(known), 'reading')}", loc="left", fontsize=9)


def draw_parts(axes: Axes, table: ScoreTable, program: Program, column: Column, most: int) -> None:
    """The best products of a score as bars, each split into what its parts contribute."""
    worked = stages(program, table.inputs)
    order = [int(i) for i in np.argsort(column.rank)[:most] if not np.isnan(column.rank[i])]
    split = [contributions(program, column.output, table.inputs, table.evaluation, worked, i) for i in order]
    names = [part.source for part in column.output.parts]
    starts = np.zeros(len(order))
    for number, name in enumerate(names):
        lengths = np.array([dict(s.parts).get(name, 0.0) if s is not None else 0.0 for s in split])
        grey, hatch = FILLS[number % len(FILLS)]
        axes.barh(
            range(len(order)),
            lengths,
            left=starts,
            color=grey,
            hatch=hatch,
            edgecolor="black",
            linewidth=0.5,
            label=name,
        )
        starts = starts + lengths
    for row, product in enumerate(order):
        axes.text(starts[row] + 0.08, row, column.shown_text(product), va="center", fontsize=8)
    axes.set_yticks(range(len(order)), [table.catalogue.products[i] for i in order])
    axes.invert_yaxis()
    axes.set_xlabel("points")
    axes.set_title(
        f"{column.output.label}: the first {len(order)} of {int(np.sum(~np.isnan(column.rank)))}, by part",
        loc="left",
        fontsize=9,
    )
    axes.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0), fontsize=8, frameon=False)
