"""A picture of who moves: each product's old place at the left, its new one at the right, and a line between."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import ArrayLike, NDArray

from analysis.figures.canvas import Floats, checked, in_house_style, one_each, something
from analysis.figures.lettering import literal
from analysis.figures.slopes import FAR, Moves, moves_figure

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
    marks: Sequence[bool] | NDArray[np.bool_] | None = None,
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
    return moves_figure(moves, title, (old_title, new_title), _left_out(np.delete(places, drawn, axis=1)))


def _sure(marks: Sequence[bool] | NDArray[np.bool_] | None, count: int) -> NDArray[np.bool_]:
    """For each product whether it swaps places with one told apart from it; all do where nothing is said."""
    if marks is None:
        return np.ones(count, dtype=bool)
    one_each("marks", marks, count)
    sure = np.asarray(marks)
    if sure.dtype != np.bool_:
        raise ValueError("marks holds a value that is neither true nor false")
    return sure


def _kinds(places: Floats, sure: NDArray[np.bool_]) -> list[str]:
    """What kind of line each product has."""
    rise = places[0] - places[1]
    tests = [np.isnan(rise), ~sure, rise >= FAR, rise <= -FAR]
    return [str(kind) for kind in np.select(tests, ["alone", "unsure", "up", "down"], "near")]


def _that_move_most(places: Floats) -> NDArray[np.intp]:
    """The numbers of the products to draw, by how far they move; none that has no place on either side."""
    after_last = np.nanmax(places) + 1
    filled = np.where(np.isnan(places), after_last, places)
    order = np.argsort(-np.abs(filled[0] - filled[1]), kind="stable")
    return order[~np.isnan(places[:, order]).all(axis=0)][:MOST_LINES]


def _left_out(places: Floats) -> str:
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
