"""Sobol' indices and Shapley effects of functions whose shares of variance are known exactly.

Each function is the expression of a score, its inputs constants of the formula that a study varies: the cases go the whole
way of `steelyard sensitivity`. Expressions have no sine, so Ishigami's stands there as its series.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from math import factorial, pi

import numpy as np

from analysis.indices.sensitivity import sensitivity_study
from analysis.indices.shapley_effects import linear_gaussian_effects
from analysis.indices.shapley_study import shapley_study
from analysis.selftest.closed_case import ClosedCase, of_constants

BASE_POINTS = 65_536
#: Our own interval sets the room that an estimate has, but never more than this.
MOST_ROOM = 0.03
#: Terms of the series of the sine: on -pi to pi it is off by less than 3e-8.
SINE_TERMS = 9

ISHIGAMI = (
    "Ishigami and Homma 1990, a = 7, b = 0.1, on -pi to pi: formulas read in the sources of OpenTURNS, use case ishigami; "
    "digits worked out"
)
G_FUNCTION = "G-function, a = 0, 1, 4.5, 9 and four of 99: coefficients read in the sources of SALib; digits worked out"
G_COEFFICIENTS = (0, 1, 4.5, 9, 99, 99, 99, 99)
FROM_DEFINITION = "worked out in closed form from the definition"
PAIR = (
    "Iooss and Prieur 2019, Shapley effects with correlated inputs: set-up (weights 1, standard deviations 1, 1, 2, "
    "correlation 0.9) read in the R package sensitivity, man/shapleyPermEx.Rd; digits worked out"
)
ROUNDING_ONLY = "closed form against closed form: the rounding of a few dozen operations"


def sine(name: str) -> str:
    """The sine of a named number between -pi and pi as an expression, its series in nested form."""
    text = "1"
    for term in range(SINE_TERMS - 1, 0, -1):
        ratio = factorial(2 * term + 1) // factorial(2 * term - 1)
        text = f"(1 - {name} * {name} / {ratio} * {text})"
    return f"{name} * {text}"


def ishigami_study() -> tuple[str, dict[str, str]]:
    """The expression of Ishigami's function, and how its inputs vary."""
    expression = f"{sine('x1')} + 7 * ({sine('x2')}) ** 2 + 0.1 * x3 ** 4 * {sine('x1')}"
    return expression, dict.fromkeys(("x1", "x2", "x3"), f"uniform: [{-pi!r}, {pi!r}]")


def ishigami(seed: int) -> Iterator[ClosedCase]:
    """First-order, total and second-order indices."""
    wanted = {
        "first order of x1": 0.31390519114781146,
        "first order of x3": 0.0,
        "total of x1": 0.5575888552099592,
        "total of x3": 0.24368366406214773,
        "second order of x1 and x3": 0.24368366406214773,
    }
    yield from indices_of("Ishigami function", ISHIGAMI, *ishigami_study(), wanted, seed, second_order=True)


def g_function(seed: int) -> Iterator[ClosedCase]:
    """First-order and total indices of a product of eight factors."""
    factors = (f"(abs(4 * x{i} - 2) + {a}) / (1 + {a})" for i, a in enumerate(G_COEFFICIENTS, start=1))
    varying = {f"x{i}": "uniform: [0, 1]" for i in range(1, 9)}
    wanted = {
        "first order of x1": 0.7161921688790331,
        "total of x1": 0.7871441266592748,
    }
    yield from indices_of("G-function", G_FUNCTION, " * ".join(factors), varying, wanted, seed)


def weighted_sum(seed: int) -> Iterator[ClosedCase]:
    """Independent normal inputs of equal spread: shares of w^2, with no interaction."""
    varying = dict.fromkeys(("x1", "x2", "x3", "x4"), "normal: {sd: 1}")
    expression = "0.4 * x1 + 0.3 * x2 + 0.2 * x3 + 0.1 * x4"
    wanted = {"first order of x1": 16 / 30}
    yield from indices_of("weighted sum of 0.4, 0.3, 0.2, 0.1", FROM_DEFINITION, expression, varying, wanted, seed)


