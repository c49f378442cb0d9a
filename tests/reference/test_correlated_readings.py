"""Quantities read in the same runs: resistance, reactance and impedance from voltage, current and phase.

Source: JCGM 100:2008, Guide to the expression of uncertainty in measurement, H.2, tables H.2 to H.4: five simultaneous readings
of three quantities, the results by approach 1 (readings and results from memory; the results agree with the readings).
"""

from __future__ import annotations

import numpy as np
import pytest
from written_forms import form_of

from scoring.catalogue import Catalogue, from_arrays
from scoring.form import Form
from scoring.measurement_error import error_model
from scoring.program.program import compile_form
from scoring.table.evaluate import inputs_of
from scoring.table.uncertainty import monte_carlo, uncertainty

READINGS = {
    "voltage": [5.007, 4.994, 5.005, 4.990, 4.999],
    "current": [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3],
    "phase": [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
}
TEXT = """\
formula: impedance
scale: {from: -1000, to: 1000}
measures:
  voltage: {unit: V, repeatability: pooled}
  current: {unit: A, repeatability: pooled}
  cosine: {unit: "1", repeatability: pooled}
  sine: {unit: "1", repeatability: pooled}
ratings:
  resistance: {value: "voltage / current * cosine"}
  reactance: {value: "voltage / current * sine"}
  impedance: {value: "voltage / current"}
"""
TOGETHER = "error_correlations: {run: {measures: [voltage, current, cosine, sine], component: repeatability, coefficient: pooled}}\n"


def read() -> Catalogue:
    """The five runs of one product; the formula's functions have no cosine, so that those of each run are readings."""
    phase = np.array(READINGS["phase"])
    values = {"voltage": READINGS["voltage"], "current": READINGS["current"]}
    columns = {**values, "cosine": np.cos(phase), "sine": np.sin(phase)}
    return from_arrays(["element"], {name: np.array([own]) for name, own in columns.items()})


def found(form: Form) -> dict[str, float]:
    """The standard uncertainty of each result, to first order."""
    catalogue = read()
    u = uncertainty(compile_form(form), inputs_of(form, catalogue), error_model(form, catalogue))
    return {name: float(values[0]) for name, values in u.items()}


def test_correlated_readings_give_the_published_uncertainties() -> None:
    """0.071, 0.295 and 0.236 ohm (table H.4); readings taken for independent would give 0.195, 0.201 and 0.204."""
    together, apart = found(form_of(TEXT + TOGETHER)), found(form_of(TEXT))
    assert together == pytest.approx({"resistance": 0.071, "reactance": 0.295, "impedance": 0.236}, abs=0.0015)
    assert apart["resistance"] > 0.19
    assert apart["reactance"] < 0.21


def test_the_coefficients_are_those_of_the_table() -> None:
    """r(V, I) = -0.36; that of the phase with both, 0.86 and -0.65, is that of its sine here (table H.2)."""
    model = error_model(form_of(TEXT + TOGETHER), read())
    coefficients = [float(model.correlation(*pair)[0]) for pair in (("voltage", "current"), ("voltage", "sine"))]
    assert coefficients == pytest.approx([-0.36, 0.86], abs=0.006)
    assert float(model.correlation("current", "sine")[0]) == pytest.approx(-0.65, abs=0.006)


def test_draws_of_correlated_readings_agree() -> None:
    """With sizes on 4 degrees of freedom each draws are wider than first order says, by sqrt(4 / 2) for one alone."""
    form = form_of(TEXT + TOGETHER)
    drawn = monte_carlo(
        compile_form(form),
        inputs_of(form, read()),
        error_model(form, read()),
        60_000,
        np.random.default_rng(1),
    )
    assert 0.236 < drawn["impedance"].sd[0] < 0.236 * 1.6
