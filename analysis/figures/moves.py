"""A picture of who moves: each product's old place at the left, its new one at the right, and a line between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import ArrayLike

from analysis.figures.canvas import (
    EDGE_IN,
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
    shortened,
    something,
    spread,
    wrapped,
)
from scoring.numbers.array_types import Array, Flags, Indices

#: A move of so many places or more stands out.
FAR = 3
ROW_IN = 0.16
#: A longer range of places is drawn as tall as so many rows.
MOST_ROWS = 100
LEAST_IN = 1.2
LABEL_GAP_IN = 0.148
WORD_GAP_IN = 0.13
PLOT_IN = 3.6
STUB_IN = 0.32
#: A stub leans towards its name by so much at the most, so as to leave the lines of those that share its place.
STUB_ASIDE_IN = 0.14
#: The room for the strokes from names to places: this much, and more where names stand far from their places.
LEADER_IN = (0.22, 0.75)
LEADER_SLOPE = 0.4
COLUMN_GAP_IN = 0.07
STROKE_GAP_IN = 0.06
AXIS_LABEL_IN = 0.22
HEADING_WIDE_IN = 2.2
HEADING_SIZE = 8.5
LONGEST_HEADING = 80
CASING_PT = 2.0
#: How a line looks, by kind, and what the key says of it; a stub says so itself.
LOOKS: dict[str, tuple[dict[str, Any], str]] = {
    "up": ({"color": "black", "linewidth": 1.9}, f"up {FAR} places or more"),
    "down": ({"color": "0.3", "linewidth": 1.5, "linestyle": (0, (4.5, 1.6))}, f"down {FAR} places or more"),
    "near": ({"color": "0.68", "linewidth": 0.9}, f"less than {FAR} places"),
    "unsure": (
        {"color": "0.4", "linewidth": 0.9, "linestyle": (0, (1, 2))},
        "swaps with nobody that the bench tells apart",
    ),
    "alone": ({"color": "0.3", "linewidth": 1.2}, ""),
}
#: From the back to the front; moves of one layer lie by how far they go.
LAYERS = {"near": 0, "unsure": 1, "alone": 2, "down": 3, "up": 3}
CASED = ("up", "down")
PALE = ("near", "unsure")
PALE_INK = "0.35"


@dataclass(frozen=True, slots=True, eq=False)
class Moves:
    """The lines to draw: names fit to be written, each line's kind (a key of `LOOKS`), and its ends.

    `places`, shape (2, lines): old and new place, from 1; NaN where there is none.
    """

    labels: list[str]
    kinds: list[str]
    places: Array


@dataclass(frozen=True, slots=True, eq=False)
class _Plan:
    """How the figure is laid out, in inches but for places.

    `span`: the places at the upper and the lower edge. `spots`, shape (2, lines): where each name stands, as a place.
    """

    tall: float
    head: float
    columns: list[float]
    number: float
    leader: float
    headings: list[str]
    span: tuple[float, float]
    spots: Array

    def places_in(self, inches: float) -> float:
        """So many inches of height, as places."""
        return inches * (self.span[1] - self.span[0]) / self.tall


def moves_figure(moves: Moves, title: str, headings: tuple[str, str], note: str) -> Figure:
    """The lines between two columns of names, the far moves on top of the others."""
    plan = _plan(moves, headings)
    wide = sum(plan.columns) + PLOT_IN + 2 * (plan.leader + STROKE_GAP_IN + EDGE_IN) + AXIS_LABEL_IN
    figure = blank(wide, plan.tall + plan.head + EDGE_IN)
    (axes,) = axes_of(figure, 1, 1)
    _set_axes(axes, plan)
    for side in (0, 1):
        _write_labels(axes, moves, side, plan)
        _draw_stubs(axes, moves, side, plan)
    _draw_lines(axes, moves)
    key: list[tuple[Artist, str]] = [
        (Line2D([], [], **look), words) for kind, (look, words) in LOOKS.items() if words and kind in moves.kinds
    ]
    dress(figure, title, key=key, note=note)
    _pin(figure, axes, plan)
    return figure


def _plan(moves: Moves, headings: tuple[str, str]) -> _Plan:
    """As tall as the longer column and the range of places ask for, as wide as the names do."""
    known = ~np.isnan(moves.places)
    first, last = float(np.nanmin(moves.places)), float(np.nanmax(moves.places))
    span = (first - 0.5, last + 0.5)
    tall = max(LABEL_GAP_IN * int(known.sum(axis=1).max()), LEAST_IN, ROW_IN * min(span[1] - span[0], MOST_ROWS))
    scale = tall / (span[1] - span[0])
    old, new = moves.places
    spots = np.stack([_apart(*ends, LABEL_GAP_IN / scale, span) for ends in ((old, new), (new, old))])
    farthest = scale * float(np.nanmax(np.abs(spots - moves.places)))
    number = inches_wide([f"{place:.10g}" for place in moves.places[known]], TEXT)
    names_in = inches_wide(moves.labels, TEXT) + COLUMN_GAP_IN + number
    heads = [shortened(heading, LONGEST_HEADING) for heading in headings]
    columns = [max(names_in, min(inches_wide([head], HEADING_SIZE) / 0.95, HEADING_WIDE_IN)) for head in heads]
    lines = [wrapped(head, column, HEADING_SIZE) for head, column in zip(heads, columns, strict=True)]
    return _Plan(
        tall=tall,
        head=0.1 + 1.25 * HEADING_SIZE / 72 * max(1 + line.count("\n") for line in lines),
        columns=columns,
        number=number,
        leader=float(np.clip(LEADER_SLOPE * farthest, *LEADER_IN)),
        headings=lines,
        span=span,
        spots=spots,
    )


def _apart(places: Array, others: Array, gap: float, span: tuple[float, float]) -> Array:
    """Where words stand that belong to the places of a side: apart, those that share one by their other side."""
    order = np.lexsort((others, places))[: int((~np.isnan(places)).sum())]
    spots = np.full(places.shape, np.nan)
    spots[order] = spread(places[order], gap, span[0] + gap / 2, span[1] - gap / 2)
    return spots


def _set_axes(axes: Axes, plan: _Plan) -> None:
    """Two upright lines for the places, the first on top, and what each is above it."""
    axes.set_xlim(0, 1)
    axes.set_ylim(plan.span[1], plan.span[0])
    axes.set_xticks([])
    axes.set_yticks([])
    axes.spines["bottom"].set_visible(False)
    axes.spines["right"].set_visible(True)
    for edge in ("left", "right"):
        axes.spines[edge].set(color="0.4", linewidth=0.7)
    pad = 72 * (plan.columns[0] + plan.leader + STROKE_GAP_IN + 0.04)
    axes.set_ylabel("place (1 is best)", fontsize=TEXT, labelpad=pad)
    for side, heading in enumerate(plan.headings):
        away = plan.leader + STROKE_GAP_IN
        _write(axes, heading, (side, plan.span[0]), away, HEADING_SIZE, va="bottom", up_pt=4)


def _write_labels(axes: Axes, moves: Moves, side: int, plan: _Plan) -> None:
    """Each product's place number and name at a side, with a stroke from the name to the place."""
    known = np.flatnonzero(~np.isnan(plan.spots[side]))
    near, far = (0.0, -plan.leader / PLOT_IN) if side == 0 else (1.0, 1 + plan.leader / PLOT_IN)
    strokes = [[(near, moves.places[side, i]), (far, plan.spots[side, i])] for i in known]
    axes.add_collection(LineCollection(strokes, colors="0.6", linewidths=0.6, clip_on=False), autolim=False)
    away = plan.leader + STROKE_GAP_IN
    for i in known:
        ink = PALE_INK if moves.kinds[i] in PALE else "black"
        at, number = (side, float(plan.spots[side, i])), f"{moves.places[side, i]:.10g}"
        _write(axes, number, at, away + side * plan.number, TEXT, ha="right", color=ink)
        _write(axes, moves.labels[i], at, away + plan.number + COLUMN_GAP_IN, TEXT, color=ink)


