"""The bench's noise and nothing else: what it can tell apart of every score, where no study is asked for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.rankings.bench_errors import DRAWS, bench_errors
from analysis.rankings.told_apart import COVERAGE, ToldApart, told_apart
from analysis.runs import Executor, serially
from analysis.study import Study, default_study
from analysis.study.building import Wording, unread_move
from analysis.trials.quantities import quantities_of
from scoring.errors import Place, Problem, StudyError
from scoring.table.table import ScoreTable

#: The highest level of one table that the draws reach, with the band about its critical value.
HIGHEST = 0.9995


def bench_of(table: ScoreTable, seed: int, *, draws: int = DRAWS, execute: Executor = serially) -> dict[str, ToldApart]:
    """What the bench can tell apart of each score, where some noise of it is known and moves the score."""
    scores = tuple(column.output.name for column in table.scores if not np.isnan(column.rank).all())
    if not scores:
        return {}
    return bench_under(default_study(table.form, table.catalogue, scores), table, seed, draws=draws, execute=execute)


def bench_under(
    study: Study,
    table: ScoreTable,
    seed: int,
    *,
    draws: int = DRAWS,
    coverage: float = COVERAGE,
    at_once: bool = False,
    execute: Executor = serially,
) -> dict[str, ToldApart]:
    """The same by a study's own account of the bench, of each of its scores.

    Parameters
    ----------
    at_once : let the statements of all tables hold at once with `coverage`, each at 1 - (1 - coverage) / their number
        (Bonferroni's inequality)
    execute : works the blocks of draws out

    Raises
    ------
    StudyError : so many tables at once that the draws do not reach the level of each
    """
    moves = tuple(move for move in study.moves if move.is_bench)
    if all(move.fills for move in moves):
        return {}
    quantities = {
        name: quantities_of(study.form, table.column(name), table.catalogue.products, study.top, study.pairs)
        for name in study.scores
    }
    if at_once:
        coverage = _level_of_each(coverage, len(quantities))
    found = bench_errors(
        _with_unread(study.of_moves(moves), table), table, quantities, seed=seed, draws=draws, execute=execute
    )
    return {
        name: told_apart(quantities[name], one, seed=seed, coverage=coverage)
        for name, one in found.items()
        if one.moves
    }


def _with_unread(study: Study, table: ScoreTable) -> Study:
    """The study with what was not read drawn too: a place that stands on a gap is never settled by leaving it out."""
    if any(move.fills for move in study.moves):
        return study
    everything = np.ones(len(table.catalogue.products), bool)
    unread, _ = unread_move(study.form, table.catalogue, everything, Wording("what other readings say of it"))
    return study if unread is None else replace(study, moves=(*study.moves, unread))


def _level_of_each(coverage: float, tables: int) -> float:
    level = 1 - (1 - coverage) / max(tables, 1)
    if level > HIGHEST:
        found = f"{100 * coverage:g} % for {tables} tables at once, hence {100 * level:g} % for each"
        raise StudyError(
            [Problem(Place("--coverage"), found, f"at most {100 * HIGHEST:g} % for each", "Ask for less.")]
        )
    return level
