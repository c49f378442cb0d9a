"""Shapley effects: what always holds, what the estimates' intervals cover, and what is refused."""

from __future__ import annotations

import tracemalloc
from itertools import permutations

import numpy as np
import pytest
from extent import is_long
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.special import ndtri
from written_forms import form_of, inputs_of_arrays

from analysis.indices.shapley_effects import Effects, ShapleyEffects, linear_gaussian_effects, shapley_effects
from analysis.study.gaussian_copula import GaussianCopula, uniforms
from scoring.program.program import compile_form
from scoring.table.evaluate import Inputs, evaluate, kernel_for

Array = NDArray[np.float64]
CORRELATED = np.array([[1, 0, 0], [0, 1, 0.9], [0, 0.9, 1]])
SLOPES = np.array([1.0, 1.0, 2.0])
SINGLE = [[0], [1], [2]]
EXACT = linear_gaussian_effects(SLOPES, CORRELATED)
THREE_LINES = """
formula: trial
scale: {from: 1, to: 10}
measures: {x: {unit: mm}, y: {unit: mm}, z: {unit: mm}}
ratings:
  first: {measure: x, curve: {line: {worst: 0, best: 90}}}
  second: {measure: y, curve: {line: {worst: 90, best: 0}}}
  third: {measure: z, curve: {line: {worst: 0, best: 90}}}
scores: {total: {blend: weighted mean, weights: {first: 2, second: 1, third: 1}}}
"""
KINDS = [("effects", "low", "high"), ("first", "first_low", "first_high"), ("total", "total_low", "total_high")]


def weighted_sum(points: Array) -> Array:
    """One output, the sum of the normal scores with the slopes above."""
    return (ndtri(points) @ SLOPES)[:, None]


def effects_of(model: object, copula: GaussianCopula | None = None, seed: int = 0, **options: int) -> ShapleyEffects:
    """Effects of three groups a, b and c, on 256 base points unless told otherwise."""
    copula = copula or GaussianCopula(CORRELATED, SINGLE)
    asked = {"base_points": 256} | options
    return shapley_effects(model, copula, ["a", "b", "c"], rng=np.random.default_rng(seed), **asked)  # type: ignore[arg-type]


@st.composite
def covariances(draw: st.DrawFn, most: int) -> tuple[Array, Array]:
    """Slopes, and a covariance matrix that may be singular: B B' for a small matrix B of whole numbers."""
    n, rank = draw(st.integers(1, most)), draw(st.integers(1, most))
    whole = st.integers(-3, 3)
    factor = np.array(draw(st.lists(st.lists(whole, min_size=rank, max_size=rank), min_size=n, max_size=n)), float)
    slopes = np.array(draw(st.lists(whole, min_size=n, max_size=n)), float)
    return slopes, factor @ factor.T


def over_every_order(slopes: Array, covariance: Array) -> Array:
    """Effects by the definition: inputs become known in every order, each taking out of what is left what it explains."""
    n = len(slopes)
    found = np.zeros(n)
    orders = list(permutations(range(n)))
    for order in orders:
        left = np.zeros((n + 1, n + 1))
        left[:n, :n], left[n, :n], left[:n, n] = covariance, covariance @ slopes, covariance @ slopes
        left[n, n] = variance = slopes @ covariance @ slopes
        for one in order:
            if left[one, one] > 1e-9 * covariance[one, one]:
                found[one] += left[n, one] ** 2 / left[one, one] / variance / len(orders)
                left = left - np.outer(left[:, one], left[one]) / left[one, one]
    return found


@given(covariances(4))
def test_the_closed_form_is_the_mean_over_every_order(case: tuple[Array, Array]) -> None:
    """A second method: sweeping inputs out of the covariance one after another."""
    slopes, covariance = case
    assume(slopes @ covariance @ slopes > 1e-9)
    found = linear_gaussian_effects(slopes, covariance)
    assert found.effects == pytest.approx(over_every_order(slopes, covariance), abs=1e-8)


@given(covariances(6))
def test_exact_effects_add_up_to_one_and_none_is_negative(case: tuple[Array, Array]) -> None:
    """And total indices are never negative, nor first-order ones, nor is any above 1."""
    slopes, covariance = case
    assume(slopes @ covariance @ slopes > 1e-9)
    found = linear_gaussian_effects(slopes, covariance)
    assert found.effects.sum() == pytest.approx(1, abs=1e-9)
    everything = np.concatenate([found.effects, found.first, found.total])
    assert np.all((everything > -1e-8) & (everything < 1 + 1e-8))


