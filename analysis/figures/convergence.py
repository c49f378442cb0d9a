"""A picture of how sensitivity indices settle as base points are added."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import ArrayLike

from analysis.figures.canvas import (
    TEXT,
    Floats,
    axes_of,
    blank,
    checked,
    in_house_style,
    ordered,
    settle,
    something,
    whiskers,
)
from analysis.figures.lettering import dress, inches_wide, literal, spread

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


def _last_known(values: Floats) -> Floats:
    """Each factor's figure at the highest level that has one; NaN where none has."""
    last: Floats = values[0]
    for level in values[1:]:
        last = np.array(np.where(np.isnan(level), last, level), dtype=float)
    return last


def _side_by_side(points: Floats, count: int) -> Floats:
    """Where each line's marks stand, shape (count, levels): a little beside the level, so that no two hide each other."""
    octaves = np.log2(points)
    gap = float(np.diff(octaves).min()) if len(points) > 1 else 1.0
    wide = min(SIDE_BY_SIDE[0] * gap, SIDE_BY_SIDE[1] * float(octaves[-1] - octaves[0] + 2 * MARGIN))
    shifts = (np.arange(count) - (count - 1) / 2) / max(count - 1, 1) * wide
    spots: Floats = np.exp2(octaves + shifts[:, None])
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


def _set_axes(upper: Axes, lower: Axes, points: Floats, quantity: str, target: float) -> None:
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


def _others(last: Floats, without: int) -> str:
    """What the grey lines come to at the end, and how many factors have no figure at any level."""
    parts = []
    if last.size:
        bound = (math.floor(float(last.max()) * 100) + 1) / 100
        parts.append(f"the {last.size} in grey end below {bound:z.2f}")
    if without:
        parts.append(f"{without} without a figure at any level")
    return "; ".join(parts)


def _label_ends(figure: Figure, axes: Axes, spots: Floats, lines: Floats, labels: Sequence[str]) -> None:
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
