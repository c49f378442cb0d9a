"""Moves of readings and parts: bench noise, resampled repeats, parts left out, choices, each against what it should be."""

from __future__ import annotations

import math
from collections import Counter
from itertools import product

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats
from written_forms import HEAD, NAN, form_of
from written_studies import catalogue_of, demo, draws_of, even_uniforms, small_catalogue, small_form, study_of

import analysis.study.moves as moves_module
from analysis.study import Draws, Study
from analysis.trials.trials import compile_trials
from scoring.catalogue import Catalogue
from scoring.form import Form
from scoring.measurement_error import error_model

Array = NDArray[np.float64]
N = 8000
#: So many standard errors is a mean or a standard deviation at most away; there are some hundreds of them.
AWAY = 4.5


def bare(x: str = "", y: str = "", z: str = "") -> Form:
    """A form whose scores are its readings; keys of the measures are written as `, key: value`."""
    head = HEAD.replace('x: {unit: "1"', f'x: {{unit: "1"{x}').replace('y: {unit: "1"', f'y: {{unit: "1"{y}')
    head = head.replace('z: {unit: "1"', f'z: {{unit: "1"{z}').replace("from: 1, to: 10", "from: -1e6, to: 1e6")
    return form_of(head + "ratings:\n  rx: {value: x}\n  ry: {value: y}\n  rz: {value: z}\n")


def drawn_readings(study: Study, held: Catalogue, count: int = N, seed: int = 3) -> dict[str, Array]:
    """The readings of every draw, by measure."""
    scores = compile_trials(study, held, ["rx", "ry", "rz"]).scores(study.setting(draws_of(study, count, seed)))
    return {name[1:]: values for name, values in scores.items()}


REPEATS = np.array([[4.0, 5, 9], [7, NAN, NAN], [3, 3.5, NAN], [8, 8, 8], [NAN, NAN, NAN], [-2, 1, 6]])


def test_noise_has_the_standard_uncertainty_of_each_reading() -> None:
    """Absolute and relative; of one to three repeats; of means and medians; and no bias."""
    form = bare(", repeatability: 0.6", ", repeatability: 5%", ", repeatability: 1, repeats: median")
    held = catalogue_of(x=REPEATS, y=REPEATS + 20, z=REPEATS)
    found, u = drawn_readings(study_of("{readings: repeatability}", form, held), held), error_model(form, held).u
    stated = compile_trials(study_of("{readings: repeatability}", form, held), held).inputs.values
    for measure, values in found.items():
        known = ~np.isnan(u[measure])
        assert known.tolist() == [True, True, True, True, False, True]
        assert np.isnan(values[:, ~known]).all()
        np.testing.assert_allclose(values[:, known].std(axis=0), u[measure][known], rtol=AWAY / math.sqrt(2 * N))
        error = np.abs(values[:, known].mean(axis=0) - stated[measure][0, known])
        assert (error <= AWAY * u[measure][known] / math.sqrt(N)).all()


def test_noise_is_independent_between_products_and_measures() -> None:
    """No correlation of any two, to within its error."""
    form = bare(", repeatability: 0.6", ", repeatability: 5%")
    held = catalogue_of(x=[1.0, 2, 3, 4], y=[9.0, 8, 7, 6])
    found = drawn_readings(study_of("{readings: repeatability}", form, held), held)
    correlations = np.corrcoef(np.concatenate([found["x"], found["y"]], axis=1).T)
    assert np.abs(correlations - np.eye(8)).max() < AWAY / math.sqrt(N)


def test_a_measure_whose_scatter_is_unknown_stands_still() -> None:
    """No repeatability is declared of z; it is said in a note."""
    form = bare(", repeatability: 0.6")
    held = catalogue_of(x=[1.0, 2], y=[3.0, 4], z=[5.0, 6])
    study = study_of("{readings: repeatability}", form, held)
    np.testing.assert_array_equal(drawn_readings(study, held, 20)["z"], np.tile([5.0, 6.0], (20, 1)))
    assert "y, z" in study.notes[0]