def _write(
    axes: Axes,
    text: str,
    at: tuple[int, float],
    away_in: float,
    size: float,
    *,
    ha: Literal["left", "right"] | None = None,
    va: Literal["bottom", "center_baseline"] = "center_baseline",
    up_pt: float = 0.0,
    color: str = "black",
) -> None:
    """A text so far outside a side (0 or 1) at a place; it ends there at the left side, starts there at the right."""
    side = at[0]
    axes.annotate(
        text,
        at,
        (72 * away_in if side else -72 * away_in, up_pt),
        textcoords="offset points",
        fontsize=size,
        ha=ha or ("left" if side else "right"),
        va=va,
        color=color,
        annotation_clip=False,
    )


def _draw_lines(axes: Axes, moves: Moves) -> None:
    """The lines from the back to the front; those that go far on a white casing, so that crossings can be read."""
    far = np.nan_to_num(np.abs(moves.places[0] - moves.places[1]))
    for height, i in enumerate(np.lexsort((far, [LAYERS[kind] for kind in moves.kinds]))):
        kind, ends = moves.kinds[i], moves.places[:, i]
        if np.isnan(ends).any():
            continue
        look: dict[str, Any] = {"zorder": 2 + height / 100, "solid_capstyle": "butt", **LOOKS[kind][0]}
        if kind in CASED:
            axes.plot((0, 1), ends, color="white", linewidth=look["linewidth"] + CASING_PT, zorder=look["zorder"])
        axes.plot((0, 1), ends, **look)


def _draw_stubs(axes: Axes, moves: Moves, side: int, plan: _Plan) -> None:
    """From each place without one at the other side a short line to a word that says what became of the product."""
    alone = np.isnan(moves.places[1 - side]) & ~np.isnan(moves.places[side])
    places = moves.places[side, alone]
    aside, gap = plan.places_in(STUB_ASIDE_IN), plan.places_in(WORD_GAP_IN)
    wanted = places + np.clip(plan.spots[side, alone] - places, -aside, aside)
    end = STUB_IN / PLOT_IN if side == 0 else 1 - STUB_IN / PLOT_IN
    for place, spot in zip(places, _apart(wanted, places, gap, plan.span), strict=True):
        axes.plot((side, end), (place, spot), zorder=3.5, **LOOKS["alone"][0])
        axes.annotate(
            "new" if side else "gone",
            (end, spot),
            (-2 if side else 2, 0),
            textcoords="offset points",
            fontsize=SMALL,
            ha="right" if side else "left",
            va="center_baseline",
            zorder=4,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6},
        )


