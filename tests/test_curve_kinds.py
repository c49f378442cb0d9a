"""What a kind of curve says of itself: where it lies on its measure, which numbers it refuses, what it keeps them to."""

from __future__ import annotations

import math

import pytest
from written_forms import curve_form, faults_of, form_of

from scoring.curves import KINDS
from scoring.curves.kind import between
from scoring.curves.leaning import Standing
from scoring.curves.steps import Steps
from scoring.form import Curve
from scoring.numbers.intervals import EVERYWHERE, FALLING, RISING, ZERO, Interval, point
from scoring.program.program import compile_form
from scoring.symbolic.broken_line import Beyond, Points
from scoring.symbolic.functions import Clamp


def curve_of(text: str) -> Curve:
    """A curve as it is read."""
    curve = form_of(curve_form(text)).ratings[0].parts[0].curve
    assert curve is not None
    return curve


# Each case: the curve, its numbers along the measure, and from where to where it does its work.
LIES = {
    "line rising": ("line: {worst: 22, best: 46}", [22, 46], (22, 46)),
    "line falling": ("line: {worst: 46, best: 22}", [46, 22], (22, 46)),
    "log": ("log: {worst: 40, best: 0.4}", [40, 0.4], (0.4, 40)),
    "power": ("power: {worst: 0, best: 60, exponent: 0.7}", [0, 60], (0, 60)),
    # a tenth of the way up where 1/(1 + e^-t) = 1/10, so t = -ln 9
    "logistic": (
        "logistic: {middle: 35, spread: 3}",
        [35],
        (35 - 3 * math.log(9), 35 + 3 * math.log(9)),
    ),
    "target": ("target: {low: 3.5, best: 7.5, high: 12}", [3.5, 7.5, 12], (3.5, 12)),
    "points": ("points: {40: 10, 80: 6, 135: 1}", [40, 80, 135], (40, 135)),
    "smooth": ("smooth: {1.5: 10, 4: 8, 9: 1}", [1.5, 4, 9], (1.5, 9)),
    "steps": ("steps: {0: 10, 30: 7, 40: 3}", [0, 30, 40], (0, 40)),
    "z": ("z: {centre: 5, per_sd: 2}", [], None),
}


@pytest.mark.parametrize("name", LIES)
def test_a_curve_knows_where_it_lies_on_its_measure(name: str) -> None:
    """The lesser end first, whichever is the better one."""
    text, positions, stretch = LIES[name]
    curve = curve_of(text)
    kind = KINDS[curve.kind]
    assert [number.value for number in kind.positions(curve)] == positions
    assert kind.stretch(curve) == (stretch if stretch is None else pytest.approx(stretch, abs=1e-12))


def test_the_lesser_of_two_numbers_comes_first() -> None:
    """Whatever they are called."""
    ends = between("worst", "best")
    for text, names in (
        ("line: {worst: 46, best: 22}", ["best", "worst"]),
        ("line: {worst: 2, best: 4}", ["worst", "best"]),
    ):
        assert [number.address.rsplit(".", 1)[-1] for number in ends(curve_of(text))] == names


@pytest.mark.parametrize("kind", ["line", "log"])
def test_only_a_curve_that_is_extended_is_not_held(kind: str) -> None:
    """Held it has a clamp, extended none."""
    for outside, held in (("held", True), ("extended", False)):
        program = compile_form(form_of(curve_form(f"{kind}: {{worst: 1, best: 9}}, outside: {outside}")))
        assert any(step.expression.has(Clamp) for step in program.steps) == held


@pytest.mark.parametrize(("better", "sign"), [("higher", 1), ("lower", -1)])
def test_a_standing_counts_the_readings_themselves_or_their_opposites(better: str, sign: int) -> None:
    """No multiple of them, so that what is printed is what is measured."""
    program = compile_form(form_of(curve_form(f"standing: {{better: {better}}}, reference: {{values: [1, 2, 4]}}")))
    (found,) = {standing for step in program.steps for standing in step.expression.atoms(Standing)}
    assert found.args[0] == sign * program.measures["x"]
    assert found.args[1].as_coeff_Mul()[0] == sign


