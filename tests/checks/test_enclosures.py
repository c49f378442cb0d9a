"""The rigorous face of every function and blend against its kernel: values lie within, difference quotients too."""

from __future__ import annotations

import math
import zlib
from collections.abc import Callable, Sequence

import numpy as np
import pytest
import sympy
from sympy import Expr, Float, Integer, Symbol

from scoring.blends import BLENDS, blend
from scoring.curves.leaning import Standing
from scoring.curves.smooth import Smooth
from scoring.curves.steps import Steps
from scoring.numbers.intervals import Interval, point
from scoring.program.kernel_code import FUNCTIONS, KernelPrinter
from scoring.symbolic.branches import Present
from scoring.symbolic.broken_line import Beyond, Points
from scoring.symbolic.functions import Clamp, Greatest, Least, OwnFunction
from scoring.symbolic.rounded import rounded

Rng = np.random.Generator
X = [Symbol(f"x{index}", real=True) for index in range(5)]


def anchors(rng: Rng, monotone: bool = False) -> tuple[list[Expr], list[Interval]]:
    """Two to five anchors, some of equal height, as numbers and as points."""
    count = int(rng.integers(2, 6))
    xs = np.cumsum(rng.choice([0.5, 1.0, 3.7], count))
    ys = rng.choice([1.0, 4.0, 4.0, 7.5, 10.0], count)
    flat = [float(v) for pair in zip(xs, np.sort(ys) if monotone else ys, strict=True) for v in pair]
    return [Float(v) for v in flat], [point(v) for v in flat]


def curve(kind: type[OwnFunction]) -> Callable[[Rng], tuple[Expr, list[Symbol], list[tuple[float, float]], list[int]]]:
    """A curve of one variable over anchors made by chance."""

    def build(rng: Rng) -> tuple[Expr, list[Symbol], list[tuple[float, float]], list[int]]:
        numbers, _ = anchors(rng)
        return kind(X[0], *numbers), [X[0]], [(-2.0, 14.0)], [0]

    return build


def clamp(rng: Rng) -> tuple[Expr, list[Symbol], list[tuple[float, float]], list[int]]:
    """A clamp whose ends move too; they may cross."""
    return Clamp(*X[:3]), X[:3], [(-1, 11), (0, 3), (2, 10)], [0, 1, 2]


def rounding(rule: str) -> Callable[[Rng], tuple[Expr, list[Symbol], list[tuple[float, float]], list[int]]]:
    """A rounding with a step made by chance."""

    def build(rng: Rng) -> tuple[Expr, list[Symbol], list[tuple[float, float]], list[int]]:
        step = Float(float(rng.choice([0.1, 0.5, 1.0, 0.25])))
        return rounded(X[0], step, rule), [X[0]], [(-6, 6)], [0]

    return build


def extreme(
    kind: type[OwnFunction],
) -> Callable[[Rng], tuple[Expr, list[Symbol], list[tuple[float, float]], list[int]]]:
    """The least or greatest of three."""
    return lambda rng: (kind(*X[:3]), X[:3], [(0, 10)] * 3, [0, 1, 2])


def present(rng: Rng) -> tuple[Expr, list[Symbol], list[tuple[float, float]], list[int]]:
    """A value that is there, or its stand-in."""
    here = Integer(int(rng.integers(0, 2)))
    return Present(here, X[0], X[1]), X[:2], [(0, 10)] * 2, [0, 1]


def own_figures(name: str, exponent: Float) -> dict[str, Float]:
    """A figure for each number that a blend has of its own: an exponent, or the one of its example."""
    examples = {number.name: Float(number.example.rpartition(":")[2]) for number in BLENDS[name].numbers}
    return {own: exponent if own == "exponent" else example for own, example in examples.items()}


def blended(name: str) -> Callable[[Rng], tuple[Expr, list[Symbol], list[tuple[float, float]], list[int]]]:
    """A blend of three parts, of which one or two may be missing."""

    def build(rng: Rng) -> tuple[Expr, list[Symbol], list[tuple[float, float]], list[int]]:
        here = [1, int(rng.integers(0, 2)), int(rng.integers(0, 2))]
        weights = rng.choice([0.5, 1.0, 2.0, 4.0], 3)
        exponent = Float(float(rng.choice([-2.0, -0.5, 0.5, 3.0])))
        triples = [(Float(float(w)), Integer(h), x) for w, h, x in zip(weights, here, X[:3], strict=True)]
        return blend(name, triples, own_figures(name, exponent)), X[:3], [(0.5, 10)] * 3, [0, 1, 2]

    return build


CASES = {
    **{kind.__name__: curve(kind) for kind in (Points, Beyond, Smooth, Steps)},
    **{f"rounded {rule}": rounding(rule) for rule in ("half-up", "half-even", "down", "up", "floor", "ceiling")},
    **{kind.__name__: extreme(kind) for kind in (Least, Greatest)},
    **{name: blended(name) for name in BLENDS},
    "Clamp": clamp,
    "Present": present,
}


def boxes(rng: Rng, spans: Sequence[tuple[float, float]]) -> list[Interval]:
    """A box within the spans: wide, narrow, or a point on some sides, its ends often at round numbers."""
    found = []
    for low, high in spans:
        ends = np.sort(rng.uniform(low, high, 2))
        if rng.random() < 0.4:
            ends = np.clip(np.round(ends * 2) / 2, low, high)
        if rng.random() < 0.2:
            ends[1] = min(high, ends[0] + 10.0 ** -rng.integers(1, 8))
        found.append(Interval(float(ends[0]), float(max(ends))))
    return found


