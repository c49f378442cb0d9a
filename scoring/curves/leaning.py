"""Curves that lean on a reference population: standing, z, min-max, ratio to best.

Sources: OECD/JRC, Handbook on Constructing Composite Indicators, 2008, Table 15 and the text beside it: z on n - 1,
min-max on the population's own ends, ratio to the leader, percentile rank with ties at the lowest rank.
"""

from __future__ import annotations

from collections.abc import Sequence

from sympy import Expr, Function, Integer

from scoring.curves.kind import BETTER, HIGH, LOW, CurveInputs, CurveKind, choice, number
from scoring.numbers.intervals import BOTH_WAYS, EVERYWHERE, RISING, UNIT, Interval
from scoring.symbolic.arithmetic import Over, opposite
from scoring.symbolic.functions import Clamp, CodePrinter, Tracer, Typesetter
from scoring.symbolic.notation import Minus, Notation, Number, add, call, divide, multiply, relate
from scoring.symbolic.stairs import Stairs
from scoring.units.role import UnitRole

TIES = ("mean", "lowest", "highest")


class Standing(Stairs):
    """Standing(x, population, ties): the share of the population that x stands above."""

    jumps_as = "standing"

    def where(self, output: str) -> str:  # noqa: ARG002
        return "every member of the reference population"

    def code(self, printer: CodePrinter) -> str:
        x, population, ties = self.args
        return f"standing({printer.doprint(x)}, {printer.population_code(population)}, {TIES[int(ties)]!r})"

    def elementary(self) -> Expr:
        """Counting has no elementary form: it stays a named function of x and the population."""
        return Function("standing")(*self.args)

    def trace(self, tracer: Tracer) -> str:
        share = tracer.value(self)
        return f"({tracer.figure(share)} [the share of the reference population that it stands above])"

    def typeset(self, setter: Typesetter) -> Notation:
        """Members of the population counted, those on the worse side of x and those equal to it."""
        x, population, ties = setter.set(self.args[0]), setter.set(self.args[1]), TIES[int(self.args[2])]
        lower = isinstance(x, Minus) and isinstance(population, Minus)
        if isinstance(x, Minus) and isinstance(population, Minus):
            x, population = x.part, population.part
        worse, equal = (call("count", relate((population, x), (sign,))) for sign in (">" if lower else "<", "="))
        counted = {
            "mean": add(worse, multiply(Number("0.5"), equal)),
            "lowest": add(worse, call("min", Number("1"), equal)),
            "highest": add(worse, equal),
        }[ties]
        return divide(counted, call("count", population))

    def enclose(self, args: Sequence[Interval]) -> Interval:  # noqa: ARG002
        return UNIT

    def slopes(self, args: Sequence[Interval]) -> tuple[Interval, ...]:  # noqa: ARG002
        return RISING, EVERYWHERE, EVERYWHERE

    def jump(self, args: Sequence[Interval], value: Interval) -> Interval:  # noqa: ARG002
        """However many members are passed at once, no more than all of them."""
        return BOTH_WAYS

    def moved(self, args: Sequence[Interval], inner: Interval) -> Interval:  # noqa: ARG002
        return BOTH_WAYS


def _better_is_lower(inputs: CurveInputs) -> bool:
    return inputs.curve.choice("better") == "lower"


def _standing(inputs: CurveInputs) -> Expr:
    ties = Integer(TIES.index(inputs.curve.choice("ties")))
    x, population = inputs.x, inputs.figure("population")
    if _better_is_lower(inputs):
        x, population = opposite(x), opposite(population)
    share = Standing(x, population, ties)
    return inputs.low + (inputs.high - inputs.low) * share


def _z(inputs: CurveInputs) -> Expr:
    distance = inputs.number("per_sd") * Over(inputs.x - inputs.figure("mean"), inputs.figure("sd"))
    centre = inputs.number("centre")
    value = centre - distance if _better_is_lower(inputs) else centre + distance
    return Clamp(value, inputs.low, inputs.high)


def _minmax(inputs: CurveInputs) -> Expr:
    worst, best = inputs.figure("least"), inputs.figure("greatest")
    if _better_is_lower(inputs):
        worst, best = best, worst
    share = Over((inputs.high - inputs.low) * (inputs.x - worst), best - worst)
    return Clamp(inputs.low + share, inputs.low, inputs.high)


def _ratio(inputs: CurveInputs) -> Expr:
    lower = _better_is_lower(inputs)
    ratio = Over(inputs.figure("least"), inputs.x) if lower else Over(inputs.x, inputs.figure("greatest"))
    return Clamp(inputs.high * ratio, inputs.low, inputs.high)


DIRECTION = choice("better", BETTER, ("higher", "lower"))

STANDING = CurveKind(
    name="standing",
    says="the share of the reference population that the product stands above, from the scale's low end to its high end",
    example="standing: {better: lower}",
    keys=(
        DIRECTION,
        choice("ties", "what equal members count for: half of them (mean), one of them (lowest), all (highest)", TIES),
    ),
    figures=("population",),
    build=_standing,
)
Z = CurveKind(
    name="z",
    says="`centre` plus `per_sd` points for each standard deviation (n - 1) from the reference mean, held to the scale",
    example="z: {centre: 5.5, per_sd: 1.5, better: lower}",
    keys=(
        number("centre", "the rating at the mean of the population", UnitRole.POINTS),
        number("per_sd", "rating points for one standard deviation", UnitRole.POINTS_APART),
        DIRECTION,
    ),
    figures=("mean", "sd"),
    needs_top=False,
    clamped=(LOW, HIGH),
    build=_z,
)
MINMAX = CurveKind(
    name="minmax",
    says="straight from the worst of the reference population to its best",
    example="minmax: {better: lower}",
    keys=(DIRECTION,),
    figures=("least", "greatest"),
    build=_minmax,
)
RATIO = CurveKind(
    name="ratio",
    says="the scale's high end times the ratio to the best of the reference population",
    example="ratio: {better: higher}",
    keys=(DIRECTION,),
    figures=("least", "greatest"),
    ratio_scaled=True,
    clamped=(LOW,),
    build=_ratio,
)
