"""Pictures of sensitivity indices: bars by factor, and a table of factors by products."""

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
    Floats,
    axes_of,
    blank,
    checked,
    in_house_style,
    one_each,
    ordered,
    something,
    whiskers,
)
from analysis.figures.cells import CellTable, cell_figure
from analysis.figures.lettering import dress, inches_wide, literal, wrapped

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


def _set_share_axis(axes: Axes, values: Floats, what: str) -> None:
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


def _draw_bars(axes: Axes, values: Floats, low: Floats, high: Floats, shift: float, look: dict[str, Any]) -> None:
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


def _write_reasons(axes: Axes, first: Floats, total: Floats, words: Sequence[str]) -> None:
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


def _rest_of_bars(total: Floats, words: Sequence[str]) -> str:
    """What the factors that are not drawn amount to, in words; nothing where all are drawn."""
    known = total[~np.isnan(total)]
    parts = [f"and {known.size} more, {_each_below(known)}"] if known.size else []
    without = Counter(word for word, value in zip(words, total, strict=True) if np.isnan(value))
    parts += [f"and {number} more: {word}" for word, number in without.items()]
    return "; ".join(parts)


def _each_below(values: Floats) -> str:
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


def _decimals(table: Floats) -> list[list[str]]:
    """The figures with so many decimals that the largest shows two digits or more."""
    largest = float(np.nanmax(np.abs(table)))
    size = math.floor(math.log10(largest)) if largest > 0 else 0
    decimals = min(max(1 - size + (size >= 0), 0), 6)
    return [[f"{value:z.{decimals}f}" for value in row] for row in table]


def _beyond(whole: Floats, table: Floats, rows: str, columns: str) -> str:
    """How much of a table is not drawn, in words."""
    pairs = zip((rows, columns), table.shape, whole.shape, strict=True)
    return "; ".join(f"the first {drawn} of {all_} {what}s" for what, drawn, all_ in pairs if drawn < all_)
