"""Trials against brute force: every draw written into the formula by hand, read again, compiled again, and scored."""

from __future__ import annotations

import functools
from dataclasses import replace

import numpy as np
import pytest
from extent import examples, is_long, only_long, some
from generated_forms import Drawn, scored_forms
from hypothesis import given, settings
from numpy.typing import NDArray
from written_forms import HEAD, NAN, form_of
from written_studies import LABORATORY, catalogue_of, demo, draws_of, settings_of, small_catalogue, study_of

from analysis.study import Setting, Study, default_study, load_study
from analysis.trials.trials import Trials, compile_trials
from scoring.addresses.addresses import addresses, set_addresses, set_together
from scoring.catalogue import Catalogue, State
from scoring.catalogue.reporting_limit import recount
from scoring.errors import CatalogueError, StudyError
from scoring.form import Form, Number
from scoring.measurement_error import error_model
from scoring.program.program import compile_form
from scoring.table.evaluate import Evaluation, evaluate, inputs_of, kernel_for
from scoring.table.table import score_catalogue

Array = NDArray[np.float64]

#: Every kind of curve and reference, means and totals, limits, missing rules, expressions, and scores over scores.
WIDE = """\
formula: wide
scale: {from: 1, to: 10}
constants: {k: 2, c: 0.5}
attributes: {kind: {values: [foam, coil]}, fire: {values: [none, ok]}}
measures:
  x: {unit: "1", repeatability: 4%}
  y: {unit: "1", repeatability: pooled, trim: 0.2}
  z: {unit: "1", reporting_limit: 6, repeatability: 0.5, round: {step: 0.5}}
  w: {unit: "1", repeats: median}
ratings:
  line: {measure: x, curve: {line: {worst: 0, best: 30}}}
  beyond: {scale: {from: -90, to: 90}, measure: x, curve: {line: {worst: 20, best: 4}, outside: extended}}
  log: {measure: y, curve: {log: {worst: 40, best: 2}}}
  points: {measure: z, curve: {points: {2: 10, 9: 6, 14: 5, 25: 1}}, round: {step: 0.25}}
  smooth: {measure: w, curve: {smooth: {1: 1, 8: 3, 15: 8, 30: 10}}}
  power: {measure: y, curve: {power: {worst: 30, best: 1, exponent: 0.6}}}
  steps: {measure: x, curve: {steps: {0: 1, 7: 4, 13: 6, 19: 9}}}
  logistic: {measure: z, curve: {logistic: {middle: 11, spread: 3, better: lower}}}
  target: {measure: w, curve: {target: {low: 0, best: 12, high: 26, within: 1.5}}}
  standing: {measure: x, curve: {standing: {}}}
  zed: {scale: {from: -100, to: 100}, measure: x, curve: {z: {centre: 5, per_sd: 1.5}}}
  minmax: {measure: y, curve: {minmax: {better: lower}}}
  ratio: {measure: y, curve: {ratio: {better: lower}}}
  frozen: {scale: {from: -100, to: 100}, measure: z, curve: {z: {centre: 5, per_sd: 2}, reference: {mean: 11, sd: 4}}}
  worded: {value: "clamp(where(kind == 'foam', k * x, x + c * y), 1, 10)", missing: {otherwise: lowest}}
  population: {value: "clamp(5 + 2 * (x - mean(x)) / (1 + sd(x)) + percentile(y, 30) / 9, 1, 10)"}
  mixed:
    mix:
    - {measure: x, weight: 0.5, curve: {line: {worst: 30, best: 0}}}
    - {measure: w, weight: 0.3, curve: {points: {1: 1, 20: 10}}}
    - {measure: x, weight: 0.2, curve: {log: {worst: 1, best: 40}}}
    missing: {absent_above: 0.6}
scores:
  first:
    weights: {line: 3, log: 2, points: 1, mixed: 1.5, worded: 1}
    limits: [{when: log < 4.5, at_most: 5.5}, {name: soft, on: line, at_most: {points: {1: 4, 6: 10}}}, {when: points > 7, at_least: 4}]
    missing: {needs: [line], absent_above: 0.45}
  second: {blend: power mean, exponent: 0.5, weights: {smooth: 0.4, power: 0.3, steps: 0.2, logistic: 0.1}, missing: {absent_above: 0.5}}
  third: {blend: minimum, weights: {target: 1, standing: 1, minmax: 0, ratio: 2}, missing: {otherwise: lowest}}
  wide: {scale: {from: -300, to: 300}, blend: weighted mean, weights: {zed: 1, frozen: 1, beyond: 0.1, population: 2}, missing: {absent_above: 0.9}}
  fourth: {blend: geometric mean, weights: {first: 2, second: 1, third: 1}, missing: {absent_above: 0.5}}
  fifth: {value: "0.5 * fourth + 0.25 * population + c"}
"""
FORM = form_of(WIDE)


