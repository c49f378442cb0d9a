"""Sums by block and the indices that they stand for, against plain formulas over every row."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from analysis.indices import block_sums, sobol
from analysis.indices.block_sums import Sums, near_mean
from analysis.indices.sobol import Indices, indices

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
    take(sums, of)
    return sums


def take(sums: Sums, of: Outputs) -> None:
    """Take outputs in."""
    a, b = sums.add_base(of.a, of.b, design="these rows")
    both = [sums.add_swap(swap, ab, ba, a, b) for swap, (ab, ba) in enumerate(zip(of.abs_, of.bas, strict=True))]
    if sums.paired:
        sums.add_second([both[swap][0] for swap in sums.paired], [both[swap][1] for swap in sums.paired])


def plain(of: Outputs, rows: Array) -> tuple[Array, Array, Array]:
    """First, total and second order over some rows, by the formulas as they are written."""
    a, b = of.a[rows], of.b[rows]
    abs_, bas = ([values[rows] for values in side] for side in (of.abs_, of.bas))
    scales = [((a - b) ** 2 + (ba - ab) ** 2).sum(axis=0) for ab, ba in zip(abs_, bas, strict=True)]
    each = list(zip(abs_, bas, scales, strict=True))
    first = np.array([2 * ((ba - b) * (a - ab)).sum(axis=0) / scale for ab, ba, scale in each])
    total = np.array([((b - ba) ** 2 + (a - ab) ** 2).sum(axis=0) / scale for ab, ba, scale in each])
    second = []
    for j, k in combinations(PAIRED, 2):
        # a swap of both: AB_k, AB_j, BA_k and BA_j as A, AB, B and BA
        scale = ((abs_[k] - bas[k]) ** 2 + (bas[j] - abs_[j]) ** 2).sum(axis=0)
        closed = 2 * ((bas[j] - bas[k]) * (abs_[k] - abs_[j])).sum(axis=0) / scale
        second.append(closed - first[j] - first[k])
    return first, total, np.array(second)


def by_hand(of: Outputs, level: float) -> dict[str, Array]:
    """Estimates and interval ends, leaving out a block at a time."""
    whole = np.arange(len(of.a))
    found = dict(zip(("first", "total", "second"), plain(of, whole), strict=True))
    blocks = whole.reshape(BLOCKS, -1)
    without = zip(*(plain(of, np.delete(blocks, block, axis=0).ravel()) for block in range(BLOCKS)), strict=True)
    apart = (of.a - of.b) ** 2
    alike = apart.sum(axis=0) ** 2 / (apart**2).sum(axis=0)
    reach = stats.t.ppf((1 + level) / 2, np.minimum(alike, BLOCKS) - 1)
    for name, values in zip(("first", "total", "second"), map(np.array, without), strict=True):
        half = reach * np.sqrt((BLOCKS - 1) / BLOCKS * ((values - values.mean(axis=0)) ** 2).sum(axis=0))
        found |= {f"{name}_low": found[name] - half, f"{name}_high": found[name] + half}
    both = np.concatenate([of.a, of.b])
    return found | {"mean": both.mean(axis=0), "variance": both.var(axis=0)}


NAMES = [name + end for name in ("first", "total", "second") for end in ("", "_low", "_high")]


@pytest.mark.parametrize("shift", [0.0, 6.5], ids=["no shift", "shifted"])
@pytest.mark.parametrize("level", [0.9, 0.95])
def test_indices_and_intervals_are_those_of_the_formulas_over_every_row(
    shift: float, level: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """First, total and second order; the second is between pairs of the paired swaps, in their order."""
    monkeypatch.setattr(sobol, "SELDOM", 0)
    of = outputs_of(3)
    found = indices(sums_of(of, np.full(OUTPUTS, shift)), design="these rows", level=level)
    for name, expected in by_hand(of, level).items():
        np.testing.assert_allclose(getattr(found, name), expected, rtol=1e-9, atol=1e-9, err_msg=name)
    assert found.reacts.tolist() == [True] * OUTPUTS
    assert found.lost.tolist() == [0] * OUTPUTS
    assert found.rows == ROWS


def test_where_few_rows_moved_intervals_reach_as_far_as_their_number_leaves_open() -> None:
    """Poisson's limits of the number of rows of one size that would make the same sums; where blocks say more, they stand."""
    of = outputs_of(3)
    found, by_blocks = indices(sums_of(of, np.zeros(OUTPUTS)), design="these rows"), by_hand(of, 0.95)
    for swap, (ab, ba) in enumerate(zip(of.abs_, of.bas, strict=True)):
        scale = ((of.a - of.b) ** 2 + (ba - ab) ** 2).sum(axis=0)
        sizes, product = np.concatenate([of.a - ab, of.b - ba]) ** 2, np.abs((of.a - ab) * (ba - of.b))
        rows, size = sizes.sum(axis=0) ** 2 / (sizes**2).sum(axis=0), (sizes**2).sum(axis=0) / sizes.sum(axis=0)
        few = rows < 2 * BLOCKS
        low = stats.chi2.ppf(0.025, 2 * rows) / 2 * size / scale
        high = stats.chi2.ppf(0.975, 2 * rows + 2) / 2 * size / scale
        total = found.total[swap]
        np.testing.assert_allclose(rows * size / scale, total)
        wanted = np.where(few, np.minimum(low, by_blocks["total_low"][swap]), by_blocks["total_low"][swap])
        np.testing.assert_allclose(found.total_low[swap], wanted)
        wanted = np.where(few, np.maximum(high, by_blocks["total_high"][swap]), by_blocks["total_high"][swap])
        np.testing.assert_allclose(found.total_high[swap], wanted)
        rows = product.sum(axis=0) ** 2 / (product**2).sum(axis=0)
        size = (product**2).sum(axis=0) / product.sum(axis=0)
        more = np.where(rows < 2 * BLOCKS, stats.chi2.ppf(0.975, 2 * rows + 2) / 2 - rows, 0) * 2 * size / scale
        np.testing.assert_allclose(
            found.first_high[swap], np.maximum(by_blocks["first_high"][swap], found.first[swap] + more)
        )
        np.testing.assert_allclose(
            found.first_low[swap], np.minimum(by_blocks["first_low"][swap], found.first[swap] - more)
        )


