"""The faces of the curves' own functions, worked by hand: in plain sympy, keyed in, as a textbook sets them, as code."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

import pytest
from sympy import Expr, Float, Integer, Rational, Symbol

from analysis.languages.plain import plain
from scoring.curves.leaning import Standing
from scoring.curves.smooth import Smooth
from scoring.curves.steps import Steps
from scoring.numbers.rounding import RULES, round_decimal
from scoring.program.kernel import KernelPrinter
from scoring.program.typesetting import Setter
from scoring.symbolic.broken_line import Beyond, Points
from scoring.symbolic.functions import OwnFunction
from scoring.symbolic.rounded import rounded

X, T, CROWD, A = (Symbol(name, real=True) for name in ("x", "t", "p", "a"))
SETTER = Setter({}, {})


def numbers(*values: float) -> list[Expr]:
    """Numbers as a formula's: whole ones stay whole."""
    return [Integer(int(value)) if value == int(value) else Float(value) for value in values]


POINTS = Points(X, *numbers(2, 10, 4, 7, 9, 1))
BEYOND = Beyond(X, *numbers(1, 2, 2, 4, 4, 5))
STEPS = Steps(X, *numbers(10, 2, 20, 5, 30, 9))
SMOOTH = Smooth(X, *numbers(0, 1, 1, 9, 3, 9))
STRAIGHT = Smooth(X, *numbers(0, 2, 1, 4, 4, 10))
STANDING = Standing(X, CROWD, Integer(0))


class Keyed:
    """Numbers in: x and what else is known, each figure to seven digits."""

    def __init__(self, known: Mapping[Expr, float]) -> None:
        self.known = dict(known)

    def value(self, expr: Expr) -> float:
        return self.known[expr] if expr in self.known else float(expr.xreplace(self.known))

    def text(self, expr: Expr) -> str:
        return self.figure(self.value(expr))

    def figure(self, value: float) -> str:
        return f"{value:.7g}"

    def holds(self, condition: Expr) -> bool:
        return bool(condition.xreplace(self.known))


# The first cubic of SMOOTH: secants 8 and 0, so slope 0 at 1, and ((2*1 + 2)*8 - 1*0)/(1 + 2) = 32/3 at 0; then
# (3*8 - 2*32/3 - 0)/1 = 8/3 and (32/3 + 0 - 2*8)/1 = -16/3.
TRACES = {
    "below points": (POINTS, 0, "(10 [held: 0 lies beyond the anchor 2])"),
    "above points": (POINTS, 50, "(1 [held: 50 lies beyond the anchor 9])"),
    "first anchor": (POINTS, 2, "(10 + (7 - 10)*(2 - 2)/(4 - 2))"),
    "inner anchor": (POINTS, 4, "(10 + (7 - 10)*(4 - 2)/(4 - 2))"),
    "second stretch": (POINTS, 6, "(7 + (1 - 7)*(6 - 4)/(9 - 4))"),
    "last anchor": (POINTS, 9, "(7 + (1 - 7)*(9 - 4)/(9 - 4))"),
    "carried on below": (BEYOND, 0.5, "(-1 [the end slope carried on])"),
    "carried on above": (BEYOND, 8, "(2 [the end slope carried on])"),
    "nothing to carry on": (BEYOND, 3, "(0)"),
    "below all steps": (STEPS, 5, "(2 [the step from 10 on, for 5])"),
    "just below a step": (STEPS, 19.5, "(2 [the step from 10 on, for 19.5])"),
    "on a step": (STEPS, 20, "(5 [the step from 20 on, for 20])"),
    "beyond all steps": (STEPS, 99, "(9 [the step from 30 on, for 99])"),
    "below a smooth curve": (STRAIGHT, -1, "(2 [held: -1 lies beyond the anchor 0])"),
    "above a smooth curve": (STRAIGHT, 9, "(10 [held: 9 lies beyond the anchor 4])"),
    "first of a smooth curve": (STRAIGHT, 0, "(2 + (2)*(0 - 0) + (0)*(0 - 0)**2 + (0)*(0 - 0)**3)"),
    "inner of a smooth curve": (STRAIGHT, 1, "(2 + (2)*(1 - 0) + (0)*(1 - 0)**2 + (0)*(1 - 0)**3)"),
    "last of a smooth curve": (STRAIGHT, 4, "(4 + (2)*(4 - 1) + (0)*(4 - 1)**2 + (0)*(4 - 1)**3)"),
    "bent": (SMOOTH, 0.5, "(1 + (10.66667)*(0.5 - 0) + (2.666667)*(0.5 - 0)**2 + (-5.333333)*(0.5 - 0)**3)"),
    "rounded": (rounded(X, Rational(1, 2), "up"), 2.2, "(2.5 [2.2 rounded up to 0.5])"),
}  # fmt: skip


