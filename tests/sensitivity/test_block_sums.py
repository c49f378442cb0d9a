"""Sums by block and the indices that they stand for, against plain formulas over every row."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from analysis.sensitivity import block_sums, sobol
from analysis.sensitivity.block_sums import Sums, near_mean
from analysis.sensitivity.sobol import Indices, indices

Array = NDArray[np.float64]
NAN = float("nan")
BLOCKS, ROWS, OUTPUTS = 5, 6, 4
PAIRED = (2, 0, 1)


@dataclass(frozen=True)
class Outputs:
    """Outputs by chance: of both base samples, and of each of three swaps both ways round."""

    a: Array
    b: Array
    abs_: list[Array]
    bas: list[Array]


def outputs_of(seed: int, rows: int = ROWS) -> Outputs:
    """About 7, of different spreads; the swaps lean on both samples, so that indices are neither 0 nor 1."""
    rng = np.random.default_rng(seed)
    a, b = rng.normal(7, [1, 2, 3, 0.5], (2, BLOCKS * rows, OUTPUTS))
    shares = (0.2, 0.5, 0.7)
    noise = rng.normal(0, 0.3, (2, 3, *a.shape))
    abs_ = [a + share * (b - a) + n for share, n in zip(shares, noise[0], strict=True)]
    bas = [b + share * (a - b) + n for share, n in zip(shares, noise[1], strict=True)]
    return Outputs(a, b, abs_, bas)


def sums_of(of: Outputs, shift: Array, paired: tuple[int, ...] = PAIRED) -> Sums:
    """The outputs, taken in."""
    sums = Sums(shift, 3, paired, BLOCKS, design="these rows")
    a, b = sums.add_base(of.a, of.b, design="these rows")
    abs_ = [sums.add_swap(swap, ab, a, b) for swap, ab in enumerate(of.abs_)]
    if paired:
        sums.add_second([abs_[swap] for swap in paired], [sums.centred(of.bas[swap]) for swap in paired], a, b)
    return sums


def plain(of: Outputs, rows: Array, centre: Array) -> tuple[Array, Array, Array, Array, Array]:
    """First, total, second, mean and variance over some rows, by the formulas as they are written."""
    a, b = of.a[rows], of.b[rows]
    mean = (a.mean(axis=0) + b.mean(axis=0)) / 2
    variance = ((a - mean) ** 2 + (b - mean) ** 2).mean(axis=0) / 2
    abs_, bas = ([values[rows] for values in side] for side in (of.abs_, of.bas))
    first = np.array([((b - centre) * (ab - a)).mean(axis=0) / variance for ab in abs_])
    total = np.array([((a - ab) ** 2).mean(axis=0) / (2 * variance) for ab in abs_])
    second = []
    for j, k in combinations(PAIRED, 2):
        joint = ((bas[j] - centre) * (abs_[k] - centre) - (a - centre) * (b - centre)).mean(axis=0) / variance
        second.append(joint - first[j] - first[k])
    return first, total, np.array(second), mean, variance


def all_rows(of: Outputs, paired: bool) -> Array:
    """The mean of all outputs that were taken in."""
    return np.concatenate([of.a, of.b, *of.abs_, *(of.bas if paired else ())]).mean(axis=0)


def by_hand(of: Outputs, seed: int, resamples: int, level: float, paired: bool = True) -> dict[str, Array]:
    """Estimates and interval ends, a resample at a time."""
    centre = all_rows(of, paired)
    whole = np.arange(len(of.a))
    first, total, second, mean, variance = plain(of, whole, centre)
    found = {"first": first, "total": total, "second": second, "mean": mean, "variance": variance}
    rng = np.random.default_rng(seed)
    t = stats.t.ppf((1 + level) / 2, BLOCKS - 1)
    p = stats.norm.cdf(t * np.sqrt(BLOCKS / (BLOCKS - 1)))
    drawn = []
    for counts in rng.multinomial(BLOCKS, np.full(BLOCKS, 1 / BLOCKS), size=resamples):
        rows = np.concatenate([whole.reshape(BLOCKS, -1)[block] for block in np.repeat(np.arange(BLOCKS), counts)])
        *orders, _, moved = plain(of, rows, centre)
        drawn.append([np.where(moved > 1e-9 * variance, order, NAN) for order in orders])
    for name, values in zip(("first", "total", "second"), zip(*drawn, strict=True), strict=True):
        low, high = (
            np.quantile(np.nan_to_num(np.array(values), nan=end), q, axis=0) for end, q in ((0, 1 - p), (1, p))
        )
        found |= {f"{name}_low": low, f"{name}_high": high}
    return found


NAMES = [name + end for name in ("first", "total", "second") for end in ("", "_low", "_high")]


@pytest.mark.parametrize("shift", [0.0, 6.5], ids=["no shift", "shifted"])
@pytest.mark.parametrize("level", [0.9, 0.95])
def test_indices_and_intervals_are_those_of_the_formulas_over_every_row(shift: float, level: float) -> None:
    """First, total and second order; the second is between pairs of the paired swaps, in their order."""
    of = outputs_of(3)
    sums = sums_of(of, np.full(OUTPUTS, shift))
    found = indices(sums, design="these rows", resamples=41, level=level, rng=np.random.default_rng(8))
    for name, expected in by_hand(of, 8, 41, level).items():
        np.testing.assert_allclose(getattr(found, name), expected, rtol=1e-9, atol=1e-9, err_msg=name)
    assert found.reacts.tolist() == [True] * OUTPUTS
    assert found.lost.tolist() == [0] * OUTPUTS
    assert found.rows == ROWS


def test_without_pairs_there_is_no_second_order() -> None:
    """First and total stand; the mean of all rows is of fewer."""
    of = outputs_of(4)
    found = indices(sums_of(of, np.zeros(OUTPUTS), ()), design="these rows", resamples=19, rng=np.random.default_rng(2))
    assert found.second is found.second_low is found.second_high is None
    expected = by_hand(of, 2, 19, 0.95, paired=False)
    for name in NAMES[:6]:
        np.testing.assert_allclose(getattr(found, name), expected[name], rtol=1e-9, atol=1e-9, err_msg=name)


def same(one: Indices, other: Indices, of: slice = slice(None)) -> None:
    """Every number of one is that of some outputs of the other."""
    for name in NAMES:
        np.testing.assert_allclose(getattr(one, name), getattr(other, name)[..., of], rtol=1e-12, err_msg=name)
    for name in ("mean", "variance", "lost"):
        np.testing.assert_allclose(getattr(one, name), getattr(other, name)[of], rtol=1e-12, err_msg=name)


def test_outputs_in_pieces_are_outputs_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sums of a block at a time, indices of an output at a time, and of the outputs asked for."""
    of, shift = outputs_of(5), np.array([7.0, 6.0, 5.0, 7.5])
    sums = sums_of(of, shift)
    whole = indices(sums, design="these rows", resamples=23, rng=np.random.default_rng(1))
    some = indices(sums, design="these rows", resamples=23, rng=np.random.default_rng(1), of=slice(1, 3))
    same(some, whole, slice(1, 3))
    for held in (1, 23 * 3, 23 * 3 * 2, 23 * 3 * 3):
        monkeypatch.setattr(sobol, "HELD", held)
        same(indices(sums, design="these rows", resamples=23, rng=np.random.default_rng(1)), whole)
    for piece in (1, ROWS * OUTPUTS, 2 * ROWS * OUTPUTS, 3 * ROWS * OUTPUTS):
        monkeypatch.setattr(block_sums, "PIECE", piece)
        again = sums_of(of, shift)
        for name, values in sums.parts.items():
            np.testing.assert_allclose(again.parts[name], values, rtol=1e-12, atol=1e-12, err_msg=name)


