"""Sobol' indices against SALib and OpenTURNS on the same samples, against closed forms, and what the intervals cover."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray
from SALib.analyze import sobol as salib_analysis
from SALib.sample import sobol as salib_sample
from sampled import Model, Sample, design_of, found_of, sample_of

from analysis.sensitivity.design import Design, sobol_points
from analysis.sensitivity.sobol import BLOCKS, Indices, Sums, indices
from analysis.study.distributions import Distribution, Lognormal, Normal, Uniform, normal_scores

Array = NDArray[np.float64]

# Ishigami function, a = 7, b = 0.1, on (-pi, pi): formulas read in OpenTURNS, python/src/usecases/ishigami_function.py, commit
# 91c3b77d, and in scipy/stats/tests/test_sensitivity_analysis.py, which notes that the V13 printed in Saltelli et al., Global
# Sensitivity Analysis: The Primer, 2008, is wrong; digits worked out here. x1 and x3 together leave only what x2 does.
ISHIGAMI_VARIANCE = 13.844587940719254
ISHIGAMI_FIRST = [0.31390519114781146, 0.4424111447900409, 0.0]
ISHIGAMI_TOTAL = [0.5575888552099592, 0.4424111447900409, 0.24368366406214773]
ISHIGAMI_SECOND = [0.0, 0.24368366406214773, 0.0]  # 12, 13, 23
ISHIGAMI_13 = 0.5575888552099592

# G function: coefficients read in SALib, src/SALib/test_functions/Sobol_G.py, commit 1c375488, and in OpenTURNS,
# GSobolUseCase.hxx; digits worked out here (a comment in SALib's source gives .7165 for the first, which is .7162).
G_COEFFICIENTS = np.array([0, 1, 4.5, 9, 99, 99, 99, 99])
G_FIRST = [
    0.7161921688790331,
    0.17904804221975829,
    0.02367577417781928,
    0.007161921688790333,
    *[7.161921688790333e-05] * 4,
]
G_TOTAL = [
    0.7871441266592748,
    0.2421981928182384,
    0.03431691015408282,
    0.010460387065239534,
    *[0.00010494905191950601] * 4,
]

# Borehole function: Harper and Gupta 1983, Worley 1987; distributions read on the help page `borehole` of the R package gek
# (rdrr.io/cran/gek), which prints Hu as U(990, 1110) and its domain as [990, 1100], a slip; indices worked out here by
# 8 scrambles of 2^17 Sobol' points (standard errors below 5e-5), given to four places.
BOREHOLE: dict[str, Distribution] = {
    "rw": Normal(0.1, 0.0161812),
    "r": Lognormal(float(np.exp(7.71)), float(np.exp(1.0056))),
    "Tu": Uniform(63070, 115600),
    "Hu": Uniform(990, 1110),
    "Tl": Uniform(63.1, 116),
    "Hl": Uniform(700, 820),
    "L": Uniform(1120, 1680),
    "Kw": Uniform(9855, 12045),
}
BOREHOLE_FIRST = [0.6637, 0, 0, 0.0949, 0, 0.0949, 0.0907, 0.0219]
BOREHOLE_TOTAL = [0.6941, 0, 0, 0.1061, 0, 0.1061, 0.1028, 0.0251]
BOREHOLE_MEAN, BOREHOLE_SD = 73.739, 28.5961

# A weighted sum of independent normal inputs of equal spread: shares of w^2, from the definition, worked out here.
WEIGHTS = np.array([0.4, 0.3, 0.2, 0.1])
ADDITIVE = [16 / 30, 9 / 30, 4 / 30, 1 / 30]

# The product of two uniform inputs: from the definition, worked out here.
PRODUCT_FIRST, PRODUCT_TOTAL, PRODUCT_SECOND = [3 / 7, 3 / 7], [4 / 7, 4 / 7], [1 / 7]


def ishigami(unit: Array) -> Array:
    """sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1, of the first three columns."""
    x = np.pi * (2 * unit - 1)
    return np.asarray(np.sin(x[..., 0]) + 7 * np.sin(x[..., 1]) ** 2 + 0.1 * x[..., 2] ** 4 * np.sin(x[..., 0]))


def g_function(unit: Array) -> Array:
    """The product of (|4 x - 2| + a) / (1 + a)."""
    return np.asarray(np.prod((np.abs(4 * unit - 2) + G_COEFFICIENTS) / (1 + G_COEFFICIENTS), axis=-1))


def borehole(unit: Array) -> Array:
    """The flow of water through a borehole, by our own distributions of its eight inputs."""
    x = {name: marginal.values(unit[..., column]) for column, (name, marginal) in enumerate(BOREHOLE.items())}
    log = np.log(x["r"] / x["rw"])
    leak = 2 * x["L"] * x["Tu"] / (log * x["rw"] ** 2 * x["Kw"])
    return np.asarray(2 * np.pi * x["Tu"] * (x["Hu"] - x["Hl"]) / (log * (1 + leak + x["Tu"] / x["Tl"])))


def additive(unit: Array) -> Array:
    """A weighted sum of four normal inputs."""
    return np.asarray(normal_scores(unit[..., :4]) @ WEIGHTS)


def product(unit: Array) -> Array:
    """The product of two inputs."""
    return np.asarray(unit[..., 0] * unit[..., 1])


def one(function: Callable[[Array], Array]) -> Model:
    """A model of one output."""
    return lambda unit: function(unit)[:, np.newaxis]


def many(unit: Array) -> Array:
    """Outputs of four columns that differ in size, smoothness and reach."""
    one_input = unit[:, 0]
    columns = [
        ishigami(unit),
        additive(unit),
        product(unit),
        1e6 + 1e-3 * additive(unit),
        -1e-7 * ishigami(unit),
        (additive(unit) > 0.4).astype(float),
        np.round(3 * ishigami(unit)),
        np.exp(3 * one_input),
        np.sin(40 * unit.sum(axis=1)),
        unit[:, 3],
    ]
    return np.stack(columns, axis=1)


def by_salib(sample: Sample, output: int, names: Sequence[str], *, second: bool) -> tuple[Array, Array, Array]:
    """First-order, total and (pair by pair) second-order indices of one output by SALib on the same sample.

    Its `seed` moves only its intervals, which are none of ours; 0 would be no seed to it (`if seed:`). It is given outputs
    less their first: of 1e6 and thousandths, its own normalisation by mean and standard deviation loses the tenth digit.
    """
    problem = {"num_vars": len(names), "names": list(names), "bounds": [[0.0, 1.0]] * len(names)}
    rows = sample.salib_rows(output, second=second)
    found = salib_analysis.analyze(problem, rows - rows[0], calc_second_order=second, num_resamples=2, seed=1)
    pairs = [found["S2"][j, k] for j, k in combinations(range(len(names)), 2)] if second else []
    return np.asarray(found["S1"]), np.asarray(found["ST"]), np.array(pairs)


def holds(found: Indices, kind: str, exact: Sequence[float], slack: float = 0.0) -> bool:
    """Whether the intervals of one output, each made wider by its own half-width, hold the exact values.

    An interval of 95 % misses one time in twenty; twice as wide (about 4 standard errors) none should.
    """
    low, high = getattr(found, f"{kind}_low")[:, 0], getattr(found, f"{kind}_high")[:, 0]
    half = (high - low) / 2 + slack
    return bool(np.all((low - half <= np.array(exact)) & (np.array(exact) <= high + half)))


@pytest.mark.filterwarnings("ignore:unique with argument:FutureWarning")  # SALib 1.5.1 asks pandas 2.2 so
@pytest.mark.parametrize("second", [False, True], ids=["first and total", "second order too"])
@pytest.mark.parametrize("points", [8, 64])
def test_indices_equal_salibs_on_the_same_sample(points: int, second: bool) -> None:
    """Ten outputs at once, SALib one after the other on pooled blocks, to 1e-10."""
    design = design_of(4, points)
    sample = sample_of(many, design)
    found = found_of(sample, second=second, resamples=2)
    for output in range(sample.a.shape[1]):
        first, total, pairs = by_salib(sample, output, [swap.name for swap in design.swaps], second=second)
        np.testing.assert_allclose(found.first[:, output], first, rtol=0, atol=1e-10)
        np.testing.assert_allclose(found.total[:, output], total, rtol=0, atol=1e-10)
        if second:
            assert found.second is not None
            np.testing.assert_allclose(found.second[:, output], pairs, rtol=0, atol=1e-10)


@pytest.mark.filterwarnings("ignore:unique with argument:FutureWarning")  # SALib 1.5.1 asks pandas 2.2 so
@pytest.mark.parametrize("second", [False, True], ids=["first and total", "second order too"])
def test_indices_of_groups_equal_salibs(second: bool) -> None:
    """Closed and total indices of {x1, x3} and {x2, x4}; to SALib a group is one more input."""
    design = design_of(4, 32, groups=[["x1", "x3"], ["x2", "x4"]])
    sample = sample_of(many, design)
    found = found_of(sample, second=second, resamples=2)
    problem = {"num_vars": 4, "names": ["x1", "x2", "x3", "x4"], "bounds": [[0, 1]] * 4, "groups": ["o", "e", "o", "e"]}
    for output in range(sample.a.shape[1]):
        rows = sample.salib_rows(output, second=second)
        salibs = salib_analysis.analyze(problem, rows - rows[0], calc_second_order=second, num_resamples=2, seed=1)
        np.testing.assert_allclose(found.first[:, output], salibs["S1"], rtol=0, atol=1e-10)
        np.testing.assert_allclose(found.total[:, output], salibs["ST"], rtol=0, atol=1e-10)
        if second:
            assert found.second is not None
            np.testing.assert_allclose(found.second[:, output], salibs["S2"][0, 1], rtol=0, atol=1e-10)


@pytest.mark.parametrize("groups", [[], ["o", "e", "o"]], ids=["by factor", "by group"])
def test_the_rows_of_a_block_are_salibs_own(groups: list[str]) -> None:
    """Both base samples and every swap, either way round, as SALib's sample lists them for the same seed."""
    problem = {"num_vars": 3, "names": ["x1", "x2", "x3"], "bounds": [[0.0, 1.0]] * 3} | (
        {"groups": groups} if groups else {}
    )
    named = [["x1", "x3"], ["x2"]] if groups else ()
    many_blocks = design_of(3, 16, groups=named)
    design = Design(many_blocks.study, many_blocks.swaps, 16, seed=5, n_blocks=1)
    sample = sample_of(lambda unit: unit, design)
    seed = int(np.random.SeedSequence([5, 1]).generate_state(1)[0])
    rows = salib_sample.sample(problem, 16, calc_second_order=True, seed=seed)
    for column in range(3):
        np.testing.assert_array_equal(sample.salib_rows(column, second=True), rows[:, column])