@given(covariances(5), st.permutations(range(5)))
def test_the_order_of_inputs_and_their_units_change_no_effect(case: tuple[Array, Array], order: list[int]) -> None:
    """An input in other units has a slope in their inverse."""
    slopes, covariance = case
    assume(slopes @ covariance @ slopes > 1e-9)
    places = [place for place in order if place < len(slopes)]
    units = 10.0 ** (np.arange(len(slopes)) * 3 - 6)
    moved = linear_gaussian_effects(
        (slopes / units)[places], (covariance * np.outer(units, units))[np.ix_(places, places)]
    )
    assert moved.effects == pytest.approx(linear_gaussian_effects(slopes, covariance).effects[places], abs=1e-8)


def test_estimates_add_up_to_one_whatever_the_noise() -> None:
    """32 base points and three outputs of different kinds; sums within rounding."""

    def outputs(points: Array) -> Array:
        return np.column_stack([points[:, 0] * points[:, 1], points.max(axis=1) > 0.7, np.exp(4 * points[:, 2])])

    found = effects_of(outputs, base_points=32)
    assert found.effects.shape == found.low.shape == (3, 3)
    assert found.effects.sum(axis=0) == pytest.approx([1, 1, 1], abs=1e-12)


def test_an_input_that_is_not_used_and_stands_alone_has_no_effect_at_all() -> None:
    """Not noise about 0, but 0, even where the others interact; its interval has no width."""
    found = effects_of(lambda points: (points[:, 1] * points[:, 2])[:, None], base_points=64)
    for name in ("effects", "low", "high", "first", "total"):
        assert getattr(found, name)[0, 0] == pytest.approx(0, abs=1e-12)


def test_an_estimate_below_zero_is_left_as_it_is() -> None:
    """An input with an effect of 0.003 falls on either side of 0 from one seed to another."""
    weak = np.array([1.0, 1.0, 0.08])
    copula = GaussianCopula(np.eye(3), SINGLE)
    model = lambda points: (ndtri(points) @ weak)[:, None]  # noqa: E731
    third = [effects_of(model, copula, seed, base_points=64).effects[2, 0] for seed in range(40)]
    assert min(third) < 0 < max(third)
    assert np.mean(third) == pytest.approx(weak[2] ** 2 / (weak @ weak), abs=0.003)


@pytest.mark.parametrize("slopes", [(0.3, 0.5, 0.2), (0.6, -0.4, 0.3)], ids=str)
def test_an_exponential_of_correlated_inputs_meets_its_exact_effects(slopes: tuple[float, ...]) -> None:
    """Y = exp(b'X) has v(u) = (exp(s_u^2) - 1) / (exp(s^2) - 1), s_u^2 what X_u explains of b'X (worked out here)."""
    b = np.array(slopes)
    exact = exponential_effects(b)
    found = effects_of(lambda points: np.exp(ndtri(points) @ b)[:, None], base_points=8192)
    for name in ("effects", "first", "total"):
        assert getattr(found, name)[:, 0] == pytest.approx(getattr(exact, name), abs=0.03)


def exponential_effects(b: Array) -> Effects:
    """Exact effects for the correlation above, averaged over every order."""
    along = CORRELATED @ b
    variance = np.expm1(b @ along)

    def told(members: tuple[int, ...]) -> float:
        columns = list(members)
        inverse = np.linalg.inv(CORRELATED[np.ix_(columns, columns)])
        return float(np.expm1(along[columns] @ inverse @ along[columns]) / variance)

    effects = np.zeros(3)
    for order in permutations(range(3)):
        for place, one in enumerate(order):
            effects[one] += (told(order[: place + 1]) - told(order[:place])) / 6
    first = np.array([told((one,)) for one in range(3)])
    total = np.array([1 - told(tuple(other for other in range(3) if other != one)) for one in range(3)])
    return Effects(effects, first, total, float(variance))


def test_correlated_inputs_in_one_group_count_as_one() -> None:
    """The pair as a group is independent of the rest: effect, first-order and total index are its share of the variance."""
    copula = GaussianCopula(CORRELATED, [[1, 2], [0]])
    found = shapley_effects(weighted_sum, copula, ["pair", "alone"], base_points=4096, rng=np.random.default_rng(0))
    exact = linear_gaussian_effects(SLOPES, CORRELATED, [[1, 2], [0]])
    for name in ("effects", "first", "total"):
        assert getattr(exact, name) == pytest.approx([8.6 / 9.6, 1 / 9.6], abs=1e-12)
        assert getattr(found, name)[:, 0] == pytest.approx(getattr(exact, name), abs=0.02)


