"""Rank stability: the tally against plain counting, closed forms, sources, seeds, batches and correlations."""

from __future__ import annotations

import itertools
from collections import Counter
from dataclasses import fields, replace
from itertools import product

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import kendalltau, norm, spearmanr
from written_forms import NAN, form_of
from written_studies import catalogue_of, study_of

from analysis.rankings.stability import BATCH, RankStability, ScoreStability, rank_stability
from analysis.rankings.tally import AGREEMENTS, Tally
from analysis.study import Study, default_study
from analysis.trials.quantities import Quantities, quantities_of
from scoring.catalogue import Catalogue
from scoring.numbers.ranks import rank
from scoring.numbers.rounding import round_to
from scoring.table.table import score_catalogue

Array = NDArray[np.float64]
#: Two measures that are their own ratings, each with a known repeatability, and their mean.
FORM = """\
formula: trial
scale: {from: 0, to: 100}
measures:
  x: {unit: "1", better: higher, repeatability: 2}
  y: {unit: "1", better: higher, repeatability: 1}
ratings:
  a: {measure: x, curve: {line: {worst: 0, best: 100}}}
  b: {measure: y, curve: {line: {worst: 0, best: 100}}}
scores:
  s: {blend: weighted mean, weights: {a: 3, b: 1}}
"""
NOISE, WEIGHTS = "{readings: repeatability}", "{weights: s, factor: [0.5, 1.5]}"


def asked(values: Array, ties: str, best: str, on: str, top: int) -> Quantities:
    """The quantities of a score with the given published values, products p1, p2, ... in the catalogue."""
    text = f"ranks: {{ties: {ties}, best: {best}, on: {on}}}\n" + FORM.replace(
        "scale: {", "scale: {show: {step: 2, rule: half-up}, "
    )
    form = form_of(text)
    catalogue = catalogue_of(x=values, y=values)
    return quantities_of(form, score_catalogue(form, catalogue).column("s"), catalogue.products, top, ())


def case(seed: int, absent: float) -> tuple[Array, Array, Array]:
    """Published values, draws of them with many ties, a share of them absent, and weights."""
    rng = np.random.default_rng(seed)
    published = rng.integers(1, 30, 6).astype(float)
    scores = rng.integers(1, 12, (137, 6)).astype(float)
    scores[rng.uniform(size=scores.shape) < absent] = NAN
    return published, scores, rng.uniform(0.1, 2, (137, 3))


def plain_ranks(of: Quantities, scores: Array) -> Array:
    """The places of every draw, one draw at a time."""
    ranks = of.form.ranks
    own = scores[:, of.products]
    if ranks.on.value == "shown":
        own = round_to(own, of.output.scale.show.step.value, of.output.scale.show.rule.value)
    return np.array([rank(row, ranks.best.value, ranks.ties.value) for row in own])


RULES = list(product(["shared-best", "shared-mean", "dense"], ["highest", "lowest"], ["unrounded", "shown"]))


@pytest.mark.parametrize("absent", [0.0, 0.3], ids=["all present", "some absent"])
@pytest.mark.parametrize(("ties", "best", "on"), RULES, ids=[" ".join(rule) for rule in RULES])
def test_the_tally_counts_as_a_person_would(ties: str, best: str, on: str, absent: float) -> None:
    """Places, quantiles, firsts, the top, who stands above whom, weights and moments, product by product and draw by draw."""
    published, scores, weights = case(11, absent)
    of = asked(published, ties, best, on, top=3)
    tally = Tally(of)
    for part in (slice(0, 50), slice(50, 137)):
        tally.add(scores[part], weights[part])
    ranks, n = plain_ranks(of, scores), len(scores)
    quantiles = dict(zip((0.0, 0.05, 0.5, 0.95, 1.0), tally.rank_quantiles((0.0, 0.05, 0.5, 0.95, 1.0)), strict=True))
    mean, sd = tally.score_moments()
    for i, index in enumerate(of.products.tolist()):
        there = ranks[~np.isnan(ranks[:, i]), i]
        assert tally.there[i] == len(there)
        assert tally.first[i] == (there == 1).sum()
        assert tally.top[i] == (there <= 3).sum()
        counts = Counter(int(np.floor(place)) for place in there)
        assert (n * tally.acceptability()[i]).round(9).tolist() == [counts[place] for place in range(1, 7)]
        for share, found in quantiles.items():
            assert found[i] == np.quantile(there, share, method="inverted_cdf")
        for j in range(6):
            both = [row for row in ranks if not np.isnan(row[[i, j]]).any()]
            assert tally.both[i, j] == len(both)
            assert tally.beats[i, j] == sum(bool(row[i] < row[j]) for row in both)
            assert tally.chances_above()[i, j] == tally.beats[i, j] / len(both)
        first = ranks[:, i] == 1
        shares = weights / weights.sum(axis=1, keepdims=True)
        np.testing.assert_allclose(tally.typical_weights()[i], shares[first].mean(axis=0) if first.any() else NAN)
        own = scores[~np.isnan(scores[:, index]), index]
        np.testing.assert_allclose([mean[i], sd[i]], [own.mean(), own.std()], rtol=1e-9)
    assert np.isnan(ranks).any() == (absent > 0)


