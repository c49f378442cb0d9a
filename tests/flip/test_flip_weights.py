"""Least changes of weights: by hand, against second formulations, and no smaller one among random ones."""

from __future__ import annotations

import numpy as np
import pytest
from extent import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import LinearConstraint, linprog, minimize
from written_forms import HEAD, score

from analysis.flips.found import ABSOLUTE, ONE, SQUARES, Flip
from analysis.flips.study import flip_of
from analysis.flips.weights import least_absolute, least_squares, middle, mixture, one_weight, to_decimals

PARTS = (
    HEAD
    + "ratings:\n"
    + "".join(
        f"  {r}: {{measure: {m}, curve: {{points: {{1: 1, 10: 10}}}}}}\n" for r, m in zip("abc", "xyz", strict=True)
    )
    + "scores:\n  s: {blend: weighted mean, weights: {a: 0.5, b: 0.3, c: 0.2}}\n"
)
SEEDS = st.integers(0, 2**32 - 1)


def contest(seed: int, rivals: int = 1, parts: int = 4) -> tuple[np.ndarray, np.ndarray]:
    """Weights, and gaps by which the subject is behind at least one rival."""
    rng = np.random.default_rng(seed)
    weights, gaps = rng.uniform(0.05, 1, parts), rng.normal(0, 2, (rivals, parts))
    if gaps[0] @ weights > 0:
        gaps[0] *= -1
    return weights, gaps


def flipped(text: str = PARTS, rival: str | None = "p1", **readings: list[float]) -> Flip:
    """The changes by which p2 catches p1, or comes first."""
    return flip_of(score(text, readings), "s", "p2", rival, seed=0)


def test_one_weight_by_hand() -> None:
    """w = (0.5, 0.3, 0.2), d = (-2, 2, 1): w.d = -0.2, so x falls by 0.1, or y rises by 0.1, or z by 0.2."""
    weights, gaps = np.array([0.5, 0.3, 0.2]), np.array([[-2.0, 2.0, 1.0]])
    assert [one_weight(weights, gaps, part)[0] for part in range(3)] == pytest.approx([-0.1, 0.1, 0.2])


def test_least_squares_by_hand() -> None:
    """d - mean d = (-7/3, 5/3, 2/3), w.d = -0.2: the distance is 0.2 / |d - mean d| = 0.2 / sqrt(78/9)."""
    weights, gaps = np.array([0.5, 0.3, 0.2]), np.array([[-2.0, 2.0, 1.0]])
    found = least_squares(weights, gaps)
    assert found is not None
    assert np.linalg.norm(found - weights) == pytest.approx(0.2 / np.sqrt(78 / 9), abs=1e-12)
    assert found == pytest.approx(weights + 0.2 / (78 / 9) * np.array([-7, 5, 2]) / 3, abs=1e-12)


def test_least_absolute_change_by_hand() -> None:
    """A shift from x (-2) to y (2) gains 4 for each unit moved: 0.05 goes over, 0.1 in all."""
    found = least_absolute(np.array([0.5, 0.3, 0.2]), np.array([[-2.0, 2.0, 1.0]]))
    assert found == pytest.approx([0.45, 0.35, 0.2], abs=1e-9)


def test_weights_that_would_turn_negative_stop_at_nothing() -> None:
    """d = (-1, -1, 0.1): all weight has to go to z but for what ties, which the closed form would take below 0."""
    weights, gaps = np.array([0.8, 0.1, 0.1]), np.array([[-1.0, -1.0, 0.1]])
    closed = weights - (gaps[0] @ weights) * (gaps[0] - gaps[0].mean()) / np.sum((gaps[0] - gaps[0].mean()) ** 2)
    assert closed.min() < 0
    found = least_squares(weights, gaps)
    assert found is not None
    assert found.min() >= 0
    assert gaps @ found == pytest.approx(0, abs=1e-12)
    assert found.sum() == pytest.approx(1, abs=1e-12)


@settings(max_examples=examples(25))
@given(SEEDS, st.integers(1, 4))
def test_least_squares_is_what_a_general_optimiser_finds(seed: int, rivals: int) -> None:
    """SLSQP on the same programme is no nearer, and where neither finds one no weights do it."""
    weights, gaps = contest(seed, rivals)
    found = least_squares(weights, gaps)
    if mixture(gaps) is not None:
        assert found is None
        return
    assert found is not None
    assert (gaps @ found).min() > -1e-9
    limits = [LinearConstraint(np.ones((1, 4)), weights.sum(), weights.sum()), LinearConstraint(gaps, 0, np.inf)]
    start = middle(gaps)
    start = found if start is None else start * weights.sum()
    other = minimize(
        lambda x: np.sum((x - weights) ** 2), start, jac=lambda x: 2 * (x - weights), method="SLSQP",
        bounds=[(0, None)] * 4, constraints=limits, options={"ftol": 1e-14, "maxiter": 500},
    )  # fmt: skip
    assert np.sum((found - weights) ** 2) == pytest.approx(other.fun, rel=1e-5, abs=1e-8)


