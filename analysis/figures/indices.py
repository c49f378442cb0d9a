"""Pictures of sensitivity indices: bars by factor, a table of factors by products, and how they settle as points are added."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from numpy.typing import ArrayLike

from analysis.figures.canvas import (
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
    settle,
    something,
    spread,
    whiskers,
    wrapped,
)
from analysis.figures.cells import CellTable, cell_figure
from scoring.numbers.array_types import Array

BAR_ROW_IN = 0.34
TOTAL: Any = {"facecolor": "0.62", "edgecolor": "black", "linewidth": 0.5}
FIRST: Any = {"facecolor": "1.0", "edgecolor": "black", "linewidth": 0.5, "hatch": "//////"}
#: The two indices in the words of the printed table, and by name.
TOTAL_WORDS, FIRST_WORDS = "with interactions (total index)", "alone (first-order index)"


@in_house_style
def index_bars(
    names: Sequence[str],
    first: ArrayLike,
    first_low: ArrayLike,
    first_high: ArrayLike,
    total: ArrayLike,
    total_low: ArrayLike,
    total_high: ArrayLike,
    *,
    title: str,
    what: str,
    reasons: Sequence[str | None] | None = None,
    most: int = 30,
) -> Figure:
    """First-order and total indices as paired bars with intervals, the largest total on top.

    Parameters
    ----------
    names : k factor names
    first, first_low, first_high : array_like, shape (k,), share of the variance; NaN where there is none
        The first-order indices and the ends of their intervals. An interval need not hold its estimate.
    total, total_low, total_high : array_like, shape (k,), likewise for the total indices
    title : what is shown, above the figure
    what : whose variance is shared out, for the axis
    reasons : k words for factors without a figure ("does not react"), or None for "no figure"
    most : the number of factors drawn; a note sums up those beyond it

    Raises
    ------
    ValueError
        No factor; another shape; an infinite value; an interval with its ends swapped.
    """
    count = len(names)
    something("the list of factors", count)
    f, f_low, f_high = checked((count,), first=first, first_low=first_low, first_high=first_high)
    t, t_low, t_high = checked((count,), total=total, total_low=total_low, total_high=total_high)
    ordered("first_low", f_low, "first_high", f_high)
    ordered("total_low", t_low, "total_high", t_high)
    if reasons is not None:
        one_each("reasons", reasons, count)
    order = np.argsort(-t, kind="stable")
    words = [word or "no figure" for word in (reasons or [None] * count)]
    shown, rest = order[: max(most, 1)], order[max(most, 1) :]
    labels = [literal(names[i]) for i in shown]
    tall = max(BAR_ROW_IN * len(shown), 1.0)
    figure = blank(inches_wide(labels, TEXT) + 5.8, tall + 0.6)
    (axes,) = axes_of(figure, 1, 1)
    ends = (f[shown], f_low[shown], f_high[shown], t[shown], t_low[shown], t_high[shown])
    _set_share_axis(axes, np.concatenate(ends), what)
    _draw_bars(axes, t[shown], t_low[shown], t_high[shown], -0.2, TOTAL)
    _draw_bars(axes, f[shown], f_low[shown], f_high[shown], 0.2, FIRST)
    _write_reasons(axes, f[shown], t[shown], [words[i] for i in shown])
    axes.set_yticks(range(len(shown)), labels, fontsize=TEXT)
    axes.set_ylabel(wrapped("factor, by its total index", tall, TEXT), fontsize=TEXT)
    axes.spines["left"].set_visible(False)
    axes.set_ylim(len(shown) - 0.45, -0.55)
    key: list[tuple[Artist, str]] = [(Patch(**TOTAL), TOTAL_WORDS), (Patch(**FIRST), FIRST_WORDS)]
    known = ~np.isnan(np.concatenate([f_low[shown] + f_high[shown], t_low[shown] + t_high[shown]]))
    if known.any():
        key.append(
            (Line2D([], [], color="black", marker="|", linewidth=0.9), "95 % interval of the simulation's error")
        )
    dress(figure, title, key=key, note=_rest_of_bars(t[rest], [words[i] for i in rest]))
    return figure


def _set_share_axis(axes: Axes, values: Array, what: str) -> None:
    """The axis of shares: it holds 0 and every value, and leaves room for a printed figure at the right."""
    known = np.append(values[~np.isnan(values)], 0.0)
    low, high = float(known.min()), float(known.max())
    span = (high - low) or 1.0
    axes.set_xlim(low - (0.02 * span if low < 0 else 0.0), low + 1.09 * span)
    axes.axvline(0, color="black", linewidth=0.8, zorder=2.5)
    axes.grid(axis="x", color="0.88", linewidth=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(axis="y", length=0)
    axes.set_xlabel(f"share of the variance of {literal(what, 60)}", fontsize=TEXT)
    axes.tick_params(axis="x", labelsize=TEXT)


def _draw_bars(axes: Axes, values: Array, low: Array, high: Array, shift: float, look: dict[str, Any]) -> None:
    """One bar a factor where it has a figure, its interval, and the figure to the right of both."""
    at = np.arange(len(values), dtype=float) + shift
    known = ~np.isnan(values)
    axes.barh(at[known], values[known], height=0.4, **look)
    whiskers(axes, at[known], low[known], high[known], size=4.5)
    for row in np.flatnonzero(known):
        end = float(np.nanmax([values[row], high[row], 0.0]))
        text, place = _share(values[row]), (end, at[row])
        axes.annotate(text, place, (4, 0), textcoords="offset points", fontsize=SMALL, va="center_baseline")


def _share(value: float) -> str:
    """A share in hundredths; one that would read as nothing says that it is little."""
    return "<0.01" if 0 < value < 0.005 else f"{value:z.2f}"


def _write_reasons(axes: Axes, first: Array, total: Array, words: Sequence[str]) -> None:
    """Why a bar is not there, in its place: once a factor where both are missing."""
    for row, word in enumerate(words):
        missing = [shift for value, shift in ((total[row], -0.2), (first[row], 0.2)) if np.isnan(value)]
        for shift in [0.0] if len(missing) == 2 else missing:
            axes.annotate(
                literal(word, 60),
                (0, row + shift),
                (4, 0),
                textcoords="offset points",
                fontsize=TEXT if len(missing) == 2 else SMALL,
                va="center_baseline",
                style="italic",
                color="0.3",
            )


def _rest_of_bars(total: Array, words: Sequence[str]) -> str:
    """What the factors that are not drawn amount to, in words; nothing where all are drawn."""
    known = total[~np.isnan(total)]
    parts = [f"and {known.size} more, {_each_below(known)}"] if known.size else []
    without = Counter(word for word, value in zip(words, total, strict=True) if np.isnan(value))
    parts += [f"and {number} more: {word}" for word, number in without.items()]
    return "; ".join(parts)


def _each_below(values: Array) -> str:
    """The least bound in hundredths that every value is under, in words."""
    bound = (math.floor(float(values.max()) * 100) + 1) / 100
    return f"{'each ' if values.size > 1 else ''}with a total index below {bound:z.2f}"


@in_house_style
def heat_map(
    row_names: Sequence[str],
    column_names: Sequence[str],
    values: ArrayLike,
    *,
    title: str,
    unit: str,
    rows: str = "factor",
    columns: str = "product",
    most_rows: int = 60,
    most_columns: int = 60,
) -> Figure:
    """A table of figures as greys, with the figures printed where the cells are wide enough.

    Parameters
    ----------
    row_names, column_names : k and p names
    values : array_like, shape (k, p), in `unit`; NaN where there is no figure (hatched)
    title : what is shown, above the figure
    unit : what the grey stands for, beside its scale
    rows, columns : what a row and a column are
    most_rows, most_columns : how many of each are drawn; a note says how many there are beyond

    Raises
    ------
    ValueError
        No row or no column; another shape; an infinite value; no figure in any cell.
    """
    something("the list of rows", len(row_names))
    something("the list of columns", len(column_names))
    (whole,) = checked((len(row_names), len(column_names)), values=values)
    table = whole[: max(most_rows, 1), : max(most_columns, 1)]
    if np.isnan(table).all():
        raise ValueError("nothing to draw: values holds no figure, only NaN")
    low, high = min(0.0, float(np.nanmin(table))), float(np.nanmax(table))
    high = high if high > low else low + 1.0
    cells = CellTable(
        values=table,
        texts=_decimals(table),
        row_names=row_names[: table.shape[0]],
        column_names=column_names[: table.shape[1]],
        rows=rows,
        columns=columns,
        unit=unit,
        low=low,
        high=high if high > low else low + 1.0,
    )
    return cell_figure(cells, title, _beyond(whole, table, rows, columns))


def _decimals(table: Array) -> list[list[str]]:
    """The figures with so many decimals that the largest shows two digits or more."""
    largest = float(np.nanmax(np.abs(table)))
    size = math.floor(math.log10(largest)) if largest > 0 else 0
    decimals = min(max(1 - size + (size >= 0), 0), 6)
    return [[f"{value:z.{decimals}f}" for value in row] for row in table]


def _beyond(whole: Array, table: Array, rows: str, columns: str) -> str:
    """How much of a table is not drawn, in words."""
    pairs = zip((rows, columns), table.shape, whole.shape, strict=True)
    return "; ".join(f"the first {drawn} of {all_} {what}s" for what, drawn, all_ in pairs if drawn < all_)


MARKS = ("o", "s", "^", "D", "v", "P", "X", "*")
DASHES = ("-", "--", "-.", ":", (0, (7, 2)), (0, (3, 1, 1, 1, 1, 1)), (0, (1, 2.5)), (0, (9, 2, 2, 2)))
#: An upright stroke with two ends, for the key.
INTERVAL: Any = {
    "marker": ((-0.35, -1), (0.35, -1), (0, -1), (0, 1), (-0.35, 1), (0.35, 1)),
    "markersize": 10,
    "markerfacecolor": "none",
    "markeredgecolor": "black",
    "markeredgewidth": 0.9,
}
#: The lines' marks stand side by side over this part of the gap between levels, and over this part of the axis at most.
SIDE_BY_SIDE = (0.45, 0.12)
#: Octaves left free at both ends of the axis.
MARGIN = 0.4
LABEL_GAP_IN = 0.145


@in_house_style
def convergence_trail(
    points: ArrayLike,
    values: ArrayLike,
    low: ArrayLike,
    high: ArrayLike,
    names: Sequence[str],
    *,
    title: str,
    target_half_width: float,
    quantity: str = "total index, share of the variance",
    most: int = len(MARKS),
) -> Figure:
    """Indices by the number of base points, above the half width of their intervals beside its target.

    Parameters
    ----------
    points : array_like, shape (levels,), rising numbers of base points
    values, low, high : array_like, shape (levels, k)
        The indices and the ends of their intervals; NaN where there is none.
    names : k factor names
    title : what is shown, above the figure
    target_half_width : the half width asked for, in the unit of the values, above 0
    quantity : what the values are, for the axis
    most : the number of factors told apart, those that end highest; the others are thin grey lines. 8 at most

    Raises
    ------
    ValueError
        No level or no factor; another shape; an infinite value; an interval with its ends swapped; points that do not
        rise from above 0; a target that is not above 0; `most` out of 1 to 8.
    """
    levels, count = np.size(points), len(names)
    something("the list of factors", count)
    something("the list of levels", levels)
    (n,) = checked((levels,), points=points)
    v, v_low, v_high = checked((levels, count), values=values, low=low, high=high)
    ordered("low", v_low, "high", v_high)
    if not (n[0] > 0 and (np.diff(n) > 0).all()):
        raise ValueError("points must be above 0 and rise from level to level")
    if not target_half_width > 0:
        raise ValueError(f"target_half_width is {target_half_width}, must be above 0")
    if not 1 <= most <= len(MARKS):
        raise ValueError(f"most is {most}, must be from 1 to {len(MARKS)}")
    last = _last_known(v)
    if np.isnan(last).all():
        raise ValueError("nothing to draw: values holds no figure, only NaN")
    order = np.argsort(-last, kind="stable")
    order = order[~np.isnan(last[order])]
    told, others = order[:most], order[most:]
    labels = [literal(names[i], 28) for i in told]
    figure = blank(6.0 + inches_wide(labels, TEXT), 5.4)
    upper, lower = axes_of(figure, 2, 1, height_ratios=[2.4, 1], sharex=True)
    spots = _side_by_side(n, len(told))
    for axes, lines in ((upper, v), (lower, (v_high - v_low) / 2)):
        axes.plot(n, lines[:, others], color="0.75", linewidth=0.7, zorder=1)
        for place, factor in enumerate(told):
            axes.plot(spots[place], lines[:, factor], **_look(place))
    for place, factor in enumerate(told):
        whiskers(upper, spots[place], v_low[:, factor], v_high[:, factor], upright=True, size=4)
    _set_axes(upper, lower, n, quantity, target_half_width)
    key = [(Line2D([], [], color="0.75", linewidth=0.7), f"{len(others)} other factors")] if len(others) else []
    if not np.isnan(v_low + v_high).all():
        key.insert(0, (Line2D([], [], linestyle="none", **INTERVAL), "95 % interval of the simulation's error"))
    dress(figure, title, key=key, note=_others(last[others], int(np.isnan(last).sum())))
    _label_ends(figure, upper, spots, v[:, told], labels)
    return figure


def _last_known(values: Array) -> Array:
    """Each factor's figure at the highest level that has one; NaN where none has."""
    last: Array = values[0]
    for level in values[1:]:
        last = np.array(np.where(np.isnan(level), last, level), dtype=float)
    return last