def test_pieces_are_as_many_blocks_as_the_cache_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    """Room for 12: of blocks of 2 rows and 3 outputs, 2 at a time; of larger ones, one; of those that hold nothing, 12."""
    monkeypatch.setattr(block_sums, "PIECE", 12)
    assert block_sums._pieces((5, 2, 3)) == [slice(0, 2), slice(2, 4), slice(4, 6)]
    assert block_sums._pieces((2, 5, 3)) == [slice(0, 1), slice(1, 2)]
    assert block_sums._pieces((5, 0, 3)) == block_sums._pieces((5, 1, 1)) == [slice(0, 12)]


def test_sums_are_added_to() -> None:
    """Two lots of rows in a block one after the other: the same sums as of both, and as many rows and swaps."""
    one, two = outputs_of(6), outputs_of(7, 3)
    sums = sums_of(one, np.full(OUTPUTS, 7.0))
    a, b = sums.add_base(two.a, two.b, design="these rows")
    abs_ = [sums.add_swap(swap, ab, a, b) for swap, ab in enumerate(two.abs_)]
    sums.add_second([abs_[swap] for swap in PAIRED], [sums.centred(two.bas[swap]) for swap in PAIRED], a, b)
    for name in sums.parts:
        apart = [sums_of(each, np.full(OUTPUTS, 7.0)).parts[name] for each in (one, two)]
        np.testing.assert_allclose(sums.parts[name], apart[0] + apart[1], rtol=1e-9, atol=1e-9, err_msg=name)
    assert (sums.rows, sums.taken.tolist()) == (ROWS + 3, [ROWS + 3] * 3)


