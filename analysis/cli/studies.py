"""What commands on a study of what varies take: the study as asked for, and the scores as published."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from analysis.cli.inputs import scored
from analysis.report.studied import AskedOfStudy, study_of
from analysis.study import Study
from scoring.table.table import ScoreTable


def load_for_study(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    study: Path | None,
    *,
    where: Sequence[str] = (),
    only: Sequence[str],
    pairs: Sequence[str],
    top: int | None,
) -> tuple[Study, ScoreTable]:
    """The study as asked for, and the scores as published.

    Raises
    ------
    SteelyardError : anything asked for that is not there
    """
    table = scored(formula, catalogue, settings, where)
    asked = AskedOfStudy(only, [[part.strip() for part in pair.split(",")] for pair in pairs], top)
    return study_of(study, table, asked), table
