"""Uncertainty of ratings and scores: first order against algebra, Monte Carlo against published intervals."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from scoring.catalogue import State
from scoring.measurement_error import ErrorModel
from scoring.program.program import Program
from scoring.table.evaluate import Inputs
from scoring.table.uncertainty import TELLS_APART, monte_carlo, uncertainty

SUM = """
formula: invented
scale: {from: -100}
measures: {a: {unit: "1"}, b: {unit: "1"}, c: {unit: "1"}, d: {unit: "1"}}
ratings: {total: {value: "a + b + c + d"}}
"""


def inputs_of(values: dict[str, list[float]]) -> Inputs:
    """Readings, NaN being missing."""
    arrays = {name: np.array([column]) for name, column in values.items()}
    states = {n: np.where(np.isnan(a[0]), State.MISSING, State.VALUE).astype(np.uint8) for n, a in arrays.items()}
    count = len(next(iter(values.values())))
    return Inputs(tuple(f"p{i}" for i in range(count)), arrays, states, {})


def test_first_order_is_the_root_of_the_sum_of_squares(program_of: Callable[..., Program]) -> None:
    """A product of powers: relative uncertainties add in squares, each times its power (JCGM 100:2008, 5.1.6, from memory)."""
    body = 'ratings: {a: {value: "lift**2 / (10*width)"}}'
    readings = inputs_of(
        {"sag": [1.0, 1.0], "lift": [20.0, 30.0], "width": [4.0, 8.0], "warmth": [0, 0], "noise": [1, 1]}
    )
    u = {"lift": np.array([0.1, 0.2]), "width": np.array([0.05, np.nan])}
    found = uncertainty(program_of(body), readings, ErrorModel.of_values(u))["a"]
    value = np.array([400 / 40, 900 / 80])
    relative = np.sqrt((2 * np.array([0.1 / 20, 0.2 / 30])) ** 2 + np.array([0.05 / 4, 0.0]) ** 2)
    assert found == pytest.approx(value * relative, rel=1e-6)


def test_a_missing_part_carries_no_uncertainty_and_an_absent_output_none(program_of: Callable[..., Program]) -> None:
    """A product without a reading is scored on the other; one without both is absent."""
    body = """
ratings:
  a: {measure: sag, curve: {line: {worst: 50, best: 0}}}
  b: {measure: lift, curve: {line: {worst: 0, best: 50}}}
