"""What the bench can tell apart, from scatter that is given: sets, what is uneven, and from how far apart."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from numpy.typing import NDArray

from analysis.rankings.bench_errors import BenchErrors
from analysis.rankings.distinguishable import Distinguishable, told_apart
from analysis.rankings.rank_groups import RankGroups
from analysis.rankings.rank_sets import RankSets, rank_sets

Array = NDArray[np.float64]


def bench_of(sd: Array, means: Array, rest: Array | None = None, not_above: Array | None = None) -> BenchErrors:
    """Independent normal errors of these sizes; 1000 draws."""
    errors = sd[:, np.newaxis] * np.random.default_rng(0).standard_normal((len(sd), 1000))
    counts = np.zeros((len(sd), len(sd)), np.int64) if not_above is None else not_above.astype(np.int64)
    return BenchErrors(errors, sd, means, np.zeros(len(sd)) if rest is None else rest, counts, 1000)


def found(values: list[float], bench: BenchErrors, seed: int = 0) -> Distinguishable:
    """What scores and their errors leave open; the highest is best."""
    published = np.argsort(np.argsort(-np.array(values))) + 1.0
    best = SimpleNamespace(ranks=SimpleNamespace(best=SimpleNamespace(value="highest")))
    quantities = SimpleNamespace(values=np.array(values), published=published, output=best)
    return told_apart(quantities, bench, seed=seed)  # type: ignore[arg-type]


def test_the_sets_are_those_of_the_scores_and_their_errors() -> None:
    """To the last digit of the critical value: of the drawn errors, stepwise."""
    values, bench = np.array([9.0, 7.0, 6.5]), bench_of(np.array([0.2, 0.1, 0.3]), np.array([9.0, 7.0, 6.5]))
    expected = rank_sets(values, bench.spread, rng=np.random.default_rng(0), errors=bench.errors)
    assert found(values.tolist(), bench).sets.critical == expected.critical


def test_a_score_is_uneven_where_its_draws_lie_off_it_or_bend() -> None:
    """By more than a quarter of their standard deviation, either way, or a twentieth of their variance not linear; one
    without scatter is not."""
    sd, means = np.array([1.0, 1.0, 1.0, 1.0, 0.0]), np.array([9.26, 8.24, 6.74, 6.0, 4.0])
    told = found([9.0, 8.0, 7.0, 6.0, 5.0], bench_of(sd, means, np.array([0, 0, 0, 0.06, 0.06])))
    assert told.uneven == (0, 2, 3)


@pytest.mark.parametrize(("turned", "is_apart"), [(0, True), (400, False)])
def test_an_uneven_score_is_told_apart_only_where_hardly_a_draw_turns(turned: int, is_apart: bool) -> None:
    """Ten standard errors apart, and 400 of 1000 draws the other way: the score jumps, and nothing is told."""
    counts = np.array([[0.0, turned], [1000.0, 0.0]])
    bench = bench_of(np.array([0.5, 0.5]), np.array([9.0, 2.0]), np.array([0.5, 0.0]), counts)
    assert found([9.0, 2.0], bench).sets.beats[0, 1] == is_apart


def test_an_even_score_goes_by_its_errors_alone() -> None:
    """Where nothing bends, the count of draws has no say."""
    counts = np.array([[0.0, 400.0], [1000.0, 0.0]])
    bench = bench_of(np.array([0.5, 0.5]), np.array([9.0, 2.0]), None, counts)
    assert found([9.0, 2.0], bench).sets.beats[0, 1]


def test_a_draw_that_prefers_the_other_order_is_never_a_sign_of_the_published_one() -> None:
    """A partial leader whose missing part, drawn, puts it below in every draw is not told to be above."""
    counts = np.array([[0.0, 1000.0], [0.0, 0.0]])
    bench = bench_of(np.array([0.1, 0.1]), np.array([4.0, 6.0]), None, counts)
    assert not found([9.0, 6.0], bench).sets.beats.any()


def told_of(sd: list[float], critical: float) -> Distinguishable:
    """A finding of which only the scatter and the critical value matter."""
    none = np.zeros(len(sd), bool)
    sets = RankSets(0.95, "joint", none.astype(int), none.astype(int), np.diag(none), critical, none, none)
    both = np.hypot(np.array(sd)[1:], np.array(sd)[:-1])
    return Distinguishable(sets, RankGroups((), ()), (), np.array(sd), both, ())


def test_from_how_far_apart_neighbours_are_told_apart_by_hand() -> None:
    """Errors 5, 13 and 12 of three differences, then 5 and 4 of two: the median, at 2.5 standard errors or at 1.96."""
    assert told_of([3.0, 4.0, 153**0.5, 0.0], 2.5).distance() == pytest.approx(2.5 * 153**0.5)
    told = told_of([3.0, 4.0, 0.0], 2.5)
    assert told.distance() == pytest.approx(2.5 * 4.5)
    assert told.distance(alone=True) == pytest.approx(1.96 * 4.5)
    assert told_of([3.0, 4.0], 2.5).distance() == pytest.approx(12.5)
    assert np.isnan(told_of([3.0], 2.5).distance())
