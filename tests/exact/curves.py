"""Every kind of curve by the words of the form's page, in exact numbers."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from exact.reals import (
    HALF_ULP,
    Real,
    Undefined,
    Value,
    compare,
    exponential,
    fraction,
    greatest,
    held,
    key_of,
    leaf,
    least,
    logarithm,
    loose,
    minus,
    negative,
    over,
    plus,
    power,
    sign,
    times,
)

from scoring.form import Curve

Points = Sequence[tuple[Fraction, Fraction]]


@dataclass(frozen=True, slots=True)
class Around:
    """What a curve stands in: the scale's ends, and the figures of the population that it leans on."""

    low: Fraction
    high: Fraction | None
    figure: Callable[[str], Value]
    members: Callable[[], Sequence[Real]]


def written(curve: Curve, name: str) -> Fraction:
    """One of its numbers, as written."""
    return Fraction(curve.number(name).text)


def anchors_of(curve: Curve) -> list[tuple[Fraction, Fraction]]:
    """Its anchors, as written."""
    return [(Fraction(at.text), Fraction(gives.text)) for at, gives in curve.anchors]


def through(curve: Curve, x: Value, around: Around) -> Value:
    """The rating that the curve gives."""
    if isinstance(x, Undefined):
        return x
    value = _KINDS[curve.kind](curve, x, around)
    if curve.kind in ("steps", "points", "smooth", "standing") or isinstance(value, Undefined):
        return value
    return loose(value, max(abs(float(around.low)), abs(float(around.high or 0)), value.size), 16)


def _on_scale(share: Value, around: Around) -> Value:
    """The low end of the scale, and a share of the way to its high end."""
    assert around.high is not None
    return plus(leaf(around.low), times(leaf(around.high - around.low), share))


def _way(curve: Curve, x: Real) -> Value:
    worst, best = written(curve, "worst"), written(curve, "best")
    return over(minus(x, leaf(worst)), minus(leaf(best), leaf(worst)))


def _ends(curve: Curve) -> tuple[str, str]:
    """What holds below and above the anchors, by one word or by two."""
    said = {name: choice.value for name, choice in curve.choices}
    return said.get("outside.below", said.get("outside", "")), said.get("outside.above", said.get("outside", ""))


def _reached(curve: Curve, x: Real, low: Fraction, high: Fraction) -> Real:
    """The place that the line is followed to, where it goes on beyond one anchor alone."""
    below, above = (word == "extended" for word in _ends(curve))
    if below == above:
        return x
    place = least([x, leaf(high)]) if below else greatest([x, leaf(low)])
    assert isinstance(place, Real)
    return place


def _kept(curve: Curve, value: Value, around: Around) -> Value:
    """Held to the scale, unless it goes on beyond an anchor."""
    if "extended" in _ends(curve):
        return value
    assert around.high is not None
    return held(value, leaf(around.low), leaf(around.high))


def _line(curve: Curve, x: Real, around: Around) -> Value:
    low, high = sorted((written(curve, "worst"), written(curve, "best")))
    return _kept(curve, _on_scale(_way(curve, _reached(curve, x, low, high)), around), around)


def _log(curve: Curve, x: Real, around: Around) -> Value:
    worst, best = written(curve, "worst"), written(curve, "best")
    if x.x == 0 and x.off == 0 and _ends(curve)[0] != "extended":
        assert around.high is not None
        return leaf(around.low if worst < best else around.high)  # what lies beyond an anchor is held at it
    if sign(x) > 0:
        x = _reached(curve, x, *sorted((worst, best)))
    run = minus(logarithm(leaf(best)), logarithm(leaf(worst)))
    return _kept(curve, _on_scale(over(minus(logarithm(x), logarithm(leaf(worst))), run), around), around)


def _power(curve: Curve, x: Real, around: Around) -> Value:
    way = held(_way(curve, x), leaf(0), leaf(1))
    return _on_scale(power(way, leaf(written(curve, "exponent"))), around)


