"""A table of figures as grey cells."""

from __future__ import annotations

from collections.abc import Sequence
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

from analysis.figures.canvas import SMALL, TEXT, axes_of, blank, dress, inches_wide, literal, shortened, wrapped
from scoring.numbers.array_types import Array, Flags

ROW_IN = 0.21
#: Of rows whose cells have a second line.
TALL_ROW_IN = 0.32
LEAST_IN = 1.1
WIDE_CELL_IN = 0.3
NARROW_CELL_IN = 0.165
MOST_WIDE_CELLS = 30
#: Above this many rows the names of the columns are written at both ends.
BOTH_ENDS = 25
SCALE_IN = 2.4
SCALE_WIDE_IN = 0.14
LONGEST_UNIT = 100
CORNERS = np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
HATCHED: Any = {"facecolor": "white", "edgecolor": "0.55", "hatch": "/////", "linewidth": 0.4}

MINUS = "\N{MINUS SIGN}"
#: The corner of a cell below 0, at the upper left.
FLAG = np.array([[0, 0], [0.26, 0], [0, 0.42]])

#: From nothing (white) to the most (nearly black), by even steps of grey.
GREYS = LinearSegmentedColormap.from_list("greys", ["1.0", "0.12"])


def ink_on(grey: float) -> str:
    """Black or white, whichever stands out more on a grey (0 black, 1 white).

    Notes
    -----
    The contrast of two inks is (L1 + 0.05) / (L2 + 0.05), with the relative luminance L = ((grey + 0.055) / 1.055)^2.4;
    both are equal where L + 0.05 = sqrt(1.05 * 0.05). [Web Content Accessibility Guidelines 2.1, 2018, definitions of
    contrast ratio and relative luminance; from memory]
    """
    luminance = ((grey + 0.055) / 1.055) ** 2.4
    return "white" if luminance + 0.05 < (1.05 * 0.05) ** 0.5 else "black"


@dataclass(frozen=True, slots=True, eq=False)
class CellTable:
    """A table to be drawn: its figures, what is printed in the cells, and the words around it.

    A cell with NaN is hatched, but for those of `bare`, which stay white. The grey runs from `low` (white) to `high`. Where
    `signed`, it stands for the size alone, and a cell below 0 has its corner cut off, so that the sign needs no grey.
    """

    values: Array
    texts: Sequence[Sequence[str]]
    row_names: Sequence[str]
    column_names: Sequence[str]
    rows: str
    columns: str
    unit: str
    low: float
    high: float
    bare: Flags | None = None
    signed: bool = False

    @property
    def sizes(self) -> Array:
        """What the greys stand for."""
        return np.abs(self.values) if self.signed else self.values


def cell_figure(table: CellTable, title: str, note: str = "") -> Figure:
    """A table as grey cells, the first row on top; the texts are printed where the cells are wide enough."""
    n_rows, n_columns = table.values.shape
    row_labels = [literal(name) for name in table.row_names]
    column_labels = [literal(name) for name in table.column_names]
    cell_in = max(WIDE_CELL_IN, min(3.2 / n_columns, 0.6)) if n_columns <= MOST_WIDE_CELLS else NARROW_CELL_IN
    two_lines = any("\n" in text for row in table.texts for text in row)
    width, height = n_columns * cell_in, max(n_rows * (TALL_ROW_IN if two_lines else ROW_IN), LEAST_IN)
    long = inches_wide(column_labels, SMALL)
    upright = long > cell_in - 0.06
    both_ends = n_rows > BOTH_ENDS
    figure = blank(
        width + inches_wide(row_labels, TEXT) + 1.3,
        height + (long if upright else 0.12) * (2 if both_ends else 1) + 0.45,
    )
    (axes,) = axes_of(figure, 1, 1)
    mesh = _draw_cells(axes, table)
    if inches_wide([text for row in table.texts for text in row], SMALL) <= cell_in - 0.05:
        _print_texts(axes, mesh, table)
    axes.set_yticks(np.arange(n_rows) + 0.5, row_labels, fontsize=TEXT)
    axes.set_xticks(np.arange(n_columns) + 0.5, column_labels, fontsize=SMALL, rotation=90 if upright else 0)
    axes.tick_params(length=0, labeltop=both_ends)
    axes.set_ylabel(wrapped(table.rows, height, TEXT), fontsize=TEXT)
    axes.set_xlabel(wrapped(table.columns, max(width, 2.0), TEXT), fontsize=TEXT)
    _draw_scale(axes, mesh, table.unit, width, height)
    hatched = np.isnan(table.values) & (True if table.bare is None else ~table.bare)
    key: list[tuple[Artist, str]] = [(Patch(**HATCHED), "no figure")] if hatched.any() else []
    if table.signed and (table.values < 0).any():
        key.append(
            (Line2D([], [], marker=[(-1, 1), (1, 1), (-1, -1)], color="black", linestyle="", markersize=9), "below 0")
        )
    dress(figure, title, key=key, note=note)
    return figure


