"""Curves and expressions that lean on the live population of a rating or score: its figures are worked out before what leans on them, draw by draw."""

from __future__ import annotations

import math

import numpy as np
import pytest
from written_forms import NAN, form_of, inputs_of_arrays, score, values_of

from analysis.explanation.trace import trace
from scoring.addresses.addresses import set_address
from scoring.checks import check
from scoring.errors import FormulaError, ScoringError
from scoring.program.program import compile_form
from scoring.program.reference import statistic_of
from scoring.table.evaluate import evaluate, inputs_of, kernel_for, population_of, stages
from scoring.table.uncertainty import monte_carlo

#: `raw` is a mean of two measures, weighed 3 and 1, and `scaled` leans on it.
FORM = """\
formula: trial
scale: {{from: 0, to: 100}}
measures:
  x: {{unit: "1", better: higher, plausible: [0, 100]}}
  y: {{unit: "1", better: higher, plausible: [0, 100]}}
ratings:
  raw:
    mix:
      - {{measure: x, weight: 3, curve: {{line: {{worst: 0, best: 100}}}}}}
      - {{measure: y, weight: 1, curve: {{line: {{worst: 0, best: 100}}}}}}
  scaled: {{mix: [{{rating: raw, curve: {{{curve}}}}}]}}
scores:
  total: {{parts: [scaled]}}
"""
# raw is 25, 50 and 75: mean 50, standard deviation 25.
READINGS = {"x": [20.0, 50.0, 70.0], "y": [40.0, 50.0, 90.0]}
WORKED = {
    "ratio: {}": [100 / 3, 200 / 3, 100],
    "minmax: {}": [0, 50, 100],
    "minmax: {better: lower}": [100, 50, 0],
    "z: {centre: 40, per_sd: 10}": [30, 40, 50],
    "standing: {}": [100 / 6, 50, 500 / 6],
    "standing: {ties: lowest}": [100 / 3, 200 / 3, 100],
}


@pytest.mark.parametrize("curve", WORKED)
def test_a_rating_of_a_rating_leans_on_all_products(curve: str) -> None:
    """Worked by hand, through `score`."""
    assert values_of(FORM.format(curve=curve), "total", **READINGS) == pytest.approx(WORKED[curve], abs=1e-12)


@pytest.mark.parametrize("curve", WORKED)
def test_each_draw_leans_on_its_own_population(curve: str) -> None:
    """Two draws of a weight, each against the form with that weight written into it."""
    address = "ratings.raw.mix.x.weight"
    form = form_of(FORM.format(curve=curve))
    program, inputs = compile_form(form), inputs_of_arrays(READINGS)
    settings = {address: np.array([0.5, 7.0])}
    drawn = evaluate(kernel_for(program, inputs, ["total"], [address]), inputs, settings).values["total"]
    for row, weight in enumerate(("0.5", "7")):
        changed = compile_form(set_address(form, address, weight))
        expected = evaluate(kernel_for(changed, inputs, ["total"]), inputs).values["total"]
        np.testing.assert_array_equal(drawn[row : row + 1], expected)


def test_a_product_without_the_rating_is_no_member() -> None:
    """The best of the others is the leader."""
    text = FORM.format(curve="ratio: {}")
    found = values_of(text, "total", x=[20.0, 50.0, NAN], y=[40.0, 50.0, 90.0])
    assert found[:2] == [50, 100]
    assert math.isnan(found[2])


def test_a_population_from_outside_is_taken_as_it_is_given() -> None:
    """One product against a catalogue of three."""
    program = compile_form(form_of(FORM.format(curve="ratio: {}")))
    one, all_three = inputs_of_arrays({"x": [50.0], "y": [50.0]}), inputs_of_arrays(READINGS)
    found = evaluate(kernel_for(program, one, ["total"]), one, reference=all_three).values["total"]
    np.testing.assert_allclose(found, [[200 / 3]])
    np.testing.assert_allclose(population_of(program, all_three, "raw"), [[25, 50, 75]])
    np.testing.assert_array_equal(population_of(program, all_three, "x"), all_three.values["x"])