def _logistic(curve: Curve, x: Real, around: Around) -> Value:
    distance = over(minus(x, leaf(written(curve, "middle"))), leaf(written(curve, "spread")))
    if isinstance(distance, Real) and curve.choice("better") == "higher":
        distance = negative(distance)
    return _on_scale(over(leaf(1), plus(leaf(1), exponential(distance))), around)


def _target(curve: Curve, x: Real, around: Around) -> Value:
    low, best, high = (leaf(written(curve, name)) for name in ("low", "best", "high"))
    numbers = dict(curve.numbers)
    within = leaf(Fraction(numbers["within"].text) if "within" in numbers else 0)
    rising = over(minus(x, low), minus(minus(best, within), low))
    falling = over(minus(high, x), minus(minus(high, best), within))
    return _on_scale(held(least([rising, falling]), leaf(0), leaf(1)), around)


def _steps(curve: Curve, x: Real, around: Around) -> Value:
    del around
    (_, rating), *rest = anchors_of(curve)
    for edge, gives in rest:
        if compare(x, leaf(edge)) >= 0:
            rating = gives
    return leaf(rating)


def _points(curve: Curve, x: Real, around: Around) -> Value:
    del around
    anchors = anchors_of(curve)
    if "extended" not in _ends(curve):
        return broken_line(anchors, x)
    return broken_line(anchors, _reached(curve, x, anchors[0][0], anchors[-1][0]), extended=True)


def broken_line(points: Points, x: Value, *, extended: bool = False) -> Value:
    """Straight from each point to the next, held (or carried on) beyond the first and the last."""
    if isinstance(x, Undefined):
        return x
    here = fraction(x.x)
    for at, gives in points:
        if x.nearest and here == at:
            return leaf(gives)
    if not extended and here < points[0][0]:
        return _flat(points[0], points[1], x)
    if not extended and here > points[-1][0]:
        return _flat(points[-1], points[-2], x)
    after = next((i for i in range(1, len(points) - 1) if here <= points[i][0]), len(points) - 1)
    (x0, y0), (x1, y1) = points[after - 1], points[after]
    slope = (y1 - y0) / (x1 - x0)
    value = y0 + slope * (here - x0)
    steepest = max(abs(float((b[1] - a[1]) / (b[0] - a[0]))) for a, b in itertools.pairwise(points))
    places = x.size + abs(float(x0)) + abs(float(x1))
    off = steepest * (x.off + 8 * HALF_ULP * places)
    off += 16 * HALF_ULP * (max(abs(float(y)) for _, y in points) + abs(float(value)))
    return Real(value, off, key_of("points", x.key, tuple(points), extended))


def _flat(end: tuple[Fraction, Fraction], inner: tuple[Fraction, Fraction], x: Real) -> Value:
    """The rating of the outermost point, beyond it; a double may lie just on the other side."""
    value = leaf(end[1])
    if abs(float(x.x) - float(end[0])) > x.off:
        return value
    slope = abs(float((inner[1] - end[1]) / (inner[0] - end[0])))
    return Real(value.x, value.off + 3 * slope * x.off, key_of("flat", x.key, end))


def _smooth(curve: Curve, x: Real, around: Around) -> Value:
    """The monotone cubic of Fritsch and Butland (1984) with three-point slopes at its ends (from memory)."""
    del around
    points = anchors_of(curve)
    here = fraction(x.x)
    for at, gives in points:
        if x.nearest and here == at:
            return leaf(gives)
    if here < points[0][0]:
        return _flat(points[0], points[1], x)
    if here > points[-1][0]:
        return _flat(points[-1], points[-2], x)
    slopes = _slopes(points)
    i = next(i for i in range(len(points) - 1) if here <= points[i + 1][0])
    (x0, y0), (x1, y1) = points[i], points[i + 1]
    h, m0, m1 = x1 - x0, slopes[i], slopes[i + 1]
    t = (here - x0) / h
    value = y0 * (1 + 2 * t) * (1 - t) ** 2 + h * m0 * t * (1 - t) ** 2
    value += y1 * t**2 * (3 - 2 * t) - h * m1 * t**2 * (1 - t)
    steepest = 3 * max(abs(float((q[1] - p[1]) / (q[0] - p[0]))) for p, q in itertools.pairwise(points))
    off = steepest * (x.off + 16 * HALF_ULP * (x.size + abs(float(x0)) + abs(float(x1))))
    off += 64 * HALF_ULP * (abs(float(y0)) + abs(float(y1)))
    return Real(value, off, key_of("smooth", x.key, tuple(points)))


