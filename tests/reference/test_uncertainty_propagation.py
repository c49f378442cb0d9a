"""Uncertainty through a formula of our own form, against worked cases of the guides and a strongly curved standard."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import ndtri
from scipy.stats import norm
from written_forms import form_of, inputs_of_arrays

from scoring.measurement_error import ErrorModel
from scoring.program.program import Program, compile_form
from scoring.reader import read_form
from scoring.table.evaluate import Inputs, evaluate, kernel_for
from scoring.table.uncertainty import monte_carlo, uncertainty

Array = NDArray[np.float64]
PUBLISHED = Path(__file__).resolve().parents[2] / "formulas" / "published"

# JCGM 100:2008, Guide to the expression of uncertainty in measurement, Annex H.1, End-gauge calibration: read in GTC,
# docs/API/GUM_H1.rst, commit 1c165fce, and suncal, test/test_examples.py, commit 0e6d9f77. The components with three
# decimals, the degrees of freedom with two and the result with second-order terms (33.8) worked out again here.
END_GAUGE = """
formula: end-gauge
title: Length of an end gauge by comparison with a standard, JCGM 100:2008, Annex H.1
scale: {from: 0}
measures:
  standard_length: {unit: nm}
  mean_difference: {unit: nm}
  comparator_random: {unit: nm}
  comparator_systematic: {unit: nm}
  expansion: {unit: 1/degC}
  expansion_difference: {unit: 1/degC}
  mean_temperature: {unit: degC}
  temperature_swing: {unit: degC}
  temperature_difference: {unit: degC}
ratings:
  difference: {value: mean_difference + comparator_random + comparator_systematic}
  temperature: {scale: {from: -10}, value: mean_temperature + temperature_swing}
scores:
  length:
    value: "standard_length + difference
      - standard_length * (expansion_difference * temperature + expansion * temperature_difference)"
