"""Local sensitivity: derivatives at the stated setting against hand and sympy, and where there is none."""

from __future__ import annotations

import numpy as np
import pytest
import sympy
from written_forms import HEAD, form_of
from written_studies import catalogue_of, study_of

from analysis.indices.local import LocalSensitivity, local_sensitivity
from analysis.trials.trials import compile_trials
from scoring.addresses.addresses import set_address
from scoring.table.table import score_catalogue

ROOT12 = np.sqrt(12)
TWO_LINES = (
    HEAD
    + """\
ratings:
  a: {measure: x, curve: {line: {worst: 0, best: 90}}}
  b: {measure: y, curve: {line: {worst: 90, best: 0}}}
scores:
  total: {weights: {a: 3, b: 1}}
"""
)
READINGS = {"x": [9.0, 45.0, 60.0], "y": [30.0, 10.0, 81.0], "z": [1.0, 1.0, 1.0]}


def local(text: str, vary: str, target: str = "total", **readings: list[float]) -> LocalSensitivity:
    """The local sensitivity of a score of a written form to what varies."""
    form, catalogue = form_of(text), catalogue_of(**(readings or READINGS))
    return local_sensitivity(compile_trials(study_of(vary, form, catalogue), catalogue), target)


def test_slopes_in_weights_and_anchors_are_those_worked_out_by_hand() -> None:
    """total = (3 a + w b) / (3 + w), so d/dw = 3 (b - a) / (3 + w)^2; a = 1 + 9 x / best, so d/dbest = -9 x / best^2."""
    found = local(
        TWO_LINES,
        """
        {address: scores.total.weights.b, uniform: [0.5, 1.5]}
        {address: ratings.a.curve.line.best, uniform: [80, 100]}
        """,
    )
    x, y = np.array(READINGS["x"]), np.array(READINGS["y"])
    a, b = 1 + x / 10, 10 - y / 10
    assert found.names == ("scores.total.weights.b", "ratings.a.curve.line.best")
    np.testing.assert_allclose(found.per_sd[0], 3 * (b - a) / 16 / ROOT12, rtol=1e-8)
    np.testing.assert_allclose(found.per_sd[1], 0.75 * -9 * x / 90**2 * 20 / ROOT12, rtol=1e-8)


@pytest.mark.parametrize(
    "blend",
    ["weighted mean", "geometric mean", "harmonic mean"],
)
def test_slopes_equal_sympys(blend: str) -> None:
    """The derivative of the program's own expression, for weights and anchors, times the standard deviation."""
    text = TWO_LINES.replace("{weights", f"{{blend: {blend}, weights")
    found = local(
        text,
        """
        {address: scores.total.weights.a, uniform: [2, 4]}
        {address: ratings.a.curve.line.best, normal: {mean: 90, sd: 4}}
        {address: ratings.b.curve.line.worst, uniform: [85, 95]}
        """,
    )
    w, best, worst, x, y = sympy.symbols("w best worst x y", positive=True)
    a, b = 1 + 9 * x / best, 1 + 9 * (worst - y) / worst
    total = {
        "weighted mean": (w * a + b) / (w + 1),
        "geometric mean": sympy.exp((w * sympy.log(a) + sympy.log(b)) / (w + 1)),
        "harmonic mean": (w + 1) / (w / a + 1 / b),
    }[blend]
    stated = {w: 3, best: 90, worst: 90}
    for row, (symbol, sd) in enumerate([(w, 2 / ROOT12), (best, 4), (worst, 10 / ROOT12)]):
        slope = sympy.lambdify([x, y], sympy.diff(total, symbol).subs(stated))
        exact = [float(slope(*pair)) * sd for pair in zip(READINGS["x"], READINGS["y"], strict=True)]
        np.testing.assert_allclose(found.per_sd[row], exact, rtol=1e-6 if symbol is best else 1e-7)


def test_a_weight_that_is_rescaled_with_the_others_moves_what_its_share_moves() -> None:
    """`plus_minus` gives each weight a standard deviation of width / root 3 of the sum, before rescaling."""
    found = local(TWO_LINES, "{weights: total, plus_minus: 0.1}")
    x, y = np.array(READINGS["x"]), np.array(READINGS["y"])
    a, b = 1 + x / 10, 10 - y / 10
    sd = 4 * 0.1 / np.sqrt(3)
    np.testing.assert_allclose(found.per_sd, np.stack([(a - b) / 16, 3 * (b - a) / 16]) * sd, rtol=1e-8)


