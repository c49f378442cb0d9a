"""Sums, indices and designs: what they do with outputs that trap others, and what they refuse."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from counted import calls_of
from numpy.typing import NDArray
from sampled import design_of, each_alone, found_of, number_of, sample_of, study_of, sums_of

from analysis.indices.design import BaseSample, Design, Swap
from analysis.indices.sobol import BLOCKS, Indices, Sums, indices, near_mean
from analysis.study.distributions import Uniform, normal_scores
from analysis.study.moves import NoiseMove
from analysis.study.study import Factor
from scoring.measurement_error import ErrorModel

Array = NDArray[np.float64]
NAN, INF = float("nan"), float("inf")
NOISE = NoiseMove(
    Factor("readings", "bench noise", "readings", "", "", "normal", "", "test", columns=0),
    ErrorModel.of_values({"m": [1.0] * 3, "n": [1.0] * 3}),
)


def found(model: object, moves: int = 2, points: int = 32, **options: object) -> Indices:
    """Indices of a model of `moves` uniform columns."""
    return found_of(sample_of(model, design_of(moves, points)), **options)  # type: ignore[arg-type]


def ends(of: Indices) -> Iterator[Array]:
    """Every array of indices and ends of intervals, shape (swaps, q)."""
    for kind in ("first", "total"):
        for end in ("", "_low", "_high"):
            yield getattr(of, kind + end)


@pytest.mark.parametrize("value", [0.0, 1.0, 0.1, -7.3e9, 1e-200])
def test_a_constant_output_does_not_react_and_warns_of_nothing(value: float) -> None:
    """No index is made of rounding: all are NaN, and `reacts` says why."""
    of = found(lambda unit: np.full((len(unit), 1), value))
    assert not of.reacts[0]
    assert of.mean[0] == pytest.approx(value, rel=1e-14)
    assert all(np.isnan(array).all() for array in ends(of))


def test_rounding_is_no_reaction() -> None:
    """A mean of alike values whose weights vary is one value and dust, in the last bits."""
    of = found(lambda unit: (7.3 * unit[:, :1] + 7.3 * unit[:, 1:]) / (unit[:, :1] + unit[:, 1:]))
    assert not of.reacts[0]


def test_a_small_movement_about_a_large_mean_is_not_lost() -> None:
    """1e6 and a thousandth: the same indices as of the movement alone."""
    alone = found(lambda unit: unit @ [[2.0], [1.0]])
    shifted = found(lambda unit: 1e6 + 1e-3 * (unit @ [[2.0], [1.0]]))
    assert shifted.reacts[0]
    assert shifted.variance[0] == pytest.approx(1e-6 * alone.variance[0], rel=1e-6)
    for one, other in zip(ends(shifted), ends(alone), strict=True):
        np.testing.assert_allclose(one, other, rtol=0, atol=1e-6)


@pytest.mark.parametrize("bad", [NAN, INF, -INF], ids=str)
def test_what_is_not_finite_is_counted_and_gives_no_index(bad: float) -> None:
    """Of that output alone: its neighbour has the indices that it has without it; no warning."""

    def model(unit: Array) -> Array:
        good = unit[:, 0] + unit[:, 1]
        return np.stack([np.where(unit[:, 0] > 0.75, bad, good), good], axis=1)

    of, alone = found(model, second=True), found(lambda unit: (unit[:, 0] + unit[:, 1])[:, None], second=True)
    sample = sample_of(model, design_of(2, 32))
    every = [sample.a, sample.b, *sample.ab, *sample.ba]
    assert of.lost.tolist() == [sum(int((~np.isfinite(each[:, 0])).sum()) for each in every), 0]
    assert of.reacts.tolist() == [False, True]
    for array, other in zip(ends(of), ends(alone), strict=True):
        assert np.isnan(array[:, 0]).all()
        np.testing.assert_allclose(array[:, 1], other[:, 0], rtol=0, atol=1e-12)
    assert of.second is not None
    assert np.isnan(of.second[:, 0]).all()


def test_a_factor_without_effect_has_an_index_of_exactly_0_and_an_interval_for_what_was_not_seen() -> None:
    """At most 3.69 rows in 512 can have gone unseen at 97.5 %, each as large as a change between both samples: 1.85 / 512."""
    of = found(lambda unit: np.exp(unit[:, :1]))
    assert of.first[1, 0] == of.total[1, 0] == of.total_low[1, 0] == 0.0
    assert of.total_high[1, 0] == pytest.approx(1.85 / 512, rel=0.05)
    assert of.first_high[1, 0] == -of.first_low[1, 0] == pytest.approx(2 * 1.85 / 512, rel=0.05)


def test_what_a_factor_does_in_few_rows_is_left_open_by_their_number() -> None:
    """It moves a yes or no in about one row of a hundred: intervals of its total hold its share, a third of 0.02.

    Of 400 studies of 256 base points all do; by the scatter of blocks alone, which may all show nothing, 82 %.
    """

    def seldom(unit: Array) -> Array:
        return np.asarray((unit[:, :1] < 0.5 + 0.01 * (unit[:, 1:] - 0.5)).astype(float))

    held = []
    for seed in range(40):
        of = found_of(sample_of(seldom, design_of(2, 16, seed=seed)))
        held.append(of.total_low[1, 0] <= 0.02 / 3 <= of.total_high[1, 0])
    assert np.mean(held) >= 0.93


def test_an_index_below_0_by_noise_is_kept_as_it_is() -> None:
    """Of an input that works by interactions alone the first-order index is 0, and its estimates fall to both sides."""
    firsts = []
    for seed in range(20):
        of = found_of(sample_of(lambda unit: (unit[:, :1] - 0.5) * (unit[:, 1:] - 0.5), design_of(2, 8, seed=seed)))
        firsts.append(of.first[0, 0])
        assert of.first_low[0, 0] <= 0.3
    assert min(firsts) < 0 < max(firsts)


def test_one_factor_alone_moves_everything() -> None:
    """k = 1: first order and total are 1, and no second order is asked for."""
    of = found(lambda unit: np.sin(unit), moves=1, points=256, second=True)
    assert of.first[0, 0] == pytest.approx(1, abs=0.01)
    assert of.total[0, 0] == pytest.approx(1, abs=0.01)
    assert of.second is not None
    assert of.second.shape == (0, 1)


def test_one_group_of_all_factors_moves_everything() -> None:
    """A swap of the whole sample is the other sample: both indices are 1."""
    sample = sample_of(lambda unit: unit[:, :1] * unit[:, 1:], design_of(2, 256, groups=[["x1", "x2"]]))
    of = found_of(sample)
    np.testing.assert_array_equal(sample.ab[0], sample.b)
    assert of.first[0, 0] == pytest.approx(1, abs=1e-12)
    assert of.total[0, 0] == pytest.approx(1, abs=1e-12)


def test_nothing_that_varies_makes_empty_indices() -> None:
    """No swaps: means and variances are there all the same."""
    design = design_of([], 8)
    of = found_of(sample_of(lambda unit: np.arange(len(unit))[:, None] * 1.0, design))
    assert of.first.shape == of.total_low.shape == (0, 1)
    assert of.variance[0] > 0


def test_what_hardly_ever_happens_has_an_interval_that_says_so() -> None:
    """An output that moves in one block: without it it does not move, and so nothing is known of it."""
    sample = sample_of(lambda unit: np.zeros((len(unit), 1)), design_of(2, 8))
    sample.a[5, 0] = 1.0
    of = found_of(sample)
    assert of.reacts[0]
    assert (of.total_low[:, 0] <= 0).all()
    assert (of.total_high[:, 0] >= 1).all()
    assert all(np.isfinite(array).all() for array in ends(of))


def test_intervals_have_two_ends_of_their_own_and_answer_to_the_level() -> None:
    """A higher level is wider at either end; the estimate lies inside."""
    sample = sample_of(lambda unit: unit[:, :1] * unit[:, 1:] ** 3, design_of(2, 32))
    sums = sums_of(sample)
    wide, narrow = (indices(sums, design=sample.design.sha256, level=level) for level in (0.99, 0.8))
    assert (wide.total_low < narrow.total_low).all()
    assert (wide.total_high > narrow.total_high).all()
    assert ((narrow.total_low < narrow.total) & (narrow.total < narrow.total_high)).all()


def test_an_output_is_the_same_alone_and_among_others() -> None:
    """`of` takes some of the outputs; a thousand of them come in pieces."""
    sample = sample_of(lambda unit: np.sin(np.arange(1, 1001) * unit[:, :1]) + unit[:, 1:], design_of(2, 8))
    sums = sums_of(sample)
    whole = indices(sums, design=sample.design.sha256)
    for of in (slice(700, 703), np.array([2, 999])):
        part = indices(sums, design=sample.design.sha256, of=of)
        for one, other in zip(ends(whole), ends(part), strict=True):
            np.testing.assert_allclose(one[:, of], other, rtol=0, atol=1e-12)


def test_near_mean_takes_what_is_finite() -> None:
    """0 where nothing is."""
    assert near_mean(np.array([[1.0, NAN, INF], [2.0, NAN, 4.0]])).tolist() == [1.5, 0.0, 4.0]


def run(design: Design, *, stops: tuple[int, ...] = (64,), rows: int = 64) -> Sums:
    """Sums of one model, taken in from stop to stop in pieces of some points; noise has a part in it."""

    def outputs(draws: object) -> Array:
        streams = draws.streams.get("readings", {"m": np.zeros((len(draws), 3))})  # type: ignore[attr-defined]
        return np.stack([normal_scores(draws.unit).sum(axis=1), streams["m"][:, 0] * draws.unit[:, 0]], axis=1)  # type: ignore[attr-defined]

    sums = Sums(np.zeros(2), len(design.swaps), design=design.sha256)
    start = 0
    for stop in stops:
        for one, other in design.pieces(start, stop, rows):
            a, b = sums.add_base(outputs(one), outputs(other), design=design.sha256)
            for number, swap in enumerate(design.swaps):
                ab, ba = (outputs(design.mixed(*pair, swap)) for pair in ((one, other), (other, one)))
                sums.add_swap(number, ab, ba, a, b)
        start = stop
    return sums


def noisy(seed: int = 0, points: int = 64) -> Design:
    """Two numbers, and the bench's noise of two measures of three products."""
    return design_of([number_of("x1"), NOISE, number_of("x2")], points, seed=seed)