def test_a_newcomer_to_the_rating_is_warned_of() -> None:
    """A raw 100 takes the leader from 100 to 75, and nothing else is said of the population."""
    table = score(FORM.format(curve="ratio: {}"), READINGS)
    report = check(compile_form(table.form), inputs_of(table.form, table.catalogue))
    says = [warning.says for warning in report.warnings if warning.topic == "live reference"]
    assert says == [
        "scaled leans on the live values of raw: one newcomer at 100 points would move another product (p3) by 25 points"
    ]


@pytest.mark.parametrize("curve", WORKED)
def test_what_is_proved_of_it_ranges_over_every_population(curve: str) -> None:
    """On its scale, whatever the population of the rating is."""
    report = check(compile_form(form_of(FORM.format(curve=curve))))
    assert {f.verdict for f in report.findings if f.output == "scaled" and f.kind == "scale"} == {"proved"}


HELD = """\
formula: trial
scale: {from: 0, to: 10}
measures:
  x: {unit: "1", better: lower, plausible: [15, 170]}
ratings:
  raw: {measure: x, curve: {line: {worst: 50, best: 40}}}
  best: {mix: [{rating: raw, curve: {ratio: {}}}]}
  ends: {measure: x, curve: {minmax: {better: lower}}}
  mean: {measure: x, curve: {z: {centre: 5, per_sd: 2, better: lower}}}
  rank: {measure: x, curve: {standing: {better: lower}}}
"""


def test_a_claim_says_what_it_takes_for_granted_of_the_population() -> None:
    """Two beds alike have no value under a curve of ends or spread, two at 0 none of ratios: the claims leave these out."""
    report = check(compile_form(form_of(HELD)))
    said = {f.output: f.claim for f in report.findings if f.kind == "scale"}
    stays = "stays on its scale, 0 to 10"
    assert said == {
        "raw": stays,
        "best": f"{stays}, as long as some product lies above 0 in raw",
        "ends": f"{stays}, as long as products differ in x",
        "mean": f"{stays}, as long as products differ in x",
        "rank": stays,
    }
    assert {f.verdict for f in report.findings if f.kind in ("scale", "continuity")} == {"proved"}


def test_a_counterexample_on_a_live_population_comes_out_with_its_product_in_it() -> None:
    """1000/mean(x) leaves the scale where all are low; the mean that is told is that of the population with the product."""
    text = HELD.split("ratings:")[0] + "ratings:\n  r: {value: '1000 / mean(x) - x / 100'}\n"
    report = check(compile_form(form_of(text)))
    (finding,) = (f for f in report.findings if f.kind == "scale")
    assert finding.verdict == "refuted"
    inputs = {name: float(number) for name, number, _ in finding.counterexample[0].inputs}
    assert finding.counterexample[0].value == pytest.approx(1000 / inputs["mean of x"] - inputs["x"] / 100)


SCALED = """\
formula: trial
scale: {{from: 0, to: 10}}
measures:
  x: {{unit: "1", better: higher, plausible: [0, 100], repeatability: 2}}
  y: {{unit: "1", better: higher, plausible: [0, 100]}}
ratings:
  quiet: {{measure: x, curve: {{line: {{worst: 0, best: 100}}}}}}
  edge: {{measure: y, curve: {{line: {{worst: 0, best: 100}}}}}}
scores:
  overall: {{weights: {{quiet: 3, edge: 1}}}}
  scaled: {{value: "{value}", scale: {{from: -10, to: 20}}}}
"""
# overall is 2.5, 5 and 7.5: mean 5, standard deviation 2.5, and of its order statistics percentile 25 is 3.75.
OF_SCORES = {
    "10 * overall / maximum(overall)": [10 / 3, 20 / 3, 10],
    "overall - minimum(overall)": [0, 2.5, 5],
    "5 + 2 * (overall - mean(overall)) / sd(overall)": [3, 5, 7],
    "overall / median(overall)": [0.5, 1, 1.5],
    "overall - percentile(overall, 25)": [-1.25, 1.25, 3.75],
    "where(edge < mean(edge), 0, overall)": [0, 0, 7.5],  # edge is 4, 5 and 9: mean 6
}


@pytest.mark.parametrize("value", OF_SCORES)
def test_an_expression_takes_statistics_of_ratings_and_scores(value: str) -> None:
    """Worked by hand, through `score`."""
    assert values_of(SCALED.format(value=value), "scaled", **READINGS) == pytest.approx(OF_SCORES[value], abs=1e-12)