@pytest.mark.filterwarnings("ignore:builtin type:DeprecationWarning")
@pytest.mark.filterwarnings("ignore:numpy:UserWarning")
def test_indices_equal_those_of_openturns_but_for_its_variance() -> None:
    """Mauntz and Kucherenko's first order and Jansen's total on the same sample, to 1e-10.

    OpenTURNS divides by the variance of the first base sample alone (first order: of n values by n; total: by n - 1, with its
    mean of squares over 2 n - 1); ours is over both base samples. Unscaled, its indices lie half a percent off here.
    """
    openturns = pytest.importorskip("openturns", reason="openturns is a test aid, and not installed here")
    design = design_of(3, 64)
    sample = sample_of(one(ishigami), design)
    found = found_of(sample, resamples=2)
    inputs = sample_of(lambda unit: unit, design)
    x, y = (openturns.Sample(np.concatenate([s.a, s.b, *s.ab])) for s in (inputs, sample))
    n = len(sample.a)
    first = np.array(openturns.MauntzKucherenkoSensitivityAlgorithm(x, y, n).getFirstOrderIndices())
    total = np.array(openturns.JansenSensitivityAlgorithm(x, y, n).getTotalOrderIndices())
    of_a = sample.a.var() / found.variance[0]
    np.testing.assert_allclose(found.first[:, 0], first * of_a, rtol=0, atol=1e-10)
    np.testing.assert_allclose(
        found.total[:, 0], total * of_a * n / (n - 1) * (2 * n - 1) / (2 * n), rtol=0, atol=1e-10
    )
    np.testing.assert_allclose(found.total[:, 0], total, rtol=0, atol=0.02)


