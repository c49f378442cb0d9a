"""Enclosures of curves whose anchors are known to an interval only: as of decimals that no double is, and wider."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from scoring.curves.smooth import Smooth, _inner_slope
from scoring.curves.steps import Steps
from scoring.numbers.arrays import beyond, segments, smooth, varying_steps
from scoring.numbers.intervals import EVERYWHERE, Interval, point
from scoring.symbolic.broken_line import Beyond, Points

CURVES = {Points: segments, Beyond: beyond, Smooth: smooth, Steps: varying_steps}
NAMES = list(range(64))  # the arguments themselves play no part: their intervals do
DRAWS = 40


@pytest.mark.parametrize("kind", CURVES)
@pytest.mark.parametrize("seed", range(12))
def test_every_curve_whose_anchors_lie_in_the_intervals_is_held(kind: type, seed: int) -> None:
    """Anchors drawn from their intervals, readings from a box that often ends within an anchor's: values and quotients lie within."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(2, 6))
    places, ratings = 1.0 + np.arange(count) * rng.choice([1.0, 1.5]), rng.choice([1.0, 2.0, 4.0, 4.0, 9.0], count)
    width, height = rng.choice([0.0, 0.1, 0.2]), rng.choice([0.0, 0.3])
    sides = [
        pair
        for x, y in zip(places, ratings, strict=True)
        for pair in ((x - width, x + width), (y - height, y + height))
    ]
    args = [Interval(*side) for side in sides]
    drawn = rng.uniform(*np.array(sides).T[..., np.newaxis], (len(sides), DRAWS))
    drawn[:, :2] = np.array(sides)
    drawn[1::2] = ratings[:, np.newaxis] + (drawn[1] - ratings[0])  # two anchors of one rating keep it
    xs, ys = ([column[:, np.newaxis] for column in drawn[start::2]] for start in (0, 1))
    for _ in range(12):
        low, high = np.sort(
            rng.choice([*np.concatenate([places, places - width, places + width / 2]), *rng.uniform(0, 9, 4)], 2)
        )
        x = np.sort(np.concatenate([[low, high], rng.uniform(low, high, 30)]))
        box = [Interval(float(low), float(high)), *args]
        held, slope = kind(*NAMES[: len(box)]).enclose(box), kind(*NAMES[: len(box)]).slopes(box)[0]
        values = CURVES[kind](x[np.newaxis], xs, ys)
        assert held.low - 1e-9 <= values.min()
        assert values.max() <= held.high + 1e-9
        runs = np.diff(x)
        quotients = np.diff(values, axis=1)[:, runs > 1e-4] / runs[runs > 1e-4]
        assert (slope.low - 1e-9 <= quotients).all()
        assert (quotients <= slope.high + 1e-9).all()


# Secants 2, 2.5 and 2.2: no slope at an anchor is held back, so that nothing is widened.
XS, YS = [0.0, 1.0, 3.0, 4.0], [1.0, 3.0, 8.0, 10.2]
BENT = [x for pair in zip(XS, YS, strict=True) for x in pair]
PCHIP = PchipInterpolator(XS, YS)


def cubic(x: float, derivative: int = 0) -> float:
    """The curve's value or derivative by scipy."""
    return float(PCHIP(x, derivative))


def at(low: float, high: float, anchors: list[float] = BENT) -> tuple[Interval, tuple[Interval, ...]]:
    """What a smooth curve is held to over a box: its values, its slopes."""
    box = [Interval(low, high), *map(point, anchors)]
    curve = Smooth(*NAMES[: len(box)])
    return curve.enclose(box), curve.slopes(box)


@pytest.mark.parametrize("x", [0.0, 0.3, 0.9999, 1.0, 1.5, 2.5, 3.0, 3.7, 4 - 1e-7])
def test_a_smooth_curve_is_held_closely(x: float) -> None:
    """Over a tiny box, its value and derivative are those of scipy's PchipInterpolator: at anchors and between them."""
    held, (slope, *others) = at(x, x + 1e-7)
    assert [held.low, held.high] == pytest.approx([cubic(x)] * 2, abs=1e-6)
    assert [slope.low, slope.high] == pytest.approx([cubic(x, 1)] * 2, abs=1e-5)
    assert others == [EVERYWHERE] * 8