def readings(gaps: bool) -> Catalogue:
    """Twelve products, three repeats of y, z and w; with gaps, some products lack a measure or a word."""
    rng = np.random.default_rng(8)
    x = rng.uniform(2, 28, 12)
    y, z, w = (rng.uniform(3, 25, 12)[:, np.newaxis] + rng.normal(0, 1, (12, 3)) for _ in range(3))
    words = {"kind": ["foam", "coil"] * 6, "fire": ["ok", "none", "ok"] * 4}
    if gaps:
        x[2], y[3:5], z[4], w[[5, 2]], y[0, 2], w[0, 1:] = NAN, NAN, NAN, NAN, NAN, NAN
        words["kind"][7] = ""
    held = catalogue_of(words, x=x, y=y, z=z, w=w)
    counted = {m.name: recount(m, held.readings[m.name]) for m in FORM.measures}
    return replace(held, readings=counted)


@functools.cache
def catalogue(gaps: bool) -> Catalogue:
    """The same each time."""
    return readings(gaps)


def form_with(form: Form, made: list[str]) -> Form:
    """The form with a draw's settings written in; those of a curve that was chosen away have no place.

    Numbers inside expressions are written one after the other, all others at once.
    """
    pairs = [setting.split("=", 1) for setting in made]
    known = addresses(form)
    chosen = {a: v for a, v in pairs if not isinstance(known.get(a), Number) or a.startswith("measures.")}
    form = set_together(form, chosen)
    known = addresses(form)
    numbers = {a: v for a, v in pairs if a not in chosen and a in known}
    inside = [f"{a}={v}" for a, v in numbers.items() if ".value." in a or ".when." in a]
    form = set_together(form, {a: v for a, v in numbers.items() if f"{a}={v}" not in inside})
    return set_addresses(form, inside)


def brute(study: Study, held: Catalogue, setting: Setting, draw: int) -> Evaluation:
    """One draw the long way round: its formula, its readings, a kernel without anything that varies."""
    made = settings_of(study, setting, draw)
    form = form_with(study.form, made)
    about = {one.split(".")[1] for one in made if one.startswith("measures.")}
    counted = {m.name: recount(m, held.readings[m.name]) for m in form.measures if m.name in about}
    held = replace(held, readings={**held.readings, **counted})
    inputs, u = inputs_of(form, held), error_model(form, held).u
    values = dict(inputs.values)
    values |= {name: drawn[draw : draw + 1] for name, drawn in setting.resampled.items()}
    for name, errors in setting.noise.items():
        values[name] = values[name] + np.where(np.isnan(u[name]), 0, u[name]) * errors[draw]
    states = dict(inputs.states)
    for name, filled in setting.filled.items():
        own = filled[draw]
        values[name] = np.where(np.isnan(own), values[name], own)
        states[name] = np.where(np.isnan(own), states[name], State.VALUE).astype(np.uint8)
    inputs = replace(inputs, values=values, states=states)
    return evaluate(kernel_for(compile_form(form), inputs), inputs)


def check(study: Study, held: Catalogue, count: int, seed: int = 0, trials: Trials | None = None) -> None:
    """Trials equal brute force in every draw: to 1e-9, and with the same gaps."""
    trials = trials or compile_trials(study, held)
    setting = study.setting(draws_of(study, count, seed))
    found = trials.scores(setting)
    for draw in range(count):
        expected = brute(study, held, setting, draw)
        for name in trials.targets:
            np.testing.assert_allclose(
                found[name][draw], expected.values[name][0], rtol=1e-9, atol=1e-9, err_msg=f"{name}, draw {draw}"
            )


