"""What scores may be after new readings: against drawn truths and readings, and against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr

from analysis.next_readings.preposterior import Standing, outlook
from analysis.next_readings.question import Pair, Top
from analysis.rankings.shrunken import Prior, shrunken


def test_new_scores_are_those_of_truths_drawn_from_the_posterior_and_read_again() -> None:
    """The second way: a truth for the scores as they stand, its old error kept by its share, and a new one."""
    scores, variance = np.array([2.0, 1.2, 0.1, -1.4]), np.array([0.5, 0.3, 0.6, 0.2])
    fall = np.array([0.2, 0.1, 0.0, 0.15])
    found = shrunken(scores, np.diag(variance))
    standing = Standing(scores, np.diag(variance), found.prior)
    n = 400_000
    rng = np.random.default_rng(3)
    told = outlook(standing, Top(4, 1.0), n, rng)
    read = np.flatnonzero(fall > 0)
    mean = scores.copy()
    mean[read] -= fall[read] * told.pull[read]
    spread = np.diag(fall) - fall[:, None] * told.precision * fall
    truths = rng.multivariate_normal(found.scores, found.covariance, size=n, method="eigh")
    left = (variance - fall) / variance
    then = truths + left * (scores - truths) + rng.standard_normal((n, 4)) * np.sqrt((variance - fall) * (1 - left))
    np.testing.assert_allclose(then.mean(axis=0), mean, atol=0.005)
    np.testing.assert_allclose(np.cov(then.T), spread, atol=0.005)


def test_a_pair_has_a_closed_form() -> None:
    """A wide prior: the new difference is normal about the old one, with what has fallen for its variance."""
    scores, variance, fall = np.array([1.0, 0.0]), np.array([0.5, 0.5]), np.array([0.3, 0.2])
    standing = Standing(scores, np.diag(variance), Prior(0.0, 1e9))
    told = outlook(standing, Pair(0, 1, 1.96), 200_000, np.random.default_rng(1))
    needed, moves = 1.96 * np.sqrt(1.0 - 0.5), np.sqrt(0.5)
    exact = 1 - ndtr((needed - 1) / moves) + ndtr((-needed - 1) / moves)
    assert told.chance(fall) == pytest.approx(exact, abs=0.005)


def test_one_product_alone_is_told_without_draws() -> None:
    """The same closed form by equally likely points, in a table of three, the third far below."""
    scores, variance = np.array([1.0, 0.0, -50.0]), np.array([0.5, 0.5, 0.5])
    standing = Standing(scores, np.diag(variance), Prior(0.0, 1e9))
    told = outlook(standing, Top(1, 2.5), 10, np.random.default_rng(1))
    needed, moves = 2.5 * np.sqrt(1.0 - 0.4), np.sqrt(0.4)
    exact = 1 - ndtr((needed - 1) / moves) + ndtr((-needed - 1) / moves)
    assert told.chance_of_one(0, 0.4) == pytest.approx(exact, abs=0.001)
    assert told.watched.tolist() == [0, 1]


def test_no_reading_leaves_the_question_as_it_is() -> None:
    """Settled stays settled, open stays open."""
    standing = Standing(np.array([3.0, 0.0]), np.eye(2) * 0.5, Prior(0.0, 2.0))
    for critical, chance in ((2.9, 1.0), (3.1, 0.0)):
        told = outlook(standing, Top(1, critical), 50, np.random.default_rng(0))
        assert told.chance(np.zeros(2)) == chance


def test_errors_that_all_share_are_in_no_question() -> None:
    """A shift of all scores in the covariance changes no chance."""
    own = np.diag([0.5, 0.4, 0.3])
    scores, fall = np.array([1.0, 0.2, -0.5]), np.array([0.3, 0.2, 0.0])
    chances = [
        outlook(Standing(scores, own + shift, Prior(0.0, 1.0)), Top(1, 2.0), 4000, np.random.default_rng(0)).chance(
            fall
        )
        for shift in (0.0, 7.0)
    ]
    assert chances[0] == pytest.approx(chances[1], abs=1e-3)


def test_who_is_in_dispute() -> None:
    """The pairs across the edge that are not told apart, and nobody else."""
    scores, covariance = np.array([5.0, 4.8, 4.7, 1.0]), np.eye(4) * 0.01
    assert Top(1, 3.0).disputed(scores, covariance) == (0, 1, 2)
    assert Top(2, 3.0).disputed(scores, covariance) == (0, 1, 2)
    assert Top(3, 3.0).disputed(scores, covariance) == ()
    assert Pair(0, 3, 1.96).disputed(scores, covariance) == ()
    assert Pair(0, 1, 1.96).disputed(scores, covariance) == (0, 1)


def test_scores_without_errors_are_told_apart_by_any_lead() -> None:
    """And equal ones never are."""
    nothing = np.zeros((2, 2))
    assert Top(1, 3.0).strength(np.array([[1.0, 0.5], [1.0, 1.0]]), nothing).tolist() == [np.inf, 0.0]