"""
#: Estimate, standard uncertainty, degrees of freedom, and the component of the length's uncertainty in nm.
GAUGE: dict[str, tuple[float, float, float, float]] = {
    "standard_length": (50_000_623, 25, 18, 25),
    "mean_difference": (215, 5.8, 24, 5.8),
    "comparator_random": (0, 3.9, 5, 3.9),
    "comparator_systematic": (0, 6.7, 8, 6.7),
    "expansion": (11.5e-6, 2e-6 / np.sqrt(3), np.inf, 0),  # rectangular, half-width 2e-6
    "expansion_difference": (0, 1e-6 / np.sqrt(3), 50, 2.887),  # rectangular, half-width 1e-6
    "mean_temperature": (-0.1, 0.2, np.inf, 0),
    "temperature_swing": (0, 0.5 / np.sqrt(2), np.inf, 0),  # arcsine, half-width 0.5
    "temperature_difference": (0, 0.05 / np.sqrt(3), 2, 16.599),  # rectangular, half-width 0.05
}
LIVE_AND_ZERO = ("expansion", "mean_temperature", "temperature_swing")


@cache
def gauge() -> tuple[Program, Inputs]:
    """The end gauge and its estimates, as one product."""
    return compile_form(form_of(END_GAUGE)), inputs_of_arrays({name: [row[0]] for name, row in GAUGE.items()})


def of_length(u_by_measure: Mapping[str, Array]) -> float:
    """The standard uncertainty of the length, to first order."""
    return float(uncertainty(*gauge(), ErrorModel.of_values(u_by_measure))["length"][0])


def stated(*names: str) -> dict[str, Array]:
    """The stated uncertainty of some readings, or of all."""
    return {name: np.array([GAUGE[name][1]]) for name in names or GAUGE}


def second_order() -> float:
    """The exact standard deviation of the length: products of independent deviations add their own squares."""
    length, theta = GAUGE["standard_length"][0], np.hypot(0.2, 0.5 / np.sqrt(2))
    products = [GAUGE["expansion_difference"][1] * theta, GAUGE["expansion"][1] * GAUGE["temperature_difference"][1]]
    return float(np.sqrt(sum(row[3] ** 2 for row in GAUGE.values()) + sum((length * part) ** 2 for part in products)))


def test_the_end_gauge_has_its_published_length() -> None:
    """50.000 838 mm."""
    program, inputs = gauge()
    assert evaluate(kernel_for(program, inputs, ["length"]), inputs).values["length"] == pytest.approx(50_000_838)


@pytest.mark.parametrize("name", GAUGE)
def test_each_component_of_the_end_gauge_is_as_published(name: str) -> None:
    """One reading uncertain at a time: |c_i| u_i, in nm; three of them exactly 0."""
    assert of_length(stated(name)) == pytest.approx(GAUGE[name][3], abs=0.001)


def test_the_end_gauge_has_its_combined_uncertainty_and_degrees_of_freedom() -> None:
    """31.66 nm, published as 32; in all 16.75 degrees of freedom, cut to 16.

    The difference alone: 9.7 nm and, from that rounded figure, 25.6 degrees of freedom, as published; 25.45 unrounded.
    """
    combined = of_length(stated())
    assert combined == pytest.approx(31.664, abs=0.001)
    assert round(combined) == 32
    difference = ["mean_difference", "comparator_random", "comparator_systematic"]
    of_difference = of_length(stated(*difference))
    assert round(of_difference, 1) == 9.7
    assert welch_satterthwaite(difference) * (9.7 / of_difference) ** 4 == pytest.approx(25.6, abs=0.05)
    assert welch_satterthwaite(list(GAUGE)) == pytest.approx(16.75, abs=0.01)
    assert int(welch_satterthwaite(list(GAUGE))) == 16


def welch_satterthwaite(names: list[str]) -> float:
    """nu_eff = u_c^4 / sum of (c_i u_i)^4 / nu_i, JCGM 100:2008, G.4.1, from components found through the form."""
    return of_length(stated(*names)) ** 4 / sum(of_length(stated(name)) ** 4 / GAUGE[name][2] for name in names)


def test_monte_carlo_of_the_end_gauge_has_the_terms_that_first_order_leaves_out() -> None:
    """33.8 nm, published as 34 with second-order terms; 200 000 draws, three standard errors are 0.16."""
    found = monte_carlo(*gauge(), ErrorModel.of_values(stated()), 200_000, np.random.default_rng(0))["length"]
    assert second_order() == pytest.approx(33.8, abs=0.05)
    assert float(found.sd[0]) == pytest.approx(second_order(), abs=0.16)
    assert round(float(found.sd[0])) == 34


def test_readings_that_first_order_gives_nothing_are_live() -> None:
    """Three exact zeros in the budget: held still, they take the spread from 33.8 back to 31.7."""
    assert [of_length(stated(name)) for name in LIVE_AND_ZERO] == [0, 0, 0]
    others = stated(*(name for name in GAUGE if name not in LIVE_AND_ZERO))
    still = monte_carlo(*gauge(), ErrorModel.of_values(others), 200_000, np.random.default_rng(0))["length"]
    assert float(still.sd[0]) == pytest.approx(31.66, abs=0.16)
    assert second_order() - float(still.sd[0]) > 1.9


def test_the_stated_laws_give_the_end_gauge_the_same_spread() -> None:
    """Rectangular and arcsine where the guide says so, drawn here: the spread depends on the variances alone."""
    program, inputs = gauge()
    rng = np.random.default_rng(1)
    drawn = {n: value + u * rng.standard_normal((200_000, 1)) for n, (value, u, _, _) in GAUGE.items()}
    for name in ("expansion", "expansion_difference", "temperature_difference"):
        value, u = GAUGE[name][:2]
        drawn[name] = value + u * np.sqrt(3) * rng.uniform(-1, 1, (200_000, 1))
    drawn["temperature_swing"] = 0.5 * np.sin(rng.uniform(-np.pi, np.pi, (200_000, 1)))
    lengths = evaluate(kernel_for(program, inputs, ["length"]), replace(inputs, values=drawn)).values["length"]
    assert float(lengths.std()) == pytest.approx(second_order(), abs=0.16)


# JCGM 101:2008, Supplement 1, 9.2.2 and 9.2.3 with tables 2 and 3: sums of four standard normal and of four rectangular
# quantities of unit variance, 95 % intervals -3.92 to 3.92 and -3.88 to 3.88: read in suncal, test/test_examples.py,
# commit 0e6d9f77.
FOUR = """
formula: sum-of-four
scale: {from: -100}
measures: {a: {unit: "1"}, b: {unit: "1"}, c: {unit: "1"}, d: {unit: "1"}}
scores: {total: {value: a + b + c + d}}
"""


def test_a_sum_of_four_normals_has_the_published_interval() -> None:
    """-3.92 to 3.92 and 2.0, by both methods: 500 000 draws, three standard errors of an end are 0.023."""
    program, inputs = compile_form(form_of(FOUR)), inputs_of_arrays({name: [0.0] for name in "abcd"})
    u = {name: np.ones(1) for name in "abcd"}
    assert 1.96 * float(uncertainty(program, inputs, ErrorModel.of_values(u))["total"][0]) == pytest.approx(
        3.92, abs=0.005
    )
    found = monte_carlo(program, inputs, ErrorModel.of_values(u), 500_000, np.random.default_rng(0))["total"]
    assert float(found.sd[0]) == pytest.approx(2.0, abs=0.006)
    assert [float(found.low[0]), float(found.high[0])] == pytest.approx([-3.92, 3.92], abs=0.023)


def test_a_sum_of_four_rectangulars_has_the_published_interval() -> None:
    """-3.88 to 3.88, exactly 3.8794: drawn here, and put through the form as (draws, products).

    The exact end, worked out here: the sum of four uniform numbers from 0 to 1 lies above 4 - t with probability
    t^4 / 24, so that t is the fourth root of 0.6.
    """
    exact = 2 * np.sqrt(3) * (2 - (24 * 0.025) ** 0.25)
    assert exact == pytest.approx(3.8794, abs=5e-5)
    program, inputs = compile_form(form_of(FOUR)), inputs_of_arrays({name: [0.0] * 5 for name in "abcd"})
    rng = np.random.default_rng(0)
    drawn = {name: np.sqrt(3) * rng.uniform(-1, 1, (100_000, 5)) for name in "abcd"}
    totals = evaluate(kernel_for(program, inputs, ["total"]), replace(inputs, values=drawn)).values["total"]
    assert totals.shape == (100_000, 5)
    assert np.quantile(totals, [0.025, 0.975]) == pytest.approx([-exact, exact], abs=0.015)
    assert float(totals.std()) == pytest.approx(2.0, abs=0.006)


# ISO 7730:2005 and ASHRAE 55-2017, twenty rows: read in github.com/FedericoTartarini/validation-data-comfort-models,
# ts_pmv_ppd.json, commit 5aec8524 (MIT). The equations and where they were read: thermal-comfort.yaml.


@pytest.fixture(scope="module")
def rooms(score: Any, published: Path) -> dict[str, dict[str, Any]]:
    """The twenty rooms by the command, by their row."""
    document = score(published / "thermal-comfort.yaml", published / "data" / "thermal-comfort.csv")
    return {product["id"]: product for product in document["products"]}


def test_eighteen_of_twenty_votes_round_to_the_printed_decimal(rooms: dict[str, Any], cases: Any) -> None:
    """The other two are printed as if rounded twice: 0.0466 as 0.1 (by way of 0.05), 0.9502 as 0.9 (by way of 0.95)."""
    printed = {row["id"]: float(row["ratings.vote.value"]) for row in cases("thermal-comfort")}
    found = {name: room["ratings"]["vote"]["value"] for name, room in rooms.items()}
    others = {name: value for name, value in found.items() if round(value, 1) != printed[name]}
    assert others == pytest.approx({"row-10": 0.0466, "row-12": 0.9502}, abs=5e-5)


def test_votes_agree_with_those_worked_out_apart(rooms: dict[str, Any], published: Path) -> None:
    """The catalogue of the percentage alone holds each vote with four decimals, from a calculation outside this tool."""
    with (published / "data" / "thermal-dissatisfaction.csv").open(encoding="utf-8", newline="") as stream:
        apart = {row["id"]: float(row["predicted_mean_vote"]) for row in csv.DictReader(stream)}
    assert {name: room["ratings"]["vote"]["value"] for name, room in rooms.items()} == pytest.approx(apart, abs=6e-5)


@cache
def comfort() -> Program:
    """The published formula from six readings of a room."""
    return compile_form(read_form(PUBLISHED / "thermal-comfort.yaml"))


def test_six_steps_leave_next_to_nothing_of_the_balance() -> None:
    """20 000 rooms drawn from the plausible ranges: at most 0.0003 degC, as the formula's head says."""
    rng = np.random.default_rng(0)
    ranges = {m.name: [end.value for end in m.plausible or ()] for m in comfort().form.measures}
    inputs = inputs_of_arrays({name: rng.uniform(*ends, 20_000) for name, ends in ranges.items()})
    left = evaluate(kernel_for(comfort(), inputs, ["balance"]), inputs).values["balance"]
    assert 0 < np.abs(left).max() < 0.0003