@pytest.mark.parametrize(
    ("function", "columns", "first", "total", "tolerance"),
    [
        pytest.param(ishigami, 3, ISHIGAMI_FIRST, ISHIGAMI_TOTAL, 0.01, id="ishigami"),
        pytest.param(g_function, 8, G_FIRST, G_TOTAL, 0.01, id="g function"),
        pytest.param(borehole, 8, BOREHOLE_FIRST, BOREHOLE_TOTAL, 0.005, id="borehole"),
        pytest.param(additive, 4, ADDITIVE, ADDITIVE, 0.005, id="additive"),
        pytest.param(product, 2, PRODUCT_FIRST, PRODUCT_TOTAL, 0.005, id="product"),
    ],
)
def test_estimates_come_to_the_closed_forms(
    function: Callable[[Array], Array], columns: int, first: list[float], total: list[float], tolerance: float
) -> None:
    """At 16,384 base points: within a stated distance, and within what their own intervals say."""
    found = found_of(sample_of(one(function), design_of(columns, 512)))
    np.testing.assert_allclose(found.first[:, 0], first, rtol=0, atol=tolerance)
    np.testing.assert_allclose(found.total[:, 0], total, rtol=0, atol=tolerance)
    rounding = 5e-5 if function is borehole else 0.0
    assert holds(found, "first", first, rounding)
    assert holds(found, "total", total, rounding)


