"""A picture of how well scores are known: each with its standard uncertainty, its interval, and the groups it stands in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

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
    whiskers,
)
from analysis.figures.rows import CLEAR_PT, name_rows, room_for
from scoring.numbers.array_types import Array, Flags

ROW_IN = 0.2
PLOT_IN = 5.4
LEAST_IN = 0.9
MOST_ROWS = 240
LETTERS_AWAY_IN = 0.12
#: Half of a 95 % interval of a normal law, in standard deviations.
HALF = 1.96
BAR: Any = {"color": "0.6", "linewidth": 6.0}
DOT: Any = {"marker": "o", "markersize": 3.8, "markeredgecolor": "black", "linestyle": "none"}
EVEN, UNEVEN = "black", "white"


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """Scores and how well they are known, in the order drawn; arrays of shape (products,).

    u: standard uncertainties, in the score's points; uneven: where the noise does not lie evenly about the score; letters:
    of the groups that a product stands in; marks: what is written beside each place.
    """

    products: Sequence[str]
    places: Sequence[str]
    values: Array
    u: Array
    uneven: Flags
    letters: Sequence[Sequence[str]]
    marks: Sequence[str]


@in_house_style
def score_intervals(
    known: Known,
    *,
    title: str,
    unit: str,
    scale: tuple[float, float | None],
    signs: str = "",
    note: str = "",
    absent: str = "",
) -> Figure:
    """A dot and a bar a product, best on top; the first 240 of a longer table, which a note says.

    Parameters
    ----------
    scale : the ends of the score's scale, which bars do not pass; None where it is open at the top
    signs : what the marks mean
    absent : which products are not drawn, for a line of its own at the foot

    Raises
    ------
    ValueError : no product; arrays that do not fit; an uncertainty below 0
    """
    count = len(known.products)
    something("the list of products", count)
    values, u = checked((count,), values=known.values, u=known.u)
    if (u < 0).any():
        raise ValueError(f"u is below 0 at number {int(np.argmax(u < 0)) + 1}")
    for what, found in (("letters", known.letters), ("marks", known.marks)):
        one_each(what, found, count)
    rows = slice(0, min(count, MOST_ROWS))
    names, places, marks = [literal(name) for name in known.products[rows]], known.places[rows], known.marks[rows]
    groups = [in_runs(row, known.letters) for row in known.letters[rows]]
    number = inches_wide(["0.000"], SMALL) + 0.12
    tall = max(len(names) * ROW_IN, LEAST_IN)
    beside = number + LETTERS_AWAY_IN + max(inches_wide(groups, SMALL), 0.4)
    figure = blank(PLOT_IN + room_for(names, places, marks) + beside + 0.3, tall + 0.92)
    (axes,) = axes_of(figure, 1, 1)
    _draw(axes, values[rows], u[rows], known.uneven[rows], scale)
    name_rows(axes, names, places, range(len(names)), marks=marks)
    _set_axes(axes, len(names), unit)
    _write_beside(axes, u[rows], groups, number)
    beyond = f"the first {len(names)} of {count} products" if len(names) < count else ""
    low, high = scale
    cut = ((values - HALF * u < low) | (values + HALF * u > (np.inf if high is None else high)))[rows].any()
    runs = "b–d is b, c and d" if any("–" in group for group in groups) else ""
    note = "; ".join(part for part in (beyond, "bars end with the scale" if cut else "", note, runs) if part)
    dress(figure, title, key=_key(bool(known.uneven[rows].any())), signs=signs, note=f"{note}\n{absent}".strip())
    return figure


def _draw(axes: Axes, values: Array, u: Array, uneven: Flags, scale: tuple[float, float | None]) -> None:
    """The bar of one standard uncertainty either way, the interval, the score."""
    at = np.arange(len(values), dtype=float)
    axes.hlines(at, 0, 1, transform=axes.get_yaxis_transform(), color="0.92", linewidth=0.6, zorder=0)
    some = u > 0
    middle, one = values[some], u[some]
    axes.hlines(at[some], np.clip(middle - one, *scale), np.clip(middle + one, *scale), zorder=3.5, **BAR)
    whiskers(axes, at[some], np.clip(middle - HALF * one, *scale), np.clip(middle + HALF * one, *scale))
    for flag, fill in ((False, EVEN), (True, UNEVEN)):
        axes.plot(values[uneven == flag], at[uneven == flag], markerfacecolor=fill, zorder=5, **DOT)


def in_runs(own: Sequence[str], every: Sequence[Sequence[str]]) -> str:
    """A product's letters, three or more in a row as a range: "b d–g"."""
    letters = sorted({letter for row in every for letter in row}, key=lambda one: (len(one), one))
    at = [letters.index(letter) for letter in own]
    runs: list[list[str]] = []
    for place in sorted(at):
        if place - 1 in at:
            runs[-1].append(letters[place])
        else:
            runs.append([letters[place]])
    return " ".join(f"{run[0]}–{run[-1]}" if len(run) > 2 else " ".join(run) for run in runs)


def _set_axes(axes: Axes, count: int, unit: str) -> None:
    axes.set_ylim(count - 0.4, -0.6)
    axes.tick_params(axis="x", labelsize=TEXT, top=True, labeltop=True)
    axes.grid(axis="x", color="0.88", linewidth=0.6)
    axes.set_axisbelow(True)
    axes.spines["top"].set_visible(True)
    axes.set_xlabel(literal(unit, 80), fontsize=TEXT)


def _write_beside(axes: Axes, u: Array, groups: Sequence[str], number_in: float) -> None:
    """The standard uncertainty in figures at the right, then the letters of groups."""
    _beside(axes, "u", -0.6, number_in, "right", up_pt=CLEAR_PT)
    if any(groups):
        _beside(axes, "groups", -0.6, number_in + LETTERS_AWAY_IN, "left", up_pt=CLEAR_PT)
    for row, (uncertainty, group) in enumerate(zip(u, groups, strict=True)):
        _beside(axes, printed_u(float(uncertainty)), row, number_in, "right")
        if group:
            _beside(axes, group, row, number_in + LETTERS_AWAY_IN, "left")


def _beside(axes: Axes, text: str, row: float, away_in: float, side: Any, up_pt: float = 0.0) -> None:
    axes.annotate(
        text,
        (1, row),
        (72 * away_in, up_pt),
        xycoords=axes.get_yaxis_transform(),
        textcoords="offset points",
        fontsize=SMALL,
        ha=side,
        va="bottom" if up_pt else "center_baseline",
        annotation_clip=False,
    )


def printed_u(u: float) -> str:
    """A standard uncertainty as printed: two figures, "0" where it is none."""
    if u == 0:
        return "0"
    if u < 0.01 or u >= 100:
        return f"{u:.2g}"
    if u < 0.1:
        return f"{u:.3f}"
    return f"{u:.2f}" if u < 1 else f"{u:.1f}"


def _key(uneven: bool) -> list[tuple[Artist, str]]:
    """What each mark means."""
    key: list[tuple[Artist, str]] = [
        (Line2D([], [], markerfacecolor=EVEN, **DOT), "score"),
        (Line2D([], [], **BAR), "one standard uncertainty u either way"),
        (Line2D([], [], color="black", marker="|", linewidth=0.9), "95 % interval, 1.96 u"),
    ]
    if uneven:
        key.insert(1, (Line2D([], [], markerfacecolor=UNEVEN, **DOT), "score whose noise is lopsided"))
    return key