def percentage(vote: float) -> float:
    """ISO 7730:2005, equation 5, written a second time."""
    return float(100 - 95 * np.exp(-0.03353 * vote**4 - 0.2179 * vote**2))


def moments(mean: float, u: float) -> tuple[float, float]:
    """Mean and standard deviation of the percentage where the vote is normal, by numerical quadrature."""

    def expected(power: int) -> float:
        ends = (mean - 10 * u, mean + 10 * u)
        return float(quad(lambda v: percentage(v) ** power * norm.pdf(v, mean, u), *ends, epsabs=1e-9, limit=200)[0])

    return expected(1), float(np.sqrt(expected(2) - expected(1) ** 2))


def votes(*values: float) -> tuple[Program, Inputs]:
    """The percentage from the vote alone, for some votes."""
    program = compile_form(read_form(PUBLISHED / "thermal-dissatisfaction.yaml"))
    return program, inputs_of_arrays({"predicted_mean_vote": values})


def test_at_a_vote_of_zero_first_order_fails_and_monte_carlo_holds() -> None:
    """The slope is 0 and so is the first-order uncertainty, exactly; mean, spread and both ends against their exact values.

    The percentage is even in the vote and rises with its size, so that its 2.5 % and 97.5 % points are those of half-normal
    votes.
    """
    u = np.array([0.1, 0.3, 0.5])
    program, inputs = votes(0.0, 0.0, 0.0)
    assert uncertainty(program, inputs, ErrorModel.of_values({"predicted_mean_vote": u}))["dissatisfied"].tolist() == [
        0,
        0,
        0,
    ]
    found = monte_carlo(
        program, inputs, ErrorModel.of_values({"predicted_mean_vote": u}), 200_000, np.random.default_rng(0)
    )["dissatisfied"]
    for place, one in enumerate(u):
        mean, sd = moments(0.0, float(one))
        assert float(found.mean[place]) == pytest.approx(mean, abs=4 * sd / np.sqrt(200_000))
        assert float(found.sd[place]) == pytest.approx(sd, rel=0.02)
        assert float(found.low[place]) == pytest.approx(percentage(one * ndtri(0.5125)), abs=0.01)
        assert float(found.high[place]) == pytest.approx(percentage(one * ndtri(0.9875)), rel=0.02)