@pytest.mark.parametrize(("base_points", "blocks"), [(256, 16), (128, 4)])
def test_ninety_five_percent_intervals_cover_the_truth(base_points: int, blocks: int) -> None:
    """2000 repetitions of the linear case: effects, first-order and total indices, each between 93 and 98 %; of 400, whose
    counting error is 1.1 %, between 92 and 99."""
    runs, least, most = (2000, 0.93, 0.98) if is_long() else (400, 0.92, 0.99)
    copula = GaussianCopula(CORRELATED, SINGLE)
    covered = np.zeros((3, 3))
    for seed in range(runs):
        found = effects_of(weighted_sum, copula, seed, base_points=base_points, blocks=blocks)
        for row, (name, low, high) in enumerate(KINDS):
            exact = getattr(EXACT, name)
            covered[row] += (getattr(found, low)[:, 0] <= exact) & (exact <= getattr(found, high)[:, 0])
    assert np.all((covered / runs > least) & (covered / runs < most)), covered / runs


def test_estimates_are_right_on_average() -> None:
    """400 repetitions of 64 base points: the mean is within 0.005 of the exact effects."""
    copula = GaussianCopula(CORRELATED, SINGLE)
    found = [effects_of(weighted_sum, copula, seed, base_points=64).effects[:, 0] for seed in range(400)]
    assert np.mean(found, axis=0) == pytest.approx(EXACT.effects, abs=0.005)


def test_an_output_that_stays_where_it_is_does_not_react() -> None:
    """NaN with a flag, also where rounding makes it flicker in the last digit; its neighbour is none the worse."""

    def outputs(points: Array) -> Array:
        flicker = 7.3 * (1 + 2e-16 * np.sign(points[:, 0] - 0.5))
        return np.column_stack([np.full(len(points), 5.0), flicker, weighted_sum(points)[:, 0]])

    found = effects_of(outputs)
    assert found.reacts.tolist() == [False, False, True]
    for name in ("effects", "low", "high", "first", "total"):
        assert np.isnan(getattr(found, name)).all(axis=0).tolist() == [True, True, False]
    assert found.variance[:2].tolist() == [0, 0]
    assert found.effects[:, 2] == pytest.approx(effects_of(weighted_sum).effects[:, 0], abs=1e-12)


def test_values_that_are_not_finite_are_counted_and_spoil_only_their_output() -> None:
    """Every run counts: with a value lost for one point in eight of the first input, one in eight of all evaluations."""

    def outputs(points: Array) -> Array:
        lost = np.where(points[:, 0] < 0.125, np.nan, points[:, 1])
        endless = np.where(points[:, 0] < 0.125, -np.inf, points[:, 1])
        return np.column_stack([lost, endless, weighted_sum(points)[:, 0], np.full(len(points), np.nan)])

    found = effects_of(outputs, base_points=8192)
    assert found.evaluations == 8 * 8192
    assert found.n_nonfinite.tolist()[1:] == [found.n_nonfinite[0], 0, found.evaluations]
    assert found.n_nonfinite[0] == pytest.approx(8192, rel=0.1)
    assert np.isnan(found.effects).all(axis=0).tolist() == [True, True, False, True]
    assert found.reacts.tolist() == [True, True, True, False]
    assert np.isnan(found.variance).tolist() == [True, True, False, True]


@pytest.mark.parametrize("levels", [(1.0, 0.0), (2.3, 0.9), (3.3, 7.1)], ids=str)
def test_an_output_that_moved_in_one_block_only_has_no_interval(levels: tuple[float, float]) -> None:
    """The first base point alone has another value: an estimate, and no other block to hold it against."""
    first: list[float] = []

    def rare(points: Array) -> Array:
        first.append(points[0, 0])
        return np.where(points[:, [0]] == first[0], *levels)

    found = effects_of(rare, GaussianCopula(np.eye(3), SINGLE))
    assert found.reacts.tolist() == [True]
    assert found.effects[:, 0] == pytest.approx([1, 0, 0], abs=1e-9)
    for name in ("low", "high", "first_low", "total_high"):
        assert np.isnan(getattr(found, name)).all()