def test_noise_follows_the_choice_of_how_repeats_are_summed_up() -> None:
    """A median of three has 0.4487 of a reading's variance, a mean a third: each draw by its own choice."""
    form = bare(", repeatability: 0.6")
    held = catalogue_of(x=[[4.0, 5, 9], [1, 2, 3]], y=[1.0, 1], z=[1.0, 1])
    items = "{readings: repeatability}\n{address: measures.x.repeats, choose: [mean, median]}"
    study = study_of(items, form, held)
    draws = draws_of(study, 2 * N)
    picks = study.setting(draws).choices["measures.x.repeats"]
    values = compile_trials(study, held, ["rx"]).scores(study.setting(draws))["rx"]
    for pick, (centres, factor) in enumerate([((6, 2), 1.0), ((5, 2), math.sqrt(3 * 0.44867))]):
        own = values[picks == pick]
        sd = 0.6 * factor / math.sqrt(3)
        assert own.mean(axis=0) == pytest.approx(centres, abs=AWAY * sd / math.sqrt(len(own)))
        assert own.std(axis=0) == pytest.approx(sd, rel=AWAY / math.sqrt(2 * len(own)))


def test_the_invented_laboratorys_noise_is_its_uncertainty() -> None:
    """All fourteen measures, scaled: standard normal errors, times what the score table calls u."""
    form, held = demo()
    study = study_of("{readings: repeatability}", form, held)
    noise = study.setting(draws_of(study, 2000)).noise
    assert set(noise) == {m.name for m in form.measures}
    known = [name for name, freedom in error_model(form, held).freedom.items() if np.isinf(freedom).all()]
    assert len(known) > 8
    assert all(errors.shape == (2000, 60) for errors in noise.values())
    for name in known:
        there = noise[name][:, (noise[name] != 0).any(axis=0)]
        assert there.std() == pytest.approx(1, rel=AWAY / math.sqrt(2 * there.size))
        assert there.mean() == pytest.approx(0, abs=AWAY / math.sqrt(there.size))


def test_resampled_means_have_the_exact_mean_and_variance_of_the_bootstrap() -> None:
    """Mean x-bar, variance sum (x - x-bar)^2 / n^2 = ((n - 1) / n) s^2 / n.

    Efron and Tibshirani, An Introduction to the Bootstrap, 1993, chapter 6 (from memory).
    """
    held = catalogue_of(x=REPEATS, y=REPEATS * 3, z=REPEATS)
    study = study_of("{readings: bootstrap}", bare(), held)
    found = drawn_readings(study, held)["x"]
    for row, values in zip(REPEATS, found.T, strict=True):
        known = row[~np.isnan(row)]
        if not len(known):
            assert np.isnan(values).all()
            continue
        n = len(known)
        variance = (n - 1) / n * known.var(ddof=1) / n if n > 1 else 0.0
        assert values.mean() == pytest.approx(known.mean(), abs=AWAY * math.sqrt(variance / N) + 1e-12)
        assert values.var() == pytest.approx(variance, rel=AWAY * math.sqrt(2 / N), abs=1e-12)


def test_resampled_means_are_each_of_the_possible_ones_as_often_as_chance_has_it() -> None:
    """All 27 ways to draw three of three, counted by hand: the whole distribution, not only two moments."""
    row = (4.0, 5.0, 9.0)
    ways = Counter(round(sum(drawn) / 3, 9) for drawn in product(row, repeat=3))
    held = catalogue_of(x=[row], y=[row], z=[row])
    found = drawn_readings(study_of("{readings: bootstrap}", bare(), held), held)["x"][:, 0]
    counted = Counter(np.round(found, 9).tolist())
    assert set(counted) == set(ways)
    for value, count in ways.items():
        chance = count / 27
        assert counted[value] / N == pytest.approx(chance, abs=AWAY * math.sqrt(chance * (1 - chance) / N))