NUMBERS = """\
{address: ratings.power.curve.power.exponent, uniform: [0.3, 2]}
{address: ratings.points.curve.points.2.gives, uniform: [5.5, 8]}
{address: ratings.points.curve.points.2.at, triangular: [5, 9, 13]}
{address: ratings.smooth.curve.smooth.2.gives, uniform: [2, 7]}
{address: ratings.steps.curve.steps.2.at, uniform: [3, 12]}
{address: ratings.steps.curve.steps.3.gives, choose: [stated, 7.5, 3]}
{address: ratings.logistic.curve.logistic.spread, lognormal: {factor: 1.3}}
{address: ratings.target.curve.target.within, uniform: [0, 4]}
{address: ratings.zed.curve.z.per_sd, uniform: [1, 2]}
{address: ratings.frozen.curve.reference.mean, normal: {sd: 0.7}}
{address: ratings.frozen.curve.reference.sd, uniform: [2, 6]}
{address: ratings.mixed.missing.absent_above, uniform: [0.1, 0.9]}
{address: ratings.points.round.step, choose: [stated, 1, 0.1]}
{address: ratings.worded.value.2, uniform: [7, 12]}
{address: ratings.population.value.2, normal: {mean: 2, sd: 0.2}}
{address: ratings.population.value.3, uniform: [0.5, 2]}
{address: constants.k, uniform: [0.2, 3]}
{address: constants.c, normal: {sd: 0.05}}
{address: scale.from, uniform: [0.5, 1.5]}
{address: scale.to, uniform: [8, 12]}
{address: ratings.beyond.scale.to, uniform: [50, 90]}
{address: scores.first.limits.1.at_most, uniform: [4, 6]}
{address: scores.first.limits.1.when.1, uniform: [3, 6]}
{address: scores.first.limits.soft.at_most.points.1.gives, uniform: [3, 5]}
{address: scores.first.limits.soft.at_most.points.2.at, uniform: [4, 7]}
{address: scores.first.missing.absent_above, uniform: [0.2, 0.7]}
{address: scores.second.exponent, uniform: [-2, 2.5]}
{address: scores.fifth.value.1, uniform: [0.2, 0.8]}
{address: scores.first.weights.log, uniform: [0, 5]}
{address: scores.third.weights.minmax, choose: [stated, 1]}
"""
CHOICES = """\
{blend: first, choose: [weighted mean, geometric mean, minimum]}
{blend: second, choose: [stated, harmonic mean]}
{limits: first}
{address: ratings.line.curve, choose: [stated, {points: {0: 1, 12: 7, 30: 10}}, {smooth: {0: 1, 12: 7, 30: 10}}]}
{address: ratings.log.curve, choose: [stated, {minmax: {better: lower}}]}
{address: ratings.standing.curve.standing.ties, choose: [mean, lowest]}
{address: ratings.logistic.curve.logistic.better, choose: [stated, higher]}
{address: scores.first.missing.otherwise, choose: [stated, lowest], chances: [60%, 40%]}
{address: scores.third.missing.otherwise, choose: [stated, reweight]}
{address: ratings.points.round.rule, choose: [half-up, down]}
{address: ratings.points.curve.points.4.at, uniform: [20, 30]}
"""
READINGS = """\
{address: measures.y.repeats, choose: [mean, median, trimmed]}
{address: measures.y.trim, choose: [stated, 0.4]}
{address: measures.z.below_limit, choose: [limit, half, missing]}
{address: measures.z.reporting_limit, choose: [stated, 12]}
{address: measures.z.round.step, choose: [stated, 2]}
{address: measures.w.repeats, choose: [stated, level mean]}
"""
EXPRESSIONS = """\
{address: ratings.worded.value, choose: [stated, "clamp(z / 2, 1, 10)", "where(fire == 'ok', 8, target)"]}
{address: ratings.population.value, choose: [stated, "clamp(5 + y - median(y), 1, 10)"]}
{address: scores.first.limits.1.when, choose: [stated, "target < 6 and smooth < 7"]}
{address: scores.fifth.value, choose: [stated, "0.5 * second + 0.5 * mixed"]}
"""
STUDIES = {
    "factors": "{weights: every score, factor: [0.7, 1.3]}\n{weights: every rating, plus_minus: 0.3}",
    "simplex and intervals": "{weights: first, simplex: uniform, order: stated}\n{weights: second, between: {smooth: [10%, 50%], steps: [20%, 30%]}}\n{weights: fourth, simplex: uniform}\n{weights: mixed, dirichlet: 4}\n{weights: third, dirichlet: 2}",
    "anchors": "{anchors: every rating, within: 8%}",
    "anchors, far": "{anchors: every rating, within: 60%}",
    "numbers": NUMBERS,
    "choices": CHOICES,
    "a part left out": "{leave_out: every score}\n{leave_out: mixed}",
    "a part left out beside weights": "{leave_out: every score}\n{weights: every score, factor: [0.5, 1.5]}\n{leave_out: mixed}\n{weights: mixed, plus_minus: 0.25}",
    "noise": "{readings: repeatability}",
    "noise and choices about readings": "{readings: repeatability}\n" + READINGS,
    "choices about readings": READINGS,
    "resampled": "{readings: bootstrap}\n{weights: every score, factor: [0.5, 1.5]}",
    "expressions": EXPRESSIONS,
    "all of it": "{weights: [first, second, mixed], factor: [0.5, 1.5]}\n{anchors: [beyond, power, smooth, target, mixed], within: 10%}\n{leave_out: first}\n{readings: repeatability}\n" + CHOICES + READINGS,
}  # fmt: skip
ALL = "scores: [first, second, third, wide, fourth, fifth, worded, mixed, population, points]\n"