def _slopes(points: Points) -> list[Fraction]:
    runs = [b[0] - a[0] for a, b in itertools.pairwise(points)]
    secants = [(b[1] - a[1]) / run for a, b, run in zip(points, points[1:], runs, strict=False)]
    if len(secants) == 1:
        return [secants[0]] * 2
    inner = []
    for h0, h1, d0, d1 in zip(runs, runs[1:], secants, secants[1:], strict=False):
        if d0 * d1 <= 0:
            inner.append(Fraction(0))
        else:
            inner.append(3 * (h0 + h1) / ((2 * h1 + h0) / d0 + (h1 + 2 * h0) / d1))
    return [
        _end(runs[0], runs[1], secants[0], secants[1]),
        *inner,
        _end(runs[-1], runs[-2], secants[-1], secants[-2]),
    ]


def _end(h0: Fraction, h1: Fraction, d0: Fraction, d1: Fraction) -> Fraction:
    slope = ((2 * h0 + h1) * d0 - h0 * d1) / (h0 + h1)
    if slope * d0 <= 0:
        return Fraction(0)
    if d0 * d1 < 0 and abs(slope) > 3 * abs(d0):
        return 3 * d0
    return slope


def _standing(curve: Curve, x: Real, around: Around) -> Value:
    sides = [compare(member, x) for member in around.members()]
    if curve.choice("better") == "lower":
        sides = [-side for side in sides]
    below, equal = sides.count(-1), sides.count(0)
    counted = {"mean": below + Fraction(equal, 2), "lowest": below + min(equal, 1), "highest": below + equal}
    share = leaf(counted[curve.choice("ties")] / Fraction(max(len(sides), 1)))
    return loose(_on_scale(share, around), float(around.high or 0) + abs(float(around.low)))


def _z(curve: Curve, x: Real, around: Around) -> Value:
    z = over(minus(x, around.figure("mean")), around.figure("sd"))
    if isinstance(z, Real) and curve.choice("better") == "lower":
        z = negative(z)
    value = plus(leaf(written(curve, "centre")), times(leaf(written(curve, "per_sd")), z))
    return held(value, leaf(around.low), leaf(around.high)) if around.high is not None else value


def _minmax(curve: Curve, x: Real, around: Around) -> Value:
    worst, best = around.figure("least"), around.figure("greatest")
    if curve.choice("better") == "lower":
        worst, best = best, worst
    value = _on_scale(over(minus(x, worst), minus(best, worst)), around)
    assert around.high is not None
    return held(value, leaf(around.low), leaf(around.high))


def _ratio(curve: Curve, x: Real, around: Around) -> Value:
    lower = curve.choice("better") == "lower"
    ratio = over(around.figure("least"), x) if lower else over(x, around.figure("greatest"))
    assert around.high is not None
    return held(times(leaf(around.high), ratio), leaf(around.low), leaf(around.high))


_KINDS: dict[str, Callable[[Curve, Real, Around], Value]] = {
    "line": _line,
    "points": _points,
    "smooth": _smooth,
    "logistic": _logistic,
    "power": _power,
    "log": _log,
    "target": _target,
    "steps": _steps,
    "standing": _standing,
    "z": _z,
    "minmax": _minmax,
    "ratio": _ratio,
}
__all__ = ["Around", "broken_line", "through"]