def test_moments_come_to_the_closed_forms() -> None:
    """Mean and variance of the outputs: Ishigami's, and the borehole's to three figures."""
    found = found_of(sample_of(one(ishigami), design_of(3, 512)), resamples=2)
    assert found.mean[0] == pytest.approx(3.5, abs=0.01)
    assert found.variance[0] == pytest.approx(ISHIGAMI_VARIANCE, rel=0.005)
    found = found_of(sample_of(one(borehole), design_of(8, 512)), resamples=2)
    assert found.mean[0] == pytest.approx(BOREHOLE_MEAN, rel=1e-3)
    assert np.sqrt(found.variance[0]) == pytest.approx(BOREHOLE_SD, rel=2e-3)


@pytest.mark.parametrize(
    ("function", "columns", "second", "tolerance"),
    [
        pytest.param(ishigami, 3, ISHIGAMI_SECOND, 0.02, id="ishigami"),
        pytest.param(product, 2, PRODUCT_SECOND, 0.01, id="product"),
        pytest.param(additive, 4, [0.0] * 6, 0.02, id="additive"),
    ],
)
def test_second_order_comes_to_the_closed_forms(
    function: Callable[[Array], Array], columns: int, second: list[float], tolerance: float
) -> None:
    """Also where there is none: intervals hold 0."""
    found = found_of(sample_of(one(function), design_of(columns, 512)), second=True)
    assert found.second is not None
    np.testing.assert_allclose(found.second[:, 0], second, rtol=0, atol=tolerance)
    assert holds(found, "second", second)