@functools.cache
def compiled(name: str, gaps: bool = True) -> tuple[Study, Trials]:
    """A study and its trials, compiled once for all tests."""
    study = written(name, gaps if "readings" in STUDIES[name] else False)
    return study, compile_trials(study, catalogue(gaps))


@functools.cache
def written(name: str, gaps: bool) -> Study:
    """The study, read once for both catalogues where it is not about readings."""
    return study_of(STUDIES[name], FORM, catalogue(gaps), ALL)


@pytest.mark.parametrize("gaps", [pytest.param(False, id="whole", marks=only_long), pytest.param(True, id="gaps")])
@pytest.mark.parametrize("name", STUDIES)
def test_every_draw_is_the_formula_with_the_draw_written_in(name: str, gaps: bool) -> None:
    """Scores and some ratings of all products, whole and with gaps."""
    study, trials = compiled(name, gaps)
    check(study, catalogue(gaps), count=3 if is_long() else 2, seed=len(name), trials=trials)


@pytest.mark.parametrize("name", some(["all of it", "choices", "a part left out beside weights"], 3))
def test_a_target_alone_is_what_it_is_among_others(name: str) -> None:
    """Only what leads to it is compiled; its figures do not hang on what else is looked at."""
    study, trials = compiled(name)
    setting = study.setting(draws_of(study, 20))
    whole = trials.scores(setting)
    for target in ("second", "mixed"):
        alone = compile_trials(study, catalogue(True), [target]).scores(setting)
        assert list(alone) == [target]
        np.testing.assert_array_equal(alone[target], whole[target])


@settings(max_examples=examples(6))
@given(case=scored_forms(missing=True))
def test_a_derived_study_of_any_form_is_brute_force(case: tuple[Drawn, dict[str, list[float]]]) -> None:
    """Forms drawn at random, with gaps, under the study that is derived from them."""
    drawn, values = case
    held = catalogue_of(None, **values)
    study = default_study(drawn.form, held)
    if study.moves:
        check(study, held, count=2)


def test_draws_of_the_invented_laboratory_are_brute_force() -> None:
    """Its own study, bench noise and all, by the score table itself where there is none."""
    form, held = demo()
    study = load_study(LABORATORY / "study.yaml", form, held)
    check(study, held, count=2)
    judged = study.of_moves(study.moves[:-1])
    setting = judged.setting(draws_of(judged, 1, seed=3))
    found = compile_trials(judged, held).scores(setting)
    table = score_catalogue(form_with(form, settings_of(judged, setting, 0)), held)
    for name in judged.scores:
        np.testing.assert_allclose(found[name][0], table.evaluation.values[name][0], rtol=1e-9, atol=1e-9, err_msg=name)


