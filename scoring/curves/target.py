"""Best at a target (or within a distance of it), falling straight to the low end on both sides."""

from __future__ import annotations

from collections.abc import Iterator

from sympy import Expr, Integer

from scoring.curves.kind import ERROR, HELD, CurveInputs, CurveKind, Keep, between, number
from scoring.errors import Problem
from scoring.form import Curve
from scoring.symbolic.functions import Clamp, Least
from scoring.units.role import UnitRole


def _build(inputs: CurveInputs) -> Expr:
    low, best, high, within = (inputs.number(name) for name in ("low", "best", "high", "within"))
    rising = (inputs.x - low) / (best - within - low)
    falling = (high - inputs.x) / (high - best - within)
    share = Clamp(Least(rising, falling), Integer(0), Integer(1))
    return inputs.low + (inputs.high - inputs.low) * share


def _faults(curve: Curve) -> Iterator[Problem]:
    low, best, high, within = (curve.number(name) for name in ("low", "best", "high", "within"))
    if within.value < 0:
        yield Problem(within.place, f"`within: {within.text}`", "0 or more")
    elif not low.value < best.value - within.value <= best.value + within.value < high.value:
        found = f"low {low.text}, best {best.text}, high {high.text}, within {within.value:g}"
        yield Problem(best.place, found, "low < best - within and best + within < high", f"At {curve.address}.")


def _keeps(curve: Curve) -> tuple[Keep, ...]:
    low, best, high, within = (curve.number(name) for name in ("low", "best", "high", "within"))
    says = "low < best - within and best + within < high"
    return (
        Keep(((1.0, within),), ">=", "`within` is 0 or more"),
        Keep(((1.0, best), (-1.0, within), (-1.0, low)), ">", says),
        Keep(((1.0, high), (-1.0, best), (-1.0, within)), ">", says),
    )


def _bends(curve: Curve) -> tuple[float, ...]:
    """From where to where it is at the top."""
    best, within = curve.number("best").value, curve.number("within").value
    return best - within, best + within


TARGET = CurveKind(
    name="target",
    says="the scale's high end `within` a distance of `best`, falling straight to the low end at `low` and `high`",
    example="target: {low: 3.5, best: 7.5, high: 12, within: 0.5}",
    keys=(
        number("low", "the reading below the target that gets the low end of the scale", UnitRole.ALONG),
        number("best", "the target", UnitRole.ALONG),
        number("high", "the reading above the target that gets the low end", UnitRole.ALONG),
        number("within", "how far from the target still gets the high end", UnitRole.LENGTH, default=0.0),
    ),
    outside=(HELD, ERROR),
    build=_build,
    faults=_faults,
    keeps=_keeps,
    ends=between("low", "high"),
    bends=_bends,
)
