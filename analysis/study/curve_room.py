"""The room that the numbers of a curve have: whether it is a curve wherever they may lie, and how far anchors may move."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import product

from analysis.study.distributions import Distribution, LogUniform, Uniform
from scoring.curves import KINDS
from scoring.errors import Problem
from scoring.form import Curve, Number

#: An anchor moves by at most this share of the way to the next one, so that two never meet.
NEAREST = 0.45
#: Anchors are drawn nearer by half as often as this, where the curve would not be one otherwise.
MOST_HALVINGS = 60


def curve_fault(curve: Curve, ranges: Mapping[str, tuple[float, ...]]) -> Problem | None:
    """What the kind of a curve has to say against some of the figures that its numbers can take; None where nothing.

    Parameters
    ----------
    ranges : address -> the figures to try; every combination is tried. A number that is not there stays as stated.

    Notes
    -----
    What a kind asks of its numbers is linear in them, so that what holds at all ends holds between them. Anchors that are
    written `measure: rating` need only stand in order, which is looked at elsewhere.
    """
    tried = [ranges.get(number.address, (number.value,)) for _, number in curve.numbers]
    for figures in product(*tried):
        numbers = tuple(
            (name, _at(number, figure)) for (name, number), figure in zip(curve.numbers, figures, strict=True)
        )
        for problem in KINDS[curve.kind].faults(replace(curve, numbers=numbers)):
            return problem
    return None


def _at(number: Number, value: float) -> Number:
    return number if value == number.value else replace(number, value=value, text=f"{value:.6g}")


def moved_anchors(curve: Curve, share: float) -> Iterator[tuple[Number, Distribution]]:
    """Every number of a curve that lies along the measure, and what it is moved by up to a share of the stretch.

    The share is of the logarithm's stretch where distances are ratios. No anchor gets as far as half way to the next.
    """
    kind = KINDS[curve.kind]
    stretch, positions = kind.stretch(curve), kind.positions(curve)
    if stretch is None:
        return
    forth = math.log if kind.in_ratios else float
    whole = share * abs(forth(stretch[1]) - forth(stretch[0]))
    at = [forth(number.value) for number in positions]
    reaches = [min([whole, *(NEAREST * abs(x - y) for y in at if y != x)]) for x in at]
    for _ in range(MOST_HALVINGS):
        found = [_around(x, reach, kind.in_ratios) for x, reach in zip(at, reaches, strict=True)]
        if curve_fault(curve, {n.address: d.ends for n, d in zip(positions, found, strict=True)}) is None:
            yield from zip(positions, found, strict=True)
            return
        reaches = [reach / 2 for reach in reaches]


def _around(centre: float, reach: float, in_ratios: bool) -> Distribution:
    if in_ratios:
        return LogUniform(math.exp(centre - reach), math.exp(centre + reach))
    return Uniform(centre - reach, centre + reach)
