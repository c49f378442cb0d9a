"""Whether all that varies goes together: each thing once, no anchor past another, no choice that contradicts another.

The numbers of a curve have the room in which it stays a curve wherever they may lie; anchors move within it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, product

import numpy as np

from analysis.study.distributions import Distribution, LogUniform, Uniform
from analysis.study.gaussian_copula import BELOW_ZERO
from analysis.study.study import Move
from scoring.addresses.addresses import addresses, set_address
from scoring.curves import KINDS
from scoring.errors import Place, Problem
from scoring.form import Curve, Form, Number
from scoring.reader.fields import Reader

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


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """A move and the place of the item that it comes from."""

    place: Place
    move: Move


def check_together(reader: Reader, form: Form, placed: Sequence[Placed]) -> None:
    """Gather a fault for all that does not go together."""
    _check_each_once(reader, placed)
    if not reader.problems:  # what varies twice would be found again by what follows
        _check_nested(reader, form, placed)
        _check_resampled(reader, placed)
        _check_curves(reader, form, placed)
        _check_order(reader, form, placed)
        _check_weights(reader, form, placed)


def _check_each_once(reader: Reader, placed: Sequence[Placed]) -> None:
    seen: dict[str, Place] = {}
    for one in placed:
        names = {factor.name for factor in one.move.factors} | one.move.owns
        for name in sorted(names & seen.keys()):
            hint = f"It varies already by {seen[name]}."
            reader.fault(one.place, f"{name} twice under vary", "each thing that varies once", hint)
        seen |= dict.fromkeys(names - seen.keys(), one.place)


def _check_nested(reader: Reader, form: Form, placed: Sequence[Placed]) -> None:
    """What stands inside a curve or expression that is chosen may vary only where no other option has it, too."""
    for chosen in placed:
        if not chosen.move.options:
            continue
        for address in sorted(chosen.move.owns):
            inside: dict[str, Placed] = {}
            for one in placed:
                if one is not chosen:
                    inside |= {own: one for own in one.move.owns if own.startswith(address + ".")}
            others = [dict(option)[address] for option in chosen.move.options if address in dict(option)]
            known = [addresses(set_address(form, address, value)) for value in others] if inside else []
            for own, one in inside.items():
                if one.move.options or any(own in option for option in known):
                    expected = f"something that only the stated option of {address} has"
                    reader.fault(one.place, f"{own}, which stands inside what varies as a whole", expected)


def _check_resampled(reader: Reader, placed: Sequence[Placed]) -> None:
    """Repeats drawn anew are summed up by the stated rules, so that a choice among these would do nothing."""
    if not any(one.move.resamples for one in placed):
        return
    for one in placed:
        for address in sorted(one.move.owns):
            if address.startswith("measures."):
                expected = "`readings: repeatability`, or no choice about readings"
                reader.fault(one.place, f"{address} beside `readings: bootstrap`", expected)


def _ranges(placed: Sequence[Placed]) -> tuple[dict[str, tuple[float, ...]], dict[str, Place]]:
    """Of numbers drawn one by one: what each may lie between, and the place that says so."""
    ranges: dict[str, tuple[float, ...]] = {}
    places: dict[str, Place] = {}
    for one in placed:
        ranges |= one.move.ranges
        places |= dict.fromkeys(one.move.ranges, one.place)
    return ranges, places


def _check_curves(reader: Reader, form: Form, placed: Sequence[Placed]) -> None:
    """Every curve is one wherever its numbers lie together."""
    ranges, places = _ranges(placed)
    for curve in _curves(form):
        own = [number.address for _, number in curve.numbers if number.address in ranges]
        problem = curve_fault(curve, ranges) if own else None
        if problem is not None:
            found = f"numbers of {curve.address} that can be drawn together: {problem.found}"
            reader.fault(places[own[-1]], found, problem.expected)


def _check_order(reader: Reader, form: Form, placed: Sequence[Placed]) -> None:
    """No anchor passes another, nor one end of a scale or of a population the other end."""
    ranges, places = _ranges(placed)
    for row in _rows(form):
        held = sorted(row, key=lambda number: number.value)
        for lesser, greater in pairwise(held):
            low, high = (ranges.get(number.address, (number.value,)) for number in (lesser, greater))
            moved = [number.address for number in (greater, lesser) if number.address in ranges]
            if moved and max(low) >= min(high):
                found = f"{lesser.address} up to {max(low):.6g} and {greater.address} from {min(high):.6g}"
                reader.fault(places[moved[0]], found, "ranges that do not meet, so that neither passes the other")


def _check_weights(reader: Reader, form: Form, placed: Sequence[Placed]) -> None:
    """No draw takes every weight of an output away: by options of 0, shares that go down to 0, or a part left out."""
    left_out = {one.move.leaves_out for one in placed}
    taken = {address: one.place for one in placed for address in one.move.may_be_nought}
    for output in form.outputs:
        weights = [part.weight for part in output.parts if part.weight is not None]
        own = [weight.address for weight in weights if weight.address in taken]
        sure = [weight for weight in weights if weight.value > 0 and weight.address not in taken]
        if own and len(sure) < 1 + (output.name in left_out):
            found = f"weights of {output.name} that can all be 0 in one draw"
            reader.fault(taken[own[-1]], found, "a weight that is left in every draw")


def _rows(form: Form) -> Iterator[tuple[Number, ...]]:
    """Numbers that keep the order in which they are stated."""
    for scale in dict.fromkeys([form.scale, *(output.scale for output in form.outputs)]):
        if scale.high is not None:
            yield scale.low, scale.high
    for curve in _curves(form):
        yield KINDS[curve.kind].positions(curve)
        figures = dict(curve.reference.figures) if curve.reference is not None else {}
        if {"least", "greatest"} <= figures.keys():
            yield figures["least"], figures["greatest"]


def _curves(form: Form) -> Iterator[Curve]:
    for output in form.outputs:
        yield from (part.curve for part in output.parts if part.curve is not None)
        yield from (limit.curve for limit in output.limits if limit.curve is not None)


def least_eigenvalue(names: Mapping[str, int], correlations: Sequence[tuple[str, str, float]]) -> float:
    """The least eigenvalue of the matrix that correlations make, 0 where rounding alone takes it below; 1 of none."""
    involved = [name for name in names if any(name in pair[:2] for pair in correlations)]
    matrix = np.eye(max(1, len(involved)))
    for first, second, value in correlations:
        i, j = involved.index(first), involved.index(second)
        matrix[i, j] = matrix[j, i] = value
    least = float(np.linalg.eigvalsh(matrix)[0])
    return 0.0 if -BELOW_ZERO <= least < 0 else least
