"""Benches' own workbooks, made by chance: the draft reads each kind of layout to the truth."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from extent import examples
from messy_layouts import LAYOUTS, Layout, differences

from analysis.draft.findings import findings_of


@pytest.mark.parametrize("make", LAYOUTS, ids=lambda one: one.__name__)
def test_layouts_are_read_to_the_truth(make: Callable[[np.random.Generator], Layout]) -> None:
    """Header, products, measures with units and repeats, sessions, words, slips: all as a person would say."""
    number = LAYOUTS.index(make)
    for seed in range(examples(12)):
        layout = make(np.random.default_rng([number, seed]))
        assert list(differences(layout, findings_of(layout.tables()))) == [], seed
