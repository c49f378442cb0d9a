"""Sobol' indices against SALib and OpenTURNS on the same samples, against closed forms, and what the intervals cover."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations

import numpy as np
import pytest
from known_indices import (
    ADDITIVE,
    BOREHOLE_FIRST,
    BOREHOLE_MEAN,
    BOREHOLE_SD,
    BOREHOLE_TOTAL,
    G_FIRST,
    G_TOTAL,
    ISHIGAMI_13,
    ISHIGAMI_FIRST,
    ISHIGAMI_SECOND,
    ISHIGAMI_TOTAL,
    ISHIGAMI_VARIANCE,
    PRODUCT_FIRST,
    PRODUCT_SECOND,
    PRODUCT_TOTAL,
    additive,
    borehole,
    g_function,
    ishigami,
    product,
)
from numpy.typing import NDArray
from SALib.analyze import sobol as salib_analysis
from SALib.sample import sobol as salib_sample
from sampled import Model, Sample, design_of, found_of, sample_of, sums_of

from analysis.indices.design import BaseSample, Design
from analysis.indices.sobol import BLOCKS, Indices, Sums, indices

Array = NDArray[np.float64]


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


def by_salib(
    sample: Sample, output: int, problem: dict[str, object], *, turned: bool
) -> tuple[Array, Array, Array, float]:
    """Sums of one output that SALib's indices stand for, and what it divides outputs by before it works them out.

    Its first order is the mean of B (AB - A) over the variance, its total that of (A - AB)^2 over twice, its second order that
    of BA_j AB_k - A B less both first orders; `turned`: with A and B in each other's place. Its `seed` moves only its
    intervals; 0 would be no seed to it (`if seed:`). It is given outputs less their first: of 1e6 and thousandths, its own
    normalisation by mean and standard deviation loses the tenth digit.
    """
    rows = sample.salib_rows(output, turned=turned)
    rows = rows - rows[0]
    found = salib_analysis.analyze(problem, rows, calc_second_order=True, num_resamples=2, seed=1)
    first, total = np.asarray(found["S1"]), np.asarray(found["ST"])
    k = len(first)
    second = np.array([found["S2"][j, m] + first[j] + first[m] for j, m in combinations(range(k), 2)])
    n = len(sample.a)
    normal = (rows - rows.mean()) / rows.std()
    variance = np.r_[normal[:: 2 * k + 2], normal[2 * k + 1 :: 2 * k + 2]].var()
    return n * variance * first, 2 * n * variance * total, n * variance * second, float(rows.std())


def holds(found: Indices, kind: str, exact: Sequence[float], slack: float = 0.0) -> bool:
    """Whether the intervals of one output, each made wider by its own half-width, hold the exact values.

    An interval of 95 % misses one time in twenty; twice as wide (about 4 standard errors) none should.
    """
    low, high = getattr(found, f"{kind}_low")[:, 0], getattr(found, f"{kind}_high")[:, 0]
    half = (high - low) / 2 + slack
    return bool(np.all((low - half <= np.array(exact)) & (np.array(exact) <= high + half)))


def check_sums(sample: Sample, problem: dict[str, object]) -> None:
    """The numerators of our indices are sums of SALib's of both ways round, and of products of outputs that share nothing."""
    of, found = sums_of(sample, second=True), found_of(sample, second=True)
    assert found.second is not None
    k = len(sample.ab)
    for output in range(sample.a.shape[1]):
        one, other = (by_salib(sample, output, problem, turned=turned) for turned in (False, True))
        unit = one[3]
        rows = np.stack([each[:, output] for each in (sample.a, sample.b, *sample.ab, *sample.ba)])
        a, b, *swapped = (rows - rows.mean()) / unit
        abs_, bas = np.array(swapped[:k]), np.array(swapped[k:])
        apart = ((a - b) ** 2).sum() + ((bas - abs_) ** 2).sum(axis=1)
        nothing = np.append((abs_ * bas).sum(axis=1), (a * b).sum())
        first, total, pairs = (mine + theirs for mine, theirs in zip(one[:3], other[:3], strict=True))
        np.testing.assert_allclose(found.total[:, output], total / apart, rtol=0, atol=1e-10)
        alone = 2 * (first + nothing[-1] - nothing[:-1]) / apart
        np.testing.assert_allclose(found.first[:, output], alone, rtol=0, atol=1e-10)
        for number, (j, m) in enumerate(combinations(range(k), 2)):
            closed = pairs[number] + 2 * nothing[-1] - nothing[j] - nothing[m]
            scale = ((bas[j] - abs_[j]) ** 2).sum() + ((bas[m] - abs_[m]) ** 2).sum()
            second = 2 * closed / scale - alone[j] - alone[m]
            assert found.second[number, output] == pytest.approx(second, abs=1e-10)
    assert of.rows == sample.design.points