@pytest.mark.parametrize("rows", [1, 7, 100, 256])
def test_points_at_a_time_change_nothing_but_rounding(rows: int) -> None:
    """Neither estimates nor intervals; one base point at a time, or all."""
    whole, parts = effects_of(weighted_sum), effects_of(weighted_sum, rows=rows)
    for name in ("effects", "low", "high", "first", "total", "variance"):
        assert getattr(parts, name) == pytest.approx(getattr(whole, name), abs=1e-12)


def test_sets_at_a_time_change_nothing_but_how_often_the_base_points_are_run(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three passes over the same draws instead of one: two more runs of the base points, and no loss counted twice."""

    def outputs(points: Array) -> Array:
        return np.column_stack([weighted_sum(points)[:, 0], np.where(points[:, 0] < 0.5, np.nan, 1.0)])

    whole = effects_of(outputs)
    monkeypatch.setattr("analysis.indices.shapley_effects.SETS_AT_ONCE", 3)
    parts = effects_of(outputs)
    for name in ("effects", "low", "high", "first", "total", "variance"):
        assert getattr(parts, name)[..., 0] == pytest.approx(getattr(whole, name)[..., 0], abs=1e-12)
    assert parts.n_nonfinite.tolist() == whole.n_nonfinite.tolist()
    assert (whole.evaluations, parts.evaluations) == (8 * 256, 10 * 256)


def test_a_great_offset_costs_no_digits() -> None:
    """The output is counted from one of its own values before anything is squared."""
    plain, lifted = effects_of(weighted_sum), effects_of(lambda points: weighted_sum(points) + 1e8)
    assert lifted.effects == pytest.approx(plain.effects, abs=1e-7)
    assert lifted.high == pytest.approx(plain.high, abs=1e-7)


def test_the_same_seed_gives_the_same_digits_and_another_seed_others() -> None:
    """Seed 0 is a seed."""
    first, again, other = (effects_of(weighted_sum, seed=seed) for seed in (0, 0, 1))
    assert np.array_equal(first.effects, again.effects)
    assert not np.array_equal(first.effects, other.effects)


def test_what_is_held_does_not_grow_with_the_base_points() -> None:
    """Five times as many, in parts of 500: no more memory at the peak, within a tenth."""

    def outputs(points: Array) -> Array:
        return points @ np.ones((3, 20))

    peaks = []
    for base_points in (4000, 4000, 20_000):
        tracemalloc.start()
        effects_of(outputs, base_points=base_points, rows=500)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[2] < 1.1 * peaks[1]


def test_every_product_of_a_formula_is_an_output_of_its_own() -> None:
    """Readings that move together, through our own form: a weighted mean of lines has the exact effects of its slopes."""
    program = compile_form(form_of(THREE_LINES))
    readings = inputs_of_arrays({"x": [40, 50], "y": [50, 40], "z": [45, 45]})
    kernel = kernel_for(program, readings, ["total"])
    spread = np.array([[0.5, 2.0], [1.0, 1.0], [2.0, 0.5]])

    def model(points: Array) -> Array:
        scores = ndtri(points)
        moved = {n: readings.values[n] + scores[:, [i]] * spread[i] for i, n in enumerate("xyz")}
        return evaluate(kernel, Inputs(readings.products, moved, readings.states, {})).values["total"]

    found = effects_of(model, base_points=4096)
    for product in range(2):
        exact = linear_gaussian_effects(np.array([2, -1, 1]) * spread[:, product], CORRELATED)
        assert found.effects[:, product] == pytest.approx(exact.effects, abs=0.03)


def test_uniform_columns_follow_from_normal_scores() -> None:
    """The normal distribution function: 0 to 0.5, 1.96 to 0.975."""
    assert uniforms(np.array([[0.0, 1.959963984540054]])) == pytest.approx(np.array([[0.5, 0.975]]), abs=1e-12)


@given(covariances(5), st.sets(st.integers(0, 4)))
def test_a_redraw_has_the_law_of_the_whole(case: tuple[Array, Array], fixed: set[int]) -> None:
    """Exactly: what is kept and what is drawn anew have between them the correlation that was asked for, singular or not."""
    _, covariance = case
    covariance = covariance + np.diag(np.where(np.diag(covariance) == 0, 1.0, 0.0))
    sd = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(sd, sd)
    np.fill_diagonal(correlation, 1.0)
    n = len(sd)
    kept = sorted(column for column in fixed if column < n)
    law = GaussianCopula(correlation, [[column] for column in range(n)]).given(kept)
    by_scores = law.redraw(np.eye(n), np.zeros((n, n)))
    by_normals = law.redraw(np.zeros((n, n)), np.eye(n))
    made = by_scores.T @ correlation @ by_scores + by_normals.T @ by_normals
    assert made == pytest.approx(correlation, abs=1e-7)
    assert np.array_equal(by_scores[:, kept], np.eye(n)[:, kept])


def test_scores_are_drawn_with_their_correlation() -> None:
    """100 000 draws of the whole, and of one column given another; columns that are fixed keep every digit."""
    copula, rng = GaussianCopula(CORRELATED, SINGLE), np.random.default_rng(0)
    scores = copula.draw(rng.standard_normal((100_000, 3)))
    again = copula.redraw(scores, [1], rng.standard_normal((100_000, 3)))
    for drawn in (scores, again):
        assert np.corrcoef(drawn, rowvar=False) == pytest.approx(CORRELATED, abs=0.015)
        assert drawn.std(axis=0) == pytest.approx(np.ones(3), abs=0.015)
    assert np.array_equal(again[:, 1], scores[:, 1])
    assert np.corrcoef(scores[:, 0], again[:, 0])[0, 1] == pytest.approx(0, abs=0.015)
    assert np.corrcoef(scores[:, 2], again[:, 2])[0, 1] == pytest.approx(0.81, abs=0.015)


def test_columns_that_stand_alone_are_bound_to_nothing() -> None:
    """Correlation hangs together through others; a column without any is drawn as it comes."""
    correlation = np.eye(5)
    correlation[[0, 2, 2, 4], [2, 0, 4, 2]] = 0.5
    copula = GaussianCopula(correlation, [[0, 1], [2, 3], [4]])
    assert copula.bound == ((0, 2, 4),)
    assert copula.columns_of([2, 0]) == (0, 1, 4)
    normals = np.random.default_rng(0).standard_normal((4, 5))
    assert np.array_equal(copula.draw(normals)[:, [1, 3]], normals[:, [1, 3]])


def test_a_copula_keeps_a_matrix_of_its_own() -> None:
    """What the caller does to his matrix afterwards changes nothing, and nobody writes into ours."""
    given_matrix = CORRELATED.copy()
    copula = GaussianCopula(given_matrix, SINGLE)
    given_matrix[1, 2] = 0
    assert copula.correlation[1, 2] == 0.9
    with pytest.raises(ValueError, match="read-only"):
        copula.correlation[1, 2] = 0


@pytest.mark.parametrize(
    ("matrix", "groups", "message"),
    [
        (
            [[1, 0.9, -0.9], [0.9, 1, 0.9], [-0.9, 0.9, 1]],
            SINGLE,
            "smallest eigenvalue is -0.8, and none may be negative",
        ),
        ([[1, 0.5], [0.4, 1]], [[0], [1]], "a correlation matrix that is not symmetric"),
        ([[1, float("nan")], [float("nan"), 1]], [[0], [1]], "an entry that is no finite number"),
        ([[1, 0.5]], [[0], [1]], r"shape \(1, 2\); it must be square"),
        ([[4, 0], [0, 1]], [[0], [1]], "diagonal is not 1 throughout"),
        (np.eye(2), [[0], []], "a group without columns"),
        (np.eye(3), [[0], [2]], r"groups of columns \[0, 2\]; each of 0 to 2 must be in exactly one"),
        (np.eye(2), [[0, 1], [1]], r"groups of columns \[0, 1, 1\]; each of 0 to 1 must be in exactly one"),
    ],
    ids=["indefinite", "lopsided", "gap", "not square", "variances", "empty", "left out", "twice"],
)
def test_what_is_no_correlation_or_no_grouping_is_refused(matrix: Array, groups: list[list[int]], message: str) -> None:
    """Each fault by what was found."""
    with pytest.raises(ValueError, match=message):
        GaussianCopula(np.array(matrix, float), groups)


@pytest.mark.parametrize(
    ("slopes", "covariance", "message"),
    [
        ([1, 1], [[4, 5], [5, 4]], "a covariance matrix that no inputs can have.*smallest eigenvalue is -0.25,"),
        ([1, 1], [[0, 1], [1, 4]], "smallest eigenvalue is -0.2"),
        ([1, 1], [[-1, 0], [0, 1]], "smallest eigenvalue is -1,"),
        ([1, 1, 1], np.eye(2), r"weights of shape \(3,\); 2 finite numbers are needed"),
        ([1, float("inf")], np.eye(2), "2 finite numbers are needed"),
        ([1, -1], [[1, 1], [1, 1]], "the weighted sum does not vary"),
        ([0, 0], np.eye(2), "the weighted sum does not vary"),
        (
            np.ones(13),
            np.eye(13),
            "13 groups have 8192 sets, each to be gone through; gather the inputs into 12 groups",
        ),
    ],
    ids=["indefinite", "no variance of its own", "negative", "shape", "endless", "cancels", "no slopes", "too many"],
)
def test_what_has_no_exact_effects_is_refused(slopes: Array, covariance: Array, message: str) -> None:
    """Each fault by what was found."""
    with pytest.raises(ValueError, match=message):
        linear_gaussian_effects(slopes, covariance)


def test_inputs_that_are_one_and_the_same_share_alike() -> None:
    """A singular correlation: two copies of one input, by the closed form and by simulation."""
    correlation = np.array([[1, 0, 0], [0, 1, 1], [0, 1, 1]], float)
    exact = linear_gaussian_effects([1, 2, 0], correlation)
    assert exact.effects == pytest.approx([0.2, 0.4, 0.4], abs=1e-12)
    assert exact.total == pytest.approx([0.2, 0, 0], abs=1e-12)
    found = effects_of(
        lambda points: (ndtri(points) @ np.array([1.0, 2, 0]))[:, None],
        GaussianCopula(correlation, SINGLE),
        base_points=4096,
    )
    assert found.effects[:, 0] == pytest.approx(exact.effects, abs=0.02)


def test_an_input_without_variance_has_no_effect() -> None:
    """A held weight among others that vary."""
    found = linear_gaussian_effects([1, 5, 1], np.diag([1.0, 0.0, 3.0]))
    assert found.effects == pytest.approx([0.25, 0, 0.75], abs=1e-12)


def test_one_group_has_all_of_it() -> None:
    """Everything in one group: effect, first-order and total index are 1."""
    copula = GaussianCopula(CORRELATED, [[0, 1, 2]])
    found = shapley_effects(weighted_sum, copula, ["all"], base_points=32, rng=np.random.default_rng(0))
    assert [float(getattr(found, name)[0, 0]) for name in ("effects", "first", "total")] == pytest.approx([1, 1, 1])


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"blocks": 1}, "1 blocks; an interval needs two or more"),
        ({"base_points": 31}, "31 base points in 16 blocks; each block needs two or more"),
        ({"rows": 0}, "0 rows at a time; the model needs one or more"),
    ],
    ids=["blocks", "base points", "rows"],
)
def test_a_design_without_answer_is_refused(options: dict[str, int], message: str) -> None:
    """Before the model is run."""
    with pytest.raises(ValueError, match=message):
        effects_of(lambda points: pytest.fail("the model was run"), **options)


@pytest.mark.parametrize("names", [["a", "b"], ["a", "b", "a"]], ids=["too few", "twice"])
def test_each_group_needs_a_name_of_its_own(names: list[str]) -> None:
    """The names are those of the rows of what comes out."""
    with pytest.raises(ValueError, match=f"names {', '.join(names)} for 3 groups; each group needs a name of its own"):
        shapley_effects(
            weighted_sum, GaussianCopula(CORRELATED, SINGLE), names, base_points=64, rng=np.random.default_rng(0)
        )


def test_more_than_twelve_groups_are_refused_before_they_are_run() -> None:
    """With what to do instead."""
    copula = GaussianCopula(np.eye(13), [[column] for column in range(13)])
    with pytest.raises(ValueError, match="gather the inputs into 12 groups or fewer"):
        shapley_effects(
            lambda points: pytest.fail("the model was run"),
            copula,
            [f"x{column}" for column in range(13)],
            base_points=64,
            rng=np.random.default_rng(0),
        )


@pytest.mark.parametrize("shape", [(256,), (3, 256)], ids=["flat", "turned"])
def test_a_model_that_answers_in_another_shape_is_refused(shape: tuple[int, ...]) -> None:
    """One row a point, one column an output."""
    with pytest.raises(ValueError, match=r"answers 256 points with shape .*; \(points, outputs\) is needed"):
        effects_of(lambda points: np.zeros(shape))
