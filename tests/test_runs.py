"""Blocks of draws: whoever works them out and in whatever order, the same bytes come out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest
from executors import WAYS, held, processes
from numpy.typing import NDArray
from written_editions import read_by_all
from written_forms import form_of
from written_studies import catalogue_of, study_of

from analysis.comparison import attribution
from analysis.comparison.comparison import compare_tables
from analysis.comparison.shared_noise import shared_noise
from analysis.indices.sensitivity import sensitivity_study
from analysis.indices.shapley_study import shapley_study
from analysis.rankings.bench_errors import bench_errors
from analysis.rankings.stability import rank_stability
from analysis.runs import Block, Held, blocks_of, gather, run, serially
from analysis.study import default_study
from analysis.trials.quantities import quantities_of
from scoring.table.table import ScoreTable, score_catalogue

Array = NDArray[np.float64]
Executed = Callable[..., Iterable[tuple[Block, object]]]
Study = Callable[[ScoreTable, Executed], object]
FORM = """\
formula: trial
scale: {from: 0, to: 100}
measures:
  x: {unit: "1", better: higher, repeatability: {standard_deviation: 2, degrees_of_freedom: 6}, between_sessions: 1}
  y: {unit: "1", better: higher, repeatability: 1}
ratings:
  a: {measure: x, curve: {line: {worst: 0, best: 100}}}
  b: {measure: y, curve: {line: {worst: 0, best: 100}}}
scores:
  s: {blend: weighted mean, weights: {a: 3, b: 1}, limits: [{when: a < 40, at_most: 30}]}
  t: {blend: weighted mean, weights: {a: 1, b: 2}}
"""
VARIED = (
    "{weights: s, factor: [0.5, 1.5]}",
    "{blend: t, choose: [weighted mean, geometric mean]}",
    "{readings: repeatability}",
)


@dataclass(frozen=True, slots=True)
class Uniforms:
    """So many uniform columns, in two pieces."""

    columns: int

    def pieces(self, block: Block) -> Iterator[Array]:
        """The first ten draws of a block, then the others."""
        drawn = block.stream(3, 1).random((len(block), self.columns))
        yield from (drawn[:10], drawn[10:])


@dataclass(frozen=True, slots=True)
class Mean:
    """The mean of every column, and the columns themselves."""

    columns: int

    def start(self) -> tuple[Array, list[Array]]:
        """Nothing."""
        return np.zeros(self.columns), []

    def add(self, sums: tuple[Array, list[Array]], piece: Array) -> tuple[Array, list[Array]]:
        """One piece more."""
        return sums[0] + piece.sum(axis=0), [*sums[1], piece]

    def merge(self, sums: tuple[Array, list[Array]], after: tuple[Array, list[Array]]) -> tuple[Array, list[Array]]:
        """Both."""
        return sums[0] + after[0], sums[1] + after[1]

    def finish(self, sums: tuple[Array, list[Array]]) -> tuple[Array, Array]:
        """Means and draws."""
        drawn = np.concatenate(sums[1])
        return sums[0] / len(drawn), drawn


def test_a_run_is_the_plain_sum_of_its_blocks_in_order() -> None:
    """By hand: each block's draws from the seed and its first draw, its two pieces added, and the blocks one after the other."""
    drawn = [np.random.default_rng([3, 1, first]).random((n, 2)) for first, n in ((0, 40), (40, 40), (80, 25))]
    total = np.zeros(2)
    for block in drawn:
        total = total + (block[:10].sum(axis=0) + block[10:].sum(axis=0))
    mean, found = run(Uniforms(2), Mean(2), blocks_of(105, 40))
    assert mean.tobytes() == (total / 105).tobytes()
    assert found.tobytes() == np.concatenate(drawn).tobytes()


@pytest.mark.parametrize("way", WAYS)
def test_no_executor_moves_a_byte(way: str) -> None:
    """Of sums of floats, which hang on their order, and of draws one after the other."""
    blocks = blocks_of(1000, 37)
    assert held(run(Uniforms(5), Mean(5), blocks, execute=WAYS[way])) == held(run(Uniforms(5), Mean(5), blocks))


def test_a_run_goes_on_where_another_ended() -> None:
    """Sums of the first blocks with the others gathered onto them are those of all."""
    first = gather(Uniforms(3), Mean(3), blocks_of(80, 40))
    whole = gather(Uniforms(3), Mean(3), blocks_of(200, 40, first=80), onto=first)
    assert held(Mean(3).finish(whole)) == held(run(Uniforms(3), Mean(3), blocks_of(200, 40)))


def test_progress_counts_draws() -> None:
    """It is told of every block, and ends at all."""
    told: list[int] = []
    run(Uniforms(1), Mean(1), blocks_of(100, 40), told=told.append)
    assert told == [40, 80, 100]


def test_a_run_begins_at_a_block() -> None:
    """Draws have a place in their block: none begins half way."""
    with pytest.raises(ValueError, match="begins at draw 50, inside a block of 40"):
        blocks_of(100, 40, first=50)


def twice(work: Callable[[Block], object], blocks: tuple[Block, ...]) -> Iterable[tuple[Block, object]]:
    """The first block is given twice."""
    return serially(work, (blocks[0], *blocks))


def without_the_last(work: Callable[[Block], object], blocks: tuple[Block, ...]) -> Iterable[tuple[Block, object]]:
    """The last block is lost."""
    return serially(work, blocks[:-1])


