"""The figures of both studies, fed from their results: file name to bytes, as SVG and PNG."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from matplotlib.figure import Figure

from analysis.figures.acceptability import acceptability_areas
from analysis.figures.canvas import figure_bytes
from analysis.figures.convergence import convergence_trail
from analysis.figures.indices import heat_map, index_bars
from analysis.figures.ranks import pairwise_matrix, rank_ranges
from analysis.indices.sensitivity import ScoreSensitivity
from analysis.indices.verdict import group_rows
from analysis.rankings.stability import RankStability, ScoreStability
from analysis.rankings.told_apart import ToldApart
from analysis.wording import kind_in_words

KINDS = ("svg", "png")
SOURCES = {"judgement": "judgement alone", "bench": "bench noise alone", "both": "judgement and bench noise"}
#: Lines of a convergence trail.
TRAILS = 8


def sensitivity_figures(found: ScoreSensitivity) -> dict[str, bytes]:
    """Index bars, a heat map and the convergence trail of one score."""
    return dict(_files(found.quantities.output.name, _of_sensitivity(found)))


def stability_figures(found: ScoreStability, bench: ToldApart | None) -> dict[str, bytes]:
    """Rank ranges, acceptability and the pairwise chances of one score, for each source."""
    return dict(_files(found.quantities.output.name, _of_stability(found, bench)))


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


def _of_stability(found: ScoreStability, bench: ToldApart | None) -> Iterator[tuple[str, Figure]]:
    for source, one in found.by_source.items():
        yield f"ranks-{source}", _ranges(found, one, bench)
        title = f"{found.quantities.output.label}: chance of each place, {SOURCES[source]}"
        yield f"places-{source}", acceptability_areas(found.quantities.ids, one.acceptability, title=title)
        if len(found.quantities.ids) > 1 and source == list(found.by_source)[-1]:
            title = f"{found.quantities.output.label}: chance that the row stands above the column, {SOURCES[source]}"
            yield f"pairs-{source}", pairwise_matrix(found.quantities.ids, one.beats, lacking=one.lacking, title=title)


def _ranges(found: ScoreStability, one: RankStability, bench: ToldApart | None) -> Figure:
    title = f"{found.quantities.output.label}: places over {one.n_draws} draws, {SOURCES[one.source]}"
    title += "; sets and groups: bench noise alone, joint" if bench is not None else ""
    return rank_ranges(
        found.quantities.ids,
        found.quantities.published,
        one.median,
        one.low,
        one.high,
        one.lowest,
        one.highest,
        title=title,
        sets=None if bench is None else (bench.sets.low, bench.sets.high),
        groups=None if bench is None else bench.groups.letters,
    )
