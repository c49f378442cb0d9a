"""Shapley effects from estimates that are given: intervals by hand, the variance, and the smallest and largest designs taken."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from analysis.indices import shapley_effects as module
from analysis.indices.shapley_effects import _check_number, _finished, linear_gaussian_effects, shapley_effects
from analysis.study.gaussian_copula import GaussianCopula

Array = NDArray[np.float64]


def tally(least: list[float], greatest: list[float], n_nonfinite: list[int], evaluations: int) -> SimpleNamespace:
    """What was seen of two outputs in one pass."""
    found = {"least": np.array(least), "greatest": np.array(greatest), "n_nonfinite": np.array(n_nonfinite)}
    return SimpleNamespace(**found, evaluations=evaluations)


def test_an_interval_is_students_about_the_estimate_with_the_jackknifes_error() -> None:
    """Error by hand: sqrt((n - 1)/n * sum of (left out - their mean)^2), n blocks; t of n - 1 degrees of freedom."""
    rng = np.random.default_rng(2)
    found = rng.normal(size=(5, 6, 2))  # all blocks, then without each of four; two groups, three readings of each
    tallies = [tally([1.0, 2.0], [4.0, 2.0], [0, 1], 10), tally([0.0, 2.0], [3.0, 2.0], [0, 0], 7)]
    of = _finished(("a", "b"), tallies, found, np.array([1.5, 2.5]))  # type: ignore[arg-type]
    without = found[1:]
    error = np.sqrt(3 / 4 * ((without - without.mean(axis=0)) ** 2).sum(axis=0))
    reach = stats.t.ppf(0.975, 3) * error
    for start, names in enumerate(
        (("effects", "low", "high"), ("first", "first_low", "first_high"), ("total", "total_low", "total_high"))
    ):
        rows = slice(2 * start, 2 * start + 2)
        for name, expected in zip(names, (found[0], found[0] - reach, found[0] + reach), strict=True):
            np.testing.assert_allclose(getattr(of, name), expected[rows], rtol=1e-12, err_msg=name)
    assert of.groups == ("a", "b")
    assert of.reacts.tolist() == [True, False]  # 0 to 4 over both passes, and 2 throughout
    assert of.n_nonfinite.tolist() == [0, 1]
    assert of.variance.tolist() == [1.5, 2.5]  # that of an output with a value lost is not known to be 0
    assert of.evaluations == 17


@pytest.mark.parametrize(("greatest", "reacts"), [(1e6 + 1e-7, False), (1e6 + 1e-2, True)])
def test_whether_an_output_reacts_is_judged_by_its_size(greatest: float, reacts: bool) -> None:
    """About a million, a ten-millionth is rounding; an output that does not react has no variance."""
    of = _finished(("a",), [tally([1e6], [greatest], [0], 1)], np.zeros((3, 3, 1)), np.array([2.0]))  # type: ignore[list-item]
    assert of.reacts.tolist() == [reacts]
    assert of.variance.tolist() == [2.0 if reacts else 0.0]


def test_the_variance_is_that_of_the_base_points_and_of_their_redraws() -> None:
    """The model's first two calls, pooled, with one less in the denominator; two blocks of two points are enough."""
    seen = []

    def model(points: Array) -> Array:
        seen.append(points.sum(axis=1, keepdims=True))
        return seen[-1]

    of = shapley_effects(
        model, GaussianCopula(np.eye(2), [[0], [1]]), ["a", "b"], base_points=4, blocks=2, rng=np.random.default_rng(0)
    )
    assert of.variance == pytest.approx(np.var(np.concatenate(seen[:2]), ddof=1))
    assert of.evaluations == sum(map(len, seen))
    assert of.groups == ("a", "b")


def test_twelve_groups_are_not_too_many() -> None:
    """And thirteen are, with the number of their sets."""
    _check_number(12)
    with pytest.raises(ValueError, match="13 groups have 8192 sets"):
        _check_number(13)


def test_a_sum_that_hardly_varies_beside_its_parts_is_none() -> None:
    """1e-3 (x - y) of two inputs whose correlation is 1 but for rounding, at any size of the weights."""
    alike = np.array([[1.0, 1 - 1e-16], [1 - 1e-16, 1.0]])
    for weight in (1e-3, 1.0, 1e3):
        with pytest.raises(ValueError, match="does not vary"):
            linear_gaussian_effects([weight, -weight], alike)
        assert linear_gaussian_effects([weight, weight], alike).variance == pytest.approx(4 * weight**2)


def test_blocks_of_points_that_do_not_share_out_evenly_are_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    """Seven points in three blocks: 2, 2 and 3 of them."""
    seen = []
    plain = module.run
    monkeypatch.setattr(
        module, "run", lambda *given, **more: seen.append(given[1].edges.tolist()) or plain(*given, **more)
    )
    copula = GaussianCopula(np.eye(2), [[0], [1]])
    shapley_effects(lambda points: points, copula, ["a", "b"], base_points=7, blocks=3, rng=np.random.default_rng(0))
    assert seen == [[0, 2, 4, 7]]