def test_a_corner_or_a_jump_at_the_stated_setting_has_no_slope() -> None:
    """A reading on the anchor, on a cap's bound, on the edge of a step: NaN there, and nowhere else."""
    text = (
        HEAD
        + """\
ratings:
  a: {measure: x, curve: {line: {worst: 0, best: 90}}}
  b: {measure: y, curve: {steps: {0: 2, 10: 5, 20: 9}}}
scores:
  held: {weights: {a: 1}, limits: [{when: b > 1, at_most: 6}]}
"""
    )
    on_anchor = local(
        text, "{address: ratings.a.curve.line.best, uniform: [80, 100]}", "a", x=[89.0, 90.0, 91.0], y=[1.0] * 3
    )
    assert np.isnan(on_anchor.per_sd[0]).tolist() == [False, True, False]
    assert on_anchor.per_sd[0, 2] == 0
    bound = local(
        text, "{address: scores.held.limits.1.at_most, uniform: [5, 7]}", "held", x=[49.0, 50.0, 51.0], y=[1.0] * 3
    )
    assert np.isnan(bound.per_sd[0]).tolist() == [False, True, False]
    np.testing.assert_allclose(bound.per_sd[0, [0, 2]], [0, 2 / ROOT12], rtol=1e-9, atol=1e-12)
    edge = local(text, "{address: ratings.b.curve.steps.2.at, uniform: [8, 12]}", "b", x=[1.0] * 3, y=[9.5, 10.0, 10.5])
    assert np.isnan(edge.per_sd[0]).tolist() == [False, True, False]


def test_a_smooth_turn_has_a_slope_of_0_and_no_corner() -> None:
    """Where the slope passes through 0, second differences are large beside it: (k - 3)^2 at k = 3."""
    text = HEAD.replace("measures", "constants: {k: 3}\nmeasures") + 'ratings:\n  total: {value: "x - (k - 3) ** 2"}\n'
    found = local(text, "{address: constants.k, uniform: [2, 4]}", x=[1.0, 5.0], y=[1.0, 1.0], z=[1.0, 1.0])
    np.testing.assert_allclose(found.per_sd, [[0, 0]], atol=1e-9)


def test_a_product_without_a_score_has_no_slope() -> None:
    """NaN for it, and a figure for its neighbour."""
    found = local(TWO_LINES, "{weights: total, plus_minus: 0.1}", x=[9.0, np.nan], y=[30.0, 10.0], z=[1.0, 1.0])
    assert np.isnan(found.per_sd[:, 1]).all()
    assert np.isfinite(found.per_sd[:, 0]).all()


def test_only_numbers_that_reach_the_score_are_asked() -> None:
    """Choices, whole vectors of weights and noise have no slope; what goes into another score only is left out."""
    text = TWO_LINES + "  other: {weights: {a: 1, b: 2}}\n"
    found = local(
        text,
        """
        {weights: total, dirichlet: 50}
        {address: scores.total.blend, choose: [stated, geometric mean]}
        {weights: other, plus_minus: 0.1}
        """,
    )
    assert found.names == ()
    assert found.per_sd.shape == (0, 3)


def test_slopes_are_those_of_published_scores() -> None:
    """A second way: differences of the score table at numbers written into the formula, for every number at once."""
    form, catalogue = form_of(TWO_LINES), catalogue_of(**READINGS)
    vary = """
        {address: scores.total.weights.a, uniform: [2.5, 3.5]}
        {address: ratings.b.curve.line.worst, uniform: [85, 95]}
        {address: ratings.a.curve.line.best, uniform: [85, 95]}
        """
    study = study_of(vary, form, catalogue)
    found = local_sensitivity(compile_trials(study, catalogue), "total")
    for row, factor in enumerate(study.factors):
        stated, step = float(factor.stated), 1e-4
        ends = [set_address(form, factor.name, f"{stated + sign * step:.9f}") for sign in (1, -1)]
        high, low = (score_catalogue(end, catalogue).column("total").value for end in ends)
        np.testing.assert_allclose(found.per_sd[row], (high - low) / (2 * step) * factor.sd, rtol=1e-6)
