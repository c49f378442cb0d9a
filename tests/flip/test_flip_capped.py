"""Weights of a score that a limit caps: exact changes, against a second formulation and a dense search of all weights."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from scipy.optimize import linprog
from written_forms import HEAD, score

from analysis.flips.found import ABSOLUTE, ONE, SQUARES, Flip
from analysis.flips.study import flip_of

FORM = (
    HEAD
    + "  c: {unit: '1'}\n"
    + "ratings:\n"
    + "".join(
        f"  {r}: {{measure: {m}, curve: {{points: {{1: 1, 10: 10}}}}}}\n" for r, m in zip("rst", "xyz", strict=True)
    )
    + "scores:\n  q: {weights: {r: 0.5, s: 0.3, t: 0.2}, limits: [{when: c < 4, at_most: 6}, {when: c < 2, at_most: 5}]}\n"
)
STATED = np.array([0.5, 0.3, 0.2])


def flipped(rival: str | None = "p1", **readings: list[float]) -> Flip:
    """The changes by which p2 catches p1, or comes first."""
    return flip_of(score(FORM, readings), "q", "p2", rival, seed=0)


def scores_at(weights: np.ndarray, **readings: list[float]) -> np.ndarray:
    """Every product's score under many weights, shape (n, products), by hand."""
    parts = np.array([readings[name] for name in "xyz"])
    caps = np.array([5.0 if c < 2 else 6.0 if c < 4 else np.inf for c in readings["c"]])
    return np.minimum(weights @ parts / weights.sum(axis=1, keepdims=True), caps)


#: All weights that sum to one, in steps of a hundredth.
LATTICE = np.array([(i, j, 100 - i - j) for i, j in product(range(101), repeat=2) if i + j <= 100]) / 100
#: Capped at 6: the rival (or rivals) has to come down to that. A capped rival is passed at its cap, whatever else it reads.
CASES = {
    "the subject is capped": {"x": [9.0, 8.0], "y": [5.0, 9.0], "z": [3.0, 9.0], "c": [9.0, 3.0]},
    "the rival is capped": {"x": [9.5, 2.0], "y": [9.0, 5.0], "z": [9.0, 9.0], "c": [3.0, 9.0]},
    "both, the rival lower": {"x": [9.5, 2.0], "y": [9.0, 5.0], "z": [9.0, 9.0], "c": [1.0, 3.0]},
    "both, the subject lower": {"x": [9.0, 8.0], "y": [3.0, 9.0], "z": [2.0, 9.0], "c": [3.0, 1.0]},
}


@pytest.mark.parametrize("name", CASES)
def test_the_least_change_of_all_weights_is_exact_and_said_to_be_proved(name: str) -> None:
    """No weights on a fine lattice turn the order with a smaller change, and what was found does turn it."""
    readings = CASES[name]
    found = flipped(**readings)
    turned = LATTICE[np.diff(scores_at(LATTICE, **readings), axis=1)[:, 0] >= -1e-12]
    for kind, norm in ((SQUARES, 2), (ABSOLUTE, 1)):
        change = found.least(kind)
        assert change is not None
        assert change.verdict == "proved"
        lengths = np.linalg.norm(turned - STATED, norm, axis=1)
        assert change.exact <= lengths.min() + 1e-9
        assert change.exact >= lengths.min() - 0.03  # the lattice is this coarse
        weights = np.array([[float(text) for _, _, text in change.settings]])
        assert np.diff(scores_at(weights, **readings))[0, 0] >= -1e-9


def test_a_capped_subject_against_the_linear_programme_written_out() -> None:
    """min sum |x - w| with x.p2 >= x.p1 and x.p1 <= 6: scipy on the programme of differences."""
    readings = CASES["the subject is capped"]
    p1, p2 = (np.array([readings[name][i] for name in "xyz"]) for i in range(2))
    rows = np.array([p1 - p2, p1])
    found = linprog(
        np.ones(6),
        A_ub=np.hstack([rows, -rows]),
        b_ub=np.array([0.0, 6.0]) - rows @ STATED,
        A_eq=[[1, 1, 1, -1, -1, -1]],
        b_eq=[0.0],
        bounds=[(0, None)] * 3 + [(0, w) for w in STATED],
    )
    change = flipped(**readings).least(ABSOLUTE)
    assert change is not None
    assert change.exact == pytest.approx(found.fun, abs=1e-8)


def test_one_weight_of_a_capped_subject_is_exact() -> None:
    """x falls from 0.5 until p1 has 6 of all: (9 w + 0.3 * 5 + 0.2 * 3) / (w + 0.5) = 6 at w = 0.3."""
    found = flipped(**CASES["the subject is capped"])
    change = found.least(ONE)
    assert change is not None
    by_name = {one.name: one for one in found.changes if one.kind == ONE}
    least = by_name["scores.q.weights.r"]
    assert least.verdict == "proved"
    assert 0.5 + least.exact == pytest.approx(0.3, abs=1e-9)


def test_a_cap_that_every_rival_part_is_above_is_proved_out_of_reach() -> None:
    """p1 has more than 6 in every part, p2 never."""
    found = flipped(x=[9.0, 8.0], y=[7.0, 9.0], z=[6.5, 9.0], c=[9.0, 3.0])
    verdicts = {change.kind: (change.verdict, change.why) for change in found.changes}
    assert verdicts[ABSOLUTE] == ("impossible", "p1 (against the cap of 6) is better in every part")
    assert verdicts[ONE][0] == "impossible"


def test_first_of_several_of_which_some_are_capped() -> None:
    """Against p1 capped at 5, p3 at 6 and p4 free: as far as the lattice can tell there is nothing nearer."""
    readings = {
        "x": [9.5, 2.0, 9.0, 8.0],
        "y": [9.0, 5.0, 8.0, 4.0],
        "z": [9.0, 9.0, 7.0, 5.0],
        "c": [1.0, 9.0, 3.0, 9.0],
    }
    change = flipped(None, **readings).least(ABSOLUTE)
    values = scores_at(LATTICE, **readings)
    turned = LATTICE[values[:, 1] >= values.max(axis=1) - 1e-12]
    lengths = np.abs(turned - STATED).sum(axis=1)
    assert change is not None
    assert change.verdict == "proved"
    assert lengths.min() - 0.03 <= change.exact <= lengths.min() + 1e-9
