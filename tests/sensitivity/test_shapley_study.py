"""Shapley effects of whole studies: shares that add up, independent and correlated inputs, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from written_forms import HEAD, form_of
from written_studies import catalogue_of, study_of

from analysis.indices.sensitivity import sensitivity_study
from analysis.indices.shapley_effects import linear_gaussian_effects
from analysis.indices.shapley_study import ScoreShapley, shapley_study
from analysis.study import Study
from scoring.errors import StudyError
from scoring.table.table import ScoreTable, score_catalogue

#: Each product's score is 1/2 (x + p) + 1/3 (y + q) + 1/6 r z: three independent arguments, the last with the readings.
THREE = (
    HEAD.replace("{from: 1, to: 10}", "{from: -100, to: 100}").replace(
        "measures", "constants: {p: 0, q: 0, r: 1}\nmeasures"
    )
    + """\
ratings:
  a: {value: "x + p"}
  b: {value: "y + q"}
  c: {value: "z * r"}
scores:
  total: {weights: {a: 3, b: 2, c: 1}}
"""
)
READINGS = {"x": [1.0, 2.0, 2.5, 0.0], "y": [3.0, 2.0, 1.0, 4.0], "z": [6.0, 2.0, 5.0, 1.0]}
SD = 0.5
VARY = "\n".join(
    f"{{address: constants.{name}, normal: {{mean: {mean}, sd: {SD}}}}}"
    for name, mean in (("p", 0), ("q", 0), ("r", 1))
)


def made(text: str, vary: str, rest: str = "") -> tuple[Study, ScoreTable]:
    """A study of a written form, and the published scores."""
    form, catalogue = form_of(text), catalogue_of(**READINGS)
    return study_of(vary, form, catalogue, rest), score_catalogue(form, catalogue)


def shared(text: str, vary: str, rest: str = "", **options: object) -> ScoreShapley:
    """The Shapley effects of the one score of a written form."""
    study, table = made(text, vary, rest)
    (found,) = shapley_study(study, table, **{"by": "factor", "points": 1024, **options})  # type: ignore[arg-type]
    return found


def correlated(value: float, first: str = "p", second: str = "q") -> str:
    """Two constants that move together."""
    return f"correlations: [{{between: [constants.{first}, constants.{second}], correlation: {value}}}]\n"


def exact_effects(correlation: float, z: float) -> np.ndarray:
    """Of a product's score: slopes 1/2, 1/3 and z/6 in jointly normal p, q and r."""
    matrix = np.array([[1, correlation, 0], [correlation, 1, 0], [0, 0, 1]]) * SD**2
    return linear_gaussian_effects([1 / 2, 1 / 3, z / 6], matrix).effects


@pytest.mark.parametrize("correlation", [0.0, 0.8, -0.6], ids="correlated by {}".format)
def test_scores_that_are_weighted_sums_have_the_exact_effects(correlation: float) -> None:
    """Every product's own, by the closed form for jointly normal inputs; within intervals twice as wide."""
    found = shared(THREE, VARY, correlated(correlation) if correlation else "")
    at = found.quantities.family("score")
    for place, product in enumerate(found.quantities.products):
        exact = exact_effects(correlation, READINGS["z"][product])
        low, high = found.effects.low[:, at][:, place], found.effects.high[:, at][:, place]
        half = (high - low) / 2
        assert ((low - half <= exact) & (exact <= high + half)).all()
        np.testing.assert_allclose(found.effects.effects[:, at][:, place], exact, rtol=0, atol=0.06)


@pytest.mark.parametrize("rest", ["", correlated(0.8)], ids=["independent", "correlated"])
def test_shares_of_everything_that_reacts_add_to_1(rest: str) -> None:
    """Scores, ranks, the winner, the shift: all quantities of the score."""
    found = shared(THREE, VARY, rest)
    reacting = found.effects.reacts
    assert reacting.sum() >= 8
    np.testing.assert_allclose(found.effects.effects[:, reacting].sum(axis=0), 1, rtol=0, atol=1e-9)


def test_independent_shares_are_first_order_and_half_of_each_interaction() -> None:
    """The same study by Sobol' indices with second order, for every quantity; three inputs have third order too, shared by 3."""
    study, table = made(THREE, VARY)
    (found,) = shapley_study(study, table, by="factor", points=4096)
    (sobol,) = sensitivity_study(study, table, by="factor", budget=4096, second_order=True)
    i = sobol.indices
    assert i.second is not None
    (s12, s13, s23), first = i.second, i.first
    third = 1 - first.sum(axis=0) - i.second.sum(axis=0)
    expected = first + np.stack([s12 + s13, s12 + s23, s13 + s23]) / 2 + third / 3
    noise = (found.effects.high - found.effects.low) / 2 + (i.first_high - i.first_low)
    reacting = found.effects.reacts & i.reacts
    assert reacting.sum() >= 8
    apart = np.abs(found.effects.effects - expected)[:, reacting]
    assert (apart <= noise[:, reacting] + 0.02).mean() > 0.95
    assert np.median(apart) < 0.02


def test_correlated_weights_share_what_they_move_together() -> None:
    """Two weights by .9: what one earns tends to what the other does, and the first-order share of each exceeds its total."""
    text = THREE.replace("p: 0, q: 0, r: 1", "k: 1, m: 1, n: 1").replace("x + p", "x * k").replace("y + q", "y * m")
    text = text.replace("z * r", "z * n")
    vary = "\n".join(f"{{address: constants.{name}, normal: {{mean: 1, sd: 0.1}}}}" for name in ("k", "m", "n"))
    tied, alone = (shared(text, vary, rest) for rest in (correlated(0.9, "k", "m"), ""))
    q = tied.quantities.family("score").start
    assert (tied.effects.first[:2, q] > tied.effects.total[:2, q]).all()
    gap = [float(abs(each.effects.effects[0, q] - each.effects.effects[1, q])) for each in (tied, alone)]
    assert gap[0] < gap[1]
    assert tied.correlations == (("constants.k", "constants.m", 0.9),)
    assert alone.correlations == ()