@pytest.mark.parametrize("ties", ["shared-best", "shared-mean", "dense"])
def test_agreement_is_that_of_scipy_over_the_products_that_are_there(ties: str) -> None:
    """Kendall's tau-b and Spearman by scipy, the pairs turned one by one, the mean shift and the overlap of the first three by plain sets."""
    published, scores, weights = case(12, 0.2)
    of = asked(published, ties, "highest", "unrounded", top=3)
    tally = Tally(of)
    tally.add(scores, weights)
    assert {*tally.agreements[0]} == {*AGREEMENTS}
    for draw, ranks in enumerate(plain_ranks(of, scores)):
        known = ~np.isnan(ranks)
        before, now = of.published[known], ranks[known]
        tau = kendalltau(before, now).statistic
        np.testing.assert_allclose(tally.agreement("Kendall tau-b")[draw], tau, atol=1e-12)
        turned = [
            0.5
            if (before[i] == before[j]) != (now[i] == now[j])
            else float((before[i] - before[j]) * (now[i] - now[j]) < 0)
            for i, j in itertools.combinations(range(len(now)), 2)
        ]
        assert tally.agreement("pairs turned")[draw] == pytest.approx(sum(turned))
        if len(set(now)) > 1:
            np.testing.assert_allclose(tally.agreement("Spearman")[draw], spearmanr(before, now).statistic, atol=1e-12)
        np.testing.assert_allclose(tally.agreement("mean shift in rank")[draw], np.abs(before - now).mean(), atol=1e-12)
        first, second = ({i for i in range(len(now)) if (row < row[i]).sum() < 3} for row in (before, now))
        expected = 2 * len(first & second) / (len(first) + len(second))
        np.testing.assert_allclose(tally.agreement("top overlap")[draw], expected, atol=1e-12)


def test_two_that_share_a_mean_place_are_not_first() -> None:
    """Of 9, 9 and 4 the first two stand at 1.5: counted with the first place, first in no draw, each above the third only."""
    of = asked(np.array([9.0, 8.0, 4.0]), "shared-mean", "highest", "unrounded", top=1)
    tally = Tally(of)
    tally.add(np.array([[9.0, 9.0, 4.0]] * 2), np.empty((2, 0)))
    assert tally.first.tolist() == [0, 0, 0]
    assert tally.acceptability().tolist() == [[1, 0, 0], [1, 0, 0], [0, 0, 1]]
    assert tally.beats.tolist() == [[0, 0, 2], [0, 0, 2], [0, 0, 0]]
    assert [found.tolist() for found in tally.rank_quantiles((0.5,))] == [[1.5, 1.5, 3]]


def test_a_product_that_never_has_a_score_has_no_places() -> None:
    """Quantiles, typical weights and moments are NaN, chances 0; the others stand as if it were not there."""
    of = asked(np.array([9.0, 8.0, 4.0]), "shared-best", "highest", "unrounded", top=2)
    tally = Tally(of)
    tally.add(np.array([[NAN, 8.0, 9.0]] * 3), np.ones((3, 2)))
    (best,) = tally.rank_quantiles((0.0,))
    assert best[1:].tolist() == [2, 1]
    assert np.isnan([best[0], *tally.typical_weights()[0], *(m[0] for m in tally.score_moments())]).all()
    assert tally.acceptability()[0].tolist() == [0, 0, 0]
    assert not tally.beats[0].any()
    assert not tally.beats[:, 0].any()
    assert np.isnan(tally.chances_above()[0]).all()
    assert tally.chances_above()[1:, 1:].tolist() == [[0, 0], [1, 0]]


def found_of(vary: str, catalogue: Catalogue, text: str = FORM, rest: str = "", **choices: int) -> ScoreStability:
    """The stability of the one score of a form under a study."""
    form = form_of(text)
    study = study_of(vary, form, catalogue, rest)
    (found,) = rank_stability(study, score_catalogue(form, catalogue), **choices)
    return found


PLAIN = catalogue_of(x=[60, 58, 55, 40], y=[50, 58, 70, 41])


@pytest.mark.parametrize(
    ("vary", "sources"),
    [(NOISE, ["bench"]), (WEIGHTS, ["judgement"]), (f"{NOISE}\n{WEIGHTS}", ["judgement", "bench", "both"])],
    ids=["readings only", "judgements only", "both"],
)
def test_only_what_the_study_varies_is_told(vary: str, sources: list[str]) -> None:
    """A source that varies nothing is not there, and "both" needs both."""
    found = found_of(vary, PLAIN, draws=200)
    assert list(found.by_source) == sources
    assert all(one.source == source and one.n_draws == 200 for source, one in found.by_source.items())