def signed_map(
    row_names: Sequence[str],
    column_names: Sequence[str],
    values: Array,
    *,
    title: str,
    unit: str,
    words: tuple[str, str],
    top: float | None = None,
) -> Figure:
    """A table of figures that may be below 0: greys for their size, and the sign printed and cut into the cell's corner.

    Parameters
    ----------
    values : ndarray, shape (rows, columns), in `unit`; NaN where there is no figure
    words : what a row and a column are
    top : the size that is darkest; the largest one there by default
    """
    signed = bool((values < 0).any())
    texts = [["" if np.isnan(value) else _with_sign(value, signed=signed) for value in row] for row in values]
    table = CellTable(
        values=values,
        texts=texts,
        row_names=row_names,
        column_names=column_names,
        rows=words[0],
        columns=words[1],
        unit=f"size, whatever the sign: {unit}" if signed else unit,
        low=0.0,
        high=top or float(np.nanmax(np.abs(values))) or 1.0,
        signed=True,
    )
    return cell_figure(table, title)


def _with_sign(value: float, *, signed: bool) -> str:
    """Two decimals, with the sign written out either way where a table has both; 0 has none."""
    text = f"{value:+z.2f}" if signed else f"{value:z.2f}"
    return text.lstrip("+") if float(text) == 0 else text.replace("-", MINUS)


def _draw_cells(axes: Axes, table: CellTable) -> QuadMesh:
    """The greys, and the hatching of cells without a figure."""
    n_rows, n_columns = table.values.shape
    known = np.ma.masked_invalid(table.sizes)
    mesh = axes.pcolormesh(known, cmap=GREYS, vmin=table.low, vmax=table.high, edgecolors="0.8", linewidth=0.4)
    hatched = np.isnan(table.values) if table.bare is None else np.isnan(table.values) & ~table.bare
    corners = np.argwhere(hatched)[:, None, ::-1] + CORNERS
    if len(corners):
        axes.add_collection(PolyCollection(list(corners), **HATCHED))
    if table.signed:
        _flag_below_0(axes, mesh, table)
    axes.set_xlim(0, n_columns)
    axes.set_ylim(n_rows, 0)
    return mesh


def _flag_below_0(axes: Axes, mesh: QuadMesh, table: CellTable) -> None:
    """A filled corner in each cell below 0, in the ink that stands out on its grey."""
    below = np.argwhere(table.values < 0)
    if len(below):
        inks = [ink_on(float(mesh.cmap(mesh.norm(table.sizes[row, column]))[0])) for row, column in below]
        flags = PolyCollection(list(below[:, None, ::-1] + FLAG), facecolors=inks, linewidth=0)
        flags.set_gid("below 0")
        axes.add_collection(flags)


def _print_texts(axes: Axes, mesh: QuadMesh, table: CellTable) -> None:
    """Each cell's text in the ink that stands out on its grey."""
    for row, column in np.argwhere(~np.isnan(table.values)):
        ink = ink_on(float(mesh.cmap(mesh.norm(table.sizes[row, column]))[0]))
        axes.text(
            column + 0.5,
            row + 0.5,
            table.texts[row][column],
            fontsize=SMALL,
            ha="center",
            va="center" if "\n" in table.texts[row][column] else "center_baseline",
            color=ink,
        )


def _draw_scale(axes: Axes, mesh: QuadMesh, unit: str, width_in: float, height_in: float) -> None:
    """What the greys stand for: a bar at the upper right, as tall as the table at most."""
    tall = min(SCALE_IN, height_in)
    scale = axes.figure.colorbar(
        mesh,
        ax=axes,
        fraction=SCALE_WIDE_IN / width_in,
        shrink=tall / height_in,
        aspect=tall / SCALE_WIDE_IN,
        pad=0.12 / width_in,
        anchor=(0.0, 1.0),
    )
    scale.ax.tick_params(labelsize=SMALL)
    scale.set_label(wrapped(shortened(unit, LONGEST_UNIT), tall, TEXT), fontsize=TEXT)