def test_what_is_lost_is_counted_by_output_each_time_it_is_looked_at() -> None:
    """Three values of the first output and one of the last, then once more; the shift is taken off the rest."""
    sums = Sums(np.array([1.0, 2.0]), 0, n_blocks=2, design="these rows")
    values = np.array([[NAN, 5.0], [np.inf, 6.0], [-np.inf, 7.0], [9.0, NAN]])
    expected = [[[NAN, 3.0], [NAN, 4.0]], [[NAN, 5.0], [8.0, NAN]]]
    np.testing.assert_array_equal(sums.centred(values), expected)
    assert sums.lost.tolist() == [3, 1]
    sums.centred(values)
    assert sums.lost.tolist() == [6, 2]


def test_a_mean_near_leaves_out_what_is_not_finite() -> None:
    """(1 + 5)/2 of the first, the one of the second, and 0 where there is none."""
    values = np.array([[1.0, NAN, NAN], [5.0, 4.0, np.inf], [np.inf, NAN, NAN]])
    assert near_mean(values).tolist() == [3, 4, 0]


def test_a_resample_without_movement_counts_as_0_below_and_as_1_above() -> None:
    """An output that moves in one block alone, but for dust: a third of the resamples tell nothing of it."""
    of = outputs_of(9)
    still = np.arange(len(of.a)) >= ROWS
    for values in (of.a, of.b, *of.abs_, *of.bas):
        values[still] = 7 + 1e-7 * (values[still] - 7)
    found = indices(sums_of(of, np.full(OUTPUTS, 7.0)), design="these rows", resamples=47, rng=np.random.default_rng(1))
    assert found.reacts.all()
    for name, expected in by_hand(of, 1, 47, 0.95).items():
        np.testing.assert_allclose(getattr(found, name), expected, rtol=1e-6, atol=1e-6, err_msg=name)


def test_the_ends_of_an_interval_by_hand() -> None:
    """At 0.9 of four steps: 3.6 from the low end and 0.4; what is not known is 0 for the low end and 1 for the high one."""
    low, high = sobol._quantiles(np.array([[0.6, NAN, 0.2, 0.8, 0.4], [5.0, 1.0, 2.0, 4.0, 3.0], [7.0] * 5]), 0.9)
    assert low == pytest.approx([0.08, 1.4, 7.0])
    assert high == pytest.approx([0.92, 4.6, 7.0])
    assert np.concatenate(sobol._quantiles(np.array([[3.0, 5.0, 1.0, 4.0, 2.0]]), 0.7)) == pytest.approx([2.2, 3.8])
    assert [end.tolist() for end in sobol._quantiles(np.array([[3.0, 1.0, 2.0]]), 1.0)] == [[1], [3]]


def test_whether_an_output_reacts_is_judged_by_its_size() -> None:
    """Outputs of a millionth of a billionth have the same indices; a spread of 1 about a million million is rounding."""
    of = outputs_of(3)
    small, large = (
        Outputs(
            *(factor * one + offset for one in (of.a, of.b)),
            *([factor * v + offset for v in side] for side in (of.abs_, of.bas)),
        )
        for factor, offset in ((1e-15, 0.0), (1.0, 1e12))
    )
    of_small, of_plain = (
        indices(
            sums_of(each, shift * np.full(OUTPUTS, 7.0)), design="these rows", resamples=9, rng=np.random.default_rng(1)
        )
        for each, shift in ((small, 1e-15), (of, 1.0))
    )
    assert of_small.reacts.all()
    for name in NAMES:
        np.testing.assert_allclose(getattr(of_small, name), getattr(of_plain, name), rtol=1e-9, atol=1e-9, err_msg=name)
    about = indices(
        sums_of(large, np.full(OUTPUTS, 1e12)), design="these rows", resamples=9, rng=np.random.default_rng(1)
    )
    assert not about.reacts.any()
    assert all(np.isnan(getattr(about, name)).all() for name in NAMES)


def test_without_a_word_there_are_500_resamples_at_95_per_cent() -> None:
    """The stated defaults."""
    sums = sums_of(outputs_of(3), np.full(OUTPUTS, 7.0))
    stated = indices(sums, design="these rows", resamples=500, level=0.95, rng=np.random.default_rng(1))
    same(indices(sums, design="these rows", rng=np.random.default_rng(1)), stated)
