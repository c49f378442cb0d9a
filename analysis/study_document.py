"""What both study commands say of the study itself: the resolved table and where everything came from, ready for JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analysis.cautions import cautions
from analysis.outputs.marks import WRITTEN_BY
from analysis.study import Study
from scoring.table.table import ScoreTable

DIGITS = 9


def heading(study: Study, table: ScoreTable, settings: Sequence[str], seed: int) -> dict[str, Any]:
    """Formula, catalogue, what was tried, cautions, seed, and the study with its resolved table."""
    form = table.form
    return {
        **WRITTEN_BY,
        "formula": {"name": form.name, "version": form.version, "sha256": form.sha256},
        "catalogue": {"sha256": table.catalogue.sha256, "products": len(table.catalogue.products)},
        "set": list(settings),
        "seed": seed,
        "cautions": list(cautions(form)),
        "study": {
            "name": study.name,
            "sha256": study.sha256 or None,
            "top": study.top,
            "notes": list(study.notes),
            "factors": resolved(study),
            "correlations": [
                {"between": [first, second], "correlation": value} for first, second, value in study.correlations
            ],
        },
    }


def with_provenance(
    frame: pd.DataFrame, study: Study, table: ScoreTable, settings: Sequence[str], seed: int
) -> pd.DataFrame:
    """A study's table with the columns that say what it was made from, and the cautions, as every published table has."""
    form = table.form
    return frame.assign(
        formula=f"{form.name} {form.version}".strip(),
        formula_sha256=form.sha256,
        catalogue_sha256=table.catalogue.sha256,
        set="; ".join(settings),
        study=study.name,
        study_sha256=study.sha256,
        seed=seed,
        cautions=" ".join(cautions(form)),
    )


def resolved(study: Study) -> list[dict[str, Any]]:
    """One row a factor: what stands there, how it varies, in what unit, and where that was said."""
    return [
        {
            "factor": factor.name,
            "group": factor.kind,
            "section": factor.section,
            "output": factor.output or None,
            "stated": factor.stated,
            "varies": factor.says,
            "unit": factor.unit or None,
            "from": factor.origin,
        }
        for factor in study.factors
    ]


def figures(values: NDArray[np.float64]) -> list[Any]:
    """An array as nested lists of numbers of nine digits; null where there is none."""
    if values.ndim > 1:
        return [figures(row) for row in values]
    return [figure(value) for value in values.tolist()]


def figure(value: float) -> float | None:
    """A number of nine significant digits, or null where it is not finite."""
    return float(f"{value:.{DIGITS}g}") if np.isfinite(value) else None