def test_what_is_stated_is_what_is_published() -> None:
    """The stated setting of every study gives the formula's own values in each of its draws."""
    inputs = inputs_of(FORM, catalogue(True))
    published = evaluate(kernel_for(compile_form(FORM), inputs), inputs).values
    for name in STUDIES:
        study, trials = compiled(name)
        for target, values in trials.scores(study.stated(2)).items():
            for row in values:
                np.testing.assert_allclose(
                    row, published[target][0], rtol=1e-12, atol=1e-12, err_msg=f"{target}, {name}"
                )


@pytest.mark.parametrize("name", some(["all of it", "expressions", "numbers", "noise and choices about readings"], 2))
def test_working_out_only_what_moved_is_working_out_everything(name: str) -> None:
    """A factor of each kind and output in turn from another sample: what it reaches anew, the rest as it was."""
    study, trials = compiled(name)
    base, other = draws_of(study, 8, seed=1), draws_of(study, 8, seed=2)
    before = trials.work_out(study.setting(base))
    one_of_each = {(factor.kind, factor.output): factor for factor in study.factors}
    for factor in one_of_each.values():
        setting = study.setting(study.mixed(base, other, (factor.name,)))
        again, anew = trials.work_out(setting, before, trials.reach[factor.name]), trials.work_out(setting)
        for target in anew:
            np.testing.assert_array_equal(
                trials.values(again, target, 8), trials.values(anew, target, 8), err_msg=f"{target}, {factor.name}"
            )


def test_a_factor_reaches_what_it_can_move_and_nothing_else() -> None:
    """By hand: a rating's anchor moves it and what stands on it; a constant and the noise may move everything."""
    _, trials = compiled("all of it", False)
    assert trials.reach["scores.second.weights.steps"] == {"second", "fourth", "fifth"}
    assert trials.reach["ratings.power.curve.power.best"] == {"power", "second", "fourth", "fifth"}
    assert trials.reach["ratings.line.curve"] == {"line", "first", "fourth", "fifth"}
    assert (
        trials.reach["readings"] == trials.reach["measures.y.repeats"] == {stage.output.name for stage in trials.stages}
    )
    assert not trials.reaches("scores.first.blend", "wide")
    assert trials.reaches("scores.first.leave_out", "fifth")


def test_an_option_can_reach_further_than_what_is_stated() -> None:
    """`worded` may stand on `target`, so that what moves `target` may move `worded` and what stands on it."""
    items = EXPRESSIONS + "{anchors: target, within: 5%}\n"
    trials = compile_trials(study_of(items, FORM, catalogue(False), ALL), catalogue(False))
    assert trials.reach["ratings.target.curve.target.best"] == {
        "target",
        "worded",
        "first",
        "third",
        "fourth",
        "fifth",
    }


@pytest.mark.parametrize("name", ["all of it", "simplex and intervals", "resampled"])
@pytest.mark.parametrize("cut", [1, 7])
def test_results_do_not_hang_on_how_draws_are_cut_into_batches(name: str, cut: int) -> None:
    """One by one, or in sevens with a rest."""
    study, trials = compiled(name)
    draws = draws_of(study, 17)
    whole = trials.scores(study.setting(draws))
    pieces = [trials.scores(study.setting(draws.rows(slice(top, min(top + cut, 17))))) for top in range(0, 17, cut)]
    for target, values in whole.items():
        np.testing.assert_array_equal(np.concatenate([piece[target] for piece in pieces]), values, err_msg=target)


def test_two_runs_of_one_seed_are_the_same() -> None:
    """And another seed is another run."""
    study, trials = compiled("all of it")
    first, same, other = (trials.scores(study.setting(draws_of(study, 5, seed))) for seed in (4, 4, 5))
    for target in first:
        np.testing.assert_array_equal(first[target], same[target])
    assert not np.array_equal(first["first"], other["first"], equal_nan=True)