def test_the_mean_percentage_of_an_uncertain_vote_is_above_that_of_its_mean() -> None:
    """With a vote of 0 +- 0.3: 5 + 95 x 0.2179 x 0.09 = 6.86 to second order; the quartic terms add and take a little."""
    mean, _ = moments(0.0, 0.3)
    assert mean == pytest.approx(5 + 95 * 0.2179 * 0.09, abs=0.1)
    assert mean > percentage(0.0) + 1.8


@pytest.mark.parametrize("vote", [-1.5, -0.7, 0.7, 1.0])
def test_where_the_curve_is_steep_both_methods_agree(vote: float) -> None:
    """A vote known to 0.02: first order, Monte Carlo and quadrature within 1.5 %."""
    u = {"predicted_mean_vote": np.array([0.02])}
    program, inputs = votes(vote)
    first = float(uncertainty(program, inputs, ErrorModel.of_values(u))["dissatisfied"][0])
    drawn = float(
        monte_carlo(program, inputs, ErrorModel.of_values(u), 50_000, np.random.default_rng(0))["dissatisfied"].sd[0]
    )
    assert [first, drawn] == pytest.approx([moments(vote, 0.02)[1]] * 2, rel=0.015)


def test_a_room_at_a_vote_of_zero_shows_the_same_from_six_readings() -> None:
    """First order is right for the vote and blind for the percentage; uncertainties invented."""
    room = {"radiant_temperature": 25.0, "humidity": 50.0, "air_speed": 0.15, "activity": 1.2, "clothing": 0.6}

    def vote_at(air: float) -> float:
        inputs = inputs_of_arrays({name: [value] for name, value in (room | {"air_temperature": air}).items()})
        return float(evaluate(kernel_for(comfort(), inputs, ["vote"]), inputs).values["vote"][0, 0])

    neutral = room | {"air_temperature": brentq(vote_at, 15, 30, xtol=1e-12)}
    inputs = inputs_of_arrays({name: [value] for name, value in neutral.items()})
    stated = dict(zip(neutral, [0.2, 2.0, 0.01, 0.05, 0.02, 0.2], strict=True))
    u = {name: np.array([value]) for name, value in stated.items()}
    first = uncertainty(comfort(), inputs, ErrorModel.of_values(u))
    drawn = monte_carlo(comfort(), inputs, ErrorModel.of_values(u), 40_000, np.random.default_rng(0))
    u_vote = float(first["vote"][0])
    assert float(drawn["vote"].sd[0]) == pytest.approx(u_vote, rel=0.03)
    assert float(first["dissatisfied"][0]) < 1e-6
    mean, sd = moments(float(drawn["vote"].mean[0]), float(drawn["vote"].sd[0]))
    assert float(drawn["dissatisfied"].mean[0]) == pytest.approx(mean, rel=0.01)
    assert float(drawn["dissatisfied"].sd[0]) == pytest.approx(sd, rel=0.05)
    assert sd > 0.2
