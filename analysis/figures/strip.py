"""A picture of a table: ratings as columns, products as rows, each figure printed on a grey that grows with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection, QuadMesh
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

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
    something,
    wrapped,
)
from analysis.figures.cells import BOTH_ENDS, CORNERS, HATCHED
from analysis.figures.rows import CLOSE_PT, name_rows, room_for
from scoring.numbers.array_types import Array
from scoring.table.missing import STARRED

ROW_IN = 0.19
LEAST_CELL_IN = 0.4
LEAST_IN = 1.1
LEAST_WIDE_IN = 2.0
SCALE_IN = 1.8
SCALE_WIDE_IN = 0.14
MOST_ROWS = 240
#: The eye is led across a long table by a stronger line under every so many rows.
EVERY = 5
#: White to a grey on which black still has a contrast of 7: the figures are what is read, the greys lead to them.
LIGHT_GREYS = LinearSegmentedColormap.from_list("light greys", ["1.0", "0.6"])


@dataclass(frozen=True, slots=True, eq=False)
class Strip:
    """A table to draw, in the order drawn.

    places: what is printed left of each product; values: shape (products, columns), NaN where there is none; low and high:
    shape (columns,), from where (white) to where (grey) a column's grey runs; texts: what each cell prints, also
    where it has no value; absent: what each of the marks in cells without a value means.
    """

    products: Sequence[str]
    places: Sequence[str]
    columns: Sequence[str]
    values: Array
    low: Array
    high: Array
    texts: Sequence[Sequence[str]]
    absent: Mapping[str, str]


@in_house_style
def value_strip(strip: Strip, *, title: str, unit: str, note: str = "") -> Figure:
    """A strip of figures, the first product on top; the first 240 products of a longer table, which a note says.

    Parameters
    ----------
    title : what is shown, above the figure
    unit : what the greys stand for

    Raises
    ------
    ValueError : no product or no column; texts or names that do not fit the values
    """
    something("the list of products", len(strip.products))
    something("the list of ratings", len(strip.columns))
    shape = (len(strip.products), len(strip.columns))
    (values,) = checked(shape, values=strip.values)
    one_each("places", strip.places, shape[0])
    one_each("texts", strip.texts, shape[0])
    shown = min(shape[0], MOST_ROWS)
    names = [literal(name) for name in strip.products[:shown]]
    figure, axes = _grid(strip, names)
    shares = np.clip((values[:shown] - strip.low) / (strip.high - strip.low), 0, 1)
    mesh = _draw_cells(axes, shares)
    _print_texts(axes, strip.texts[:shown], shares)
    name_rows(axes, names, strip.places[:shown], [row + 0.5 for row in range(shown)], heads_pt=CLOSE_PT)
    _draw_scale(axes, mesh, unit, strip)
    beyond = f"the first {shown} of {shape[0]} products" if shown < shape[0] else ""
    dress(figure, title, key=_key(strip, values[:shown]), note="; ".join(part for part in (beyond, note) if part))
    return figure


def _grid(strip: Strip, names: Sequence[str]) -> tuple[Figure, Axes]:
    """The empty figure, as wide and tall as its cells and names ask for, with the columns named."""
    labels = [literal(column) for column in strip.columns]
    cell = max(LEAST_CELL_IN, inches_wide([text for row in strip.texts for text in row], SMALL) + 0.1)
    long = inches_wide(labels, SMALL)
    upright, both_ends = long > cell - 0.06, len(names) > BOTH_ENDS
    wide, tall = _size(strip, len(names), cell)
    beside = room_for(names, strip.places) + 1.4
    head = (long if upright else 0.14) * (2 if both_ends else 1) + 0.35
    figure = blank(wide + beside, tall + head)
    (axes,) = axes_of(figure, 1, 1)
    axes.set_xlim(0, len(labels))
    axes.set_ylim(len(names), 0)
    axes.set_xticks(np.arange(len(labels)) + 0.5, labels, fontsize=SMALL, rotation=90 if upright else 0)
    axes.tick_params(length=0, labeltop=True, labelbottom=both_ends)
    axes.spines[:].set_visible(False)
    return figure, axes


def _size(strip: Strip, n_rows: int, cell_in: float) -> tuple[float, float]:
    return max(len(strip.columns) * cell_in, LEAST_WIDE_IN), max(n_rows * ROW_IN, LEAST_IN)


def _draw_cells(axes: Axes, shares: Array) -> QuadMesh:
    """Each cell's grey by the share of its column's range; cells without a value are hatched."""
    known = np.ma.masked_invalid(shares)
    mesh = axes.pcolormesh(known, cmap=LIGHT_GREYS, vmin=0, vmax=1, edgecolors="0.8", linewidth=0.4)
    corners = np.argwhere(np.isnan(shares))[:, None, ::-1] + CORNERS
    if len(corners):
        axes.add_collection(PolyCollection(list(corners), **HATCHED))
    axes.hlines(np.arange(EVERY, len(shares), EVERY), 0, shares.shape[1], color="0.45", linewidth=0.7)
    return mesh


def _print_texts(axes: Axes, texts: Sequence[Sequence[str]], shares: Array) -> None:
    """Each cell's text; on a hatch, on a white patch."""
    patch: Any = {"facecolor": "white", "edgecolor": "none", "pad": 0.8}
    for row, column in np.ndindex(shares.shape):
        absent = bool(np.isnan(shares[row, column]))
        axes.text(
            column + 0.5,
            row + 0.5,
            literal(texts[row][column], 12),
            fontsize=SMALL,
            ha="center",
            va="center_baseline",
            color="black",
            bbox=patch if absent else None,
            in_layout=False,
        )


def _draw_scale(axes: Axes, mesh: QuadMesh, unit: str, strip: Strip) -> None:
    """What the greys stand for: a bar at the upper right, in the columns' unit where all share one."""
    wide, tall_table = _size(strip, len(axes.get_yticks()), LEAST_CELL_IN)
    tall = min(SCALE_IN, tall_table)
    scale = axes.figure.colorbar(
        mesh,
        ax=axes,
        fraction=SCALE_WIDE_IN / wide,
        shrink=tall / tall_table,
        aspect=tall / SCALE_WIDE_IN,
        pad=0.12 / wide,
        anchor=(0.0, 1.0),
    )
    if np.ptp(strip.low) == 0 and np.ptp(strip.high) == 0:
        ends = np.linspace(strip.low[0], strip.high[0], 4)
        scale.set_ticks([0, 1 / 3, 2 / 3, 1], labels=[f"{end:.4g}" for end in ends])
    scale.ax.tick_params(labelsize=SMALL)
    scale.set_label(wrapped(unit, tall, TEXT), fontsize=TEXT)


def _key(strip: Strip, values: Array) -> list[tuple[Artist, str]]:
    """The hatch and each mark that is printed in its place; the star of a partial rating."""
    printed = {text for row in strip.texts[: len(values)] for text in row}
    key: list[tuple[Artist, str]] = []
    if np.isnan(values).any():
        marks = [f"{mark} {words}" for mark, words in strip.absent.items() if mark in printed]
        key.append((Patch(**HATCHED), ", ".join(marks)))
    if any(text.endswith("*") for text in printed):
        key.append((Line2D([], [], linestyle="none"), STARRED))
    return key