def _side_by_side(points: Array, count: int) -> Array:
    """Where each line's marks stand, shape (count, levels): a little beside the level, so that no two hide each other."""
    octaves = np.log2(points)
    gap = float(np.diff(octaves).min()) if len(points) > 1 else 1.0
    wide = min(SIDE_BY_SIDE[0] * gap, SIDE_BY_SIDE[1] * float(octaves[-1] - octaves[0] + 2 * MARGIN))
    shifts = (np.arange(count) - (count - 1) / 2) / max(count - 1, 1) * wide
    spots: Array = np.exp2(octaves + shifts[:, None])
    return spots


def _look(place: int) -> dict[str, Any]:
    """The mark and dash of a line."""
    fill = "black" if place % 2 == 0 else "white"
    return {
        "color": "black",
        "marker": MARKS[place],
        "linestyle": DASHES[place],
        "markerfacecolor": fill,
        "markersize": 5,
        "linewidth": 1.0,
        "zorder": 4,
    }


def _set_axes(upper: Axes, lower: Axes, points: Array, quantity: str, target: float) -> None:
    """Scales, grids and words of both panels, and the target across the lower one."""
    upper.set_xscale("log", base=2)
    upper.set_xlim(points[0] / 2**MARGIN, points[-1] * 2**MARGIN)
    for axes in (upper, lower):
        axes.minorticks_off()
        axes.set_xticks(points, [f"{n:.0f}" for n in points], fontsize=TEXT)
        axes.tick_params(axis="y", labelsize=TEXT)
        axes.grid(axis="y", color="0.9", linewidth=0.6)
        axes.set_axisbelow(True)
    lower.axhline(target, color="black", linewidth=1.2, linestyle=(0, (6, 3)))
    lower.set_ylim(0, max(lower.get_ylim()[1], 1.25 * target))
    lower.annotate(
        f"target {target:.3g}",
        (1, target),
        (4, 0),
        xycoords=("axes fraction", "data"),
        textcoords="offset points",
        fontsize=TEXT,
        va="center",
    )
    upper.set_ylabel(quantity, fontsize=TEXT)
    lower.set_ylabel("half width of the interval", fontsize=TEXT)
    lower.set_xlabel("base points (logarithmic scale)", fontsize=TEXT)


