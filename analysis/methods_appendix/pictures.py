"""The pictures of studies and comparisons that the appendix holds: one a score and kind, and no others are drawn."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analysis.comparison.comparison import Comparison, ScoreMoves
from analysis.comparison.verdict import told_swaps
from analysis.figures.canvas import figure_bytes
from analysis.figures.moves import rank_changes
from analysis.indices.figures import drawn_indices
from analysis.indices.sensitivity import ScoreSensitivity
from analysis.indices.verdict import group_rows
from analysis.languages.facts import Figure
from analysis.languages.writing import name, runs
from analysis.report.pictures import Picture


def drawn(picture: Picture, called: str) -> Figure:
    """A picture as a figure of the document, under a file name of its own."""
    return Figure(called, (name(picture.title),), picture.finding, picture.svg, picture.png)


def index_picture(one: ScoreSensitivity, finding: str) -> Figure:
    """First-order and total indices of the mean shift in rank, by group."""
    label = one.quantities.output.label
    picture = drawn_indices(one, group_rows(one), f"{label}: what moves the ranking")
    caption = runs(name(label), ": what moves the ranking, with 95 % intervals of the simulation's error.")
    return Figure(
        f"indices-{one.quantities.output.name}",
        caption,
        finding,
        figure_bytes(picture, "svg"),
        figure_bytes(picture, "png"),
    )


def moves_picture(comparison: Comparison, score: ScoreMoves, finding: str) -> Iterator[Figure]:
    """Places before and after, if any place changes."""
    old, new = score.old.rank, score.new.rank
    changed = np.nan_to_num(score.climb) != 0
    if not (changed | (np.isnan(old) != np.isnan(new))).any():
        return
    ranked = np.flatnonzero(~np.isnan(old) | ~np.isnan(new))
    before, after = (f"{form.name} {form.version}".strip() for form in (comparison.old.form, comparison.new.form))
    picture = rank_changes(
        [comparison.called.label(score.products[i]) for i in ranked.tolist()],
        old[ranked],
        new[ranked],
        title=f"{score.label}: places before and after",
        old_title=before,
        new_title=after if after != before else "as it stands here",
        marks=told_swaps(score, ranked),
    )
    caption = runs(name(score.label), ": places before and after.")
    yield Figure(f"moved-{score.name}", caption, finding, figure_bytes(picture, "svg"), figure_bytes(picture, "png"))