def test_without_pairs_there_is_no_second_order(monkeypatch: pytest.MonkeyPatch) -> None:
    """First and total stand."""
    monkeypatch.setattr(sobol, "SELDOM", 0)
    of = outputs_of(4)
    found = indices(sums_of(of, np.zeros(OUTPUTS), ()), design="these rows")
    assert found.second is found.second_low is found.second_high is None
    expected = by_hand(of, 0.95)
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
    whole = indices(sums, design="these rows")
    same(indices(sums, design="these rows", of=slice(1, 3)), whole, slice(1, 3))
    for held in (1, BLOCKS * 3, BLOCKS * 3 * 2, BLOCKS * 3 * 3):
        monkeypatch.setattr(sobol, "HELD", held)
        same(indices(sums, design="these rows"), whole)
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
    take(sums, two)
    for name in sums.parts:
        apart = [sums_of(each, np.full(OUTPUTS, 7.0)).parts[name] for each in (one, two)]
        np.testing.assert_allclose(sums.parts[name], apart[0] + apart[1], rtol=1e-9, atol=1e-9, err_msg=name)
    for name in sums.tails:
        apart = [sums_of(each, np.full(OUTPUTS, 7.0)).tails[name] for each in (one, two)]
        np.testing.assert_allclose(sums.tails[name], apart[0] + apart[1], rtol=1e-9, atol=1e-9, err_msg=name)
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


def test_an_output_that_moves_in_one_block_alone_may_have_any_index() -> None:
    """But for dust: without that block nothing is known of it, and intervals hold 0 and 1."""
    of = outputs_of(9)
    still = np.arange(len(of.a)) >= ROWS
    for values in (of.a, of.b, *of.abs_, *of.bas):
        values[still] = 7 + 1e-7 * (values[still] - 7)
    found = indices(sums_of(of, np.full(OUTPUTS, 7.0)), design="these rows")
    assert found.reacts.all()
    for name in ("first", "total"):
        low, value, high = (getattr(found, name + end) for end in ("_low", "", "_high"))
        assert np.isfinite(value).all()
        assert (low <= np.minimum(value, 0)).all()
        assert (high >= np.maximum(value, 1)).all()


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
        indices(sums_of(each, shift * np.full(OUTPUTS, 7.0)), design="these rows")
        for each, shift in ((small, 1e-15), (of, 1.0))
    )
    assert of_small.reacts.all()
    for name in NAMES:
        np.testing.assert_allclose(getattr(of_small, name), getattr(of_plain, name), rtol=1e-9, atol=1e-9, err_msg=name)
    about = indices(sums_of(large, np.full(OUTPUTS, 1e12)), design="these rows")
    assert not about.reacts.any()
    assert all(np.isnan(getattr(about, name)).all() for name in NAMES)


def test_without_a_word_intervals_are_at_95_per_cent() -> None:
    """The stated default."""
    sums = sums_of(outputs_of(3), np.full(OUTPUTS, 7.0))
    same(indices(sums, design="these rows"), indices(sums, design="these rows", level=0.95))