def _others(last: Array, without: int) -> str:
    """What the grey lines come to at the end, and how many factors have no figure at any level."""
    parts = []
    if last.size:
        bound = (math.floor(float(last.max()) * 100) + 1) / 100
        parts.append(f"the {last.size} in grey end below {bound:z.2f}")
    if without:
        parts.append(f"{without} without a figure at any level")
    return "; ".join(parts)


def _label_ends(figure: Figure, axes: Axes, spots: Array, lines: Array, labels: Sequence[str]) -> None:
    """Each line's name at the right, moved apart where they would touch, with a stroke to the line's last mark."""
    settle(figure)
    tall = axes.get_window_extent().height / figure.dpi
    bottom, top = axes.get_ylim()
    ends = [int(np.flatnonzero(~np.isnan(line))[-1]) for line in lines.T]
    wanted = np.array([line[end] for line, end in zip(lines.T, ends, strict=True)])
    places = spread((wanted - bottom) / (top - bottom), LABEL_GAP_IN / tall, 0.0, 1.0)
    for place, (label, end) in enumerate(zip(labels, ends, strict=True)):
        axes.annotate(
            label,
            (spots[place, end], wanted[place]),
            (1.02, places[place]),
            textcoords="axes fraction",
            fontsize=TEXT,
            va="center",
            annotation_clip=False,
            arrowprops={"arrowstyle": "-", "linewidth": 0.5, "color": "0.5", "shrinkA": 1, "shrinkB": 3},
        )
