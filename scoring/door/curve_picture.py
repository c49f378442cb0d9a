"""A curve as a small SVG, written by hand so that a notebook needs no plotting library; the same bytes each time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scoring.html import Safe, clipped, tag
from scoring.numbers.array_types import Array

WIDTH, HEIGHT = 340, 182
LEFT, RIGHT, TOP, BOTTOM = 48, 12, 10, 54
SIZE = 11
#: So many letters of a label fit along the picture, and up its side.
MOST_ALONG, MOST_UP = 52, 22
INK, ANCHOR, RULE = "#111111", "#8c8c8c", "#cccccc"


@dataclass(frozen=True, slots=True)
class Axis:
    """What an axis measures, its unit ("" for none), its ends where given, and whether equal ratios are equally far on it."""

    label: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    in_ratios: bool = False


@dataclass(frozen=True, slots=True)
class _Stretch:
    """From figures to places on the picture."""

    low: float
    high: float
    start: float
    end: float
    in_ratios: bool = False

    def __call__(self, value: float) -> float:
        low, high, at = (math.log(v) if self.in_ratios else v for v in (self.low, self.high, value))
        return round(self.start + (self.end - self.start) * (at - low) / (high - low), 2)


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A line with its anchors.

    Attributes
    ----------
    places, ratings : ndarray, shape (n,), places rising; the pen is lifted where a rating is NaN
    anchors : (place, rating), drawn as squares
    """

    places: Array
    ratings: Array
    anchors: Sequence[tuple[float, float]]


def curve_svg(line: Line, title: str, along: Axis, up: Axis) -> Safe:
    """A line with its anchors, as one `svg` element; `title` is what the picture shows, for those who cannot see it."""
    drawn = line.ratings[np.isfinite(line.ratings)]
    ends = [float(value) for value in drawn] or [0.0, 1.0]
    low, high = min([*ends, *_there(up.low)]), max([*ends, *_there(up.high)])
    x = _Stretch(float(line.places[0]), float(line.places[-1]), LEFT, WIDTH - RIGHT, along.in_ratios)
    y = _Stretch(low, high if high > low else low + 1.0, HEIGHT - BOTTOM, TOP)
    lines = [tag("path", d=stroke, fill="none", stroke=INK, stroke_width=1.8) for stroke in _strokes(line, x, y)]
    squares = [
        tag("rect", x=round(x(at) - 3, 2), y=round(y(gives) - 3, 2), width=6, height=6, fill=ANCHOR, stroke=INK)
        for at, gives in line.anchors
        if math.isfinite(gives)
    ]
    return tag(
        "svg",
        tag("title", title),
        tag("rect", width=WIDTH, height=HEIGHT, fill="#ffffff"),
        *_along(x, along),
        *_up(y, up),
        *lines,
        *squares,
        xmlns="http://www.w3.org/2000/svg",
        role="img",
        aria_label=title,
        width=WIDTH,
        height=HEIGHT,
        viewBox=f"0 0 {WIDTH} {HEIGHT}",
        font_family="sans-serif",
        font_size=SIZE,
    )


def _there(end: float | None) -> list[float]:
    return [] if end is None else [end]


def _strokes(line: Line, x: _Stretch, y: _Stretch) -> list[str]:
    """The line's strokes as path data; points that lie straight between their neighbours are left out."""
    strokes: list[list[tuple[float, float]]] = [[]]
    for place, rating in zip(line.places.tolist(), line.ratings.tolist(), strict=True):
        if not math.isfinite(rating):
            strokes.append([])
            continue
        stroke, point = strokes[-1], (x(place), y(rating))
        if len(stroke) > 1 and stroke[-1][1] == stroke[-2][1] == point[1]:
            stroke.pop()
        if not stroke or stroke[-1] != point:
            stroke.append(point)
    return ["M" + " L".join(f"{at:g} {to:g}" for at, to in stroke) for stroke in strokes if len(stroke) > 1]


def _along(x: _Stretch, axis: Axis) -> list[Safe]:
    """Ticks under the picture, and what they measure."""
    foot = HEIGHT - BOTTOM
    drawn = []
    for value in ticks(x.low, x.high, in_ratios=axis.in_ratios):
        drawn.append(tag("path", d=f"M{x(value):g} {foot} v4", stroke=INK))
        drawn.append(_words(f"{value:.6g}", x(value), foot + 15))
    middle = (LEFT + WIDTH - RIGHT) / 2
    drawn.append(_words(_named(axis, MOST_ALONG), middle, foot + 31))
    return [*drawn, _words("equal ratios equally far", middle, foot + 46)] if axis.in_ratios else drawn


def _up(y: _Stretch, axis: Axis) -> list[Safe]:
    """The ends of the scale and two figures between, with rules across, and what they count."""
    low = y.low if axis.low is None else axis.low
    high = y.high if axis.high is None else axis.high
    drawn = []
    for value in np.linspace(low, high, 4).tolist():
        drawn.append(tag("path", d=f"M{LEFT} {y(value):g} H{WIDTH - RIGHT}", stroke=RULE))
        drawn.append(_words(f"{value:.4g}", LEFT - 6, y(value) + 4, anchor="end"))
    middle = (TOP + HEIGHT - BOTTOM) / 2
    turned = {"transform": f"rotate(-90 12 {middle:g})"}
    return [*drawn, _words(_named(axis, MOST_UP), 12, middle, **turned)]


def _named(axis: Axis, most: int) -> str:
    """The axis's label, cut where it is long, and its unit, which never is."""
    unit = f" [{axis.unit}]" if axis.unit else ""
    return clipped(axis.label, max(most - len(unit), 8)) + unit


def _words(words: str, x: float, y: float, *, anchor: str = "middle", **more: str) -> Safe:
    return tag("text", words, x=f"{x:g}", y=f"{y:g}", text_anchor=anchor, fill=INK, **more)


def ticks(low: float, high: float, *, in_ratios: bool = False) -> list[float]:
    """Round figures from `low` to `high`, three to eight of them: multiples of 1, 2 or 5; for ratios 1, 2 and 5 times tens.

    Examples
    --------
    >>> ticks(19.1, 48.9)
    [20.0, 25.0, 30.0, 35.0, 40.0, 45.0]
    >>> ticks(0.06, 2.0, in_ratios=True)
    [0.1, 0.2, 0.5, 1.0, 2.0]
    """
    if in_ratios and high / low > 4:
        tens = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
        found = [float(f"{step}e{ten}") for ten in tens for step in (1, 2, 5)]
        within = [value for value in found if low <= value <= high]
        return within if len(within) <= 8 else [value for value in within if f"{value:e}"[0] == "1"]
    rough = (high - low) / 6
    ten = math.floor(math.log10(rough))
    step = next(float(f"{one}e{ten}") for one in (1, 2, 5, 10) if float(f"{one}e{ten}") >= rough)
    count = range(math.ceil(low / step), math.floor(high / step) + 1)
    return [float(f"{number * step:.12g}") for number in count]
