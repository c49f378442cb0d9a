"""How variance falls with readings, and the best shares of readings among measures: by hand and against every share there is."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.next_readings.falling import Falling


def of_means(parts: list[list[float]], readings: list[int], most: int) -> Falling:
    """Measures whose repeats are averaged: n of n + r is left."""
    now = np.array(readings)[:, np.newaxis] * np.ones((1, len(parts[0])), np.int64)
    kept = now[:, :, np.newaxis] / (now[:, :, np.newaxis] + np.arange(most + 1))
    return Falling(tuple("abcdef"[: len(parts)]), now, np.array(parts), kept)


def test_the_fall_by_hand() -> None:
    """Of 0.6 read twice, two more readings leave half; of 0.4 read once, one more leaves half: 0.3 + 0.2."""
    falling = of_means([[0.6], [0.4]], [2, 1], 4)
    assert falling.fall(np.array([[2], [1]])).tolist() == [pytest.approx(0.5)]
    assert falling.fall(np.zeros((2, 1), np.int64)).tolist() == [0.0]


@given(parts=st.lists(st.floats(0, 1), min_size=1, max_size=3), seed=st.integers(0, 2**20), total=st.integers(0, 6))
def test_no_share_of_the_readings_is_better(parts: list[float], seed: int, total: int) -> None:
    """Against all of them, also where a reading helps less than the one after it."""
    rng = np.random.default_rng(seed)
    kept = np.sort(rng.uniform(0, 1, (len(parts), 1, 7)), axis=2)[:, :, ::-1]
    kept[:, :, 0] = 1.0
    falling = Falling(tuple("abc"[: len(parts)]), np.ones((len(parts), 1), np.int64), np.array(parts)[:, None], kept)
    shares = falling.shared_out(0, 6)
    every = (one for one in itertools.product(range(total + 1), repeat=len(parts)) if sum(one) == total)
    best = max(float(falling.fall(np.array(one)[:, np.newaxis])[0]) for one in every)
    assert shares.falls[total] == pytest.approx(best)
    chosen = shares.readings(total)
    assert chosen.sum() <= total  # what helps nothing is not read
    assert float(falling.fall(chosen[:, np.newaxis])[0]) == pytest.approx(best)