@pytest.mark.parametrize("rows", [1, 3, 8, 64], ids="{} points at a time".format)
def test_the_size_of_pieces_changes_nothing(rows: int) -> None:
    """Draws are the same numbers, those from a generator too; sums differ by the order of addition only."""
    whole, pieces = run(noisy()), run(noisy(), rows=rows)
    assert whole.rows == pieces.rows == 64
    for name, part in whole.parts.items():
        np.testing.assert_allclose(pieces.parts[name], part, rtol=1e-12, atol=1e-12, err_msg=name)


def test_pieces_of_any_size_hold_the_same_draws() -> None:
    """Row by row: piece after piece is the whole, block by block."""
    design = noisy()
    whole = next(design.pieces(0, 24, 24))
    for side in (0, 1):
        cut = [pair[side] for pair in design.pieces(0, 24, 5)]
        joined = np.concatenate([draws.unit.reshape(BLOCKS, -1, 2) for draws in cut], axis=1)
        np.testing.assert_array_equal(joined.reshape(-1, 2), whole[side].unit)
        noise = np.concatenate([draws.streams["readings"]["n"].reshape(BLOCKS, -1, 3) for draws in cut], axis=1)
        np.testing.assert_array_equal(noise.reshape(-1, 3), whole[side].streams["readings"]["n"])


