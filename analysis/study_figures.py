"""The figures of a study of sensitivity, fed from its results: file name to bytes, as SVG and PNG."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from matplotlib.figure import Figure

from analysis.figures.canvas import figure_bytes
from analysis.figures.convergence import convergence_trail
from analysis.figures.indices import heat_map, index_bars
from analysis.indices.sensitivity import ScoreSensitivity
from analysis.indices.verdict import group_rows
from analysis.wording import kind_in_words

KINDS = ("svg", "png")
#: Lines of a convergence trail.
TRAILS = 8


def sensitivity_figures(found: ScoreSensitivity) -> dict[str, bytes]:
    """Index bars, a heat map and the convergence trail of one score."""
    return dict(_files(found.quantities.output.name, _of_sensitivity(found)))


def _files(name: str, figures: Iterator[tuple[str, Figure]]) -> Iterator[tuple[str, bytes]]:
    for what, figure in figures:
        for kind in KINDS:
            yield f"{name}-{what}.{kind}", figure_bytes(figure, kind)


def _of_sensitivity(found: ScoreSensitivity) -> Iterator[tuple[str, Figure]]:
    label, i, q = found.quantities.output.label, found.indices, found.shift
    if not found.swaps or not i.reacts[q] or i.lost[q]:
        return
    groups = group_rows(found)
    factors = [row for row, swap in enumerate(found.swaps) if swap.level == "factor"]
    for what, rows in (("groups", groups), ("arguments", factors)):
        if not rows:
            continue
        columns = [a[rows, q] for a in (i.first, i.first_low, i.first_high, i.total, i.total_low, i.total_high)]
        names = [kind_in_words(found.swaps[row].name) for row in rows]
        title = f"{label}: what moves the ranking, by {'group' if what == 'groups' else 'argument'}"
        yield f"indices-{what}", index_bars(names, *columns, title=title, what="the mean shift in rank")
    at = found.quantities.family("score")
    values = np.where(i.lost[at] > 0, np.nan, i.total[groups][:, at])
    if not np.isnan(values).all():
        names = [kind_in_words(found.swaps[row].name) for row in groups]
        title = f"{label}: what moves each product's score, published order from the left"
        yield "heat", heat_map(names, found.quantities.ids, values, title=title, unit="total index", rows="group")
    if len(found.trail) > 1:
        order = sorted(groups, key=lambda row: -found.trail[-1].total[row])[:TRAILS]
        yield (
            "convergence",
            convergence_trail(
                [step.points for step in found.trail],
                np.stack([step.total[order] for step in found.trail]),
                np.stack([step.low[order] for step in found.trail]),
                np.stack([step.high[order] for step in found.trail]),
                [kind_in_words(found.swaps[row].name) for row in order],
                title=f"{label}: total indices of the mean shift in rank as the sample doubles",
                target_half_width=found.precision.within,
            ),
        )
