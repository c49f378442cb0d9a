"""Rows of products at the left of a plot: each name, and its place between the name and the plot."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes

from analysis.figures.canvas import TEXT
from analysis.figures.lettering import inches_wide

#: Between a place and the plot, and between a name and a place.
AWAY_PT, GAP_IN = 4.0, 0.14


def room_for(names: Sequence[str], places: Sequence[str]) -> float:
    """How wide names and places are together, in inches."""
    return inches_wide(names, TEXT) + inches_wide(places, TEXT) + GAP_IN


def name_rows(axes: Axes, names: Sequence[str], places: Sequence[str], at: Sequence[float]) -> None:
    """Write names and places beside the heights `at`; names as `literal` has them.

    A place is a text of its own: beside a name that is read from right to left it would change sides.
    """
    axes.set_yticks(at, names, fontsize=TEXT)
    axes.tick_params(axis="y", length=0, pad=72 * (inches_wide(places, TEXT) + GAP_IN))
    for height, place in zip(at, places, strict=True):
        axes.annotate(
            place,
            (0, height),
            (-AWAY_PT, 0),
            xycoords=axes.get_yaxis_transform(),
            textcoords="offset points",
            fontsize=TEXT,
            ha="right",
            va="center_baseline",
            annotation_clip=False,
        )
