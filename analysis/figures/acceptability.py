"""A picture of the chance that each product has of each place."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import ArrayLike

from analysis.figures.canvas import FILLS, SMALL, TEXT, Floats, axes_of, blank, checked, in_house_style, something
from analysis.figures.lettering import dress, inches_wide, literal, place_ticks, shortened

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


def _last_place(heights: Floats) -> int:
    """The last place worth drawing: beyond it the products with areas of their own have next to nothing."""
    return int(np.flatnonzero(heights.sum(axis=0) >= LEAST_CHANCE).max(initial=0)) + 1


def _beyond(heights: Floats, last: int, places: int) -> str:
    """What is left out at the right, in words: what the products drawn one by one have there at most."""
    bound = (math.floor(1000 * float(heights[:-1].sum(axis=0).max())) + 1) / 10
    where = f"place {places}" if places == last + 1 else f"places {last + 1} to {places}"
    return f"not drawn: {where}, where the products named have a chance below {bound:g} % in all"


def _draw_areas(
    axes: Axes, edges: Floats, top: float, labels: Sequence[str], fills: Sequence[tuple[str, str]]
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


def _write_inside(axes: Axes, label: str, lower: Floats, upper: Floats, room: tuple[float, float]) -> bool:
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


def _thickest(lower: Floats, upper: Floats, wide: float, tall: float) -> tuple[float, float] | None:
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
