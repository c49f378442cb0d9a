"""The pictures of a study of sensitivity, fed from what it found."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import numpy as np
from matplotlib.figure import Figure

from analysis.figures.indices import convergence_trail, heat_map, index_bars
from analysis.indices.sensitivity import ScoreSensitivity
from analysis.indices.verdict import factor_rows, group_rows, how_far_known, moved_scores, what_moves
from analysis.report.pictures import Picture
from analysis.wording import kind_in_words

#: Lines of a convergence trail.
TRAILS = 8


def sensitivity_pictures(found: ScoreSensitivity) -> tuple[Picture, ...]:
    """Index bars by group and by argument, a heat map of the products, and the convergence trail of one score."""
    indices, shift = found.indices, found.shift
    if not found.swaps or not indices.reacts[shift] or indices.lost[shift]:
        return ()
    groups, factors = group_rows(found), factor_rows(found)
    pictures = [_bars(found, groups, "groups", "by group")]
    if factors:
        pictures.append(_bars(found, factors, "arguments", "by argument"))
    pictures += _heat(found, groups)
    if len(found.trail) > 1:
        pictures.append(_trail(found, groups))
    return tuple(pictures)


def _names(found: ScoreSensitivity, rows: Sequence[int]) -> list[str]:
    return [kind_in_words(found.swaps[row].name) for row in rows]


def _bars(found: ScoreSensitivity, rows: Sequence[int], what: str, by: str) -> Picture:
    output = found.quantities.output
    title = f"{output.label}: what moves the ranking, {by}"
    finding = f"{output.label}: {what_moves(found, rows)}"
    return Picture(f"{output.name}-indices-{what}", title, finding, partial(drawn_indices, found, rows, title))


def drawn_indices(found: ScoreSensitivity, rows: Sequence[int], title: str) -> Figure:
    """First-order and total indices of the mean shift in rank, with their intervals, of some swaps."""
    i, q = found.indices, found.shift
    columns = [a[rows, q] for a in (i.first, i.first_low, i.first_high, i.total, i.total_low, i.total_high)]
    return index_bars(_names(found, rows), *columns, title=title, what="the mean shift in rank")


def _heat(found: ScoreSensitivity, rows: Sequence[int]) -> list[Picture]:
    """Total indices of each product's score; none where no product has a score in every draw."""
    i, at, output = found.indices, found.quantities.family("score"), found.quantities.output
    values = np.where(i.lost[at] > 0, np.nan, i.total[rows][:, at])
    if np.isnan(values).all():
        return []
    title = f"{output.label}: what moves each product's score, published order from the left"
    draw = partial(
        heat_map, _names(found, rows), found.quantities.ids, values, title=title, unit="total index", rows="group"
    )
    return [Picture(f"{output.name}-heat", title, moved_scores(found), draw)]


def _trail(found: ScoreSensitivity, rows: Sequence[int]) -> Picture:
    """Total indices of the mean shift in rank, at every number of base points that the trail stopped at."""
    output, trail = found.quantities.output, found.trail
    order = sorted(rows, key=lambda row: -trail[-1].total[row])[:TRAILS]
    title = f"{output.label}: total indices of the mean shift in rank as the sample doubles"
    draw = partial(
        convergence_trail,
        [step.points for step in trail],
        np.stack([step.total[order] for step in trail]),
        np.stack([step.low[order] for step in trail]),
        np.stack([step.high[order] for step in trail]),
        _names(found, order),
        title=title,
        target_half_width=found.precision.within,
    )
    return Picture(f"{output.name}-convergence", title, f"{output.label}: {how_far_known(found)}", draw)
