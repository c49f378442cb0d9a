"""Plans of readings: their budget, their benchmarks, and how often they settle what they promise to."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from extent import is_long
from rereading_campaign import BUDGET, PRODUCTS, falling_parts, simulated

from analysis.next_readings.falling import Falling
from analysis.next_readings.plan import Case, enough_for, equal_shares, one_measure, plans_for
from analysis.next_readings.preposterior import Outlook, Standing, outlook
from analysis.next_readings.question import Pair, Question, Top
from analysis.rankings.shrunken import prior_of


def table(question: Question, size: float = 0.3) -> tuple[Standing, Falling, Outlook]:
    """Ten scores with a near tie at the top, and what readings may say of them."""
    falling = falling_parts(size, np.linspace(0.7, 1.4, PRODUCTS))
    scores = np.array([2.0, 1.6, 1.0, 0.4, 0.1, -0.2, -0.6, -0.9, -1.2, -1.8])
    covariance = np.diag(falling.parts.sum(axis=0))
    standing = Standing(scores, covariance, prior_of(scores, covariance))
    return standing, falling, outlook(standing, question, 4_000, np.random.default_rng(2))


def test_a_plan_spends_its_budget_on_what_is_in_dispute() -> None:
    """All plans do, and the proposed one promises no less than the others in the draws that it was made by."""
    question = Top(1, 2.5)
    standing, falling, told = table(question)
    plans = plans_for(Case(standing, question, falling), BUDGET, told, told)
    assert plans is not None
    disputed = question.disputed(standing.scores, standing.covariance)
    for plan in (plans.best, plans.equal, plans.one_measure):
        assert plan.further.sum() == BUDGET
        assert set(np.flatnonzero(plan.further.any(axis=0)).tolist()) <= set(disputed)
    assert plans.best.chance >= max(plans.equal.chance, plans.one_measure.chance)
    assert plans.one_measure.further.any(axis=1).sum() == 1


def test_a_pair_gets_the_best_plan_there_is() -> None:
    """Against every split of eight readings over two products, each shared out as well as can be."""
    question = Pair(0, 1, 1.96)
    standing, falling, told = table(question)
    plans = plans_for(Case(standing, question, falling), 8, told, told)
    assert plans is not None
    chances = []
    for own in range(9):
        further = np.zeros(falling.parts.shape, np.int64)
        for product, readings in ((0, own), (1, 8 - own)):
            further[:, product] = falling.shared_out(product, 8).readings(readings)
        chances.append(told.chance(falling.fall(further)))
    assert plans.best.chance == max(chances)


def test_a_place_gets_a_plan_as_good_as_any_of_three_products() -> None:
    """Against every split of ten readings over the three in dispute."""
    question = Top(1, 3.0)
    standing, falling, told = table(question)
    products = question.disputed(standing.scores, standing.covariance)
    assert len(products) == 3
    plans = plans_for(Case(standing, question, falling), 10, told, told)
    assert plans is not None
    shares = {product: falling.shared_out(product, 10) for product in products}
    chances = []
    for split in itertools.product(range(11), repeat=3):
        if sum(split) == 10:
            further = np.zeros(falling.parts.shape, np.int64)
            for product, readings in zip(products, split, strict=True):
                further[:, product] = shares[product].readings(readings)
            chances.append(told.chance(falling.fall(further)))
    assert plans.best.chance >= max(chances) - 0.002


def test_equal_shares_by_hand() -> None:
    """Products in turn, measures in turn: seven readings of two products and four measures."""
    _, falling, _ = table(Top(1, 2.5))
    further = equal_shares(falling, (0, 1), 7)
    assert further[:, 0].tolist() == [1, 1, 1, 1]
    assert further[:, 1].tolist() == [1, 1, 1, 0]
    assert one_measure(falling, (0, 1), 7, 2)[2, :2].tolist() == [4, 3]


def test_nothing_to_settle_is_no_plan() -> None:
    """A question that is settled, and products whose noise no reading takes away."""
    standing, falling, told = table(Top(1, 0.1))
    assert plans_for(Case(standing, Top(1, 0.1), falling), BUDGET, told, told) is None
    assert enough_for(Case(standing, Top(1, 0.1), falling), told, start=4) is None
    fixed = Falling(falling.measures, falling.readings, 0 * falling.parts, falling.kept)
    assert plans_for(Case(standing, Top(1, 2.5), fixed), BUDGET, told, told) is None


def test_enough_readings_give_an_even_chance() -> None:
    """The budget found does, a quarter of it does not: budgets are doubled, and looked at by plans that are not yet bettered."""
    question = Pair(0, 1, 1.96)
    standing, falling, told = table(question, 0.2)
    enough = enough_for(Case(standing, question, falling), told, start=1)
    assert enough is not None
    plans = plans_for(Case(standing, question, falling), enough, told, told)
    fewer = plans_for(Case(standing, question, falling), enough // 4, told, told)
    assert plans is not None
    assert fewer is not None
    assert fewer.best.chance < 0.5 <= plans.best.chance


@pytest.mark.parametrize("name", ["first", "pair"])
def test_planned_readings_settle_more_and_as_often_as_foretold(name: str) -> None:
    """120 tables read again, or 40: no fewer settled than by equal shares or one measure, within two standard errors of a
    share."""
    tables = 120 if is_long() else 40
    found = simulated(name, tables, 0.4, np.random.default_rng(4))
    error = np.sqrt(0.25 / tables)
    assert found.proposed >= max(found.equal, found.one_measure) - 2 * error
    assert found.proposed == pytest.approx(found.foretold, abs=3 * error)
    assert found.proposed > 0.05
