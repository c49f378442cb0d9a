"""Curves: every kind at its anchors, inside and outside them, by hand; two of them by a second method."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from written_forms import NAN, curve_form, form_of, inputs_of_arrays, score, values_of

from scoring.curves import KINDS
from scoring.errors import ScoringError
from scoring.numbers.arrays import cubic_coefficients, fixed_smooth, segments, smooth, standing, steps, varying_steps
from scoring.program.kernel import kernel_of
from scoring.program.program import compile_form
from scoring.table.evaluate import evaluate

# Each case: the curve, then readings and the ratings that they should get on a scale from 1 to 10.
WORKED = [
    # 1 + 9 (x - 20)/(80 - 20), held
    ("line", "line: {worst: 20, best: 80}", {20: 1, 40: 4, 50: 5.5, 80: 10, 10: 1, 95: 10}),
    # lower is better: 1 + 9 (x - 80)/(20 - 80)
    ("line falling", "line: {worst: 80, best: 20}", {80: 1, 60: 4, 20: 10, 95: 1, 10: 10}),
    # carried on: at 10, 1 - 9*10/60 = -0.5 is off the scale, so a narrower reading: 78 gives 9.7
    ("line extended", "line: {worst: 20, best: 80}, outside: extended", {78: 9.7, 20: 1}),
    # 10 at 2, 7 at 4.5, 1 at 9: between, 10 - 3*(3 - 2)/2.5 = 8.8; 7 - 6*(6 - 4.5)/4.5 = 5
    ("points", "points: {2: 10, 4.5: 7, 9: 1}", {2: 10, 3: 8.8, 4.5: 7, 6: 5, 9: 1, 0: 10, 50: 1}),
    # first slope (4 - 2)/1, last slope (5 - 4)/2: at 0.5, 2 - 1 = 1; at 8, 5 + 0.5*4 = 7
    ("points extended", "points: {1: 2, 2: 4, 4: 5}, outside: extended", {0.5: 1, 1: 2, 1.5: 3, 4: 5, 8: 7}),
    # two anchors: a straight line. Three in a row on one line stay on it.
    ("smooth two", "smooth: {0: 2, 4: 10}", {0: 2, 1: 4, 3: 8, 4: 10, -1: 2, 9: 10}),
    ("smooth straight", "smooth: {0: 2, 1: 4, 4: 10}", {0.5: 3, 2: 6, 3: 8}),
    # flat at the top between two equal anchors: no overshoot
    ("smooth flat", "smooth: {0: 1, 1: 9, 3: 9}", {1: 9, 2: 9, 3: 9, 2.5: 9}),
    # each rating holds from its edge up to the next; the first also below
    ("steps", "steps: {10: 2, 20: 5, 30: 9}", {5: 2, 10: 2, 19.999: 2, 20: 5, 29: 5, 30: 9, 99: 9}),
    # 1 + 9/(1 + e^-((x - 35)/3)): half way at 35, three quarters of the way 3 ln 3 on
    ("logistic", "logistic: {middle: 35, spread: 3}", {35: 5.5, 35 + 3 * math.log(3): 7.75, -1e9: 1, 1e9: 10}),
    ("logistic lower", "logistic: {middle: 35, spread: 3, better: lower}", {35: 5.5, 35 - 3 * math.log(3): 7.75, 1e9: 1}),
    # 1 + 9 ((x - 0)/100)^2: at 50, 1 + 9/4
    ("power", "power: {worst: 0, best: 100, exponent: 2}", {0: 1, 50: 3.25, 100: 10, -5: 1, 105: 10}),
    # 1 + 9 sqrt((100 - x)/100): at 75, 1 + 9/2
    ("power falling", "power: {worst: 100, best: 0, exponent: 0.5}", {100: 1, 75: 5.5, 0: 10, 200: 1, -1: 10}),
    # 1 + 9 ln(x/1)/ln(100): at 10 half way
    ("log", "log: {worst: 1, best: 100}", {1: 1, 10: 5.5, 100: 10, 0.5: 1, 500: 10, 0: 1}),
    ("log falling", "log: {worst: 100, best: 1}", {100: 1, 10: 5.5, 1: 10, 500: 1, 0: 10}),
    ("log extended", "log: {worst: 1, best: 100}, outside: extended", {10: 5.5, 50: 1 + 9 * math.log(50) / math.log(100)}),
    # 1 + 9 min((x - 3.5)/4, (12 - x)/4.5), held: at 5.5 half way; at 9.75 half way
    ("target", "target: {low: 3.5, best: 7.5, high: 12}", {3.5: 1, 5.5: 5.5, 7.5: 10, 9.75: 5.5, 12: 1, 2: 1, 20: 1}),
    # flat from 6.5 to 8.5; then (x - 3.5)/3 and (12 - x)/3.5
    ("target within", "target: {low: 3.5, best: 7.5, high: 12, within: 1}", {5: 5.5, 6.5: 10, 8: 10, 8.5: 10, 10.25: 5.5}),
    # frozen at mean 30, sd 5: 5.5 + 1.5 (x - 30)/5, held
    ("z", "z: {centre: 5.5, per_sd: 1.5}, reference: {mean: 30, sd: 5}", {30: 5.5, 35: 7, 20: 2.5, 60: 10, 0: 1}),
    ("z lower", "z: {centre: 5.5, per_sd: 1.5, better: lower}, reference: {mean: 30, sd: 5}", {35: 4, 20: 8.5}),
    # of the values 10, 20, 60: mean 30, sd sqrt((400 + 100 + 900)/2) = sqrt(700)
    ("z of values", "z: {centre: 5, per_sd: 2}, reference: {values: [10, 20, 60]}", {30: 5, 30 + 700**0.5: 7}),
    ("minmax", "minmax: {}, reference: {least: 20, greatest: 80}", {20: 1, 50: 5.5, 80: 10, 0: 1, 99: 10}),
    ("minmax lower", "minmax: {better: lower}, reference: {values: [80, 20, 50]}", {20: 10, 50: 5.5, 80: 1}),
    # 10 x/50, held to the scale
    ("ratio", "ratio: {}, reference: {least: 20, greatest: 50}", {50: 10, 25: 5, 4: 1, 60: 10}),
    # 10 * 20/x
    ("ratio lower", "ratio: {better: lower}, reference: {least: 20, greatest: 50}", {20: 10, 40: 5, 10: 10, 400: 1}),
    # (below + equal/2)/n of 10, 20, 20, 40: at 20, (1 + 1)/4
    ("standing", "standing: {}, reference: {values: [10, 20, 20, 40]}", {5: 1, 10: 2.125, 20: 5.5, 30: 7.75, 40: 8.875, 50: 10}),
    ("standing highest", "standing: {ties: highest}, reference: {values: [10, 20, 20, 40]}", {5: 1, 20: 7.75, 40: 10}),
    # (below + 1)/n where a member is equal: at 20, (1 + 1)/4; below/n between members, where nobody holds the next place
    (
        "standing lowest",
        "standing: {ties: lowest}, reference: {values: [10, 20, 20, 40]}",
        {5: 1, 10: 3.25, 15: 3.25, 20: 5.5, 30: 7.75, 40: 10, 50: 10},
    ),
    # lower is better: the share that it stands below; at 20, (1 + 1)/4
    ("standing lower", "standing: {better: lower}, reference: {values: [10, 20, 20, 40]}", {5: 10, 20: 5.5, 30: 3.25, 50: 1}),
]  # fmt: skip


@pytest.mark.parametrize(("curve", "ratings"), [case[1:] for case in WORKED], ids=[case[0] for case in WORKED])
def test_a_curve_gives_the_ratings_worked_by_hand(curve: str, ratings: dict[float, float]) -> None:
    """Inside, at the anchors and outside; one product more or less changes nothing of a frozen reference."""
    readings, expected = list(map(float, ratings)), list(map(float, ratings.values()))
    assert values_of(curve_form(curve), "r", x=readings) == pytest.approx(expected, abs=1e-12)
    assert values_of(curve_form(curve), "r", x=readings[:1]) == pytest.approx(expected[:1], abs=1e-12)


def test_every_kind_of_curve_has_a_worked_case() -> None:
    """A new kind without one fails here."""
    assert {case[0].split()[0] for case in WORKED} == set(KINDS)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if "extended" in KINDS[kind].outside])
def test_every_kind_that_can_be_extended_has_a_worked_case(kind: str) -> None:
    """By the table itself."""
    assert f"{kind} extended" in {case[0] for case in WORKED}


@pytest.mark.parametrize(
    ("scale", "ratings"),
    [("{from: 0, to: 1}", [0, 0.5, 1]), ("{from: 0, to: 100}", [0, 50, 100]), ("{from: -5, to: 5}", [-5, 0, 5])],
    ids=["0 to 1", "0 to 100", "about 0"],
)
def test_a_curve_runs_from_one_end_of_its_scale_to_the_other(scale: str, ratings: list[float]) -> None:
    """Half way between the anchors is half way up the scale, whatever the scale."""
    text = curve_form("line: {worst: 10, best: 20}", scale)
    assert values_of(text, "r", x=[10.0, 15.0, 20.0]) == pytest.approx(ratings, abs=1e-12)


def test_a_points_curve_on_an_open_scale_is_not_held_to_a_top() -> None:
    """Points for a mark have no end: first slope 500 a unit; 1000 + 500*(7 - 3)."""
    text = curve_form("points: {1: 0, 3: 1000}, outside: extended", "{from: 0}")
    assert values_of(text, "r", x=[1.0, 3.0, 7.0]) == pytest.approx([0, 1000, 3000])


def test_a_live_reference_is_the_catalogue_itself_without_what_is_missing() -> None:
    """Of 20, 30, 40: mean 30, sd 10, so 5.5 + 1.5 at 40; a missing reading has no part in it."""
    text = curve_form("z: {centre: 5.5, per_sd: 1.5}")
    assert values_of(text, "r", x=[20.0, 30.0, 40.0, NAN]) == pytest.approx([4, 5.5, 7, NAN], nan_ok=True)


@pytest.mark.parametrize("curve", ["standing: {}", "standing: {ties: highest}", "standing: {better: lower}"])
def test_a_live_standing_counts_over_a_catalogue_larger_than_a_piece_of_work(curve: str) -> None:
    """The whole catalogue is the population of each piece: 100 000 products, worked again by ranks."""
    x = np.random.default_rng(5).permutation(100_000).astype(float)
    program = compile_form(form_of(curve_form(curve)))
    found = evaluate(kernel_of(program), inputs_of_arrays({"x": x})).values["r"][0]
    below = len(x) - 1 - x if "lower" in curve else x  # without ties, a value's rank counts those below
    share = (below + 1 if "highest" in curve else below + 0.5) / len(x)
    assert np.abs(found - (1 + 9 * share)).max() < 1e-12


def test_a_frozen_population_may_be_larger_than_the_catalogue() -> None:
    """One product against ten members: 7 of 10 below, and itself a half."""
    values = ", ".join(map(str, range(10)))
    assert values_of(curve_form(f"standing: {{}}, reference: {{values: [{values}]}}"), "r", x=[7.0]) == [1 + 9 * 0.75]


OUTSIDE = {
    "line": "line: {worst: 10, best: 20}",
    "points": "points: {10: 2, 20: 4}",
    "smooth": "smooth: {10: 2, 20: 4}",
    "steps": "steps: {10: 2, 20: 4}",
    "power": "power: {worst: 20, best: 10, exponent: 2}",
    "log": "log: {worst: 20, best: 10}",
    "target": "target: {low: 10, best: 15, high: 20}",
}


@pytest.mark.parametrize("kind", [name for name, kind in KINDS.items() if "error" in kind.outside])
def test_a_reading_outside_a_curve_that_says_error_is_refused(kind: str) -> None:
    """Both ends belong to the curve; the product and the anchors are named."""
    text = curve_form(f"{OUTSIDE[kind]}, outside: error")
    assert not np.isnan(values_of(text, "r", x=[10.0, 20.0])).any()
    for reading in (9.99, 20.01):
        with pytest.raises(
            ScoringError, match=rf"{reading} for x of p2; expected 10 to 20, the anchors of ratings.r.curve"
        ):
            score(text, {"x": [15.0, reading]})


def test_a_rating_outside_a_curve_that_says_error_is_refused_too() -> None:
    """In a mix, a rating may go through a second curve; in a limit, a curve gives the bound."""
    mix = "{rating: a, curve: {points: {2: 1, 9: 10}, outside: error}}"
    limit = "[{on: a, at_most: {points: {2: 5, 9: 10}, outside: error}}]"
    for rating in (f"b: {{mix: [{mix}]}}", f"b: {{value: a, limits: {limit}}}"):
        text = curve_form("line: {worst: 0, best: 9}").replace("r: {", "a: {") + f"  {rating}\n"
        assert values_of(text, "b", x=[5.0]) == values_of(text.replace(", outside: error", ""), "b", x=[5.0])
        with pytest.raises(ScoringError, match=r"product p1, column a: 1\.5 for a of p1; expected 2 to 9"):
            score(text, {"x": [0.5]})


@pytest.mark.parametrize("kind", KINDS)
def test_a_reading_that_is_not_there_stays_not_there_through_every_kind(kind: str) -> None:
    """In the kernel itself, before anything else blanks it: no curve turns NaN into points."""
    curve = {case[0].split()[0]: case[1] for case in WORKED}[kind]
    program = compile_form(form_of(curve_form(curve)))
    numbers = [address for address in program.parameters if "reference" not in address]
    inputs = {"x": np.array([NAN, 30.0])}
    held = inputs_of_arrays(inputs)
    for varying in ([], numbers):
        kernel = kernel_of(program, varying=varying)
        symbols = {program.measures["x"]: held.values["x"]}
        symbols |= {program.parameters[a][0]: np.array([[program.parameters[a][1].value]]) for a in varying}
        symbols |= {symbol: np.array([figures]) for symbol, figures in program.populations.values()}
        found = kernel(symbols, (1, 2))["r"][0]
        assert np.isnan(found).tolist() == [True, False]


def some_anchors(draws: np.random.Generator, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Anchors in rising order with ratings that rise, fall and repeat."""
    return np.cumsum(draws.uniform(0.1, 5.0, count)), np.round(draws.uniform(1, 10, count), int(draws.integers(0, 3)))


