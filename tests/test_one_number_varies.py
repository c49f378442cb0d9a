"""Each number of each kind of curve by itself, varied by draw while the others stay fixed."""

from __future__ import annotations

import numpy as np
import pytest

from scoring.addresses.addresses import addresses, set_addresses
from scoring.catalogue import from_arrays
from scoring.form import Form, Number
from scoring.program.kernel import kernel_of
from scoring.program.program import compile_form
from scoring.reader import read_sources
from scoring.table.evaluate import evaluate, inputs_of
from scoring.texts.source import Source

CURVES = {
    "line": "{line: {worst: 46, best: 22}}",
    "points": "{points: {20: 10, 30: 7, 40: 4, 50: 1}}",
    "smooth": "{smooth: {20: 10, 30: 7, 40: 4, 50: 1}}",
    "log": "{log: {worst: 50, best: 5}}",
    "power": "{power: {worst: 0, best: 60, exponent: 0.7}}",
    "logistic": "{logistic: {middle: 35, spread: 3, better: lower}}",
    "target": "{target: {low: 20, best: 35, high: 50, within: 2}}",
    "steps": "{steps: {0: 10, 30: 7, 40: 3}}",
    "z": "{z: {better: lower, centre: 5.5, per_sd: 1.5}, reference: {mean: 31.2, sd: 4.8}}",
    "minmax": "{minmax: {better: lower}, reference: {least: 20, greatest: 50}}",
}
READINGS = [12.0, 24.5, 33.0, 41.2, 55.0]


def form_with(curve: str) -> Form:
    """One measure, one rating."""
    text = f"formula: one\nmeasures: {{m: {{unit: mm}}}}\nratings: {{r: {{measure: m, curve: {curve}}}}}\n"
    return read_sources([Source("one.yaml", text)])


def varied(form: Form) -> list[str]:
    """Addresses of every number of its curve."""
    return [a for a, noun in addresses(form).items() if isinstance(noun, Number) and a.startswith("ratings.r.curve")]


@pytest.mark.parametrize("kind", CURVES)
def test_one_number_by_draw_gives_what_it_gives_set(kind: str) -> None:
    """The kernel with one address varying, against the formula with that value written in, number after number."""
    form = form_with(CURVES[kind])
    catalogue = from_arrays([f"P{i}" for i in range(len(READINGS))], {"m": READINGS})
    stated = {a: noun.value for a, noun in addresses(form).items() if isinstance(noun, Number)}
    assert len(varied(form)) >= 2
    for address in varied(form):
        draws = stated[address] + np.array([0.0, 0.25, -0.25])
        kernel = kernel_of(compile_form(form), varying=[address])
        found = evaluate(kernel, inputs_of(form, catalogue), {address: draws[:, np.newaxis]}).values["r"]
        for draw, values in zip(draws, found, strict=True):
            other = set_addresses(form, [f"{address}={draw:.10g}"])
            alone = evaluate(kernel_of(compile_form(other)), inputs_of(other, catalogue)).values["r"]
            np.testing.assert_allclose(values, alone[0], rtol=1e-12, atol=1e-12, err_msg=address)
