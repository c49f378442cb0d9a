"""A picture of a rating's curve over its measure: anchors, jumps, the readings it meets and what is plausible."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import FixedLocator, NullFormatter, NullLocator

from analysis.figures.canvas import (
    SMALL,
    TEXT,
    axes_of,
    blank,
    dress,
    in_house_style,
    inches_wide,
    literal,
    spread,
    wrapped,
)
from analysis.figures.track import CurveTrack
from analysis.wording import counted

WIDE_IN = 6.6
#: The plot's own width, about: what words above it are spread over.
PLOT_IN = 5.7
CURVE_IN = 3.0
FOOT_IN = 0.62
HEAD_IN = 0.55
#: Anchors are named above the plot, and jumps drawn with both their ends, up to so many.
MOST_NAMED, MOST_RINGED = 14, 16
#: A share of the axis, or of a place on an axis by ratios, that is binary dust.
DUST = 1e-9
LINE: Any = {"color": "black", "linewidth": 1.6, "zorder": 3}
ANCHOR: Any = {"marker": "s", "markersize": 5.2, "markerfacecolor": "0.6", "markeredgecolor": "black"}
CLOSED: Any = {"marker": "o", "markersize": 5.0, "markerfacecolor": "black", "markeredgecolor": "black"}
OPEN: Any = {"marker": "o", "markersize": 5.0, "markerfacecolor": "white", "markeredgecolor": "black"}
INSIDE: Any = {"marker": "|", "markersize": 10, "markeredgewidth": 0.9, "color": "0.25"}
OUTSIDE: Any = {"marker": "x", "markersize": 5.5, "markeredgewidth": 1.1, "color": "black"}
PLAUSIBLE: Any = {"color": "0.72", "linewidth": 4.5, "solid_capstyle": "butt"}


@in_house_style
def curve_figure(
    track: CurveTrack, *, title: str, measure: str, points: str, scale: tuple[float, float | None], note: str = ""
) -> Figure:
    """A curve above a strip with the catalogue's readings.

    Parameters
    ----------
    title : what is shown, above the figure
    measure : the measure with its unit, for the axis
    points : what the curve gives, for the other axis
    scale : the ends of the rating scale; None where it is open at the top
    """
    figure = blank(WIDE_IN, CURVE_IN + FOOT_IN + HEAD_IN)
    curve, foot = axes_of(figure, 2, 1, sharex=True, height_ratios=[CURVE_IN, FOOT_IN])
    _set_axes(curve, foot, track, measure, points, scale)
    curve.plot(track.x, track.y, **LINE)
    _draw_jumps(curve, track)
    _draw_anchors(curve, track)
    _draw_readings(foot, track)
    many = len(track.jumps) > MOST_RINGED
    notes = [f"{len(track.jumps)} jumps, drawn without the ends that do not belong"] if many else []
    notes += [f"{counted(track.unseen, 'reading')} of 0 or less cannot be drawn here"] if track.unseen else []
    notes += ["arrows: the plausible range goes on"] if any(_goes_on(track)) else []
    dress(figure, title, key=_key(track), note="; ".join([*notes, note] if note else notes))
    return figure


def _set_axes(
    curve: Axes, foot: Axes, track: CurveTrack, measure: str, points: str, scale: tuple[float, float | None]
) -> None:
    """The measure along, by ratios where the curve counts so; the points up, with the ends of the scale dashed."""
    if track.in_ratios:
        curve.set_xscale("log")
        _set_ratio_ticks(foot, track.window)
    curve.set_xlim(*_padded(track))
    low, high = track.between()
    low, high = min(low, scale[0]), max(high, scale[1] if scale[1] is not None else high)
    room = 0.06 * ((high - low) or 1.0)
    curve.set_ylim(low - room, high + room)
    for end in scale:
        if end is not None:
            curve.axhline(end, color="0.7", linewidth=0.8, linestyle=(0, (4, 3)), zorder=0)
    top = scale[1]
    if top is not None and scale[0] == low and top == high:
        curve.set_yticks(np.linspace(low, high, 4), [f"{end:.4g}" for end in np.linspace(low, high, 4)])
    curve.set_ylabel(wrapped(points, CURVE_IN, TEXT), fontsize=TEXT)
    curve.tick_params(labelsize=TEXT)
    curve.tick_params(axis="x", labelbottom=False)
    foot.set_ylim(-0.6, 1.6)
    foot.set_yticks([0.0, 1.0], ["plausible" if track.plausible else "", "readings"], fontsize=TEXT)
    foot.tick_params(axis="y", length=0)
    foot.tick_params(axis="x", labelsize=TEXT)
    foot.spines["left"].set_visible(False)
    foot.set_xlabel(wrapped(measure + (" (equal ratios equally far)" * track.in_ratios), PLOT_IN, TEXT), fontsize=TEXT)


def _padded(track: CurveTrack) -> tuple[float, float]:
    """The window with a little room at both ends."""
    low, high = track.window
    if track.in_ratios:
        room = (high / low) ** 0.02
        return low / room, high * room
    room = 0.02 * (high - low)
    return low - room, high + room


def _goes_on(track: CurveTrack) -> tuple[bool, bool]:
    """Whether the plausible range goes on below and above what is drawn.

    The ends of a window by ratios went through a logarithm and back: what they differ by in the last digits is no distance.
    """
    (low, high), (least, most) = track.plausible or track.window, track.window
    dust = DUST * (np.array([least, most]) if track.in_ratios else np.full(2, most - least))
    return bool(low < least - dust[0]), bool(high > most + dust[1])


def _set_ratio_ticks(axes: Axes, window: tuple[float, float]) -> None:
    """Round figures of a ratio axis, written in plain."""
    low, high = window
    powers = range(int(np.floor(np.log10(low))), int(np.ceil(np.log10(high))) + 1)
    for steps in ((1,), (1, 3), (1, 2, 5), (1, 1.5, 2, 3, 4, 5, 6, 7, 8, 9)):
        figures = [step * 10.0**power for power in powers for step in steps]
        at = [figure for figure in figures if low <= figure <= high]
        if len(at) >= 4:
            break
    axes.xaxis.set_major_locator(FixedLocator(at))
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:.6g}")
    axes.xaxis.set_minor_locator(NullLocator())
    axes.xaxis.set_minor_formatter(NullFormatter())


def _draw_jumps(axes: Axes, track: CurveTrack) -> None:
    """At each jump a dotted stroke, a full dot at the value that holds there, an open one at each that does not."""
    ringed = len(track.jumps) <= MOST_RINGED
    for place, before, here, after in track.jumps:
        ends = (before, here, after)
        axes.plot((place, place), (min(ends), max(ends)), color="0.4", linewidth=0.8, linestyle=(0, (1, 1.6)), zorder=2)
        look = CLOSED if ringed else {**CLOSED, "markersize": 2.4}
        axes.plot([place], [here], linestyle="none", zorder=6, **look)
        others = [end for end in (before, after) if end != here] if ringed else []
        axes.plot([place] * len(others), others, linestyle="none", zorder=5, **OPEN)


def _draw_anchors(axes: Axes, track: CurveTrack) -> None:
    """Each anchor as a square on the curve, with its place named above the plot."""
    jumps = set(track.jumps[:, 0].tolist())
    low = axes.get_ylim()[0]
    named = track.anchors if len(track.anchors) <= MOST_NAMED else ()
    texts = [f"{word} {place:.6g}".strip() for place, _, word in named]
    at = np.array([axes.transAxes.inverted().transform(axes.transData.transform((a[0], low)))[0] for a in named])
    gap = (inches_wide(texts, SMALL) + 0.08) / PLOT_IN
    spots = spread(at, gap, 0.0, 1.0) if len(named) else at
    for place, points, _ in track.anchors:
        axes.axvline(place, color="0.85", linewidth=0.7, zorder=0)
        if place not in jumps:
            axes.plot([place], [points], linestyle="none", zorder=5, **ANCHOR)
    for text, x, spot in zip(texts, at, spots, strict=True):
        axes.annotate(
            text,
            (x, 1.0),
            (spot, 1.055),
            xycoords="axes fraction",
            textcoords="axes fraction",
            fontsize=SMALL,
            ha="center",
            va="bottom",
            annotation_clip=False,
            arrowprops={"arrowstyle": "-", "color": "0.6", "linewidth": 0.6, "shrinkA": 0, "shrinkB": 0},
        )


def _draw_readings(axes: Axes, track: CurveTrack) -> None:
    """A stroke for each reading within the anchors, a cross for each outside; a bar for the plausible range."""
    inside = track.inside
    for flags, look in ((inside, INSIDE), (~inside, OUTSIDE)):
        axes.plot(track.readings[flags], np.ones(int(flags.sum())), linestyle="none", zorder=3, **look)
    if track.plausible is not None:
        low, high = np.clip(track.plausible, *track.window)
        axes.plot([low, high], [0, 0], zorder=2, **PLAUSIBLE)
        for end, goes_on, arrow in zip((low, high), _goes_on(track), "<>", strict=True):
            look = {"marker": arrow if goes_on else "|", "color": "black"}
            axes.plot([end], [0], zorder=3, markersize=6, clip_on=False, **look)


def _key(track: CurveTrack) -> list[tuple[Artist, str]]:
    """What each mark means, with how many readings lie inside and outside."""
    what = "the reference's ends" if track.leans else "the anchors"
    jumps = set(track.jumps[:, 0].tolist())
    key: list[tuple[Artist, str]] = []
    if any(anchor[0] not in jumps for anchor in track.anchors):
        key.append((Line2D([], [], linestyle="none", **ANCHOR), "reference figure" if track.leans else "anchor"))
    if len(track.jumps):
        key.append((Line2D([], [], linestyle="none", **CLOSED), "value at a jump"))
    if 0 < len(track.jumps) <= MOST_RINGED:
        key.append((Line2D([], [], linestyle="none", **OPEN), "end that does not belong"))
    inside = int(track.inside.sum())
    outside = len(track.readings) - inside
    words = f"{inside} inside {what}" if track.ends is not None else f"{inside}"
    key.append((Line2D([], [], linestyle="none", **INSIDE), f"readings: {words}"))
    if outside:
        key.append((Line2D([], [], linestyle="none", **OUTSIDE), f"{outside} outside"))
    if track.plausible is not None:
        low, high = track.plausible
        key.append(
            (
                Line2D([], [], **PLAUSIBLE),
                literal(f"plausible: {low:g} to {high:g}{'' if track.unit == '1' else f' {track.unit}'}", 60),
            )
        )
    return key
