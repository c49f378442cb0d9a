"""The best set and the comparisons under it, from bounds and differences that are given."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from analysis.rankings import rank_sets
from analysis.rankings.rank_sets import _comparisons, tau_best


@pytest.mark.parametrize(
    ("places", "members", "unsure"),
    [(1, [True, True, False], [False, True, False]), (2, [True, True, False], [False, False, True])],
)
def test_the_best_set_is_of_those_whose_lower_bound_is_within_the_places(
    monkeypatch: pytest.MonkeyPatch, places: int, members: list[bool], unsure: list[bool]
) -> None:
    """By the middle of the band; who is in at one end of it only is unsure."""
    lows = np.array([[1, 2, 3], [1, 1, 3], [1, 1, 2]])
    criticals = np.array([[1.0, 2.0], [3.0, 4.0], [5.0, 6.0]])
    found = SimpleNamespace(bounds=lambda end: (lows[end], lows[end]), criticals=criticals)
    monkeypatch.setattr(rank_sets, "_compare", lambda *given, **asked: found)
    top = tau_best([3.0, 2.0, 1.0], [1.0] * 3, places, rng=np.random.default_rng(0), coverage=0.9)
    assert (top.places, top.coverage, top.critical) == (places, 0.9, 3.0)
    assert top.members.tolist() == members
    assert top.unsure.tolist() == unsure


def test_a_comparison_has_the_order_of_its_estimates() -> None:
    """Of product 1 with 0, 2 and 3: behind by 4, ahead by a half at a standard error of a half; with 3 there is no error."""
    values = np.array([9.0, 5.0, 4.5, 1.0])
    gaps = values[:, None] - values
    spreads = np.array([[0, 2, 1, 1], [2, 0, 0.5, 0], [1, 0.5, 0, 1], [1, 0, 1, 0.0]])
    leads = np.abs(gaps) / np.where(spreads > 0, spreads, 1.0)
    found = _comparisons(1, gaps, spreads, leads)
    assert (found.product, found.others.tolist()) == (1, [0, 2])
    assert found.weights.tolist() == [-0.5, 2.0]
    assert found.leads.tolist() == [2.0, 1.0]
