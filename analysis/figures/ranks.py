"""Pictures of how sure the order of products is: the places each takes, with what chance, and who beats whom how often."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import ArrayLike

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
    ordered,
    place_ticks,
    shortened,
    something,
    wrapped,
)
from analysis.figures.cells import CellTable, cell_figure
from scoring.numbers.array_types import Array

ROW_IN = 0.2
PLOT_IN = 4.6
ROWS_A_PANEL = 80
LETTER_GAP_IN = 0.025
FULL: Any = {"color": "0.35", "linewidth": 0.8}
MIDDLE: Any = {"color": "0.72", "linewidth": 5.0}
MEDIAN: Any = {"marker": "o", "markersize": 4.6, "markerfacecolor": "white", "markeredgecolor": "black"}
PUBLISHED: Any = {"marker": "|", "markersize": 10, "markeredgewidth": 1.7, "color": "black"}
BRACKETS: Any = (((0.35, -1), (-0.2, -1), (-0.2, 1), (0.35, 1)), ((-0.35, -1), (0.2, -1), (0.2, 1), (-0.35, 1)))
BRACKET: Any = {"markersize": 10, "markerfacecolor": "none", "markeredgecolor": "0.25", "markeredgewidth": 0.9}


@dataclass(frozen=True, slots=True, eq=False)
class _Ranges:
    """The rows of a figure of rank ranges, in the order drawn.

    `marks`, shape (6, p): published place, median, 5 %, 95 %, lowest, highest. `sets`, shape (2, p): low and high ends.
    """

    names: list[str]
    marks: Array
    sets: Array | None
    groups: list[list[str]] | None

    def part(self, rows: slice) -> _Ranges:
        """Some of the rows."""
        sets = None if self.sets is None else self.sets[:, rows]
        return _Ranges(self.names[rows], self.marks[:, rows], sets, self.groups[rows] if self.groups else None)


@in_house_style
def rank_ranges(
    names: Sequence[str],
    published: ArrayLike,
    median: ArrayLike,
    low5: ArrayLike,
    high95: ArrayLike,
    lowest: ArrayLike,
    highest: ArrayLike,
    *,
    title: str,
    sets: tuple[ArrayLike, ArrayLike] | None = None,
    groups: Sequence[Sequence[str]] | None = None,
    caveat: str = "",
    most: int = 3 * ROWS_A_PANEL,
) -> Figure:
    """The places that each product takes over all draws, a row a product in published order.

    Parameters
    ----------
    names : p product names
    published : array_like, shape (p,), place from 1; NaN where a product has none (drawn last)
    median, low5, high95, lowest, highest : array_like, shape (p,), places over the draws; NaN where there are none
    title : what is shown, above the figure
    sets : the low and high ends, shape (p,) each, of a confidence set for each product's place, drawn as brackets
    groups : p sequences of letters; products that share one cannot be told apart. A letter keeps its column
    caveat : what is to be said with sets and groups
    most : the number of products drawn, in columns of 80 at most; a note says how many there are beyond

    Raises
    ------
    ValueError
        No product, or none with a place; another shape; an infinite value; a range with its ends swapped.
    """
    count = len(names)
    something("the list of products", count)
    given = {"published": published, "median": median, "low5": low5, "high95": high95}
    arrays = checked((count,), **given, lowest=lowest, highest=highest)
    if all(np.isnan(places).all() for places in arrays):
        raise ValueError("nothing to draw: no product has a place")
    ordered("low5", arrays[2], "high95", arrays[3])
    ordered("lowest", arrays[4], "highest", arrays[5])
    order = np.argsort(arrays[0], kind="stable")[: max(most, 1)]
    pair = None
    if sets is not None:
        low, high = checked((count,), set_low=sets[0], set_high=sets[1])
        ordered("set_low", low, "set_high", high)
        pair = np.stack([low, high])[:, order]
    if groups is not None:
        one_each("groups", groups, count)
    letters = None if groups is None else [[literal(g, 6) for g in groups[i]] for i in order]
    rows = _Ranges([literal(names[i]) for i in order], np.stack(arrays)[:, order], pair, letters)
    last = float(np.nanmax(np.concatenate([[count], *rows.marks, *(() if pair is None else pair)])))
    figure = _ranges_figure(rows, last)
    note = [f"the first {len(order)} of {count} products by published place"] if len(order) < count else []
    note += ["products that share a letter cannot be told apart"] if groups is not None else []
    note += [caveat] if caveat else []
    dress(figure, title, key=_ranges_key(pair is not None), note="; ".join(note))
    return figure


def _ranges_figure(rows: _Ranges, last: float) -> Figure:
    """The rows in as many columns as their number asks for."""
    count = len(rows.names)
    panels = math.ceil(count / ROWS_A_PANEL)
    deep = math.ceil(count / panels)
    numbers = [_place(place) for place in rows.marks[0]]
    columns = sorted({letter for letters in rows.groups or () for letter in letters}, key=lambda g: (len(g), g))
    pitch = inches_wide(columns, SMALL) + LETTER_GAP_IN
    side = max(len(columns) * pitch, 0.35) + 0.15 if columns else 0.1
    pad = inches_wide(numbers, TEXT) + 0.16
    tall = max(deep * ROW_IN, 0.9)
    figure = blank(panels * (PLOT_IN + side + pad + inches_wide(rows.names, TEXT)), tall + 0.85)
    for number, axes in enumerate(axes_of(figure, 1, panels)):
        part = slice(number * deep, (number + 1) * deep)
        _draw_ranges(axes, rows.part(part))
        axes.set_yticks(range(len(rows.names[part])), rows.names[part], fontsize=TEXT)
        axes.tick_params(axis="y", length=0, pad=72 * pad)
        for row, number_ in enumerate(numbers[part]):
            _write_beside(axes, number_, row, -0.07, "right", TEXT)
        axes.set_ylim(deep - 0.4, -0.6)
        axes.set_ylabel(wrapped("product, and its published place", tall, TEXT), fontsize=TEXT)
        _set_places(axes, last)
        _write_groups(axes, rows.part(part).groups, columns, pitch)
    return figure


def _place(place: float) -> str:
    """A place as it is printed: "4", "2.5" where it is shared, a dash where there is none."""
    return "–" if math.isnan(place) else f"{place:.10g}"


def _draw_ranges(axes: Axes, rows: _Ranges) -> None:
    """Whole range, middle nine tenths, median, published place, confidence set."""
    published, median, low5, high95, lowest, highest = rows.marks
    at = np.arange(len(rows.names))
    axes.hlines(at, 0, 1, transform=axes.get_yaxis_transform(), color="0.92", linewidth=0.6, zorder=0)
    for low, high, look in ((low5, high95, MIDDLE), (lowest, highest, FULL)):
        known = ~np.isnan(low) & ~np.isnan(high)
        if known.any():
            axes.hlines(at[known], low[known], high[known], zorder=2, **look)
    axes.plot(published, at, linestyle="none", zorder=4, **PUBLISHED)
    axes.plot(median, at, linestyle="none", zorder=5, **MEDIAN)
    for ends, shape in zip(() if rows.sets is None else rows.sets, BRACKETS, strict=False):
        axes.plot(ends, at, linestyle="none", marker=shape, zorder=3, **BRACKET)
    for row in np.flatnonzero(np.isnan(median) & np.isnan(lowest)):
        axes.annotate(
            "no place",
            (0.01, row),
            xycoords=axes.get_yaxis_transform(),
            fontsize=SMALL,
            va="center_baseline",
            style="italic",
            color="0.3",
        )


def _set_places(axes: Axes, last: float) -> None:
    """The axis of places, the first at the left, on top and at the foot."""
    axes.set_xlim(0.4, last + 0.6)
    axes.set_xticks(place_ticks(last))
    axes.tick_params(axis="x", labelsize=TEXT, top=True, labeltop=True)
    axes.grid(axis="x", color="0.88", linewidth=0.6)
    axes.set_axisbelow(True)
    axes.spines["top"].set_visible(True)
    axes.set_xlabel("place (1 is best)", fontsize=TEXT)


def _write_groups(axes: Axes, groups: list[list[str]] | None, columns: list[str], pitch_in: float) -> None:
    """The letters of each product at the right, each letter in a column of its own."""
    if groups:
        axes.annotate("groups", (1, 1), (6, 4), xycoords="axes fraction", textcoords="offset points", fontsize=SMALL)
    for row, letters in enumerate(groups or ()):
        for letter in letters:
            _write_beside(axes, letter, row, 0.08 + pitch_in * (columns.index(letter) + 0.5), "center", SMALL)


def _write_beside(
    axes: Axes, text: str, row: int, away_in: float, side: Literal["right", "center"], size: float
) -> None:
    """A text beside a row: so far to the right of the right edge, or, where negative, to the left of the left one."""
    axes.annotate(
        text,
        (1 if away_in > 0 else 0, row),
        (72 * away_in, 0),
        xycoords=axes.get_yaxis_transform(),
        textcoords="offset points",
        fontsize=size,
        ha=side,
        va="center_baseline",
        annotation_clip=False,
    )


def _ranges_key(sets: bool) -> list[tuple[Artist, str]]:
    """What each mark means."""
    key: list[tuple[Artist, str]] = [
        (Line2D([], [], linestyle="none", **PUBLISHED), "published place"),
        (Line2D([], [], linestyle="none", **MEDIAN), "median"),
        (Line2D([], [], **MIDDLE), "5 % to 95 %"),
        (Line2D([], [], **FULL), "lowest to highest"),
    ]
    bracket = BRACKETS[0]
    return [*key, (Line2D([], [], linestyle="none", marker=bracket, **BRACKET), "confidence set")] if sets else key


@in_house_style
def pairwise_matrix(
    names: Sequence[str], chance: ArrayLike, *, title: str, lacking: ArrayLike | None = None, most: int = 30
) -> Figure:
    """The chance that the product of a row beats the product of a column, in percent.

    Parameters
    ----------
    names : p product names, in published order
    chance : array_like, shape (p, p), from 0 to 1; NaN where there is none (hatched). The diagonal is not looked at
    title : what is shown, above the figure
    lacking : array_like, shape (p, p), from 0 to 1: the share of draws in which either has no score, which the chance is
        not about; where it is not 0 it is printed in brackets under the chance
    most : the number of products drawn, from the first; a note says how many there are

    Raises
    ------
    ValueError
        Fewer than two products; another shape; a chance or share out of 0 to 1; no chance at all.
    """
    count = len(names)
    something("the list of products", count)
    whole, without = checked(
        (count, count), chance=chance, lacking=np.zeros((count, count)) if lacking is None else lacking
    )
    for name, shares in (("chance", whole), ("lacking", without)):
        if ((shares < 0) | (shares > 1)).any():
            raise ValueError(f"{name} holds a value out of 0 to 1")
    shown = min(max(most, 2), count)
    percent = 100 * whole[:shown, :shown]
    np.fill_diagonal(percent, np.nan)
    if np.isnan(percent).all():
        raise ValueError("nothing to draw: chance holds no figure beside the diagonal")
    without = np.where(np.isnan(percent), 0.0, 100 * without[:shown, :shown])
    cells = CellTable(
        values=percent,
        texts=[[_pair(*both) for both in zip(*rows, strict=True)] for rows in zip(percent, without, strict=True)],
        row_names=names[:shown],
        column_names=names[:shown],
        rows="product that beats (published order)",
        columns="product that is beaten (published order)",
        unit="chance that the row beats the column, %",
        low=0.0,
        high=100.0,
        bare=np.eye(shown, dtype=bool),
    )
    notes = [f"the first {shown} of {count} products"] if shown < count else []
    notes += (
        ["in brackets: % of draws in which either has no score; the chance is over the others"] if without.any() else []
    )
    return cell_figure(cells, title, "; ".join(notes))


def _pair(chance: float, lacking: float) -> str:
    """A chance in percent, and under it the percentage of draws that it is not about."""
    return f"{_percent(chance)}\n({_percent(lacking)})" if lacking else _percent(chance)


def _percent(value: float) -> str:
    """A whole percentage; one that is neither 0 nor 100 is not printed as if it were."""
    if 0 < value < 0.5 or 99.5 <= value < 100:
        return "<1" if value < 50 else ">99"
    return f"{value:.0f}"


WIDTH_IN = 7.2
HEIGHT_IN = 4.6
#: What the axes leave of the figure's width and height, by the size of the words beside them.
INSIDE = (0.9, 0.85)
#: Places where the products drawn one by one have less than this together are cut off at the right.
LEAST_CHANCE = 0.01
LABEL_IN = 0.135
LONGEST_LABEL = 22
OTHERS = ("1.0", "")
AREAS = tuple(fill for fill in FILLS if fill != OTHERS)


@in_house_style
def acceptability_areas(names: Sequence[str], chances: ArrayLike, *, title: str, most: int = 12) -> Figure:
    """Who may take each place: the chances of the products stacked up, place by place.

    Parameters
    ----------
    names : p product names, in published order
    chances : array_like, shape (p, places), from 0 to 1
        The chance of product i to take place r: the rank acceptability index of stochastic multicriteria acceptability
        analysis [Lahdelma and Salminen, SMAA-2, 2001; from memory].
    title : what is shown, above the figure
    most : the number of products with an area of their own, from the first; the others share one. 15 at most

    Raises
    ------
    ValueError
        No product or no place; another shape; a chance that is missing or out of 0 to 1; `most` out of 1 to 15.

    Notes
    -----
    Where products can share a place, the chances of one place may add up to more than 1; the axis then reaches further.
    """
    something("the list of products", len(names))
    places = np.shape(chances)[1] if np.ndim(chances) == 2 else 0
    something("the list of places", places)
    (b,) = checked((len(names), places), chances=chances)
    if not ((b >= 0) & (b <= 1)).all():
        raise ValueError("chances holds a value that is missing or out of 0 to 1")
    if not 1 <= most <= len(AREAS):
        raise ValueError(f"most is {most}, must be from 1 to {len(AREAS)}")
    labels, fills = [shortened(name) for name in names[:most]], list(AREAS[: len(names[:most])])
    heights = b[:most]
    if len(names) > most:
        heights = np.vstack([heights, b[most:].sum(axis=0)])
        labels.append(f"all {len(names) - most} others")
        fills.append(OTHERS)
    last = _last_place(heights[:most])
    note = _beyond(heights[:, last:], last, places) if last < places else ""
    figure = blank(WIDTH_IN, HEIGHT_IN)
    (axes,) = axes_of(figure, 1, 1)
    edges = np.vstack([np.zeros(last), np.cumsum(heights[:, :last], axis=0)])
    top = max(1.0, float(edges[-1].max()))
    unlabelled = _draw_areas(axes, edges, top, labels, fills)
    _set_axes(axes, last, top)
    dress(figure, title, key=unlabelled, note=note)
    return figure


def _last_place(heights: Array) -> int:
    """The last place worth drawing: beyond it the products with areas of their own have next to nothing."""
    return int(np.flatnonzero(heights.sum(axis=0) >= LEAST_CHANCE).max(initial=0)) + 1


def _beyond(heights: Array, last: int, places: int) -> str:
    """What is left out at the right, in words: what the products drawn one by one have there at most."""
    bound = (math.floor(1000 * float(heights[:-1].sum(axis=0).max())) + 1) / 10
    where = f"place {places}" if places == last + 1 else f"places {last + 1} to {places}"
    return f"not drawn: {where}, where the products named have a chance below {bound:g} % in all"


def _draw_areas(
    axes: Axes, edges: Array, top: float, labels: Sequence[str], fills: Sequence[tuple[str, str]]
) -> list[tuple[Artist, str]]:
    """The areas from the foot up, each with its name where it is thick enough; the key of those without."""
    key: list[tuple[Artist, str]] = []
    places = edges.shape[1]
    room = (INSIDE[0] * WIDTH_IN / places, INSIDE[1] * HEIGHT_IN / top)
    for number, (label, (grey, hatch)) in enumerate(zip(labels, fills, strict=True)):
        look: Any = {"facecolor": grey, "hatch": hatch, "edgecolor": "black", "linewidth": 0.5}
        axes.stairs(edges[number + 1], np.arange(places + 1) + 0.5, baseline=edges[number], fill=True, **look)
        if not _write_inside(axes, shortened(label, LONGEST_LABEL), edges[number], edges[number + 1], room):
            key.append((Patch(**look), literal(label)))
    return key


def _write_inside(axes: Axes, label: str, lower: Array, upper: Array, room: tuple[float, float]) -> bool:
    """Whether a name could be written inside an area, across or else upright; `room` is inches a place and a chance of 1."""
    long = inches_wide([label], SMALL) + 0.08
    for turn, (wide, tall) in ((0, (long, LABEL_IN)), (90, (LABEL_IN, long))):
        spot = _thickest(lower, upper, wide / room[0], tall / room[1])
        if spot is not None:
            pad: Any = {"facecolor": "white", "edgecolor": "none", "pad": 1.0}
            axes.text(
                *spot, literal(label), fontsize=SMALL, rotation=turn, ha="center", va="center", bbox=pad, zorder=3
            )
            return True
    return False


def _thickest(lower: Array, upper: Array, wide: float, tall: float) -> tuple[float, float] | None:
    """The middle of the roomiest box of a width (places) and height (chance) inside an area; None where none fits."""
    span = int(np.ceil(wide))
    if span > len(lower):
        return None
    floor, ceiling = sliding_window_view(lower, span).max(axis=1), sliding_window_view(upper, span).min(axis=1)
    start = int(np.argmax(ceiling - floor))
    if ceiling[start] - floor[start] < tall:
        return None
    return start + 0.5 + span / 2, float(ceiling[start] + floor[start]) / 2


def _set_axes(axes: Axes, places: int, top: float) -> None:
    """Places along, chances up."""
    axes.set_xlim(0.5, places + 0.5)
    axes.set_ylim(0, top)
    axes.set_xticks(place_ticks(places))
    axes.tick_params(labelsize=TEXT)
    axes.set_xlabel("place (1 is best)", fontsize=TEXT)
    axes.set_ylabel("chance of the place, products stacked from the first at the foot", fontsize=TEXT)