@pytest.mark.parametrize("name", TRACES)
def test_a_curve_is_keyed_in_as_by_hand(name: str) -> None:
    """Each stretch, each anchor and both outsides."""
    function, x, text = TRACES[name]
    assert function.trace(Keyed({X: x})) == text


def test_a_standing_is_keyed_in_as_a_share() -> None:
    """Counting is left to the reader."""
    share = "the share of the reference population that it stands above"
    assert STANDING.trace(Keyed({STANDING: 0.25})) == f"(0.25 [{share}])"
    assert str(STANDING.elementary()) == "standing(x, p, 0)"


# Points: 10 - 3 (3 - 2)/2 = 8.5; 7 - 6 (6 - 4)/5 = 4.6. The cubic of SMOOTH at 1/2: 1 + 16/3 + 2/3 - 2/3 = 19/3.
ELEMENTARY = {
    "points": (POINTS, {0: 10, 2: 10, 3: 8.5, 4: 7, 6: 4.6, 9: 1, 50: 1}),
    "beyond": (BEYOND, {0.5: -1, 1: 0, 3: 0, 4: 0, 8: 2}),
    # slopes (8 - 2)/2 = 3 and (16 - 6)/5 = 2
    "beyond four": (Beyond(X, *numbers(1, 2, 3, 8, 7, 6, 12, 16)), {0: -3, 1: 0, 5: 0, 12: 0, 13: 2}),
    "steps": (STEPS, {5: 2, 10: 2, 19.5: 2, 20: 5, 29: 5, 30: 9, 99: 9}),
    "smooth": (SMOOTH, {-1: 1, 0: 1, 0.5: 19 / 3, 1: 9, 2: 9, 3: 9, 5: 9}),
    # slopes 0 at 4 and (3 (-7) - 0)/2 = -10.5 at 5: at 4.5, (9 + 2)/2 + 1/4 (10.5/2) = 6.8125
    "smooth four": (
        Smooth(X, *numbers(0, 1, 1, 9, 3, 9, 4, 9, 5, 2)),
        {0.5: 19 / 3, 2: 9, 3.5: 9, 4.5: 6.8125, 5: 2, 6: 2},
    ),
    "straight": (STRAIGHT, {-1: 2, 0.5: 3, 1: 4, 2: 6, 4: 10, 9: 10}),
}


@pytest.mark.parametrize("name", ELEMENTARY)
def test_a_curve_in_plain_sympy_has_the_values_worked_by_hand(name: str) -> None:
    """On each stretch, at each anchor and beyond both ends."""
    function, values = ELEMENTARY[name]
    found = [float(function.elementary().subs(X, x)) for x in values]
    assert found == pytest.approx(list(map(float, values.values())), abs=1e-12)


@pytest.mark.parametrize("rule", RULES)
def test_a_rounding_in_plain_sympy_is_exact_decimal_rounding(rule: str) -> None:
    """Halves, quarters and whole multiples on both sides of 0, against `decimal`."""
    function = rounded(X, Rational(1, 2), rule).elementary()
    for quarters in range(-11, 12):
        found = Fraction(str(function.subs(X, Rational(quarters, 8))))
        assert found == Fraction(round_decimal(quarters / 8, "0.5", rule)), quarters


