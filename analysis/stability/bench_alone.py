"""The bench's noise and nothing else: what it can tell apart of every score, where no study is asked for."""

from __future__ import annotations

import numpy as np

from analysis.stability.bench_errors import DRAWS, bench_errors
from analysis.stability.stability import is_bench
from analysis.stability.told_apart import COVERAGE, ToldApart, told_apart
from analysis.study import Study, default_study
from analysis.trials.quantities import quantities_of
from scoring.table import ScoreTable


def bench_of(table: ScoreTable, seed: int, *, draws: int = DRAWS) -> dict[str, ToldApart]:
    """What the bench can tell apart of each score, where some noise of it is known and moves the score."""
    scores = tuple(column.output.name for column in table.scores if not np.isnan(column.rank).all())
    return bench_under(default_study(table.form, table.catalogue, scores), table, seed, draws=draws) if scores else {}


def bench_under(
    study: Study, table: ScoreTable, seed: int, *, draws: int = DRAWS, coverage: float = COVERAGE
) -> dict[str, ToldApart]:
    """The same by a study's own account of the bench, of each of its scores."""
    moves = tuple(move for move in study.moves if is_bench(move))
    if not moves:
        return {}
    quantities = {
        name: quantities_of(study.form, table.column(name), table.catalogue.products, study.top, study.pairs)
        for name in study.scores
    }
    found = bench_errors(study.of_moves(moves), table, quantities, seed=seed, draws=draws)
    return {
        name: told_apart(quantities[name], one, seed=seed, coverage=coverage)
        for name, one in found.items()
        if one.moves
    }