@settings(max_examples=examples(25))
@given(SEEDS, st.integers(1, 4))
def test_least_absolute_change_agrees_with_a_second_programme(seed: int, rivals: int) -> None:
    """Written over the new weights and bounds on their distance instead: the same optimum."""
    weights, gaps = contest(seed, rivals)
    found = least_absolute(weights, gaps)
    eye = np.eye(4)
    above = np.vstack([np.hstack([eye, -eye]), np.hstack([-eye, -eye]), np.hstack([-gaps, np.zeros_like(gaps)])])
    other = linprog(
        [0] * 4 + [1] * 4, A_ub=above, b_ub=[*weights, *-weights, *np.zeros(rivals)],
        A_eq=[[1] * 4 + [0] * 4], b_eq=[weights.sum()], bounds=[(0, None)] * 8, method="highs-ipm",
    )  # fmt: skip
    assert (found is None) == (other.status == 2)
    if found is not None:
        assert np.abs(found - weights).sum() == pytest.approx(other.fun, abs=1e-6)


@settings(max_examples=examples(25))
@given(SEEDS, st.integers(1, 3))
def test_no_smaller_change_of_the_same_kind_does(seed: int, rivals: int) -> None:
    """Random changes a little smaller than the least one never turn the order, for one weight or all."""
    weights, gaps = contest(seed, rivals)
    rng = np.random.default_rng(seed)
    for part in range(len(weights)):
        change, _ = one_weight(weights, gaps, part)
        moved = np.repeat(weights[None], 200, axis=0)
        size = 0.999 * abs(change) if change is not None else 50.0
        moved[:, part] = np.maximum(moved[:, part] + rng.uniform(-size, size, 200), 0)
        assert ((moved @ gaps.T).min(axis=1) < 0).all()
    for solve, norm in ((least_squares, 2), (least_absolute, 1)):
        found = solve(weights, gaps)
        if found is None:
            continue
        directions = rng.normal(size=(1000, len(weights)))
        directions -= directions.mean(axis=1, keepdims=True)
        directions = np.vstack([directions, found - weights])
        lengths = np.linalg.norm(directions, norm, axis=1, keepdims=True)
        moved = weights + 0.999 * np.linalg.norm(found - weights, norm) * directions / lengths
        moved = moved[(moved >= 0).all(axis=1)]
        assert ((moved @ gaps.T).min(axis=1) < 0).all()


@settings(max_examples=examples(25))
@given(SEEDS, st.integers(1, 4))
def test_what_is_said_to_be_impossible_is_so_under_a_thousand_weightings(seed: int, rivals: int) -> None:
    """A mixture of rivals that is ahead in every part leaves no weights; without one, weights are found."""
    weights, gaps = contest(seed, rivals, parts=3)
    gaps = gaps - (1.2 if seed % 2 else 0.0)
    mixed = mixture(gaps)
    if mixed is None:
        assert least_absolute(weights, gaps) is not None
        return
    assert mixed.min() >= 0
    assert mixed.sum() == pytest.approx(1)
    assert (mixed @ gaps).max() < 0
    drawn = np.random.default_rng(seed).dirichlet(np.ones(3), 1000)
    assert ((drawn @ gaps.T).min(axis=1) < 0).all()
    assert least_absolute(weights, gaps) is None
    assert least_squares(weights, gaps) is None


@pytest.mark.parametrize(
    ("gaps", "part", "why"),
    [
        ([[-2.0, 0.0, 1.0]], 1, "equal in this part"),
        ([[-2.0, -3.0, 1.0]], 1, "below 0"),
        ([[-2.0, 3.0, 1.0], [0.0, -3.0, 0.1]], 1, "one rival asks for more of it, another for less"),
    ],
    ids=["equal", "negative", "opposed"],
)
def test_why_one_weight_cannot_do_it(gaps: list[list[float]], part: int, why: str) -> None:
    """Each reason is one that can be checked by hand."""
    change, said = one_weight(np.array([0.5, 0.3, 0.2]), np.array(gaps), part)
    assert change is None
    assert why in said


def test_a_part_in_which_both_are_equal_still_lets_all_weights_tie() -> None:
    """A is better in two parts and equal in the third: all weight on that one is a tie, and a tie is enough."""
    found = flipped(x=[8, 5], y=[8, 5], z=[6, 6])
    changes = {change.kind: change for change in found.changes if change.kind != ONE}
    assert [float(text) for _, _, text in changes[ABSOLUTE].settings] == [0, 0, 1]
    assert changes[ABSOLUTE].verdict == changes[SQUARES].verdict == "proved"