def test_doubling_a_sample_is_sampling_at_once() -> None:
    """8, 16, 32 and 64 points, one after the other."""
    once, doubled = run(noisy()), run(noisy(), stops=(8, 16, 32, 64), rows=7)
    for name, part in once.parts.items():
        np.testing.assert_allclose(doubled.parts[name], part, rtol=1e-12, atol=1e-12, err_msg=name)


def test_a_design_draws_no_more_points_than_it_has() -> None:
    """Nor backwards."""
    with pytest.raises(ValueError, match="points 0 to 65 of a design of 64 a block"):
        next(noisy().pieces(0, 65, 8))


def test_seed_0_is_a_seed() -> None:
    """Equal to itself, and different from seed 1, in columns and in noise."""
    zero, again, one = (next(noisy(seed).pieces(0, 8, 8))[0] for seed in (0, 0, 1))
    np.testing.assert_array_equal(zero.unit, again.unit)
    np.testing.assert_array_equal(zero.streams["readings"]["m"], again.streams["readings"]["m"])
    assert not np.isclose(zero.unit, one.unit).any()
    assert not np.isclose(zero.streams["readings"]["m"], one.streams["readings"]["m"]).any()


def test_base_samples_and_blocks_are_not_each_other() -> None:
    """No column of one is a column of another, and each is spread over 0 to 1 as a Sobol' sequence is."""
    one, other = next(design_of(2, 64).pieces(0, 64, 64))
    blocks = np.concatenate([one.unit.reshape(BLOCKS, 64, 2), other.unit.reshape(BLOCKS, 64, 2)], axis=2)
    columns = blocks.transpose(0, 2, 1).reshape(-1, 64)
    assert len(np.unique(columns, axis=0)) == len(columns)
    assert (np.sort((columns * 64).astype(int), axis=1) == np.arange(64)).all()