def test_a_group_holds_what_its_members_do_together() -> None:
    """Ishigami's x1 and x3: closed and total are .5576, the rest being x2's own."""
    found = found_of(sample_of(one(ishigami), design_of(3, 512, groups=[["x1", "x3"], ["x2"]])))
    exact = [ISHIGAMI_13, 1 - ISHIGAMI_13]
    np.testing.assert_allclose(found.first[:, 0], exact, rtol=0, atol=0.01)
    np.testing.assert_allclose(found.total[:, 0], exact, rtol=0, atol=0.01)
    assert holds(found, "first", exact)
    assert holds(found, "total", exact)


REPETITIONS, COVERED_POINTS = 400, 16
CASES = {
    "ishigami": (ishigami, ISHIGAMI_FIRST, ISHIGAMI_TOTAL),
    "additive": (additive, ADDITIVE, ADDITIVE),
    "product": (product, PRODUCT_FIRST, PRODUCT_TOTAL),
}


@pytest.fixture(scope="module")
def repetitions() -> tuple[Array, Array]:
    """Both base samples of 400 studies of four columns, each of 32 blocks with seeds of their own: (rows, studies, 4)."""
    seeds = np.random.SeedSequence(7).generate_state(REPETITIONS * BLOCKS).tolist()
    both = np.stack([sobol_points(4, COVERED_POINTS, seed) for seed in seeds])
    shaped = both.reshape(BLOCKS, REPETITIONS, 2, COVERED_POINTS, 4).transpose(2, 0, 3, 1, 4)
    a, b = shaped.reshape(2, BLOCKS * COVERED_POINTS, REPETITIONS, 4)
    return a, b


def covered(
    samples: tuple[Array, Array], function: Callable[[Array], Array], exact: Sequence[Sequence[float]], blocks: int
) -> Array:
    """Whether each interval of each study holds the exact value: (first and total, inputs, studies).

    Every study is an output of its own. Eight resamplings serve 50 studies each, so that no one of them decides.
    """
    a, b = samples
    n_inputs, studies = len(exact[0]), a.shape[1]
    sums = Sums(np.zeros(studies), n_inputs, n_blocks=blocks, design="studies side by side")
    base = sums.add_base(function(a), function(b), design="studies side by side")
    for swap in range(n_inputs):
        mixed = a.copy()
        mixed[..., swap] = b[..., swap]
        sums.add_swap(swap, function(mixed), *base)
    held = []
    for number, part in enumerate(np.array_split(np.arange(studies), 8)):
        found = indices(
            sums,
            design="studies side by side",
            rng=np.random.default_rng(number),
            of=slice(int(part[0]), int(part[-1]) + 1),
        )
        ends = [(found.first_low, found.first_high), (found.total_low, found.total_high)]
        held.append([(low <= np.c_[e]) & (np.c_[e] <= high) for (low, high), e in zip(ends, exact, strict=True)])
    return np.concatenate(held, axis=2)


@pytest.mark.parametrize("case", CASES)
def test_intervals_cover_as_often_as_they_say(case: str, repetitions: tuple[Array, Array]) -> None:
    """95 % intervals over 400 studies of 512 base points: 93 to 98 % of all hold the true value, none under 90 %.

    Measured: .946 on Ishigami, .948 additive, .946 product; of single indices .920 to .978, the standard error of one being
    .011. With 256 to 2,048 base points all three lay between .936 and .952.
    """
    function, first, total = CASES[case]
    rate = covered(repetitions, function, (first, total), BLOCKS).mean(axis=2)
    assert 0.93 <= rate.mean() <= 0.98
    assert rate.min() >= 0.90


def test_resampling_the_rows_of_one_sequence_covers_far_too_much() -> None:
    """Why intervals come from blocks: a bootstrap over the 512 rows of one scrambled sequence hardly ever misses.

    Rows are blocks of one row here. On the additive case its 95 % intervals should miss 160 times of 3,200; measured: never.
    """
    seeds = np.random.SeedSequence(8).generate_state(REPETITIONS).tolist()
    both = np.stack([sobol_points(4, 512, seed) for seed in seeds])
    a, b = both.transpose(1, 2, 0, 3)
    assert covered((a, b), additive, (ADDITIVE, ADDITIVE), 512).mean() > 0.99