def test_resampled_medians_are_among_the_readings() -> None:
    """Of three: the least in 7 of 27 ways, the middle in 13, the greatest in 7 (counted by hand). Of four: means of two."""
    held = catalogue_of(x=[[4.0, 5, 9, NAN], [1, 2, 4, 8]], y=[1.0, 1], z=[1.0, 1])
    study = study_of("{readings: bootstrap}", bare(", repeats: median"), held)
    three, four = drawn_readings(study, held)["x"].T
    for value, chance in ((4.0, 7 / 27), (5.0, 13 / 27), (9.0, 7 / 27)):
        assert (three == value).mean() == pytest.approx(chance, abs=AWAY * math.sqrt(chance * (1 - chance) / N))
    ways = Counter(float(np.median(drawn)) for drawn in product((1.0, 2.0, 4.0, 8.0), repeat=4))
    assert set(four.tolist()) == set(ways)
    for value, count in ways.items():
        chance = count / 256
        assert (four == value).mean() == pytest.approx(chance, abs=AWAY * math.sqrt(chance * (1 - chance) / N))


@pytest.mark.parametrize("rule", ["mean", "median", "trimmed", "level mean"])
def test_resampled_values_are_summed_up_and_rounded_as_the_measure_says(rule: str) -> None:
    """Within the repeats, and on the steps of 0.5."""
    form = bare(f", repeats: {rule}, trim: 0.3, round: {{step: 0.5}}")
    held = catalogue_of(x=[[40.0, 50, 91, 60], [10, 12, NAN, NAN]], y=[1.0, 1], z=[1.0, 1])
    found = drawn_readings(study_of("{readings: bootstrap}", form, held), held, 500)["x"]
    assert ((found >= [40, 10]) & (found <= [91, 12])).all()
    np.testing.assert_array_equal(found * 2, np.round(found * 2))
    assert (found.std(axis=0) > 0).all()


def test_resampling_in_pieces_draws_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """However many readings are held at a time."""
    held = catalogue_of(x=REPEATS, y=REPEATS, z=REPEATS)
    study = study_of("{readings: bootstrap}", bare(), held)
    whole = study.setting(draws_of(study, 100)).resampled["x"]
    monkeypatch.setattr(moves_module, "HELD", 40)
    np.testing.assert_array_equal(study.setting(draws_of(study, 100)).resampled["x"], whole)


def test_products_are_resampled_independently() -> None:
    """Two products with the same repeats go their own ways."""
    held = catalogue_of(x=[[1.0, 2, 3], [1, 2, 3]], y=[[1.0, 2, 3], [1, 2, 3]], z=[1.0, 1])
    found = drawn_readings(study_of("{readings: bootstrap}", bare(), held), held)
    both = np.concatenate([found["x"], found["y"]], axis=1)
    assert np.abs(np.corrcoef(both.T) - np.eye(4)).max() < AWAY / math.sqrt(N)


def unit_draws(study: Study, unit: Array) -> Draws:
    """Draws of given uniform columns."""
    return Draws(unit, study.streams(len(unit), np.random.default_rng(0)))


def test_each_part_is_left_out_equally_often() -> None:
    """Four stretches of 0 to 1 for three parts and none; never two at once, and the others as they are stated."""
    study = study_of("{leave_out: s}", small_form(), small_catalogue())
    setting = study.setting(unit_draws(study, even_uniforms(4000)))
    weights = np.stack([setting.numbers[f"scores.s.weights.{part}"] for part in "abm"], axis=1)
    out = weights == 0
    assert (out.sum(axis=1) <= 1).all()
    assert [(~out.any(axis=1)).sum(), *out.sum(axis=0)] == [1000, 1000, 1000, 1000]
    np.testing.assert_array_equal(weights, np.where(out, 0, [0.5, 0.3, 0.2]))


def test_a_part_left_out_takes_its_drawn_weight_away_and_no_other() -> None:
    """Beside weights that vary, whichever item comes first in the file."""
    items = ("{weights: s, factor: [0.7, 1.3]}", "{leave_out: s}")
    for ordered in (items, items[::-1]):
        study = study_of("\n".join(ordered), small_form(), small_catalogue())
        assert study.factors[-1].name == "scores.s.leave_out"
        unit = np.random.default_rng(1).random((400, 4))
        both = study.setting(unit_draws(study, unit)).numbers
        alone = study.of_moves(study.moves[:1])
        kept = alone.setting(unit_draws(alone, unit[:, :3])).numbers
        for address, weights in both.items():
            np.testing.assert_array_equal(weights[weights > 0], kept[address][weights > 0])
        assert sum(int((weights == 0).sum()) for weights in both.values()) == (unit[:, 3] >= 0.25).sum()