def base_of_design() -> Design:
    """Three numbers, each swapped."""
    return design_of(3, 16)


@pytest.mark.parametrize(
    "change",
    [
        pytest.param(lambda d: Design(d.study, d.swaps, d.points, 1), id="seed"),
        pytest.param(lambda d: Design(d.study, d.swaps, 32, d.seed), id="points"),
        pytest.param(lambda d: Design(d.study, d.swaps, d.points, d.seed, n_blocks=8), id="blocks"),
        pytest.param(lambda d: Design(d.study, d.swaps[:2], d.points, d.seed), id="fewer swaps"),
        pytest.param(lambda d: Design(d.study, d.swaps[::-1], d.points, d.seed), id="order of swaps"),
        pytest.param(lambda d: Design(d.study, (Swap("all", ("x1", "x2", "x3"), "group"),), 16, 0), id="groups"),
        pytest.param(lambda d: Design(study_of(3, [("x1", "x2", 0.5)]), d.swaps, 16, 0), id="a correlation"),
        pytest.param(
            lambda d: Design(study_of([number_of(f"x{i}", Uniform(0, 2)) for i in (1, 2, 3)]), d.swaps, 16, 0),
            id="a range",
        ),
    ],
)
def test_the_hash_of_a_design_answers_to(change: object) -> None:
    """All that the draws follow from; the same design has the same hash."""
    design = base_of_design()
    assert design.sha256 == base_of_design().sha256
    assert change(design).sha256 != design.sha256  # type: ignore[operator]


def test_sums_refuse_another_designs_outputs_and_questions() -> None:
    """And none at all."""
    sample = sample_of(lambda unit: unit, design_of(2, 8))
    sums, other = sums_of(sample), design_of(2, 8, seed=1).sha256
    with pytest.raises(ValueError, match=f"results of the design {other[:12]}; these sums are of"):
        indices(sums, design=other)
    with pytest.raises(ValueError, match="results of the design \\(none\\)"):
        sums.add_base(sample.a, sample.b, design="")
    with pytest.raises(ValueError, match="sums without the hash of a design"):
        Sums(np.zeros(2), 2, design="")


@pytest.mark.parametrize(
    ("shape", "message"),
    [
        pytest.param(
            (128, 3), r"outputs of shape \(128, 3\); rows in 16 equal blocks and 2 columns", id="another output"
        ),
        pytest.param((125, 2), r"outputs of shape \(125, 2\); rows in 16 equal blocks", id="no whole blocks"),
        pytest.param((64, 2), "4 rows of each block, beside a base sample of 8", id="half the rows"),
    ],
)
def test_sums_refuse_outputs_that_do_not_stand_as_the_base_does(shape: tuple[int, int], message: str) -> None:
    """Rows and columns are counted."""
    sample = sample_of(lambda unit: unit, design_of(2, 8))
    sums = Sums(np.zeros(2), 2, design=sample.design.sha256)
    a, b = sums.add_base(sample.a, sample.b, design=sample.design.sha256)
    for wrong in ((np.zeros(shape), sample.ba[0]), (sample.ab[0], np.zeros(shape))):
        with pytest.raises(ValueError, match=message):
            sums.add_swap(0, *wrong, a, b)


