"""The smallest change of one weight, against the method's own arithmetic."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.flips.weights import one_weight

# Triantaphyllou E., Sanchez A., A sensitivity analysis approach for some deterministic multi-criteria decision-making
# methods, Decision Sciences 28(1), 1997, pages 151-194. Formula and input table from memory; the results are worked out here
# from them. The recalled weights sum to 1.0001, so this checks the arithmetic and is not the paper's own table.
WEIGHTS = np.array([0.3277, 0.3058, 0.2876, 0.0790])
PARTS = np.array(
    [
        [0.3088, 0.2897, 0.3867, 0.1922],
        [0.2163, 0.3458, 0.1755, 0.6288],
        [0.4509, 0.2473, 0.1194, 0.0575],
        [0.0240, 0.1172, 0.3184, 0.1215],
    ]
)
NONE = float("nan")
#: delta_k = (P_i - P_j) / (a_ik - a_jk), the weight becoming w_k - delta_k; nan where that is below 0.
DELTAS = {
    "A1A2": [NONE, -0.7024, 0.1866, -0.0903],
    "A2A3": [-0.0618, 0.1473, 0.2586, 0.0254],
    "A3A4": [0.2750, NONE, -0.5899, -1.8342],
}
PERCENT = {"A1A2": [NONE, -229.7, 64.88, -114.25], "A2A3": [-18.87, 48.17, 89.93, 32.15]}


def changes(pair: str) -> list[float]:
    """The change of each weight by which the second of a pair ties with the first, in the source's sign."""
    first, second = (int(digit) - 1 for digit in pair[1::2])
    gaps = (PARTS[second] - PARTS[first])[np.newaxis]
    found = [one_weight(WEIGHTS, gaps, part)[0] for part in range(4)]
    return [NONE if change is None else -change for change in found]


def test_scores_of_the_recalled_table() -> None:
    """The weighted sums that the changes are about (worked out here; to 5e-4)."""
    assert pytest.approx([0.31618, 0.27678, 0.26227, 0.14487], abs=5e-4) == PARTS @ WEIGHTS


@pytest.mark.parametrize("pair", DELTAS)
def test_absolute_changes(pair: str) -> None:
    """To 5e-4; nan where the weight would have to be below 0."""
    assert changes(pair) == pytest.approx(DELTAS[pair], abs=5e-4, nan_ok=True)


@pytest.mark.parametrize("pair", PERCENT)
def test_changes_in_percent_of_the_weight(pair: str) -> None:
    """To 0.02."""
    assert 100 * np.array(changes(pair)) / WEIGHTS == pytest.approx(PERCENT[pair], abs=0.02, nan_ok=True)


def test_the_smallest_changes_of_all() -> None:
    """The least of any pair is A2 and A3 by the first weight, the least that touches the winner A1 and A2 by the third."""
    pairs = ["A1A2", "A1A3", "A1A4", "A2A3", "A2A4", "A3A4"]
    percent = {(pair, k): 100 * d / WEIGHTS[k] for pair in pairs for k, d in enumerate(changes(pair)) if d == d}
    least = min(percent, key=lambda key: abs(percent[key]))
    top = min((key for key in percent if "A1" in key[0]), key=lambda key: abs(percent[key]))
    assert (least, top) == (("A2A3", 0), ("A1A2", 2))
    assert (percent[least], percent[top]) == pytest.approx((-18.87, 64.88), abs=0.02)