def test_options_are_taken_with_their_chances() -> None:
    """Of a choice, of a number's figures, and of limits on or off."""
    items = """\
    {address: scores.s.missing.otherwise, choose: [stated, lowest], chances: [75%, 25%]}
    {address: scores.s.limits.1.at_most, choose: [5, stated, 7], chances: [1, 2, 1]}
    {limits: s}"""
    study = study_of(items, small_form(), small_catalogue())
    setting = study.setting(unit_draws(study, even_uniforms(4000, 3)))
    assert np.bincount(setting.choices["scores.s.missing.otherwise"]).tolist() == [3000, 1000]
    assert np.bincount(setting.choices["scores.s.limits"]).tolist() == [2000, 2000]
    bounds = setting.numbers["scores.s.limits.1.at_most"]
    assert [(bounds == value).sum() for value in (5, 6, 7)] == [1000, 2000, 1000]


def test_limits_that_are_off_hold_nothing_back() -> None:
    """By hand: x of 4 rates 2.8 on 0 to 20, below 4, so that `s` is at most 6; y of 20 rates 10."""
    form = form_of(
        HEAD
        + "ratings:\n  a: {measure: x, curve: {line: {worst: 0, best: 20}}}\n  b: {measure: y, curve: {line: {worst: 0, best: 20}}}\n"
        + "scores:\n  s: {weights: {a: 1, b: 3}, limits: [{when: a < 4, at_most: 6}]}\n"
    )
    held = catalogue_of(x=[4.0], y=[20.0])
    study = study_of("{limits: s}", form, held)
    found = compile_trials(study, held).scores(study.setting(unit_draws(study, np.array([[0.1], [0.9]]))))["s"]
    np.testing.assert_allclose(found, [[6.0], [8.2]])


def test_a_stated_setting_moves_nothing() -> None:
    """Every move writes what the formula states: numbers, weights, choices; readings as they are."""
    items = "{weights: s, simplex: uniform}\n{leave_out: m}\n{blend: s, choose: [minimum, stated]}\n{anchors: a, within: 8%}\n{readings: bootstrap}"
    study = study_of(items, small_form(), small_catalogue())
    setting = study.stated(3)
    assert setting.numbers["scores.s.weights.a"].tolist() == [0.5, 0.5, 0.5]
    assert setting.numbers["ratings.m.mix.z.weight"].tolist() == [0.4, 0.4, 0.4]
    assert setting.numbers["ratings.a.curve.line.best"].tolist() == [20, 20, 20]
    assert setting.choices["scores.s.blend"].tolist() == [1, 1, 1]
    assert (setting.noise, setting.resampled) == ({}, {})


@pytest.mark.parametrize("correlation", [-0.9, -0.3, 0.5, 0.999])
def test_correlated_factors_have_the_correlation_of_their_normal_scores(correlation: float) -> None:
    """And each keeps its own distribution; what is not named stays independent."""
    items = "{address: scores.s.limits.1.at_most, uniform: [5, 7]}\n{anchors: a, within: 8%}"
    names = "[scores.s.limits.1.at_most, ratings.a.curve.line.best]"
    rest = f"correlations:\n  - {{between: {names}, correlation: {correlation}}}\n"
    study = study_of(items, small_form(), small_catalogue(), rest)
    unit = draws_of(study, N).unit
    bound, worst, best = (unit[:, study.columns[f.name].start] for f in study.factors)
    scores = stats.norm.ppf(np.stack([bound, best, worst]))
    found = np.corrcoef(scores)
    assert found[0, 1] == pytest.approx(correlation, abs=AWAY * (1 - correlation**2) / math.sqrt(N))
    assert np.abs(found[2, :2]).max() < AWAY / math.sqrt(N)
    for column in (bound, best, worst):
        assert stats.kstest(column, "uniform").pvalue > 0.001