@pytest.mark.filterwarnings("ignore:unique with argument:FutureWarning")  # SALib 1.5.1 asks pandas 2.2 so
@pytest.mark.parametrize("points", [8, 64])
def test_indices_follow_from_salibs_on_the_same_sample(points: int) -> None:
    """Ten outputs at once, SALib one after the other on pooled blocks, to 1e-10: its formulas are Saltelli's and Jansen's."""
    design = design_of(4, points)
    names = [swap.name for swap in design.swaps]
    problem = {"num_vars": 4, "names": names, "bounds": [[0.0, 1.0]] * 4}
    check_sums(sample_of(many, design), problem)


@pytest.mark.filterwarnings("ignore:unique with argument:FutureWarning")  # SALib 1.5.1 asks pandas 2.2 so
def test_indices_of_groups_follow_from_salibs() -> None:
    """Closed and total indices of {x1, x3} and {x2, x4}; to SALib a group is one more input."""
    design = design_of(4, 32, groups=[["x1", "x3"], ["x2", "x4"]])
    problem = {"num_vars": 4, "names": ["x1", "x2", "x3", "x4"], "bounds": [[0, 1]] * 4, "groups": ["o", "e", "o", "e"]}
    check_sums(sample_of(many, design), problem)


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
        np.testing.assert_array_equal(sample.salib_rows(column), rows[:, column])


@pytest.mark.filterwarnings("ignore:builtin type:DeprecationWarning")
@pytest.mark.filterwarnings("ignore:numpy:UserWarning")
def test_indices_equal_those_of_openturns_but_for_its_variance() -> None:
    """Jansen's total on the same sample, both ways round, to 1e-10; Mauntz and Kucherenko's first order, which errs by more.

    OpenTURNS divides by the variance of the first base sample alone (total: by n - 1, with its mean of squares over 2 n - 1).
    """
    openturns = pytest.importorskip("openturns", reason="openturns is a test aid, and not installed here")
    design = design_of(3, 64)
    sample = sample_of(one(ishigami), design)
    found = found_of(sample)
    inputs = sample_of(lambda unit: unit, design)
    n = len(sample.a)
    totals = []
    for side in ("a", "b"):
        own, other = ("ab", "b") if side == "a" else ("ba", "a")
        x, y = (
            openturns.Sample(np.concatenate([getattr(s, side), getattr(s, other), *getattr(s, own)]))
            for s in (inputs, sample)
        )
        first = np.array(openturns.MauntzKucherenkoSensitivityAlgorithm(x, y, n).getFirstOrderIndices())
        total = np.array(openturns.JansenSensitivityAlgorithm(x, y, n).getTotalOrderIndices())
        np.testing.assert_allclose(found.first[:, 0], first, rtol=0, atol=0.1)
        totals.append(total * getattr(sample, side).var() * n / (n - 1) * (2 * n - 1))
    apart = ((sample.a - sample.b) ** 2).sum() + np.array(
        [((ba - ab) ** 2).sum() for ab, ba in zip(sample.ab, sample.ba, strict=True)]
    )
    np.testing.assert_allclose(found.total[:, 0], sum(totals) / apart, rtol=0, atol=1e-10)


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
    found = found_of(sample_of(one(ishigami), design_of(3, 512)))
    assert found.mean[0] == pytest.approx(3.5, abs=0.01)
    assert found.variance[0] == pytest.approx(ISHIGAMI_VARIANCE, rel=0.005)
    found = found_of(sample_of(one(borehole), design_of(8, 512)))
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