@pytest.mark.parametrize("seed", range(40))
def test_smooth_is_the_monotone_cubic_of_scipy(seed: int) -> None:
    """PchipInterpolator of scipy 1.17, a second implementation of the same method, held at the ends; both our faces."""
    draws = np.random.default_rng(seed)
    xs, ys = some_anchors(draws, int(draws.integers(2, 9)))
    x = np.concatenate([xs, draws.uniform(xs[0] - 2, xs[-1] + 2, 200)])
    expected = PchipInterpolator(xs, ys)(np.clip(x, xs[0], xs[-1]))
    fixed = fixed_smooth(x, tuple(xs), tuple(ys), cubic_coefficients(tuple(xs), tuple(ys)))
    varying = smooth(x, [np.array([[a]]) for a in xs], [np.array([[a]]) for a in ys])[0]
    assert np.abs(fixed - expected).max() < 1e-12
    assert np.abs(varying - expected).max() < 1e-12


@pytest.mark.parametrize("seed", range(40))
def test_segments_are_numpys_interpolation(seed: int) -> None:
    """For anchors that vary by draw: each draw against np.interp by itself."""
    draws = np.random.default_rng(seed)
    anchors = [some_anchors(draws, 5) for _ in range(7)]
    xs, ys = (np.array([pair[side] for pair in anchors]) for side in (0, 1))
    x = np.concatenate([xs.ravel(), draws.uniform(-2, 30, 100)])
    found = segments(x[None, :], [column[:, None] for column in xs.T], [column[:, None] for column in ys.T])
    expected = np.array([np.interp(x, *pair) for pair in zip(xs, ys, strict=True)])
    assert np.abs(found - expected).max() < 1e-12