def test_a_product_that_is_worse_in_every_part_never_catches_up() -> None:
    """Dominance is the proof, and it names who dominates."""
    found = flipped(x=[8, 5], y=[8, 5], z=[6, 5.5])
    for kind in (SQUARES, ABSOLUTE):
        (change,) = [each for each in found.changes if each.kind == kind]
        assert (change.verdict, change.why) == ("impossible", "p1 is better in every part")


def test_a_product_between_two_others_never_comes_first() -> None:
    """Neither rival dominates p2, but half of each does."""
    found = flipped(rival=None, x=[9, 4, 1], y=[1, 4, 9], z=[5, 4, 5])
    (change,) = [each for each in found.changes if each.kind == SQUARES]
    assert change.verdict == "impossible"
    assert "p1" in change.why
    assert "p3" in change.why
    drawn = np.random.default_rng(1).dirichlet(np.ones(3), 1000)
    values = drawn @ np.array([[9, 4, 1], [1, 4, 9], [5, 4, 5]])
    assert (values[:, 1] < values.max(axis=1)).all()


def test_the_first_place_asks_for_all_rivals_at_once() -> None:
    """p2 = (5, 7, 5) against (8, 4, 5) and (5, 6, 7): it must gain on both."""
    found = flipped(rival=None, x=[8, 5, 5], y=[4, 7, 6], z=[5, 5, 7])
    weights = np.array([0.5, 0.3, 0.2])
    gaps = np.array([[-3.0, 3.0, 0.0], [0.0, 1.0, -2.0]])
    expected = least_squares(weights, gaps)
    change = found.least(SQUARES)
    assert expected is not None
    assert change is not None
    assert change.verdict == "proved"
    assert change.exact == pytest.approx(np.linalg.norm(expected - weights), abs=1e-9)


@settings(max_examples=examples(6))
@given(SEEDS, st.sampled_from(["weighted mean", "geometric mean", "sum"]), st.sampled_from(["highest", "lowest"]))
def test_every_printed_weight_turns_the_order_when_scored_again(seed: int, blend: str, best: str) -> None:
    """The certificate is taken from a table scored anew, and no found change stands without one."""
    rng = np.random.default_rng(seed)
    rows = rng.uniform(1, 10, (3, 2)).round(2)
    text = PARTS.replace("weighted mean", blend).replace("measures:", f"ranks: {{best: {best}}}\nmeasures:")
    table = score(text, dict(zip("xyz", rows, strict=True)))
    ahead = int(table.column("s").rank[0] > table.column("s").rank[1])
    found = flip_of(table, "s", f"p{2 - ahead}", f"p{1 + ahead}", seed=0)
    sign = 1 if best == "highest" else -1
    for change in found.changes:
        if change.found and change.kind in (ONE, SQUARES, ABSOLUTE):
            weights = dict(zip("abc", (0.5, 0.3, 0.2), strict=True))
            weights |= {address.rsplit(".", 1)[-1]: float(value) for address, _, value in change.settings}
            again = text.replace("a: 0.5, b: 0.3, c: 0.2", ", ".join(f"{n}: {w:.15f}" for n, w in weights.items()))
            values = score(again, dict(zip("xyz", rows, strict=True))).column("s").value
            assert sign * (values[1 - ahead] - values[ahead]) > -1e-9
            assert change.certificate is not None
            assert change.certificate.after == pytest.approx(values[1 - ahead], abs=1e-9)
            assert change.verdict == ("searched" if blend == "geometric mean" else "proved")
            if change.kind != ONE:
                assert sum(weights.values()) == pytest.approx(1, abs=1e-12)


def test_a_search_comes_near_the_exact_answer() -> None:
    """Of a geometric mean, whose logarithm is linear: the search over all weights is within 2 % of the exact distance."""
    x, y, z = [9.0, 5.0], [3.0, 6.0], [4.0, 4.5]
    found = flipped(PARTS.replace("weighted mean", "geometric mean"), x=x, y=y, z=z)
    weights, gaps = np.array([0.5, 0.3, 0.2]), np.log([[x[1] / x[0], y[1] / y[0], z[1] / z[0]]])
    for kind, solve, norm in ((SQUARES, least_squares, 2), (ABSOLUTE, least_absolute, 1)):
        change, exact = found.least(kind), solve(weights, gaps)
        assert change is not None
        assert exact is not None
        assert change.verdict == "searched"
        assert np.linalg.norm(exact - weights, norm) <= change.exact * (1 + 1e-6)
        assert change.exact <= 1.02 * np.linalg.norm(exact - weights, norm)


def test_printed_weights_keep_their_sum() -> None:
    """Remainders go where they are largest, and the decimals add up to what the stated ones do."""
    assert to_decimals(np.array([0.4333, 0.3333, 0.2334]), np.array([0.5, 0.3, 0.2]), 2) == ["0.43", "0.33", "0.24"]