@pytest.mark.parametrize("value", OF_SCORES)
def test_each_draw_of_an_expression_leans_on_its_own_population(value: str) -> None:
    """Two draws of a weight, each against the form with that weight written into it."""
    address = "scores.overall.weights.quiet"
    form = form_of(SCALED.format(value=value))
    program, inputs = compile_form(form), inputs_of_arrays(READINGS)
    drawn = evaluate(kernel_for(program, inputs, ["scaled"], [address]), inputs, {address: np.array([0.5, 7.0])})
    for row, weight in enumerate(("0.5", "7")):
        changed = compile_form(set_address(form, address, weight))
        expected = evaluate(kernel_for(changed, inputs, ["scaled"]), inputs).values["scaled"]
        np.testing.assert_array_equal(drawn.values["scaled"][row : row + 1], expected)


def test_noise_moves_the_best_as_it_moves_the_product() -> None:
    """The best keeps its 10 in every draw, whatever the bench makes of it."""
    table = score(SCALED.format(value="10 * overall / maximum(overall)"), READINGS)
    errors = monte_carlo(table.program, table.inputs, table.errors, 400, np.random.default_rng(1))
    assert errors["scaled"].sd[2] < 1e-12
    assert errors["overall"].sd[2] > 0.1
    assert errors["scaled"].sd[1] > 0


def test_a_product_without_the_score_is_no_member_and_has_none() -> None:
    """The best of the others is the leader."""
    text = SCALED.format(value="10 * overall / maximum(overall)")
    found = values_of(text, "scaled", x=[20.0, 50.0, NAN], y=[40.0, 50.0, 90.0])
    assert found[:2] == [5, 10]
    assert math.isnan(found[2])


def test_a_rating_may_lean_on_the_scores_of_all() -> None:
    """A `mix` of a score under `ratio`, live, then frozen to a leader of 15."""
    live = SCALED.format(value="10 * best / 10").replace(
        "scores:", "  best: {mix: [{score: overall, curve: {ratio: {}}}]}\nscores:"
    )
    assert values_of(live, "scaled", **READINGS) == pytest.approx([10 / 3, 20 / 3, 10])
    frozen = live.replace("{ratio: {}}", "{ratio: {}, reference: {least: 1, greatest: 15}}")
    assert values_of(frozen, "scaled", **READINGS) == pytest.approx([10 / 6, 10 / 3, 5])


def test_a_score_that_leans_on_itself_is_a_circle() -> None:
    """Named as any other circle is."""
    with pytest.raises(FormulaError, match="the circle scaled -> scaled"):
        compile_form(form_of(SCALED.format(value="1 / maximum(scaled)")))


def test_a_trace_says_whose_the_best_is() -> None:
    """Three products at most by name; a mean is nobody's."""
    table = score(SCALED.format(value="overall / maximum(overall) + 0 * mean(edge)"), READINGS)
    worked = stages(table.program, table.inputs)
    line = trace(table.program, table.inputs, worked, 0)[-1]
    assert line.arithmetic == "2.5/7.5 [the greatest of overall, that of p3] + 0*6 [the mean of edge]"
    assert [(one.of, one.statistic, one.products) for one in line.leans_on] == [
        ("overall", "greatest", ("p3",)),
        ("edge", "mean", ()),
    ]
    tied = score(SCALED.format(value="minimum(overall) + 0 * overall"), {name: [50.0] * 5 for name in "xy"})
    said = trace(tied.program, tied.inputs, stages(tied.program, tied.inputs), 0)[-1].arithmetic
    assert said == "5 [the least of overall, that of p1, p2, p3 and 2 more] + 0*5"


def test_products_that_differ_by_binary_dust_alone_are_alike() -> None:
    """The mean of three tenths and one is not the sum of tenths in doubles: there is no spread to divide by, and it is said."""
    dusty = [[0.1 + 0.2, 0.3]]
    assert statistic_of("sd", dusty).item() == 0
    assert statistic_of("greatest", dusty).item() == statistic_of("least", dusty).item() == 0.3
    assert statistic_of("sd", [[0.3, 0.30000000001]]).item() > 0
    text = SCALED.format(value="(overall - minimum(overall)) / sd(overall)")
    with pytest.raises(ScoringError, match="0 is divided by 0"):
        score(text, {"x": [50.0, 50.0], "y": [50.0, 50.0]})