def kernel_of(expression: Expr, symbols: Sequence[Symbol]) -> Callable[..., np.ndarray]:
    """The expression as the kernel computes it."""
    work = sympy.lambdify(list(symbols), [expression], modules=[FUNCTIONS, "numpy"], printer=KernelPrinter())

    def run(*columns: np.ndarray) -> np.ndarray:
        with np.errstate(all="ignore"):
            return np.broadcast_to(np.asarray(work(*columns)[0], float), columns[0].shape)

    return run


def members(rng: Rng, box: Sequence[Interval], count: int) -> np.ndarray:
    """Points of a box, its corners among them, one row a side."""
    shares = rng.uniform(0, 1, (len(box), count))
    shares[:, :16] = np.round(shares[:, :16])
    low, high = (np.array([getattr(side, end) for side in box])[:, None] for end in ("low", "high"))
    return np.clip(low + (high - low) * shares, low, high)


def arguments(expression: Expr, symbols: Sequence[Symbol], box: Sequence[Interval]) -> list[Interval]:
    """The interval of every argument of a function: sides of the box, and numbers."""
    sides = dict(zip(symbols, box, strict=True))
    return [sides[arg] if arg in sides else point(float(arg)) for arg in expression.args]


@pytest.mark.parametrize("name", CASES)
def test_every_value_and_every_quotient_lies_within(name: str) -> None:
    """Over random boxes the kernel's values lie in `enclose`, and its difference quotients in `slopes`."""
    rng = np.random.default_rng(zlib.crc32(name.encode()))
    for _ in range(60):
        expression, symbols, spans, moving = CASES[name](rng)
        box, work = boxes(rng, spans), kernel_of(expression, symbols)
        args = arguments(expression, symbols, box)
        held, slopes = expression.enclose(args), expression.slopes(args)
        points = members(rng, box, 200)
        values = work(*points)
        dust = 1e-11 * max(1.0, float(np.nanmax(np.abs(values))))
        assert held.low - dust <= values.min() <= values.max() <= held.high + dust, (expression, box)
        for side in moving:
            slope = slopes[expression.args.index(symbols[side])]
            other = points.copy()
            other[side] = members(rng, box, 200)[side]
            apart = other[side] - points[side]
            change = work(*other) - values
            quotients = change[np.abs(apart) > 1e-9] / apart[np.abs(apart) > 1e-9]
            loose = dust / np.abs(apart[np.abs(apart) > 1e-9])
            assert np.all(quotients >= slope.low - loose), (expression, box, side)
            assert np.all(quotients <= slope.high + loose), (expression, box, side)


@pytest.mark.parametrize("name", CASES)
def test_enclosures_close_in_on_the_value(name: str) -> None:
    """Over a tiny box away from a jump the enclosure is tiny too: subdivision gets somewhere."""
    rng = np.random.default_rng(zlib.crc32(name.encode()) + 1)
    widths = []
    for _ in range(60):
        expression, symbols, spans, _ = CASES[name](rng)
        centre = [float(rng.uniform(low, high)) for low, high in spans]
        box = [Interval(x, x + 1e-7) for x in centre]
        held = expression.enclose(arguments(expression, symbols, box))
        widths.append(held.width / max(1.0, held.size))
    assert np.median(widths) < 2e-5


@pytest.mark.parametrize("name", BLENDS)
def test_an_open_presence_holds_every_pattern(name: str) -> None:
    """With presence open, a blend's enclosure holds the value for every choice of parts with one at least."""
    rng = np.random.default_rng(zlib.crc32(name.encode()) + 2)
    for _ in range(30):
        weights, exponent = rng.choice([0.5, 1.0, 2.0], 3), Float(float(rng.choice([-1.0, 0.5, 2.0])))
        values = rng.uniform(0.5, 10, 3)
        here = [Symbol(f"h{index}", real=True) for index in range(3)]
        triples = [(Float(float(w)), h, Float(float(v))) for w, h, v in zip(weights, here, values, strict=True)]
        expression = blend(name, triples, own_figures(name, exponent))
        sides = dict.fromkeys(here, Interval(0, 1))
        held = expression.enclose([sides[a] if a in sides else point(float(a)) for a in expression.args])
        work = kernel_of(expression, here)
        patterns = np.array([[i & 1, i >> 1 & 1, i >> 2 & 1] for i in range(1, 8)], float).T
        found = work(*patterns)
        assert held.low - 1e-9 <= found.min() <= found.max() <= held.high + 1e-9
        assert held.low == pytest.approx(found.min(), abs=1e-6) or name in ("sum", "product")


def test_a_standing_is_a_share_that_never_falls() -> None:
    """Whatever the population, a standing lies between 0 and 1 and rises with the reading."""
    standing = Standing(X[0], X[1], Integer(0))
    box = [Interval(0, 5), Interval(0, 9), point(0.0)]
    assert standing.enclose(box) == Interval(0, 1)
    assert standing.slopes(box)[0] == Interval(0, math.inf)


def test_a_smooth_curve_is_held_within_its_piece() -> None:
    """A monotone cubic over part of a piece is held far tighter than by the anchors around it."""
    smooth = Smooth(X[0], *(Float(v) for v in (0.0, 0.0, 10.0, 10.0)))
    args = [Interval(4.9, 5.1), *(point(v) for v in (0.0, 0.0, 10.0, 10.0))]
    assert smooth.enclose(args).width < 0.4
    slope = smooth.slopes(args)[0]
    assert 0.9 < slope.low <= slope.high < 1.6


def test_equal_neighbouring_steps_do_not_jump() -> None:
    """Two steps of the same height have no slope between them."""
    steps = Steps(X[0], *(Float(v) for v in (0.0, 7.0, 1.0, 7.0)))
    assert steps.slopes([Interval(0.5, 1.5), *(point(v) for v in (0.0, 7.0, 1.0, 7.0))])[0] == Interval(0, 0)
