"""The bench's noise and nothing else: what it can tell apart of every score, where no study is asked for."""

from __future__ import annotations

import numpy as np

from analysis.stability.stability import is_bench, stability
from analysis.stability.told_apart import ToldApart, told_apart
from analysis.study import default_study
from scoring.table import ScoreTable


def bench_of(table: ScoreTable, seed: int) -> dict[str, ToldApart]:
    """What the bench can tell apart of each score, where some noise of it is known and moves the score."""
    scores = tuple(column.output.name for column in table.scores if not np.isnan(column.rank).all())
    if not scores:
        return {}
    study = default_study(table.form, table.catalogue, scores)
    moves = tuple(move for move in study.moves if is_bench(move))
    if not moves:
        return {}
    return {
        one.quantities.output.name: told_apart(one.quantities, one.by_source["bench"], seed=seed)
        for one in stability(study.of_moves(moves), table, seed=seed)
        if (one.by_source["bench"].score_sd > 0).any()
    }
