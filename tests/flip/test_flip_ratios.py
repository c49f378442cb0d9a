"""Anchors of a curve that counts ratios: the nearest is so by ratio, and a proof says within what room it holds."""

from __future__ import annotations

import math

import numpy as np
import pytest
from written_forms import HEAD, score

from analysis.flips.crossing import SHORT, crossing
from analysis.flips.found import ANCHOR
from analysis.flips.study import flip_of
from analysis.flips.verdict import verdict

FORM = (
    HEAD.replace('x: {unit: "1"}', "x: {unit: mm, plausible: [0.5, 100]}")
    + "ratings:\n  a: {measure: x, curve: {log: {worst: 50, best: 2}}}\n  b: {measure: y, curve: {line: {worst: 1, best: 10}}}\n"
    + "scores:\n  s: {weights: {a: 1, b: 1}}\n"
)


def looked_at(values: np.ndarray) -> np.ndarray:
    """The order has turned at 1.2 and below, and at 2.9 and above."""
    return np.asarray((values <= 1.2) | (values >= 2.9))


def test_the_nearest_by_difference_and_by_ratio_are_two() -> None:
    """From 2: 1.2 lies 0.8 off and 2.9 lies 0.9 off; but 2 / 1.2 is 1.67, and 2.9 / 2 is 1.45."""
    asked: list[tuple[float, float]] = []

    def sure(low: float, high: float) -> bool:
        asked.append((low, high))
        return True

    plain = crossing(looked_at, 2.0, (0.1, 10.0), sure)
    by_ratio = crossing(looked_at, 2.0, (0.1, 10.0), sure, in_ratios=True)
    assert plain.value == pytest.approx(1.2, abs=1e-6)
    assert by_ratio.value == pytest.approx(2.9, abs=1e-6)
    reach = math.exp((1 - SHORT) * math.log(2.9 / 2))
    assert asked[1] == pytest.approx((2 / reach, 2 * reach), abs=1e-5)


def test_a_proof_of_a_log_anchor_says_its_room_and_that_ratios_are_meant() -> None:
    """p2 is behind by what x makes of it: the worst of the curve may go down to 2 and up to the plausible 100."""
    table = score(FORM, {"x": [5.0, 20.0], "y": [5.0, 6.5], "z": [1.0, 1.0]})
    found = flip_of(table, "s", "p2", "p1", seed=0)
    change = found.least(ANCHOR)
    assert change is not None
    assert change.in_ratios
    assert change.compared == "the logarithm of the curve's stretch"
    assert change.share == pytest.approx(
        math.log(float(change.settings[0][2]) / change.settings[0][1]) / math.log(50 / 2)
    )
    assert change.verdict == "proved"
    assert 0.5 <= change.room[0] < change.room[1] <= 100
    low, high = change.room
    said = verdict(found, {})
    assert f"(proved within {low:.4g} to {high:.4g} mm, small being meant by ratio" in said


def test_a_straight_curve_says_its_room_alone() -> None:
    """No word of ratios."""
    text = FORM.replace("log: {worst: 50, best: 2}", "line: {worst: 50, best: 2}")
    table = score(text, {"x": [5.0, 20.0], "y": [5.0, 6.5], "z": [1.0, 1.0]})
    said = verdict(flip_of(table, "s", "p2", "p1", seed=0), {})
    assert "(proved within " in said
    assert "ratio" not in said
