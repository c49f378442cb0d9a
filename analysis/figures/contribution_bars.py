"""A picture of what scores are made of: a bar a product, split into the points that each part contributes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from analysis.figures.canvas import (
    FILLS,
    SMALL,
    TEXT,
    axes_of,
    blank,
    checked,
    dress,
    in_house_style,
    inches_wide,
    literal,
    one_each,
    something,
)
from analysis.figures.cells import ink_on
from analysis.figures.rows import name_rows, room_for
from scoring.numbers.array_types import Array

ROW_IN = 0.24
PLOT_IN = 6.4
LEAST_IN = 1.0
MOST_ROWS = 200
#: Fixed room around the plot: its axis, and the figure printed behind each bar.
HEAD_IN = 0.87
BEHIND_IN = 0.5
SCORE: Any = {"marker": "|", "color": "black", "markersize": 13, "markeredgewidth": 2.2, "linestyle": "none"}
RIM: Any = {"marker": "|", "color": "white", "markersize": 14.5, "markeredgewidth": 4.6, "linestyle": "none"}
START: Any = {"marker": "D", "color": "black", "markerfacecolor": "white", "markersize": 4.2, "linestyle": "none"}
TAKEN: Any = {"facecolor": (1, 1, 1, 0.72), "edgecolor": "black", "linewidth": 0.9, "linestyle": (0, (2, 1.4))}


@dataclass(frozen=True, slots=True, eq=False)
class Split:
    """Scores and their parts, in the order drawn.

    start: shape (products,), what the shares are counted from; shares: shape (products, parts), NaN where a score does not
    split; limits: shape (products,), what limits take off or add after the blend; values and texts: the scores, and as
    they are printed; marks: what is written beside each place.
    """

    products: Sequence[str]
    places: Sequence[str]
    parts: Sequence[str]
    start: Array
    shares: Array
    limits: Array
    values: Array
    texts: Sequence[str]
    marks: Sequence[str]


@in_house_style
def contribution_bars(
    split: Split,
    *,
    title: str,
    unit: str,
    signs: str = "",
    note: str = "",
    absent: str = "",
    start_words: str = "start",
) -> Figure:
    """A bar a product, best on top; the first 200 of a longer table, which a note says.

    Parameters
    ----------
    title : what is shown, above the figure
    unit : of the scores
    signs : what the marks mean
    absent : which products are not drawn, for a line of its own at the foot
    start_words : what the shares are counted from, for the key; it is marked where that is not 0 throughout

    Raises
    ------
    ValueError : no product or no part; arrays that do not fit
    """
    count = len(split.products)
    something("the list of products", count)
    something("the list of parts", len(split.parts))
    checked((count, len(split.parts)), shares=split.shares)
    checked((count,), start=split.start, limits=split.limits, values=split.values)
    one_each("texts", split.texts, count)
    one_each("marks", split.marks, count)
    rows = range(min(count, MOST_ROWS))
    names = [literal(split.products[i]) for i in rows]
    places, marks = split.places[: len(names)], split.marks[: len(names)]
    tall = max(len(names) * ROW_IN, LEAST_IN)
    figure = blank(PLOT_IN + room_for(names, places, marks) + 0.25, tall + HEAD_IN)
    (axes,) = axes_of(figure, 1, 1)
    ends = _draw_parts(axes, split, rows)
    name_rows(axes, names, places, rows, marks=marks)
    _set_axes(axes, len(names), ends, unit)
    _print_points(axes, split, rows)
    _draw_limits_and_scores(axes, split, rows, ends)
    beyond = f"the first {len(names)} of {count} products" if len(names) < count else ""
    key = _key(split, start_words)
    note = "; ".join(part for part in (beyond, note) if part)
    dress(figure, title, key=key, signs=signs, note=f"{note}\n{absent}".strip())
    return figure


def _lefts(split: Split) -> Array:
    """Where each part's stretch begins: gains run on to the right of the start, losses to the left of it."""
    shares = np.nan_to_num(split.shares)
    gains, losses = np.maximum(shares, 0), np.minimum(shares, 0)
    up = np.cumsum(gains, axis=1) - gains
    down = np.cumsum(losses, axis=1) - losses
    return np.asarray(split.start[:, None] + np.where(shares >= 0, up, down))