def test_mixed_draws_take_a_factor_whole_from_the_other_sample() -> None:
    """Its columns, or its stream; everything else stays."""
    study = study_of(STUDIES["simplex and intervals"] + "\n{readings: repeatability}", FORM, catalogue(False))
    base, other = draws_of(study, 6, seed=1), draws_of(study, 6, seed=2)
    for name in ("scores.first.weights", "scores.second.weights", "readings"):
        mixed, one, two = (study.setting(d) for d in (study.mixed(base, other, (name,)), base, other))
        for address, values in mixed.numbers.items():
            np.testing.assert_array_equal(values, (two if address.startswith(name + ".") else one).numbers[address])
        for measure, errors in mixed.noise.items():
            np.testing.assert_array_equal(errors, (two if name == "readings" else one).noise[measure])


def test_part_of_a_study_is_a_study() -> None:
    """Its own columns, and only the correlations between what is left."""
    rest = "correlations:\n  - {between: [constants.k, constants.c], correlation: 0.5}\n  - {between: [constants.k, scores.second.exponent], correlation: 0.2}\n"
    items = "\n".join(line for line in NUMBERS.splitlines() if "constants" in line or "exponent" in line)
    study = study_of(items, FORM, catalogue(False), rest)
    names = ("constants.k", "constants.c")
    part = study.of_moves(tuple(move for move in study.moves if move.factors[0].name in names))
    assert (part.n_columns, part.correlations) == (2, (("constants.k", "constants.c", 0.5),))
    check(part, catalogue(False), count=3)


def test_a_choice_that_makes_an_output_absent_tells_what_stands_on_it() -> None:
    """Stated, `r` needs only x, which all have; by choice it needs y, which p2 lacks: `s` then goes by the other part.

    By hand: x of 10 on 0 to 20 rates 5.5; with `r` absent `s` is `q` alone.
    """
    form = form_of(
        HEAD
        + "ratings:\n  r: {value: 'clamp(x, 1, 10)'}\n  q: {measure: x, curve: {line: {worst: 0, best: 20}}}\n"
        + "scores:\n  s: {weights: {r: 1, q: 1}, missing: {absent_above: 0.5}}\n"
    )
    held = catalogue_of(x=[10.0, 10.0], y=[4.0, NAN])
    study = study_of("{address: ratings.r.value, choose: [stated, 'clamp(y, 1, 10)']}", form, held)
    trials = compile_trials(study, held)
    setting = Setting(2, choices={"ratings.r.value": np.array([0, 1])})
    np.testing.assert_allclose(trials.scores(setting)["s"], [[7.75, 7.75], [4.75, 5.5]])
    check(study, held, count=4)


def test_a_reading_that_counts_as_missing_in_some_draws_is_missing_there() -> None:
    """Below the reporting limit of 5, p2 counts at 5, or not at all: then it goes by its other part.

    By hand: 5 on 0 to 20 rates 3.25, 10 rates 5.5.
    """
    form = form_of(
        HEAD.replace('x: {unit: "1"}', 'x: {unit: "1", reporting_limit: 5}')
        + "ratings:\n  r: {mix: [{measure: x, curve: {line: {worst: 0, best: 20}}}, {measure: y, curve: {line: {worst: 0, best: 20}}}], missing: {absent_above: 0.5}}\n"
    )
    held = catalogue_of(x=[10.0, 3.0], y=[10.0, 10.0])
    held = replace(held, readings={**held.readings, "x": recount(form.measures[0], held.readings["x"])})
    study = study_of("{address: measures.x.below_limit, choose: [limit, missing]}", form, held)
    setting = Setting(3, choices={"measures.x.below_limit": np.array([1, 0, 1])})
    found = compile_trials(study, held).scores(setting)["r"]
    np.testing.assert_allclose(found, [[5.5, 5.5], [5.5, 4.375], [5.5, 5.5]])


