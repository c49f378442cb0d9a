"""A picture of why a product's score moved: from the old score to the new one, a bar for each cause."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from numpy.typing import ArrayLike

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
    ordered,
    shortened,
    something,
    whiskers,
    wrapped,
)
from scoring.numbers.array_types import Array

ROW_IN = 0.3
PLOT_IN = 4.8
THICK = 0.62
LONGEST_UNIT = 80
#: The sum must meet the new score to this part of the largest figure in it.
TOLERANCE = 1e-9
#: The bars of both scores start at 0 where that is no further off than this many times what the figure must show anyway.
REACH = 1.0
UP: Any = {"facecolor": "0.62", "edgecolor": "black", "linewidth": 0.5}
DOWN: Any = {"facecolor": "1.0", "edgecolor": "black", "linewidth": 0.5, "hatch": "//////"}
SCORE: Any = {"facecolor": "0.3", "edgecolor": "black", "linewidth": 0.5}
CUT: Any = {"marker": ((-0.3, -1), (0.3, 1)), "markersize": 22, "markeredgecolor": "white", "markeredgewidth": 2.2}


@dataclass(frozen=True, slots=True, eq=False)
class _Steps:
    """The bars between the two scores: where each starts, how far it goes, and its interval as ends on the axis."""

    labels: list[str]
    starts: Array
    amounts: Array
    low: Array
    high: Array


@in_house_style
def causes(
    parts: Sequence[str],
    amounts: ArrayLike,
    start: float,
    end: float,
    *,
    title: str,
    unit: str,
    low: ArrayLike | None = None,
    high: ArrayLike | None = None,
    most: int = 10,
) -> Figure:
    """One product's way from its old score to its new one, the largest cause first.

    Parameters
    ----------
    parts : k names of causes
    amounts : array_like, shape (k,), in `unit`: what each adds to the score, or, below 0, takes from it
    start, end : the old and the new score, in `unit`
    title : what is shown, above the figure
    unit : what the scores are, for the axis
    low, high : array_like, shape (k,), ends of an interval for each amount, NaN where there is none; both or neither
    most : the number of causes drawn one by one; those beyond are one bar with their sum, which has no interval. A
        single one beyond them is drawn by its name, for it takes no more room

    Raises
    ------
    ValueError
        No cause; another shape; a missing or infinite figure; one end of the intervals without the other, or swapped
        ends; start plus all amounts off the end by more than 1e-9 of the largest of them; `most` below 1.
    """
    count = len(parts)
    something("the list of causes", count)
    (a,) = checked((count,), amounts=amounts)
    (scores,) = checked((2,), **{"start or end": (start, end)})
    for name, values in (("amounts", a), ("start or end", scores)):
        if np.isnan(values).any():
            raise ValueError(f"{name} holds NaN, where every figure is needed")
    if most < 1:
        raise ValueError(f"most is {most}, must be 1 or more")
    _adds_up(a, start, end)
    a_low, a_high = _intervals(count, low, high)
    order = np.argsort(-np.abs(a), kind="stable")
    singly = count if count == most + 1 else most
    shown, rest = order[:singly], order[singly:]
    decimals = _decimals(a)
    steps = _steps([literal(parts[i]) for i in shown], start, a[shown], a_low[shown], a_high[shown], a[rest])
    return _causes_figure(steps, scores, unit, decimals, title, _rest(a[rest], low is not None, decimals))


def _adds_up(amounts: Array, start: float, end: float) -> None:
    """Refuse amounts that do not lead from one score to the other."""
    found = math.fsum([start, *amounts])
    scale = max(abs(start), abs(end), float(np.abs(amounts).max()))
    if abs(found - end) > TOLERANCE * scale:
        raise ValueError(f"start plus the amounts is {found:.12g}, where end is {end:.12g}")


def _intervals(count: int, low: ArrayLike | None, high: ArrayLike | None) -> tuple[Array, Array]:
    """The ends of the intervals; NaN where none are given."""
    if (low is None) != (high is None):
        raise ValueError(f"{'low' if high is None else 'high'} is given without the other end of the intervals")
    nothing = np.full(count, np.nan)
    a_low, a_high = checked((count,), low=nothing if low is None else low, high=nothing if high is None else high)
    ordered("low", a_low, "high", a_high)
    return a_low, a_high


def _steps(labels: list[str], start: float, amounts: Array, low: Array, high: Array, rest: Array) -> _Steps:
    """The bars one after the other, those of the rest as one."""
    if rest.size:
        labels = [*labels, f"{rest.size} more"]
        amounts = np.append(amounts, math.fsum(rest))
        low, high = np.append(low, np.nan), np.append(high, np.nan)
    starts = start + np.concatenate([[0.0], np.cumsum(amounts)[:-1]])
    return _Steps(labels, starts, amounts, starts + low, starts + high)


def _decimals(amounts: Array) -> int:
    """So many decimals that the largest amount shows two digits or more, and hundredths as a rule."""
    largest = float(np.abs(amounts).max())
    size = math.floor(math.log10(largest)) if largest > 0 else 0
    return min(max(1 - size, 0 if size > 1 else 2), 12)


def _signed(amount: float, decimals: int) -> str:
    """An amount with its sign; one that would read as nothing is bounded by the least that would not."""
    if amount == 0:
        return f"{0:.{decimals}f}"
    if round(abs(amount), decimals) == 0:
        return f"{'< +' if amount > 0 else '> −'}{10**-decimals:.{decimals}f}"
    return _minus(f"{amount:+.{decimals}f}")


def _minus(number: str) -> str:
    """A printed number with a typographic minus, as on the axis."""
    return number.replace("-", "−")


def _rest(amounts: Array, intervals: bool, decimals: int) -> str:
    """What the causes drawn as one bar come to, in words; nothing where all are drawn."""
    if not amounts.size:
        return ""
    bound = math.ceil(float(np.abs(amounts).max()) * 10**decimals * (1 - 1e-12)) / 10**decimals
    up, down = math.fsum(amounts[amounts > 0]), math.fsum(amounts[amounts < 0])
    parts = [f"the {amounts.size} more: each {bound:.{decimals}f} or less, up or down"]
    parts += [f"in all {_signed(up, decimals)} and {_signed(down, decimals)}"] if up and down else []
    parts += ["no interval for their sum"] if intervals else []
    return ", ".join(parts)


def _causes_figure(steps: _Steps, scores: Array, unit: str, decimals: int, title: str, note: str) -> Figure:
    """The old score on top, the causes under it, the new score at the foot."""
    rows = len(steps.labels) + 2
    labels = ["old score", *steps.labels, "new score"]
    texts = [_minus(f"{value:z.{decimals}f}") for value in scores]
    texts[1:1] = [_signed(float(amount), decimals) for amount in steps.amounts]
    tall = ROW_IN * rows
    figure = blank(inches_wide(labels, TEXT) + PLOT_IN + 0.5, tall + 0.55)
    (axes,) = axes_of(figure, 1, 1)
    base = _set_axis(axes, steps, scores, inches_wide(texts, SMALL))
    _draw_steps(axes, steps)
    _draw_scores(axes, scores, base)
    right = np.concatenate([[max(scores[0], base)], _right_ends(steps), [max(scores[1], base)]])
    for row, (text, x) in enumerate(zip(texts, right, strict=True)):
        axes.annotate(text, (x, row), (4, 0), textcoords="offset points", fontsize=SMALL, va="center_baseline")
    axes.set_yticks(range(rows), labels, fontsize=TEXT)
    axes.set_ylim(rows - 0.45, -0.55)
    axes.set_ylabel(wrapped("cause, the largest first", tall, TEXT), fontsize=TEXT)
    axes.set_xlabel(wrapped(shortened(unit, LONGEST_UNIT), PLOT_IN, TEXT), fontsize=TEXT)
    cut = "the axis does not begin at 0: the bars of both scores are cut, and their lengths are not to be compared"
    dress(figure, title, key=_key(steps), note="\n".join(line for line in (cut if base else "", note) if line))
    return figure


def _right_ends(steps: _Steps) -> Array:
    """How far to the right each bar and its interval reach."""
    ends = np.stack([steps.starts, steps.starts + steps.amounts, steps.high])
    return np.array(np.nanmax(ends, axis=0), dtype=float)


def _set_axis(axes: Axes, steps: _Steps, scores: Array, text_in: float) -> float:
    """Scale and grid, with room at the right for the figures; the place at which the bars of both scores start."""
    ends = np.concatenate([scores, steps.starts, steps.starts + steps.amounts, steps.low, steps.high])
    lowest, highest = float(np.nanmin(ends)), float(np.nanmax(ends))
    span = (highest - lowest) or 0.1 * abs(highest) or 1.0
    off = max(lowest, -highest, 0.0)
    beyond = lowest - 0.25 * span if lowest > 0 else highest + 0.25 * span
    base = 0.0 if off <= REACH * span else beyond
    lowest, highest = min(lowest, base), max(highest, base)
    span = (highest - lowest) or 1.0
    room = (text_in + 0.15) / PLOT_IN
    axes.set_xlim(lowest - (0.02 * span if base != lowest else 0.0), lowest + span / (1 - room))
    axes.axvline(base, color="black", linewidth=0.8, zorder=2.5, linestyle="-" if base == 0 else (0, (2, 2)))
    axes.grid(axis="x", color="0.88", linewidth=0.6)
    axes.set_axisbelow(True)
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0)
    axes.tick_params(axis="x", labelsize=TEXT)
    axes.ticklabel_format(axis="x", useOffset=False)
    axes.locator_params(axis="x", nbins=max(int(PLOT_IN / (1.15 * text_in + 0.3)), 1))
    return base


def _draw_steps(axes: Axes, steps: _Steps) -> None:
    """A bar for each cause, up or down, its interval, and a stroke from each bar to the next."""
    at = np.arange(1, len(steps.labels) + 1, dtype=float)
    for chosen, look in ((steps.amounts >= 0, UP), (steps.amounts < 0, DOWN)):
        axes.barh(at[chosen], steps.amounts[chosen], left=steps.starts[chosen], height=THICK, **look)
    whiskers(axes, at, steps.low, steps.high, size=6)
    totals = np.append(steps.starts, steps.starts[-1] + steps.amounts[-1])
    rows = np.arange(len(totals))
    axes.vlines(totals, rows + THICK / 2, rows + 1 - THICK / 2, color="0.3", linewidth=0.8)


def _draw_scores(axes: Axes, scores: Array, base: float) -> None:
    """The bars of the old and the new score, with a white cut across each that does not start at 0."""
    rows = np.array([0.0, len(axes.patches) + 1.0])
    axes.barh(rows, scores - base, left=base, height=THICK, **SCORE)
    if base != 0:
        low, high = axes.get_xlim()
        inward = 0.02 * (high - low) * (1 if scores[0] > base else -1)
        axes.plot([base + inward] * 2, rows, linestyle="none", markerfacecolor="none", zorder=3, **CUT)


def _key(steps: _Steps) -> list[tuple[Artist, str]]:
    """What each fill means, of those that are drawn."""
    key: list[tuple[Artist, str]] = [(Patch(**SCORE), "old and new score")]
    key += [(Patch(**UP), "raises it")] if (steps.amounts > 0).any() else []
    key += [(Patch(**DOWN), "lowers it")] if (steps.amounts < 0).any() else []
    if not np.isnan(steps.low + steps.high).all():
        key.append((Line2D([], [], color="black", marker="|", linewidth=0.9), "interval"))
    return key