REPETITIONS, COVERED_POINTS = 400, 32
CASES = {
    "ishigami": (ishigami, ISHIGAMI_FIRST, ISHIGAMI_TOTAL),
    "additive": (additive, ADDITIVE, ADDITIVE),
    "product": (product, PRODUCT_FIRST, PRODUCT_TOTAL),
}


@pytest.fixture(scope="module")
def repetitions() -> tuple[Array, Array]:
    """Both base samples of 400 studies of four columns, each of 16 blocks with seeds of their own: (rows, studies, 4)."""
    both = np.stack(BaseSample(4, 7, REPETITIONS * BLOCKS).upto(COVERED_POINTS))
    shaped = both.reshape(2, BLOCKS, REPETITIONS, COVERED_POINTS, 4).transpose(0, 1, 3, 2, 4)
    a, b = shaped.reshape(2, BLOCKS * COVERED_POINTS, REPETITIONS, 4)
    return a, b


def of_studies(samples: tuple[Array, Array], function: Callable[[Array], Array], n_inputs: int, blocks: int) -> Indices:
    """The indices of studies side by side, each an output of its own."""
    a, b = samples
    sums = Sums(np.zeros(a.shape[1]), n_inputs, n_blocks=blocks, design="studies side by side")
    base = sums.add_base(function(a), function(b), design="studies side by side")
    for swap in range(n_inputs):
        mixed, turned = a.copy(), b.copy()
        mixed[..., swap], turned[..., swap] = b[..., swap], a[..., swap]
        sums.add_swap(swap, function(mixed), function(turned), *base)
    return indices(sums, design="studies side by side")


def covered(found: Indices, exact: Sequence[Sequence[float]]) -> Array:
    """Whether each interval of each study holds the exact value: (first and total, inputs, studies)."""
    ends = [(found.first_low, found.first_high), (found.total_low, found.total_high)]
    return np.stack([(low <= np.c_[e]) & (np.c_[e] <= high) for (low, high), e in zip(ends, exact, strict=True)])


@pytest.mark.parametrize("case", CASES)
def test_intervals_cover_as_often_as_they_say(case: str, repetitions: tuple[Array, Array]) -> None:
    """95 % intervals over 400 studies of 512 base points: 93 to 98 % of all hold the true value, none under 90 %.

    `tests/sensitivity_coverage.py` measures it over 1,000, at other sizes, and on the invented laboratory's formula.
    """
    function, first, total = CASES[case]
    rate = covered(of_studies(repetitions, function, len(first), BLOCKS), (first, total)).mean(axis=2)
    assert 0.93 <= rate.mean() <= 0.98
    assert rate.min() >= 0.90


@pytest.mark.parametrize("case", ["ishigami", "product"])
def test_an_index_errs_by_less_than_saltellis_and_jansens_for_as_many_runs(
    case: str, repetitions: tuple[Array, Array]
) -> None:
    """Root mean square of first order, over 400 studies of 512 points and as many of twice these without the BA runs.

    In 32 blocks of 32 points, as the sample once was: .0183 against .0321 on Ishigami, .0143 against .0177 of the product.
    """
    function, first, _ = CASES[case]
    k = len(first)
    ours = of_studies(repetitions, function, k, BLOCKS).first - np.c_[first]
    a, b = (np.concatenate(np.split(side, 2, axis=1)) for side in repetitions)
    at_a, at_b = function(a), function(b)
    variance = np.concatenate([at_a, at_b]).var(axis=0)
    theirs = []
    for swap in range(k):
        mixed = a.copy()
        mixed[..., swap] = b[..., swap]
        theirs.append(((at_b - at_b.mean(axis=0)) * (function(mixed) - at_a)).mean(axis=0) / variance - first[swap])
    assert np.sqrt((ours**2).mean()) < 0.9 * np.sqrt((np.array(theirs) ** 2).mean())


def test_resampling_the_rows_of_one_sequence_covers_far_too_much() -> None:
    """Why intervals come from blocks: those over the 512 rows of one scrambled sequence hardly ever miss.

    Rows are blocks of one row here. On the additive case 95 % intervals should miss 160 times of 3,200.
    """
    both = BaseSample(4, 8, REPETITIONS).upto(512)
    a, b = (each.transpose(1, 0, 2) for each in both)
    assert covered(of_studies((a, b), additive, 4, 512), (ADDITIVE, ADDITIVE)).mean() > 0.99