SET = {
    "points": (
        POINTS,
        "{10 if x ≤ 2; 10 + (7 − 10) × (x − 2)/(4 − 2) if 2 < x ≤ 4; "
        "7 + (1 − 7) × (x − 4)/(9 − 4) if 4 < x ≤ 9; 1 if x > 9}",
    ),
    "steps": (STEPS, "{2 if x < 20; 5 if 20 ≤ x < 30; 9 if x ≥ 30}"),
    "smooth": (
        SMOOTH,
        "{1 if x < 0; 1 + 10.66666667 × t + 2.666666667 × t^2 − 5.333333333 × t^3 if 0 ≤ x < 1 with t = x − 0; "
        "9 if 1 ≤ x < 3 with t = x − 1; 9 if x ≥ 3}",
    ),
    "smooth of t": (Smooth(T, *numbers(0, 2, 4, 10)), "{2 if t < 0; 2 + 2 × d if 0 ≤ t < 4 with d = t − 0; 10 if t ≥ 4}"),
    "mean": (STANDING, "(count(p < x) + 0.5 × count(p = x))/count(p)"),
    "mean, lower": (Standing(-X, -CROWD, Integer(0)), "(count(p > x) + 0.5 × count(p = x))/count(p)"),
    "lowest": (Standing(X, CROWD, Integer(1)), "(count(p < x) + min(1, count(p = x)))/count(p)"),
    "lowest, lower": (Standing(-X, -CROWD, Integer(1)), "(count(p > x) + min(1, count(p = x)))/count(p)"),
    "highest": (Standing(X, CROWD, Integer(2)), "(count(p < x) + count(p = x))/count(p)"),
    "highest, lower": (Standing(-X, -CROWD, Integer(2)), "(count(p > x) + count(p = x))/count(p)"),
    "one side lower": (Standing(-X, CROWD, Integer(2)), "(count(p < −x) + count(p = −x))/count(p)"),
    "rounded": (rounded(X, Integer(1), "floor"), "x, rounded down to 1"),
}  # fmt: skip


@pytest.mark.parametrize("name", SET)
def test_a_curve_is_set_as_a_textbook_has_it(name: str) -> None:
    """The whole line, read by eye."""
    function, text = SET[name]
    assert plain(function.typeset(SETTER)) == text


def test_an_extended_points_curve_is_set_with_its_first_and_last_stretch_open() -> None:
    """As one formula where the two belong together, and not where they do not."""
    line = Points(*BEYOND.args)
    whole = line.typeset_with([BEYOND], SETTER)
    assert whole is not None
    assert plain(whole) == "{2 + (4 − 2) × (x − 1)/(2 − 1) if x ≤ 2; 4 + (5 − 4) × (x − 2)/(4 − 2) if x > 2}"
    two = Points(X, *numbers(1, 2, 2, 4))
    straight = two.typeset_with([Beyond(*two.args)], SETTER)
    assert straight is not None
    assert plain(straight) == "2 + (4 − 2) × (x − 1)/(2 − 1)"
    for others in ([], [BEYOND, BEYOND], [STEPS], [Beyond(*two.args)], [STEPS, BEYOND]):
        assert line.typeset_with(others, SETTER) is None


@pytest.mark.parametrize(
    ("kind", "fixed", "varying"),
    [(Points, "interp", "segments"), (Steps, "steps", "varying_steps"), (Smooth, "fixed_smooth", "smooth")],
)
def test_a_curve_calls_the_quick_function_where_all_its_anchors_are_numbers(
    kind: type[OwnFunction], fixed: str, varying: str
) -> None:
    """One that varies, first or last, and it is the other."""
    of = KernelPrinter().doprint
    assert of(kind(X, *numbers(0, 2, 4, 10))).split("(")[0] == fixed
    for anchors in ((A, 2, 4, 10), (0, 2, 4, A)):
        xs, ys = ", ".join(map(str, anchors[::2])), ", ".join(map(str, anchors[1::2]))
        assert of(kind(X, *anchors)) == f"{varying}(x, ({xs},), ({ys},))"


def test_the_code_of_a_curve_has_its_numbers_in_rows() -> None:
    """Places, then ratings; a smooth curve has a row of each power's coefficients: 2 + 2 (x - 0)."""
    of = KernelPrinter().doprint
    assert of(POINTS) == "interp(x, (2, 4, 9,), (10, 7, 1,))"
    assert of(BEYOND) == "beyond(x, (1, 2, 4,), (2, 4, 5,))"
    assert (
        of(Smooth(X, *numbers(0, 2, 4, 10)))
        == "fixed_smooth(x, (0.0, 4.0), (2.0, 10.0), ((2.0,), (2.0,), (0.0,), (0.0,)))"
    )
    assert [of(Standing(X, CROWD, Integer(ties))) for ties in range(3)] == [
        f"standing(x, p, {ties!r})" for ties in ("mean", "lowest", "highest")
    ]
    assert of(rounded(X, Integer(3), "half-even")) == "round_to(x, 3, 'half-even')"
