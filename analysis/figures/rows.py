"""Rows of products at the left of a plot: each name, its place between the name and the plot, and marks beside the place."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes

from analysis.figures.canvas import SMALL, TEXT, inches_wide

#: Between a place and the plot, and between a name and a place.
AWAY_PT, GAP_IN = 4.0, 0.14
NAME, PLACE = "product", "place"
#: How far above a plot the heads of columns stand: next to it, and clear of the figures of an axis on top.
CLOSE_PT, CLEAR_PT = 3.0, 18.0


def room_for(names: Sequence[str], places: Sequence[str], marks: Sequence[str] = ()) -> float:
    """How wide names, places and marks are together, with the heads of their columns, in inches."""
    return max(inches_wide(names, TEXT), inches_wide([NAME], SMALL)) + _beside_names(places, marks)


def _beside_names(places: Sequence[str], marks: Sequence[str]) -> float:
    """From the names to the plot, in inches."""
    return max(inches_wide(places, TEXT), inches_wide([PLACE], SMALL)) + inches_wide(marks, TEXT) + GAP_IN


def name_rows(
    axes: Axes,
    names: Sequence[str],
    places: Sequence[str],
    at: Sequence[float],
    *,
    marks: Sequence[str] = (),
    heads_pt: float = CLEAR_PT,
) -> None:
    """Write names, places and marks beside the heights `at`, and a head above each column; names as `literal` has them.

    A place is a text of its own: beside a name that is read from right to left it would change sides.

    Parameters
    ----------
    marks : what follows each place; none by default
    heads_pt : how far above the plot the heads stand
    """
    away = AWAY_PT + 72 * inches_wide(marks, TEXT)
    names_away = 72 * _beside_names(places, marks)
    axes.set_yticks(at, names, fontsize=TEXT)
    axes.tick_params(axis="y", length=0, pad=names_away)
    for height, place in zip(at, places, strict=True):
        _write(axes, place, height, -away, "right")
    for height, mark in zip(at, marks, strict=bool(marks)):
        if mark:
            _write(axes, mark, height, -away, "left")
    for head, x in ((NAME, names_away), (PLACE, away)):
        axes.annotate(
            head,
            (0, 1),
            (-x, heads_pt),
            xycoords="axes fraction",
            textcoords="offset points",
            fontsize=SMALL,
            ha="right",
            va="bottom",
            annotation_clip=False,
        )


def _write(axes: Axes, text: str, height: float, x_pt: float, side: str) -> None:
    axes.annotate(
        text,
        (0, height),
        (x_pt, 0),
        xycoords=axes.get_yaxis_transform(),
        textcoords="offset points",
        fontsize=TEXT,
        ha=side,
        va="center_baseline",
        annotation_clip=False,
    )