def test_steps_that_vary_are_steps_that_do_not() -> None:
    """At, just below and beyond the edges."""
    x = np.array([0.0, 1.0, 1.5, 2.0, 2.5, 4.0, 9.0, NAN])
    xs, ys = (1.0, 2.0, 4.0), (3.0, 5.0, 2.0)
    varying = varying_steps(x, [np.array([[a]]) for a in xs], [np.array([[a]]) for a in ys])[0]
    np.testing.assert_array_equal(varying, steps(x, xs, ys))
    np.testing.assert_array_equal(steps(x, xs, ys), [3, 3, 3, 5, 5, 2, 2, NAN])


@pytest.mark.parametrize("function", [segments, smooth, varying_steps])
def test_a_draw_that_puts_anchors_out_of_order_gives_no_number(function: object) -> None:
    """The first draw is in order, the second has its anchors swapped, the third has them equal."""
    assert callable(function)
    xs = [np.array([[1.0], [3.0], [3.0]]), np.array([[3.0], [1.0], [3.0]]), np.array([[5.0], [5.0], [5.0]])]
    with np.errstate(all="ignore"):  # as the kernel runs them
        found = function(np.array([[2.0, 4.0]]), xs, [np.array([[2.0]]), np.array([[4.0]]), np.array([[6.0]])])
    assert np.isnan(found).all(axis=1).tolist() == [False, True, True]
    assert not np.isnan(found[0]).any()