def _pin(figure: Figure, axes: Axes, plan: _Plan) -> None:
    """Put the axes where what stands beside and above them has its room, to the inch."""
    engine: Any = figure.get_layout_engine()
    width, whole = figure.get_size_inches()
    foot = engine.get()["rect"][1] * whole + 0.5 * EDGE_IN
    figure.set_layout_engine("none")
    left = EDGE_IN + AXIS_LABEL_IN + plan.columns[0] + STROKE_GAP_IN + plan.leader
    axes.set_position((left / width, foot / whole, PLOT_IN / width, plan.tall / whole))


MOST_LINES = 80


@in_house_style
def rank_changes(
    names: Sequence[str],
    old: ArrayLike,
    new: ArrayLike,
    *,
    title: str,
    old_title: str,
    new_title: str,
    marks: Sequence[bool] | Flags | None = None,
    caveat: str = "",
) -> Figure:
    """Old places at the left and new ones at the right, a line for each product.

    Parameters
    ----------
    names : p product names
    old, new : array_like, shape (p,), place from 1; NaN where a product has none on that side, which ends in a stub
    title : what is shown, above the figure
    old_title, new_title : what each side is, above its places
    marks : p times, whether the product swaps places with one that the bench tells apart from it; where not, the line is thin
        and dotted. Not looked at where a product has a place on one side only.
    caveat : what is to be said with the marks

    Raises
    ------
    ValueError
        No product, or none with a place; another shape; a place below 1 or infinite; marks that are not true or false.

    Notes
    -----
    At most 80 products are drawn, those that move most; one without a place counts as coming after the last place. A
    note says how many are left out, and how far they move. Where names would touch, as those of products that share a
    place, they are moved apart, with a stroke from each to its place.
    """
    count = len(names)
    something("the list of products", count)
    places = np.stack(checked((count,), old=old, new=new))
    if np.isnan(places).all():
        raise ValueError("nothing to draw: no product has a place")
    for side, values in zip(("old", "new"), places, strict=True):
        if (values < 1).any():
            raise ValueError(f"{side} holds a place below 1 at number {int(np.argmax(values < 1)) + 1}")
    kinds = _kinds(places, _sure(marks, count))
    drawn = _that_move_most(places)
    moves = Moves([literal(names[i]) for i in drawn], [kinds[i] for i in drawn], places[:, drawn])
    left_out = _left_out(np.delete(places, drawn, axis=1))
    said = caveat if marks is not None else ""
    return moves_figure(moves, title, (old_title, new_title), "; ".join(note for note in (left_out, said) if note))


def _sure(marks: Sequence[bool] | Flags | None, count: int) -> Flags:
    """For each product whether it swaps places with one told apart from it; all do where nothing is said."""
    if marks is None:
        return np.ones(count, dtype=bool)
    one_each("marks", marks, count)
    sure = np.asarray(marks)
    if sure.dtype != np.bool_:
        raise ValueError("marks holds a value that is neither true nor false")
    return sure


def _kinds(places: Array, sure: Flags) -> list[str]:
    """What kind of line each product has."""
    rise = places[0] - places[1]
    tests = [np.isnan(rise), ~sure, rise >= FAR, rise <= -FAR]
    return [str(kind) for kind in np.select(tests, ["alone", "unsure", "up", "down"], "near")]


def _that_move_most(places: Array) -> Indices:
    """The numbers of the products to draw, by how far they move; none that has no place on either side."""
    after_last = np.nanmax(places) + 1
    filled = np.where(np.isnan(places), after_last, places)
    order = np.argsort(-np.abs(filled[0] - filled[1]), kind="stable")
    return order[~np.isnan(places[:, order]).all(axis=0)][:MOST_LINES]


def _left_out(places: Array) -> str:
    """How many products are not drawn and how far they move, in words; nothing where all are drawn."""
    known = (~np.isnan(places)).sum(axis=0)
    both, one, none = (int((known == sides).sum()) for sides in (2, 1, 0))
    parts = []
    if both:
        far = float(np.nanmax(np.abs(places[0] - places[1])))
        parts.append(f"{_plural(both, 'product')} moving by {_plural(far, 'place')} at the most")
    parts += [f"{_plural(one, 'product')} with a place on one side only"] if one else []
    parts += [f"{_plural(none, 'product')} without a place on either side"] if none else []
    return f"not drawn: {'; '.join(parts)}" if parts else ""


def _plural(number: float, noun: str) -> str:
    """A number and what it counts: "1 place", "2.5 places"."""
    return f"{number:.10g} {noun}{'' if number == 1 else 's'}"