# Each case: a curve one of whose numbers is at the edge of what is refused, and the fault's beginning; none at all beside it.
REFUSED = {
    "line": ("line: {worst: 5, best: 5}", "line: {worst: 5, best: 5.01}", "`worst` and `best` both 5"),
    "log": ("log: {worst: 5, best: 5}", "log: {worst: 5, best: 5.01}", "`worst` and `best` both 5"),
    "log worst": ("log: {worst: 0, best: 5}", "log: {worst: 0.01, best: 5}", "`worst: 0`"),
    "log best": ("log: {worst: 5, best: 0}", "log: {worst: 5, best: 0.01}", "`best: 0`"),
    "logistic": ("logistic: {middle: 5, spread: 0}", "logistic: {middle: 0, spread: 0.01}", "`spread: 0`"),
    "power": ("power: {worst: 1, best: 9, exponent: 0}", "power: {worst: 0, best: 9, exponent: 0.01}", "`exponent: 0`"),
    "power ends": ("power: {worst: 9, best: 9, exponent: 1}", "power: {worst: 9, best: 0, exponent: 1}", "both 9"),
    "target within": (
        "target: {low: 1, best: 5, high: 9, within: -0.5}",
        "target: {low: 1, best: 5, high: 9, within: 0}",
        "`within: -0.5`",
    ),
    "target low": (
        "target: {low: 4, best: 5, high: 9, within: 1}",
        "target: {low: 3.9, best: 5, high: 9, within: 1}",
        "low 4, best 5, high 9, within 1",
    ),
    "target high": (
        "target: {low: 1, best: 5, high: 6, within: 1}",
        "target: {low: 1, best: 5, high: 6.1, within: 1}",
        "low 1, best 5, high 6, within 1",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_curve_refuses_a_number_at_the_edge_and_takes_the_next(name: str) -> None:
    """One fault, which says what was found."""
    refused, taken, says = REFUSED[name]
    faults = faults_of(curve_form(refused))
    assert len(faults) == 1
    assert says in faults[0]
    assert faults_of(curve_form(taken)) == []


# Each case: the curve, and what its numbers are kept to: factors by the address's last word, the relation.
KEPT = {
    "line: {worst: 46, best: 22}": [({"worst": 1, "best": -1}, "!=")],
    "log: {worst: 1.6, best: 0.08}": [({"worst": 1, "best": -1}, "!="), ({"worst": 1}, ">"), ({"best": 1}, ">")],
    "logistic: {middle: 5, spread: 2}": [({"spread": 1}, ">")],
    "power: {worst: 1, best: 9, exponent: 2}": [({"worst": 1, "best": -1}, "!="), ({"exponent": 1}, ">")],
    "target: {low: 2, best: 5, high: 9, within: 1}": [
        ({"within": 1}, ">="),
        ({"best": 1, "within": -1, "low": -1}, ">"),
        ({"high": 1, "best": -1, "within": -1}, ">"),
    ],
    "z: {centre: 5, per_sd: 2}": [],
}


@pytest.mark.parametrize("text", KEPT)
def test_what_a_curve_keeps_its_numbers_to(text: str) -> None:
    """As sums of numbers against 0."""
    curve = curve_of(text)
    found = KINDS[curve.kind].kept(curve)
    said = [
        ({number.address.rsplit(".", 1)[-1]: factor for factor, number in keep.terms}, keep.relation) for keep in found
    ]
    assert said == KEPT[text]
    assert all(keep.says and keep.constant == 0 for keep in found)


def test_anchors_are_kept_in_rising_order() -> None:
    """Each after the one before."""
    curve = curve_of("points: {1: 10, 4: 6, 9: 1}")
    found = KINDS["points"].kept(curve)
    assert [[(factor, number.value) for factor, number in keep.terms] for keep in found] == [
        [(1, 4), (-1, 1)],
        [(1, 9), (-1, 4)],
    ]
    assert {keep.relation for keep in found} == {">"}
    assert {keep.says for keep in found} == {"its anchors rise"}


def boxes(x: Interval, *anchors: float) -> list[Interval]:
    """Arguments of a curve: where x is, then its anchors."""
    return [x, *map(point, anchors)]


# Steps 2 up to 20, then 5, then 3 from 30 on. Each case: where x is, the ratings it may have, its slope.
STEPPED = {
    "below": (Interval(0, 5), (2, 2), ZERO),
    "up to just below": (Interval(12, 19), (2, 2), ZERO),
    "up to the edge": (Interval(12, 20), (2, 5), RISING),
    "from the edge": (Interval(20, 29), (5, 5), ZERO),
    "over the fall": (Interval(25, 31), (3, 5), FALLING),
    "from the last": (Interval(30, 90), (3, 3), ZERO),
    "all": (Interval(0, 90), (2, 5), EVERYWHERE),
}


@pytest.mark.parametrize("name", STEPPED)
def test_steps_are_enclosed_by_those_that_a_reading_may_stand_on(name: str) -> None:
    """No step more: the ends of the box are at the edges."""
    x, ratings, slope = STEPPED[name]
    args = boxes(x, 10, 2, 20, 5, 30, 3)
    held = Steps(*range(7)).enclose(args)
    assert (held.low, held.high) == ratings
    assert Steps(*range(7)).slopes(args) == (slope, *[EVERYWHERE] * 6)


# Through (1, 2), (2, 4), (4, 3): slopes 2 and -1/2. Each case: where x is; the line's and the extension's values and slopes.
# (An extension whose box touches an anchor counts the flat stretch there as well: right, and wider than it need be.)
BROKEN = {
    "below": (Interval(-1, 0), (2, 2), (0, 0), (-4, -2), (2, 2)),
    "up to the first": (Interval(0, 1), (2, 2), (0, 0), (-2, 0), (0, 2)),
    "first stretch": (Interval(1.25, 1.75), (2.5, 3.5), (2, 2), (0, 0), (0, 0)),
    "second stretch": (Interval(2.5, 3), (3.5, 3.75), (-0.5, -0.5), (0, 0), (0, 0)),
    "over the top": (Interval(1.5, 3), (3, 4), (-0.5, 2), (0, 0), (0, 0)),
    "over the last": (Interval(3, 6), (3, 3.5), (-0.5, 0), (-1, 0), (-0.5, 0)),
    "from the last": (Interval(4, 6), (3, 3), (0, 0), (-1, 0), (-0.5, 0)),
    "beyond": (Interval(5, 6), (3, 3), (0, 0), (-1, -0.5), (-0.5, -0.5)),
    "all": (Interval(0, 5), (2, 4), (-0.5, 2), (-2.5, 0), (-0.5, 2)),
    "a point within": (Interval(1.5, 1.5), (3, 3), (2, 2), (0, 0), (0, 0)),
    "from the first": (Interval(1, 1.5), (2, 3), (2, 2), (0, 0), (0, 0)),
    "up to the last": (Interval(3, 4), (3, 3.5), (-0.5, -0.5), (0, 0), (0, 0)),
    "the top": (Interval(2, 2), (4, 4), (-0.5, 2), (0, 0), (0, 0)),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_line_is_enclosed_as_by_hand(name: str) -> None:
    """Its values and its slopes, held and carried on: no more than a little wider than worked."""
    x, *expected = BROKEN[name]
    args = boxes(x, 1, 2, 2, 4, 4, 3)
    line, beyond = Points(*range(7)), Beyond(*range(7))
    found = [line.enclose(args), line.slopes(args)[0], beyond.enclose(args), beyond.slopes(args)[0]]
    for held, (low, high) in zip(found, expected, strict=True):
        assert held.low <= low
        assert held.high >= high
    assert [end for held in found for end in (held.low, held.high)] == pytest.approx(
        [end for ends in expected for end in ends], abs=1e-12
    )
    assert line.slopes(args)[1:] == beyond.slopes(args)[1:] == (EVERYWHERE,) * 6