def test_no_index_is_given_of_a_swap_that_is_missing_or_in_twice() -> None:
    """Every swap has been taken in for every row."""
    sample = sample_of(lambda unit: unit, design_of(2, 8))
    design = sample.design.sha256
    sums = Sums(np.zeros(2), 2, design=design)
    a, b = sums.add_base(sample.a, sample.b, design=design)
    sums.add_swap(0, sample.ab[0], sample.ba[0], a, b)
    with pytest.raises(ValueError, match=r"8 rows of each block, but \[8, 0\] of them with each swap"):
        indices(sums, design=design)
    sums.add_swap(0, sample.ab[0], sample.ba[0], a, b)
    with pytest.raises(ValueError, match=r"\[16, 0\] of them"):
        indices(sums, design=design)
    with pytest.raises(ValueError, match="0 rows of each block"):
        indices(Sums(np.zeros(2), 0, design=design), design=design)


def test_correlated_columns_are_correlated_in_both_samples_and_after_a_swap_of_both() -> None:
    """Normal scores by .7 between x1 and x2; x3 by itself; each column still uniform."""
    study = study_of(3, [("x1", "x2", 0.7)])
    pair = Swap("pair", ("x1", "x2"), "group")
    design = Design(study, (pair, each_alone(study)[2]), 128, 0)
    one, other = next(design.pieces(0, 128, 128))
    exact = np.array([[1, 0.7, 0], [0.7, 1, 0], [0, 0, 1]])
    even = np.tile(np.linspace(0, 1, 128 * BLOCKS), (3, 1)).T
    for draws in (one, other, design.mixed(one, other, pair)):
        np.testing.assert_allclose(np.corrcoef(normal_scores(draws.unit).T), exact, rtol=0, atol=0.02)
        np.testing.assert_allclose(np.sort(draws.unit, axis=0), even, rtol=0, atol=0.02)
    assert abs(np.corrcoef(one.unit[:, 0], other.unit[:, 1])[0, 1]) < 0.05


def test_designs_of_one_sample_draw_it_once() -> None:
    """Two designs, each doubled twice: as many sequences are scrambled as there are blocks, and the points are a design's own."""
    study = study_of(3)
    shared = BaseSample(3, 0, BLOCKS)

    def drawn(swaps: tuple[Swap, ...], of: BaseSample | None) -> list[Array]:
        design = Design(study, swaps, 64, 0, shared=of)
        return [next(design.pieces(stop // 2, stop, 64))[1].unit for stop in (16, 32, 64)]

    every = (each_alone(study), each_alone(study)[:1])
    together, counts = calls_of(lambda: [drawn(swaps, shared) for swaps in every])
    assert counts["scipy.stats._qmc._scramble"] == BLOCKS
    for one, other in zip(together, [drawn(swaps, None) for swaps in every], strict=True):
        np.testing.assert_array_equal(np.concatenate(one), np.concatenate(other))


def test_a_design_takes_no_sample_of_another_seed() -> None:
    """Nor of other blocks or columns: its hash would not say so."""
    study = study_of(3)
    for wrong in (BaseSample(3, 1, BLOCKS), BaseSample(3, 0, 8), BaseSample(2, 0, BLOCKS)):
        with pytest.raises(ValueError, match="a base sample of other columns, another seed or other blocks"):
            Design(study, each_alone(study), 16, 0, shared=wrong)


def test_draws_one_after_the_other_are_both() -> None:
    """Columns and what comes from a generator."""
    one, other = next(noisy().pieces(0, 8, 8))
    both = one.and_then(other)
    assert len(both) == len(one) + len(other)
    np.testing.assert_array_equal(both.unit, np.concatenate([one.unit, other.unit]))
    for key, values in one.streams["readings"].items():
        np.testing.assert_array_equal(both.streams["readings"][key], np.r_[values, other.streams["readings"][key]])