@pytest.mark.parametrize(
    ("way", "said"), [(twice, "block 0 .* is here already"), (without_the_last, r"blocks \[2\] were not worked out")]
)
def test_every_block_counts_once(way: Callable[..., Iterable[tuple[Block, object]]], said: str) -> None:
    """An executor that loses a block, or counts one twice, is no executor."""
    with pytest.raises(ValueError, match=said):
        run(Uniforms(1), Mean(1), blocks_of(100, 40), execute=way)


def test_rows_of_a_table_are_blocks() -> None:
    """What is held of all draws goes to a block by its rows."""
    table = np.random.default_rng(5).random((90, 2))
    mean, again = run(Held(table), Mean(2), blocks_of(90, 40))
    assert again.tobytes() == table.tobytes()
    np.testing.assert_allclose(mean, table.mean(axis=0), rtol=1e-14)


def table_of() -> ScoreTable:
    """Six products, of which one lacks a reading."""
    rng = np.random.default_rng(8)
    readings = {"x": rng.uniform(30, 60, 6), "y": rng.uniform(20, 70, 6)}
    readings["y"][3] = np.nan
    return score_catalogue(form_of(FORM), catalogue_of(**readings))


def of_stability(table: ScoreTable, execute: Executed) -> object:
    """Every source, and a re-test."""
    study = study_of("\n".join(VARIED), table.form, table.catalogue)
    return rank_stability(study, table, draws=2500, seed=2, retest=True, execute=execute)


def of_bench_errors(table: ScoreTable, execute: Executed) -> object:
    """The errors of both scores."""
    study = default_study(table.form, table.catalogue, ("s", "t"))
    bench = study.of_moves(tuple(move for move in study.moves if move.is_bench))
    asked = {
        name: quantities_of(table.form, table.column(name), table.catalogue.products, 3, ()) for name in ("s", "t")
    }
    return bench_errors(bench, table, asked, seed=4, draws=2500, execute=execute)


def of_shared_noise(table: ScoreTable, execute: Executed) -> object:
    """A weight is another, and so is a reading."""
    readings = {"x": table.inputs.values["x"][0] + np.arange(6), "y": table.inputs.values["y"][0]}
    new = score_catalogue(form_of(FORM.replace("b: 1}, limits", "b: 2}, limits")), catalogue_of(**readings))
    return shared_noise(table, new, ("s", "t"), table.catalogue.products, seed=5, execute=execute)


def of_sensitivity(table: ScoreTable, execute: Executed) -> object:
    """Indices of both scores with second order, by points of Sobol' sequences and streams of noise."""
    study = study_of("\n".join(VARIED), table.form, table.catalogue)
    found = sensitivity_study(study, table, budget=1024, second_order=True, seed=3, execute=execute)
    return [(one.indices, one.trail, one.small, one.local.per_sd) for one in found]


CHANGED = (
    ("weights: {a: 3, b: 1}", "weights: {a: 2, b: 1}"),
    ("at_most: 30", "at_most: 25"),
    ("a < 40", "a < 41"),
    ("measure: x, curve: {line: {worst: 0, best: 100}}", "measure: x, curve: {line: {worst: 5, best: 90}}"),
)


def of_comparison(most_exact: int) -> Study:
    """The causes of the moves to a formula with some lines changed; of more than `most_exact` by sampled orders."""

    def found(table: ScoreTable, execute: Executed) -> object:
        text = FORM
        for before, after in CHANGED:
            assert before in text
            text = text.replace(before, after)
        read = read_by_all(table.catalogue, table.catalogue)
        new = score_catalogue(form_of(text), read[True, True])
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(attribution, "MOST_EXACT", most_exact)
            patch.setattr(attribution, "TOGETHER", 3)
            compared = compare_tables(table, new, read, seed=6, execute=execute)
        assert all(one.by_score.exact == (most_exact > 2) for one in compared.scores)
        return [(one.by_score, one.by_rank, one.u, one.critical) for one in compared.scores]

    return found


def of_shapley(table: ScoreTable, execute: Executed) -> object:
    """Effects on both scores, with noise as columns."""
    study = study_of("\n".join(VARIED), table.form, table.catalogue)
    found = shapley_study(study, table, points=2500, seed=7, execute=execute)
    return [(one.effects, one.linear) for one in found]


STUDIES = {
    "Shapley effects": of_shapley,
    "sensitivity": of_sensitivity,
    "stability": of_stability,
    "errors of the bench": of_bench_errors,
    "causes of moves": of_comparison(12),
    "sampled causes": of_comparison(2),
    "shared noise": of_shared_noise,
}


@cache
def one_after_the_other(study: str) -> object:
    """All that a study finds, by blocks in their order."""
    return held(STUDIES[study](table_of(), serially))


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("study", STUDIES)
def test_no_executor_moves_a_byte_of_a_study(study: str, way: str) -> None:
    """All that a study finds, by blocks in any order, and pickled there and back."""
    assert held(STUDIES[study](table_of(), WAYS[way])) == one_after_the_other(study)


def test_a_study_goes_to_other_processes() -> None:
    """Kernels do not pickle: they are compiled anew where the study arrives, and no byte is another."""
    with processes() as in_processes:
        assert held(of_stability(table_of(), in_processes)) == one_after_the_other("stability")