def _draw_parts(axes: Axes, split: Split, rows: range) -> Array:
    """The stretches of every part; returned, shape (2, products), how far left and right each product's marks reach."""
    lefts, at = _lefts(split), np.array(rows)
    for part in range(len(split.parts)):
        grey, hatch = FILLS[part % len(FILLS)]
        lengths = np.nan_to_num(split.shares[at, part])
        some = lengths != 0
        axes.barh(
            at[some],
            lengths[some],
            left=lefts[at[some], part],
            height=0.78,
            color=grey,
            hatch=hatch,
            edgecolor="black",
            linewidth=0.5,
        )
    rights = lefts + np.nan_to_num(split.shares)
    reach = np.concatenate([lefts, rights, split.start[:, None], split.values[:, None]], axis=1)
    return np.stack([reach.min(axis=1), reach.max(axis=1)])


def _set_axes(axes: Axes, count: int, ends: Array, unit: str) -> None:
    """Products at the left, points at the foot and on top."""
    low, high = float(ends[0].min()), float(ends[1].max())
    span = (high - low) or 1.0
    axes.set_xlim(low - (0.02 * span if low != 0 else 0), high + span * BEHIND_IN / (PLOT_IN - BEHIND_IN))
    axes.set_ylim(count - 0.4, -0.6)
    axes.tick_params(axis="x", labelsize=TEXT, top=True, labeltop=True)
    axes.grid(axis="x", color="0.85", linewidth=0.6)
    axes.set_axisbelow(True)
    axes.set_xlabel(literal(unit, 80), fontsize=TEXT)


def _print_points(axes: Axes, split: Split, rows: range) -> None:
    """The points of each stretch where they are clear of other marks, in ink that stands out, on white where hatched."""
    middles = _lefts(split) + split.shares / 2
    low, high = axes.get_xlim()
    inch = (high - low) / (0.93 * PLOT_IN)
    for row in rows:
        held = float(split.values[row]) if split.limits[row] < 0 else np.inf
        marks = [split.values[row], *([split.start[row]] if _has_start(split) else [])]
        for part, share in enumerate(split.shares[row]):
            text = f"{share:z.1f}" if not np.isnan(share) else ""
            middle, half = middles[row, part], inch * (inches_wide([text], SMALL) / 2 + 0.035)
            clear = half < abs(share) / 2 and middle + abs(share) / 2 <= held + 1e-9
            if not text or not clear or any(abs(mark - middle) < half + 0.03 * inch for mark in marks):
                continue
            grey, hatch = FILLS[part % len(FILLS)]
            patch = {"facecolor": "white", "edgecolor": "none", "pad": 0.5} if hatch else None
            axes.text(
                middle,
                row,
                text,
                fontsize=SMALL,
                ha="center",
                va="center_baseline",
                color="black" if hatch else ink_on(float(grey)),
                bbox=patch,
                in_layout=False,
            )


def _draw_limits_and_scores(axes: Axes, split: Split, rows: range, ends: Array) -> None:
    """What limits take off, paled; the start where it is not 0; the score as a stroke, and printed."""
    at = np.array(rows)
    blended = split.start + np.nansum(split.shares, axis=1)
    bites = at[np.nan_to_num(split.limits[at]) != 0]
    axes.barh(bites, split.limits[bites], left=blended[bites], height=0.92, zorder=3, **TAKEN)
    if _has_start(split):
        axes.plot(split.start[at], at, zorder=4, **START)
    for look in (RIM, SCORE):
        axes.plot(split.values[at], at, zorder=4, **look)
    for row in rows:
        axes.annotate(
            literal(split.texts[row], 12),
            (ends[1, row], row),
            (6, 0),
            textcoords="offset points",
            fontsize=TEXT,
            fontweight="bold",
            va="center_baseline",
        )


def _has_start(split: Split) -> bool:
    return bool((np.nan_to_num(split.start) != 0).any())


def _key(split: Split, start_words: str) -> list[tuple[Artist, str]]:
    """Every part's fill; then the score, and what limits take."""
    key: list[tuple[Artist, str]] = []
    for part, name in enumerate(split.parts):
        grey, hatch = FILLS[part % len(FILLS)]
        key.append((Patch(facecolor=grey, hatch=hatch, edgecolor="black", linewidth=0.5), literal(name)))
    key.append((Line2D([], [], **SCORE), "score"))
    if _has_start(split):
        key.append((Line2D([], [], **START), literal(start_words, 80)))
    if (split.limits < 0).any():
        key.append((Patch(**TAKEN), "taken off by a limit"))
    if (split.limits > 0).any():
        key.append((Patch(**TAKEN), "added by a limit"))
    return key
