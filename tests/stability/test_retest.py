"""A re-test beside the published table, against laboratories that are simulated whole: truth, publication, re-test."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from written_forms import NAN, form_of
from written_studies import catalogue_of, study_of

from analysis.rankings.retest import fall_back
from analysis.rankings.stability import ScoreStability, rank_stability
from scoring.table.table import score_catalogue

Array = NDArray[np.float64]
FORM = """\
formula: trial
scale: {from: 0, to: 100}
measures:
  x: {unit: "1", better: higher, repeatability: 2}
ratings:
  a: {measure: x, curve: {line: {worst: 0, best: 100}}}
"""


def places(scores: Array) -> Array:
    """Places of distinct scores, the highest first, from 0."""
    return np.asarray((-scores).argsort(axis=-1).argsort(axis=-1), float)


def apart(published: Array, again: Array) -> tuple[float, float]:
    """The mean shift in places, and the share of tables with the published first, over tables of shape (n, products)."""
    shift = np.abs(places(again) - places(published)).mean()
    return float(shift), float((again.argmax(axis=1) == published.argmax()).mean())


@pytest.mark.parametrize("spread", [20.0, 8.0, 3.0, 1.5], ids=["clear", "close", "blurred", "mostly noise"])
def test_a_retest_lies_from_the_published_table_as_it_is_said_to(spread: float) -> None:
    """Over 1500 laboratories: places within 3 %, the same first within 2 % of tables; one dose of noise would be 25 % short."""
    rng, products, draws = np.random.default_rng(12), 20, 100
    said, seen, short = [], [], []
    for _ in range(1500):
        truth = rng.normal(0, spread, products)
        sd = rng.uniform(0.7, 1.3, products)
        published = truth + sd * rng.normal(size=products)
        two_doses = published + np.sqrt(2) * sd * rng.normal(size=(draws, products))
        said.append(apart(published, fall_back(published, two_doses, np.arange(products)).of(two_doses)))
        seen.append(apart(published, truth + sd * rng.normal(size=(draws, products))))
        short.append(apart(published, published + sd * rng.normal(size=(draws, products))))
    (shift, first), (true_shift, true_first) = np.mean(said, axis=0), np.mean(seen, axis=0)
    assert shift == pytest.approx(true_shift, rel=0.03)
    assert first == pytest.approx(true_first, abs=0.02)
    assert np.mean(short, axis=0)[0] < 0.75 * true_shift


def test_what_all_products_have_in_common_in_a_draw_pulls_nobody_back() -> None:
    """A shift of the whole bench moves no place: the spread of the scores holds none of it."""
    rng = np.random.default_rng(3)
    published = rng.normal(50, 5, 12)
    errors, common = rng.normal(size=(400, 12)), 40 * rng.normal(size=(400, 1))
    plain, shifted = (fall_back(published, published + e, np.arange(12)) for e in (errors, errors + common))
    np.testing.assert_allclose(shifted.kept, plain.kept, rtol=1e-9)


def test_draws_without_a_score_say_nothing_of_the_others() -> None:
    """A product that is lost in some draws, or in all, leaves the others where they were."""
    rng = np.random.default_rng(5)
    published = rng.normal(50, 5, 12)
    drawn = published + rng.normal(size=(4000, 12))
    gone = drawn.copy()
    gone[:2000, 3], gone[:, 7] = NAN, NAN
    plain, lost = (fall_back(published, some, np.arange(12)) for some in (drawn, gone))
    others = np.delete(np.arange(12), 7)
    np.testing.assert_allclose(lost.kept[others], plain.kept[others], rtol=0.02)
    assert np.isnan(lost.of(gone)).sum() == 2000 + 4000


def test_without_noise_a_retest_is_the_published_table() -> None:
    """Nothing falls back, also where all scores are alike, or one product is alone; what is not ranked is left as it is."""
    for published in (np.array([3.0, 1.0, 2.0, NAN]), np.array([5.0, 5.0, 5.0, NAN]), np.array([4.0, NAN, NAN, NAN])):
        drawn, there = np.tile(published, (50, 1)), np.flatnonzero(~np.isnan(published))
        found = fall_back(published, drawn, there)
        np.testing.assert_array_equal(found.of(drawn)[:, there], drawn[:, there])


def published_and_again(seed: int) -> tuple[tuple[float, float], tuple[float, float]]:
    """What the study says of a simulated laboratory's re-test, and what its re-tests show."""
    rng = np.random.default_rng(seed)
    truth = 50 + 9 * rng.normal(size=20)
    published = truth + 2 * rng.normal(size=20)
    found = noisy(published).retest
    assert found is not None
    said = found.agreement["mean shift in rank"].mean, float(found.first[0])
    return said, apart(published, truth + 2 * rng.normal(size=(300, 20)))


def noisy(
    readings: Array, vary: str = "{readings: repeatability}", *, retest: bool = True, draws: int = 150
) -> ScoreStability:
    """The stability of the one rating under a study."""
    form, catalogue = form_of(FORM), catalogue_of(x=readings.tolist())
    study = study_of(vary, form, catalogue)
    (found,) = rank_stability(study, score_catalogue(form, catalogue), draws=draws, retest=retest)
    return found


def test_the_study_says_of_a_retest_what_retests_show() -> None:
    """Through formula, study and draws, over 25 laboratories: places within 5 %, the same first within 10 % of tables."""
    both = np.array([published_and_again(seed) for seed in range(25)])
    said, seen = both.mean(axis=0)
    assert said[0] == pytest.approx(seen[0], rel=0.05)
    assert said[1] == pytest.approx(seen[1], abs=0.1)


def test_a_retest_is_looked_at_only_where_the_bench_varies_and_it_is_asked_for() -> None:
    """Judgement alone has no re-test; and what else is drawn is the same with one and without."""
    readings = np.array([60.0, 58, 40])
    assert noisy(readings, "{anchors: every rating, within: 5%}").retest is None
    without, with_one = noisy(readings, retest=False, draws=2000), noisy(readings, draws=2000)
    assert without.retest is None
    assert with_one.retest is not None
    np.testing.assert_array_equal(without.by_source["bench"].first, with_one.by_source["bench"].first)
    assert with_one.retest.first[0] < with_one.by_source["bench"].first[0]