def test_weights_that_are_rescaled_may_be_correlated_too() -> None:
    """A study of weights by factor with a correlation: shares of the winner's chance still add to 1."""
    rest = "correlations: [{between: [scores.total.weights.a, scores.total.weights.b], correlation: -0.5}]\n"
    found = shared(THREE, "{weights: total, factor: [0.5, 1.5]}", rest)
    assert found.members == tuple((f"scores.total.weights.{part}",) for part in "abc")
    q = found.quantities.family("score").start
    assert found.effects.effects[:, q].sum() == pytest.approx(1, abs=1e-9)


def test_what_does_not_reach_the_score_takes_no_share_by_a_correlation() -> None:
    """An idle argument that moves with one that counts lends its share to no group: shares are those without it."""
    text = THREE + "  other: {weights: {a: 1, b: 1}}\n"
    rest = "scores: [total]\n" + "correlations: [{between: [scores.other.weights.a, constants.r], correlation: 0.9}]\n"
    tied = shared(text, VARY + "\n{weights: other, factor: [0.5, 1.5]}", rest)
    q = tied.quantities.family("score").start
    exact = exact_effects(0, READINGS["z"][tied.quantities.products[0]])
    np.testing.assert_allclose(tied.effects.effects[:, q], exact, rtol=0, atol=0.06)
    assert tied.effects.groups == ("constants.p", "constants.q", "constants.r")


def test_a_study_of_the_benchs_noise_alone_gives_it_everything() -> None:
    """No columns but those of the noise."""
    text = THREE.replace('unit: "1"', 'unit: "1", repeatability: 0.5')
    found = shared(text, "{readings: repeatability}", by="kind")
    assert found.effects.groups == ("bench noise",)
    q = found.quantities.family("score").start
    np.testing.assert_allclose(found.effects.effects[0, q : q + 4], 1, atol=1e-9)


def test_groups_hold_their_members() -> None:
    """By kind, all three numbers are one group; `group` in the study file makes another."""
    vary = VARY.replace("sd: 0.5}}", "sd: 0.5}, group: mine}", 1)
    found = shared(THREE, vary, by="kind")
    assert found.effects.groups == ("mine", "numbers")
    assert found.members == (("constants.p",), ("constants.q", "constants.r"))


def test_the_seed_decides_and_0_is_one() -> None:
    """Equal to itself, different from another."""
    zero, again, one = (shared(THREE, VARY, seed=seed, points=128).effects.effects for seed in (0, 0, 1))
    np.testing.assert_array_equal(zero, again)
    assert not np.array_equal(zero, one)


def test_more_than_twelve_groups_are_refused() -> None:
    """Every set of them would be gone through."""
    parts = [f"r{i}" for i in range(13)]
    ratings = "\n".join(f'  {name}: {{value: "x * {i + 1} / 13"}}' for i, name in enumerate(parts))
    text = (
        THREE[: THREE.index("ratings")]
        + f"ratings:\n{ratings}\nscores:\n  total: {{weights: {{{', '.join(f'{p}: 1' for p in parts)}}}}}\n"
    )
    with pytest.raises(StudyError, match="13 groups that reach total; expected 1 to 12"):
        shared(text, "{weights: total, factor: [0.5, 1.5]}")


def test_draws_that_no_columns_can_say_are_refused() -> None:
    """Weights by rejection within intervals, and resampled repeats."""
    with pytest.raises(StudyError, match="Shapley effects take every draw from columns"):
        shared(THREE, "{weights: total, between: {a: [40%, 60%]}}")
    with pytest.raises(
        StudyError, match=r"readings: each product's repeats drawn again .* expected noise by `readings: repe"
    ):
        shared(THREE, "{readings: bootstrap}")


@pytest.mark.parametrize("correlation", [0.0, 0.8, -0.6], ids="correlated by {}".format)
def test_linear_effects_are_exact_where_scores_are_linear(correlation: float) -> None:
    """By the closed form, which the published pair of Iooss and Prieur (2019) is held to elsewhere; no draw is in them."""
    found = shared(THREE, VARY, correlated(correlation) if correlation else "", points=64)
    for place, product in enumerate(found.quantities.products):
        exact = exact_effects(correlation, READINGS["z"][product])
        np.testing.assert_allclose(found.linear[:, place], exact, rtol=0, atol=1e-6)


def test_linear_effects_go_by_group_and_leave_out_what_is_no_number() -> None:
    """Two numbers in one group, their shares added; noise has none, and the shares add up to 1."""
    text = THREE.replace('unit: "1"', 'unit: "1", repeatability: 0.5')
    vary = VARY.replace("sd: 0.5}}", "sd: 0.5}, group: mine}", 1) + "\n{readings: repeatability}"
    found = shared(text, vary, by="kind", points=64)
    assert found.effects.groups == ("mine", "numbers", "bench noise")
    exact = exact_effects(0, READINGS["z"][found.quantities.products[0]])
    np.testing.assert_allclose(found.linear[:, 0], [exact[0], exact[1] + exact[2], 0], rtol=0, atol=1e-6)