def test_a_smooth_curve_is_held_closely_over_an_anchor_and_flat_beyond_the_ends() -> None:
    """The derivatives on both sides; 0 as well where the box passes an end, and 0 alone outside."""
    held, (slope, *_) = at(0.9, 1.1)
    assert [held.low, held.high] == pytest.approx([cubic(0.9), cubic(1.1)], abs=1e-9)
    assert 2.1 < slope.low < cubic(0.9, 1) + 0.1
    assert cubic(1.1, 1) - 0.1 < slope.high < 2.6
    for low, high in ((-1.0, 0.1), (3.9, 5.0)):
        slope = at(low, high)[1][0]
        assert slope.low == 0
        assert slope.high == pytest.approx(max(cubic(max(low, 0.0), 1), cubic(min(high, 4.0), 1)), abs=0.2)
    for low, high, rating in ((-2.0, -1.0, 1.0), (5.0, 6.0, 10.2), (-1.0, 0.0, 1.0), (4.0, 5.0, 10.2)):
        held, slopes = at(low, high)
        assert (held.low, held.high) == pytest.approx((rating, rating))
        assert low in (-1.0, 4.0) or (slopes[0].low, slopes[0].high) == (0, 0)


def test_a_smooth_curve_that_turns_is_flat_at_the_turn() -> None:
    """Secants 2 and -2, then -2 and 0: the slope at the top and at the foot is 0, exactly."""
    turning = [0.0, 1.0, 1.0, 3.0, 2.0, 1.0, 3.0, 1.0]
    for x in (1.0, 2.0):
        slope = at(x, x, turning)[1][0]
        assert (slope.low, slope.high) == pytest.approx((0, 0), abs=1e-12)
    slope = at(2.2, 2.8, turning)[1][0]
    assert (slope.low, slope.high) == pytest.approx((0, 0), abs=1e-12)


def test_a_slope_that_may_be_flat_is_held_to_three_secants() -> None:
    """The middle rating is known to 2.9 to 3.1 beside a last of 3: the second secant is -0.1 to 0.1, the slope between 0 and 0.3."""
    box = [Interval(1.5, 1.5), point(0.0), point(1.0), point(1.0), Interval(2.9, 3.1), point(2.0), point(3.0)]
    slope = Smooth(*NAMES[:7]).slopes(box)[0]
    assert -0.3 - 1e-9 <= slope.low < -0.05
    assert 0.05 < slope.high <= 0.3 + 1e-9


# Each case: two secants over runs of 1 and 2, and the slope between them. Of 2 and 4: weights 2*2 + 1 and 2 + 2*1, so 9/(5/2 + 4/4).
INNER = {
    "rising": ((2, 2), (4, 4), (9 / 3.5, 9 / 3.5)),
    "falling": ((-2, -2), (-4, -4), (-9 / 3.5, -9 / 3.5)),
    "gently": ((0.5, 0.5), (0.5, 0.5), (0.5, 0.5)),
    "a top": ((1, 2), (-2, -1), (0, 0)),
    "a foot": ((-2, -1), (1, 2), (0, 0)),
    "flat, then rising": ((0, 0), (2, 2), (0, 0)),
    "falling, then flat": ((-2, -2), (0, 0), (0, 0)),
    "rising to nought and falling from it": ((0, 1), (-1, 0), (0, 0)),
    "perhaps flat after": ((1, 1), (-0.1, 0.1), (-0.3, 0.3)),
    "perhaps flat before": ((-0.1, 0.1), (1, 1), (-0.3, 0.3)),
    "flat at most": ((0, 0.1), (1, 1), (0, 0.3)),
    "flat at least": ((-0.1, 0), (-1, -1), (-0.3, 0)),
}


@pytest.mark.parametrize("name", INNER)
def test_the_slope_at_an_inner_anchor_by_hand(name: str) -> None:
    """0 where the secants surely differ in sign, all that it may be where they may, else their weighted harmonic mean."""
    before, after, (low, high) = INNER[name]
    found = _inner_slope(point(1.0), point(2.0), Interval(*before), Interval(*after))
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-12)