scores: {s: {blend: weighted mean, weights: {a: 1, b: 1}, missing: {absent_above: 0.6}}}
"""
    nan = float("nan")
    readings = inputs_of(
        {"sag": [10, 10, nan], "lift": [20, nan, nan], "width": [1] * 3, "warmth": [1] * 3, "noise": [1] * 3}
    )
    found = uncertainty(
        program_of(body), readings, ErrorModel.of_values({"sag": np.full(3, 0.5), "lift": np.full(3, 1.0)})
    )["s"]
    assert found[:2] == pytest.approx([np.hypot(0.05, 0.1), 0.1], rel=1e-9)
    assert np.isnan(found[2])


def test_the_figures_of_a_live_reference_are_held(program_of: Callable[..., Program]) -> None:
    """First order moves one product at a time, and so leaves the mean of all where it is."""
    readings = inputs_of({"sag": [10, 20, 30], "lift": [1] * 3, "width": [1] * 3, "warmth": [1] * 3, "noise": [1] * 3})
    program = program_of('ratings: {a: {value: "5 + (sag - mean(sag))/10"}}')
    assert uncertainty(program, readings, ErrorModel.of_values({"sag": np.full(3, 0.5)}))["a"] == pytest.approx(
        [0.05] * 3, rel=1e-9
    )


def test_monte_carlo_moves_the_reference_with_each_draw(program_of: Callable[..., Program]) -> None:
    """With three products, a deviation from their mean scatters by the root of two thirds of what a reading does."""
    readings = inputs_of({"sag": [10, 20, 30], "lift": [1] * 3, "width": [1] * 3, "warmth": [1] * 3, "noise": [1] * 3})
    program = program_of('ratings: {a: {value: "5 + (sag - mean(sag))/10"}}')
    found = monte_carlo(
        program, readings, ErrorModel.of_values({"sag": np.full(3, 0.5)}), 40_000, np.random.default_rng(1)
    )["a"]
    assert found.sd == pytest.approx([0.05 * np.sqrt(2 / 3)] * 3, rel=0.02)


def test_the_sum_of_four_normals_has_the_published_interval(program_of: Callable[..., Program]) -> None:
    """JCGM 101:2008, 9.2.2, table 2: standard uncertainty 2.00, 95 % interval from -3.92 to 3.92."""
    readings = inputs_of({name: [0.0] for name in "abcd"})
    program = program_of("", head=SUM)
    u = {name: np.ones(1) for name in "abcd"}
    assert uncertainty(program, readings, ErrorModel.of_values(u))["total"] == pytest.approx([2.0], rel=1e-9)
    found = monte_carlo(program, readings, ErrorModel.of_values(u), 1_000_000, np.random.default_rng(0))["total"]
    assert float(found.sd[0]) == pytest.approx(2.0, abs=0.005)
    assert (float(found.low[0]), float(found.high[0])) == (
        pytest.approx(-3.92, abs=0.02),
        pytest.approx(3.92, abs=0.02),
    )


def test_monte_carlo_speaks_where_a_curve_is_held(program_of: Callable[..., Program]) -> None:
    """Beyond the anchor first order says 0; the draws that come back say more."""
    readings = inputs_of({"sag": [50.0], "lift": [50.2], "width": [1], "warmth": [1], "noise": [1]})
    program = program_of("ratings: {a: {measure: lift, curve: {line: {worst: 0, best: 50}}}}")
    u = {"lift": np.array([1.0])}
    assert uncertainty(program, readings, ErrorModel.of_values(u))["a"] == pytest.approx([0.0])
    found = monte_carlo(program, readings, ErrorModel.of_values(u), 5_000, np.random.default_rng(2))["a"]
    assert 0.05 < float(found.sd[0]) < 0.2
    assert float(found.high[0]) == 10.0


def test_the_same_seed_gives_the_same_spread_whatever_is_asked_for_with_it(
    program_of: Callable[..., Program], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Chunks of draws and groups of outputs change no digit."""
    body = 'ratings: {a: {value: "lift/10"}, b: {value: "lift/20"}}'
    readings = inputs_of({"sag": [1, 1], "lift": [20, 30], "width": [1, 1], "warmth": [1, 1], "noise": [1, 1]})
    program, u = program_of(body), {"lift": np.array([1.0, 2.0])}
    whole = monte_carlo(program, readings, ErrorModel.of_values(u), 500, np.random.default_rng(0))
    monkeypatch.setattr("scoring.table.uncertainty.HELD", 1)
    parts = monte_carlo(program, readings, ErrorModel.of_values(u), 500, np.random.default_rng(0))
    for name in ("a", "b"):
        for end in ("mean", "sd", "low", "high"):
            assert np.array_equal(getattr(whole[name], end), getattr(parts[name], end))
    assert np.allclose(whole["a"].sd, 2 * whole["b"].sd)


def test_one_draw_is_refused(program_of: Callable[..., Program]) -> None:
    """A spread of one result would be 0 over 0."""
    readings = inputs_of({name: [0.0] for name in "abcd"})
    with pytest.raises(ValueError, match="1 draws; a spread needs two or more"):
        monte_carlo(program_of("", head=SUM), readings, ErrorModel.of_values({}), 1, np.random.default_rng(0))


def test_two_results_differ_at_the_usual_multiple() -> None:
    """1.96 times the root of 2."""
    assert pytest.approx(2.7719, abs=1e-4) == TELLS_APART