def test_a_draw_that_leaves_one_of_a_pair_without_a_score_is_no_coin_toss() -> None:
    """Above in every draw in which both have a score is above for sure; how often one has none stands beside it."""
    catalogue = catalogue_of(x=[90, 20], y=[80, NAN])
    text = FORM.replace("b: 1}}", "b: 1}, missing: {absent_above: 0.25}}")
    one = found_of(WEIGHTS, catalogue, text, draws=2000).by_source["judgement"]
    assert 0.4 < one.absent[1] < 0.6
    assert one.beats[0, 1] == 1.0
    assert one.beats[1, 0] == 0.0
    assert one.lacking[0, 1] == one.lacking[1, 0] == one.absent[1]


def test_nothing_varies_where_there_is_nothing_to_vary() -> None:
    """A formula without weights, anchors or limits, read without repeatability: no source, and no fault."""
    form = form_of(
        'formula: bare\nscale: {from: 0, to: 9}\nmeasures: {x: {unit: "1"}}\nratings:\n  r: {value: "clamp(x, 0, 9)"}\n'
    )
    catalogue = catalogue_of(x=[1, 2])
    (found,) = rank_stability(default_study(form, catalogue), score_catalogue(form, catalogue))
    assert found.by_source == {}


def test_what_else_varies_does_not_change_a_source() -> None:
    """Judgement alone is the same with and without bench noise in the study, and the other way round."""
    whole = found_of(f"{NOISE}\n{WEIGHTS}", PLAIN, draws=300).by_source
    same(whole["judgement"], found_of(WEIGHTS, PLAIN, draws=300).by_source["judgement"])
    same(whole["bench"], found_of(NOISE, PLAIN, draws=300).by_source["bench"])


def same(one: RankStability, other: RankStability) -> None:
    """Equal to the last bit, figure by figure."""
    for field in fields(one):
        first, second = getattr(one, field.name), getattr(other, field.name)
        if isinstance(first, np.ndarray):
            np.testing.assert_array_equal(first, second, field.name)
        else:
            assert first == second, field.name


def test_a_seed_is_repeated_and_another_differs() -> None:
    """Seed 0 is a seed: twice the same, and neither seed 1 nor 7 gives it."""
    runs = {seed: found_of(f"{NOISE}\n{WEIGHTS}", PLAIN, draws=1500, seed=seed).by_source for seed in (0, 1, 7)}
    again = found_of(f"{NOISE}\n{WEIGHTS}", PLAIN, draws=1500, seed=0).by_source
    for source, one in again.items():
        same(one, runs[0][source])
        means = {runs[seed][source].score_mean.tobytes() for seed in runs}
        assert len(means) == 3


def test_more_products_draw_the_same_judgements() -> None:
    """What is drawn in a batch does not hang on how many products it is tried on: the first four, alone and among 264."""
    rng = np.random.default_rng(2)
    rest = {"x": rng.uniform(0, 50, 260), "y": rng.uniform(0, 50, 260)}
    population = catalogue_of(**{n: [*PLAIN.readings[n].values[:, 0], *rest[n]] for n in ("x", "y")})
    few, many = (found_of(WEIGHTS, catalogue, draws=2 * BATCH + 100) for catalogue in (PLAIN, population))
    place = [many.quantities.ids.index(name) for name in few.quantities.ids]
    for name in ("score_mean", "score_sd"):
        expected = getattr(few.by_source["judgement"], name)
        np.testing.assert_allclose(getattr(many.by_source["judgement"], name)[place], expected, rtol=1e-12)


def test_batches_add_up_to_one() -> None:
    """Chances over 2.5 batches are whole counts of that many draws, and every draw is counted."""
    draws = 5 * BATCH // 2
    one = found_of(WEIGHTS, PLAIN, draws=draws).by_source["judgement"]
    np.testing.assert_allclose(one.acceptability.sum(axis=1), 1, rtol=0, atol=1e-12)
    np.testing.assert_allclose(one.first * draws, np.round(one.first * draws), atol=1e-6)


def test_progress_goes_from_nothing_to_all() -> None:
    """It counts the draws of every source, never falls, and ends at their sum."""
    form, seen = form_of(FORM), list[tuple[int, int]]()
    study = study_of(f"{NOISE}\n{WEIGHTS}", form, PLAIN)
    rank_stability(study, score_catalogue(form, PLAIN), draws=2000, progress=lambda done, of: seen.append((done, of)))
    assert [total for _, total in seen] == [6000] * len(seen)
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)
    assert seen[-1] == (6000, 6000)