def test_choices_about_one_measure_hold_together() -> None:
    """By hand, of 1, 2, 9, 10: the mean is 5.5; trimmed by a quarter at each end it is that, of 2 and 9 too; median 5.5.

    Of 1, 2, 3, 10 the mean is 4, trimmed 2.5, trimmed by nothing 4.
    """
    form = form_of(
        HEAD.replace('x: {unit: "1"}', 'x: {unit: "1", repeats: trimmed, trim: 0.25}')
        + "ratings:\n  r: {value: 'clamp(x, 1, 10)'}\n"
    )
    held = catalogue_of(x=[[1.0, 2, 9, 10], [1, 2, 3, 10]])
    items = "{address: measures.x.repeats, choose: [mean, trimmed]}\n{address: measures.x.trim, choose: [0, 0.25]}"
    study = study_of(items, form, held)
    setting = Setting(
        4, choices={"measures.x.repeats": np.array([0, 0, 1, 1]), "measures.x.trim": np.array([0, 1, 0, 1])}
    )
    found = compile_trials(study, held).scores(setting)["r"]
    np.testing.assert_allclose(found, [[5.5, 4], [5.5, 4], [5.5, 4], [5.5, 2.5]])


def test_a_score_that_loses_its_weight_is_no_score_where_it_is_weighed() -> None:
    """Both weights of `s` at 0, as a setting may have them: what stands on it goes by the rest.

    By hand: where `s` has no weight left, `t` is `q` alone, 5.5.
    """
    form = form_of(
        HEAD
        + "ratings:\n  q: {measure: x, curve: {line: {worst: 0, best: 20}}}\n  r: {value: 'clamp(x, 1, 10)'}\n"
        + "scores:\n  s: {weights: {q: 1, r: 9}}\n  t: {weights: {s: 1, q: 1}, missing: {absent_above: 0.5}}\n"
    )
    held = catalogue_of(x=[10.0, 2.0])
    study = study_of("{leave_out: s}", form, held, "scores: [s, t]\n")
    trials = compile_trials(study, held)
    numbers = {"scores.s.weights.q": np.array([0.0, 1.0]), "scores.s.weights.r": np.array([0.0, 0.0])}
    found = trials.scores(Setting(2, numbers=numbers))
    np.testing.assert_allclose(found["s"], [[NAN, NAN], [5.5, 1.9]])
    np.testing.assert_allclose(found["t"], [[5.5, 1.9], [5.5, 1.9]])


def test_choices_by_which_outputs_need_each_other_in_a_circle_are_refused() -> None:
    """Either option alone would do; both together are no formula."""
    form = form_of(HEAD + "ratings:\n  a: {value: 'clamp(x, 1, 10)'}\n  b: {value: 'clamp(y, 1, 10)'}\n")
    items = "{address: ratings.a.value, choose: [stated, b]}\n{address: ratings.b.value, choose: [stated, a]}"
    study = study_of(items, form, small_catalogue())
    with pytest.raises(StudyError, match=r"the circle [ab] -> [ab] -> [ab]; expected choices by which outputs do not"):
        compile_trials(study, small_catalogue())


def test_an_attribute_that_an_option_alone_needs_has_to_be_there() -> None:
    """As the score table would say, before anything is worked out."""
    held = small_catalogue()
    form = form_of(
        HEAD.replace("measures", "attributes: {kind: {values: [foam]}}\nmeasures")
        + "ratings:\n  a: {value: 'clamp(x, 1, 10)'}\n"
    )
    study = study_of("{address: ratings.a.value, choose: [stated, \"where(kind == 'foam', 2, 3)\"]}", form, held)
    with pytest.raises(CatalogueError, match="column kind: no such attribute; expected a word for every product"):
        compile_trials(study, held)


def test_too_many_choices_at_one_output_are_refused() -> None:
    """Nine of two options: 512 programs for one rating."""
    parts = ", ".join("{measure: x, curve: {line: {worst: 0, best: 20}}}" for _ in range(9))
    form = form_of(HEAD + f"ratings:\n  a: {{mix: [{parts}]}}\n")
    names = ["x", *(f"x_{n}" for n in range(2, 10))]
    items = "\n".join(f"{{address: ratings.a.mix.{n}.curve.outside, choose: [held, extended]}}" for n in names)
    study = study_of(items, form, small_catalogue())
    with pytest.raises(StudyError, match="512 at a; expected at most 256 combinations of choices at one of them"):
        compile_trials(study, small_catalogue())