def product(seed: int) -> Iterator[ClosedCase]:
    """Two uniform inputs multiplied."""
    varying = dict.fromkeys(("x1", "x2"), "uniform: [0, 1]")
    wanted = {"first order of x1": 3 / 7, "total of x1": 4 / 7, "second order of x1 and x2": 1 / 7}
    yield from indices_of("product of two", FROM_DEFINITION, "x1 * x2", varying, wanted, seed, second_order=True)


def indices_of(
    function: str,
    source: str,
    expression: str,
    varying: dict[str, str],
    wanted: dict[str, float],
    seed: int,
    *,
    second_order: bool = False,
) -> Iterator[ClosedCase]:
    """The wanted indices of a function of constants, from one run."""
    study, table = of_constants(expression, varying)
    (found,) = sensitivity_study(study, table, by="factor", budget=BASE_POINTS, second_order=second_order, seed=seed)
    names = [swap.name.removeprefix("constants.") for swap in found.swaps]
    pairs = [f"{one} and {other}" for i, one in enumerate(names) for other in names[i + 1 :]]
    for figure, exact in wanted.items():
        kind, which = figure.split(" of ")
        row = pairs.index(which) if kind == "second order" else names.index(which)
        field = kind.split(" ")[0]
        value, low, high = (getattr(found.indices, f"{field}{end}")[row, 0] for end in ("", "_low", "_high"))
        yield sampled(f"{function}, {figure}", source, exact, BASE_POINTS, value, low, high)


def sampled(name: str, source: str, exact: float, points: int, value: float, low: float, high: float) -> ClosedCase:
    """The case of an estimate that has an interval of its own."""
    room = min(1.5 * (float(high) - float(low)), MOST_ROOM)
    why = f"{points:,} base points: three half-widths of its own 95 % interval, at most {MOST_ROOM:g}"
    return ClosedCase("sensitivity", name, source, exact, room, why, float(value))


def correlated_pair(seed: int) -> Iterator[ClosedCase]:
    """Shapley effects of three normal inputs, two of them correlated: by the closed form, and by simulation."""
    exact = linear_gaussian_effects([1, 1, 1], np.array([[1, 0, 0], [0, 1, 1.8], [0, 1.8, 4]]))
    case = partial(ClosedCase, "sensitivity", source=PAIR, within=1e-10, why=ROUNDING_ONLY)
    for name, figure, ours in (
        ("Shapley effect of x2", 4.015 / 9.6, exact.effects[1]),
        ("total of x2", 0.19 / 9.6, exact.total[1]),
    ):
        yield case(name=f"correlated pair by the closed form, {name}", published=figure, ours=float(ours))
    varying = dict.fromkeys(("x1", "x2", "x3"), "normal: {sd: 1}")
    study = of_constants("x1 + x2 + 2 * x3", varying, [("x2", "x3", 0.9)])
    wanted = {"effects of x2": 4.015 / 9.6, "total of x2": 0.19 / 9.6}
    (found,) = shapley_study(*study, by="factor", points=BASE_POINTS, seed=seed)
    for wish, value in wanted.items():
        kind, which = wish.split(" of ")
        row, prefix = list(varying).index(which), "" if kind == "effects" else f"{kind}_"
        ends = (getattr(found.effects, name)[row, 0] for name in (kind, f"{prefix}low", f"{prefix}high"))
        said = f"correlated pair, {'Shapley effect' if kind == 'effects' else kind} of {which}"
        yield sampled(said, PAIR, value, BASE_POINTS, *ends)


def ishigami_effects(seed: int) -> Iterator[ClosedCase]:
    """Independent inputs: the interaction is shared out in halves."""
    expression, varying = ishigami_study()
    (found,) = shapley_study(*of_constants(expression, varying), by="factor", points=BASE_POINTS, seed=seed)
    effects = found.effects
    for row, exact in ((0, 0.4357470231788853), (2, 0.12184183203107386)):
        ends = effects.effects[row, 0], effects.low[row, 0], effects.high[row, 0]
        yield sampled(f"Ishigami function, Shapley effect of x{row + 1}", ISHIGAMI, exact, BASE_POINTS, *ends)


GROUPS = (ishigami, g_function, weighted_sum, product, correlated_pair, ishigami_effects)