def test_bench_noise_is_that_of_the_normal_law() -> None:
    """Two products 2 points apart, each score known to u = sqrt((3/4 2)^2 + (1/4 1)^2): the first stands above the second
    with chance Phi(2 / (u sqrt 2)), and scatters by u. Worked out here."""
    one = found_of(NOISE, catalogue_of(x=[60, 58], y=[50, 48]), draws=16_384).by_source["bench"]
    u = np.hypot(0.75 * 2, 0.25)
    assert one.beats[0, 1] == pytest.approx(norm.cdf(2 / (u * np.sqrt(2))), abs=0.012)
    np.testing.assert_allclose(one.score_sd, u, rtol=0.02)
    np.testing.assert_allclose(one.score_mean, [57.5, 55.5], atol=0.05)


def test_repeats_narrow_the_bench_noise() -> None:
    """Four repeats halve the scatter of the mean."""
    four = {n: np.repeat(PLAIN.readings[n].values, 4, axis=1) for n in ("x", "y")}
    once, often = (found_of(NOISE, c, draws=8000).by_source["bench"] for c in (PLAIN, catalogue_of(**four)))
    np.testing.assert_allclose(often.score_sd, once.score_sd / 2, rtol=0.03)


@pytest.mark.parametrize("correlation", [0.0, 0.9, -0.8])
def test_correlations_are_honoured(correlation: float) -> None:
    """Product 1 scores the constant m, product 2 the constant n, drawn about 50 and 51 with sd 1 and correlation r: the
    first stands above the second with chance Phi(-1 / sqrt(2 (1 - r))). Worked out here."""
    text = """\
formula: trial
scale: {from: 0, to: 100}
constants: {m: 50, n: 51}
measures: {x: {unit: "1", repeatability: 0.0001}}
ratings:
  r: {value: "where(x > 0, m, n)"}
"""
    vary = "{address: constants.m, normal: {sd: 1}}\n{address: constants.n, normal: {sd: 1}}\n{readings: repeatability}"
    rest = f"correlations: [{{between: [constants.m, constants.n], correlation: {correlation}}}]\n"
    found = found_of(vary, catalogue_of(x=[1, -1]), text, rest, draws=16_384)
    low, high = found.quantities.ids.index("p1"), found.quantities.ids.index("p2")
    for source in ("judgement", "both"):
        chance = norm.cdf(-1 / np.sqrt(2 * (1 - correlation)))
        assert found.by_source[source].beats[low, high] == pytest.approx(chance, abs=0.012)


def test_the_share_of_draws_without_a_score_is_told() -> None:
    """All weights alike on two parts, one of them missing and allowed 0.3 at most: no score in 0.7 of draws, and no part in
    the agreement of those that are left."""
    text = FORM.replace("weights: {a: 3, b: 1}}", "weights: {a: 3, b: 1}, missing: {absent_above: 0.3}}")
    found = found_of("{weights: s, simplex: uniform}", catalogue_of(x=[60, 58, 40], y=[59, NAN, 41]), text)
    one = found.by_source["judgement"]
    gap = found.quantities.ids.index("p2")
    assert one.absent[gap] == pytest.approx(0.7, abs=0.015)
    np.testing.assert_allclose(one.acceptability.sum(axis=1), 1 - one.absent, atol=1e-12)
    assert [one.absent[i] for i in range(3) if i != gap] == [0, 0]
    assert (one.lowest[gap], one.highest[gap]) == (2, 2)
    assert one.agreement["Kendall tau-b"].mean == pytest.approx(1)


def test_typical_weights_are_those_that_make_a_product_first() -> None:
    """p3 is better in y, so that it needs more weight on b than p1 does; parts are named in the formula's order."""
    found = found_of("{weights: s, simplex: uniform}", PLAIN, draws=4000)
    one = found.by_source["judgement"]
    assert found.parts == ("a", "b")
    at = {name: one.typical[i] for i, name in enumerate(found.quantities.ids)}
    assert at["p3"][1] > at["p1"][1] + 0.2
    np.testing.assert_allclose([at["p1"].sum(), at["p3"].sum()], 1)
    assert np.isnan(at["p4"]).all()


def test_every_score_is_told_with_the_same_draws() -> None:
    """Two scores in one study: each as in a study of its own."""
    text = FORM + "  t: {blend: weighted mean, weights: {a: 1, b: 1}}\n"
    form = form_of(text)
    study = study_of("{weights: every score, factor: [0.5, 1.5]}", form, PLAIN)
    table = score_catalogue(form, PLAIN)
    both = rank_stability(study, table, draws=1100)
    assert [one.quantities.output.name for one in both] == ["s", "t"]
    for one in both:
        alone: Study = replace(study, scores=(one.quantities.output.name,))
        same(one.by_source["judgement"], rank_stability(alone, table, draws=1100)[0].by_source["judgement"])