def test_standing_leaves_missing_members_out() -> None:
    """NaN among the population is nobody."""
    found = standing([[2.0, NAN]], [[1.0, NAN, 2.0, 3.0]], "mean")
    np.testing.assert_allclose(found, [[0.5, NAN]])  # (1 + 1/2)/3


@pytest.mark.parametrize("kind", ["points", "smooth"])
def test_an_end_at_0_is_0_and_rounds_up_to_0(kind: str) -> None:
    """A bit below 0 would round away from it, to -0.25, off the scale; 33.1 is 0.68, and up to 0.75."""
    text = curve_form(f"{kind}: {{33.1: 0.68, 87: 0}}", "{from: 0, to: 1}")
    assert values_of(text, "r", x=[33.1, 87.0, 90.0]) == [0.68, 0.0, 0.0]
    assert values_of(text.replace("}}}", "}}, round: {step: 0.25, rule: up}}"), "r", x=[33.1, 87.0, 90.0]) == [
        0.75,
        0,
        0,
    ]


@pytest.mark.parametrize(
    ("curve", "best"),
    [
        ("target: {low: 0, best: 14.6, high: 19}", 14.6),
        ("target: {low: 3.5, best: 7.7, high: 12.1}", 7.7),
        ("power: {worst: 0, best: 14.6, exponent: 0.7}", 14.6),
        ("line: {worst: 0, best: 14.6}", 14.6),
    ],
)
def test_the_reading_at_best_gets_the_high_end_to_the_last_bit(curve: str, best: float) -> None:
    """14.6 times the reciprocal of 14.6 is 0.9999999999999999, and what is rounded up from what is left of it is a whole step."""
    text = curve_form(curve, "{from: 0, to: 1}") + "  q: {value: 1 - r, round: {step: 0.05, rule: up}}\n"
    assert values_of(text, "r", x=[best]) == [1.0]
    assert values_of(text, "q", x=[best]) == [0.0]
    form = form_of(text)
    program, inputs = compile_form(form), inputs_of_arrays({"x": [best, best / 3, best / 7]})
    fixed = evaluate(kernel_of(program, ["r"], gaps=()), inputs).values["r"]
    varying = [address for address in program.parameters if address.startswith("ratings.r.curve")]
    settings = {address: np.array([program.parameters[address][1].value]) for address in varying}
    drawn = evaluate(kernel_of(program, ["r"], varying=varying, gaps=()), inputs, settings).values["r"]
    np.testing.assert_array_equal(drawn, fixed)
