"""What the weights are worth, as a JSON document and as one table for files."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from analysis.outputs.marks import WRITTEN_BY
from analysis.scores.document import cautions
from analysis.study_document import figure, figures
from analysis.weights.correlation_ratio import FACTORS
from analysis.weights.importance import KINDS, Importance
from analysis.weights.parts import WeightedParts
from analysis.weights.redundancy import Redundancy
from analysis.weights.study import ScoreWeights
from analysis.weights.verdict import direction, weights_verdict
from analysis.weights.wanted import WORST_CONDITION, WantedWeights
from scoring.table import ScoreTable

METHODS = {
    "effective": "cov(y, w x) / V of the weighted mean y, structural and correlative share; adds to 1",
    "linear": "squared correlation of the part with the published score",
    "ratio": f"Var E(y|x) / Var y of the published score, local-linear, at {', '.join(f'{f:g}' for f in FACTORS)} bandwidths",
    "unrelated": "the ratio that a part unrelated to the score would show on so many products",
    "shapley": "of the variance of the weighted mean, parts taken as jointly normal; adds to 1",
    "discrepancy": "Paruolo, Saisana, Saltelli 2013, equation 6, of the ratio and of the linear effect",
    "intervals": "95 %, two-ended, each by itself, percentile bootstrap over products",
    "coverage": "of effective shares, on normal parts: 90 % of samples of 15 products, 92 % of 30, 93 % of 60, 94 % of 200;"
    " figures that cannot be negative are covered less often near 0",
    "wanted": f"weights whose linear main effects stand in wanted proportions; refused above condition {WORST_CONDITION:.0e}",
    "first": "linear programme a product; weights that put it first, or a mixture of others that is better in every part",
}


def weights_document(
    table: ScoreTable, found: Sequence[ScoreWeights], settings: Sequence[str], seed: int
) -> dict[str, Any]:
    """Everything found, ready for JSON; null where a figure does not exist."""
    form = table.form
    return {
        **WRITTEN_BY,
        "formula": {"name": form.name, "version": form.version, "sha256": form.sha256},
        "catalogue": {"sha256": table.catalogue.sha256, "products": len(table.catalogue.products)},
        "set": list(settings),
        "seed": seed,
        "cautions": list(cautions(form)),
        "methods": METHODS,
        "scores": {one.name: _score(one) for one in found},
    }


def _score(found: ScoreWeights) -> dict[str, Any]:
    parts = found.parts
    head = {"verdict": list(weights_verdict(found)), "not_worked_out": found.why_not or None}
    if parts is None or found.importance is None or found.redundancy is None or found.wanted is None:
        return head
    return head | {
        "products": list(parts.ids),
        "left_out": parts.left_out or None,
        "blend_is_linear": parts.linear,
        "besides_the_weighted_mean": parts.besides or None,
        "correlation_with_published": figure(parts.agreement),
        "resamples": found.importance.resamples,
        "parts": _parts(parts, found.importance),
        "discrepancy": {
            name: {"value": figure(i[0]), "low": figure(i[1]), "high": figure(i[2])}
            for name, i in zip(("ratio", "linear"), _gaps(found.importance), strict=True)
        },
        "redundancy": _redundancy(found.redundancy, parts.names),
        "wanted": _wanted(found.wanted, parts.names),
        "first": [
            {
                "product": parts.ids[k],
                "state": one.state,
                "weights": figures(one.weights) if one.state == "can" else None,
                "mixture": {parts.ids[j]: figure(float(one.mix[j])) for j in np.flatnonzero(one.mix)} or None,
                "better_in_every_part_by": figure(one.margin) if one.state == "never" else None,
            }
            for k, one in enumerate(found.first)
        ]
        or "not decided",
        "best_case": None
        if found.best_case is None
        else {name: figure(value) for name, value in zip(parts.ids, found.best_case.tolist(), strict=True)},
        "beats_in_every_part": {parts.ids[k]: [parts.ids[j] for j in own] for k, own in enumerate(found.beats) if own},
    }


def _gaps(found: Importance) -> list[list[float]]:
    rows = np.stack([found.discrepancy, found.discrepancy_low, found.discrepancy_high], axis=1)
    return [[float(value) for value in row] for row in rows]


def _parts(parts: WeightedParts, found: Importance) -> dict[str, Any]:
    """Each part with its weight, and each kind of figure with its interval."""
    return {
        name: {
            "weight": parts.stated[i],
            "share": figure(float(parts.shares[i])),
            "goes": direction(*(float(each[i]) for each in found.of("effective"))),
            "bandwidths": figures(found.bandwidths[:, i]),
            "unrelated": figures(found.unrelated[:, i]),
        }
        | {
            kind: {
                "value": figure(found.value[row, i]),
                "low": figure(found.low[row, i]),
                "high": figure(found.high[row, i]),
            }
            for row, kind in enumerate(KINDS)
        }
        for i, name in enumerate(parts.names)
    }


def _redundancy(found: Redundancy, names: Sequence[str]) -> dict[str, Any]:
    return {
        "parts": list(names),
        "spearman": figures(found.spearman),
        "pearson": figures(found.pearson),
        "variance_inflation": figures(found.inflation),
        "follows_from_the_others": [n for n, v in zip(names, found.inflation, strict=True) if np.isinf(v)],
        "eigenvalues": figures(found.eigenvalues),
        "loadings": figures(found.loadings),
        "alpha": figure(found.alpha),
        "alpha_raw": figure(found.alpha_raw),
        "alpha_without": figures(found.alpha_without),
        "correlation_with_the_rest": figures(found.rest_correlation),
    }


def _wanted(found: WantedWeights, names: Sequence[str]) -> dict[str, Any]:
    return {
        "importance": dict(zip(names, figures(found.wanted), strict=True)),
        "state": found.state,
        "solution": dict(zip(names, figures(found.weights), strict=True)),
        "falls_as_the_score_rises": [n for n, sign in zip(names, found.signs, strict=True) if sign < 0],
        "every_sign_tried": found.every_sign,
        "condition": figure(found.condition),
        "exist_in_resamples": figure(found.held),
    }


def weights_frame(table: ScoreTable, found: Sequence[ScoreWeights], settings: Sequence[str], seed: int) -> pd.DataFrame:
    """One row for every score and part, with what it was made from, and the cautions."""
    frames = []
    for one in found:
        if one.parts is None or one.importance is None or one.redundancy is None or one.wanted is None:
            continue
        columns: dict[str, Any] = {"score": one.name, "part": list(one.parts.names), "weight": list(one.parts.stated)}
        columns["share"] = one.parts.shares
        for kind in KINDS:
            columns[kind], columns[f"{kind}_low"], columns[f"{kind}_high"] = one.importance.of(kind)
        columns["variance_inflation"] = one.redundancy.inflation
        columns["wanted_importance"], columns["solution"] = one.wanted.wanted, one.wanted.weights
        columns["state"] = one.wanted.state
        frames.append(pd.DataFrame(columns))
    frame = pd.concat(frames, ignore_index=True) if frames else pd.DataFrame(columns=["score", "part"])
    form = table.form
    return frame.assign(
        formula=f"{form.name} {form.version}".strip(),
        formula_sha256=form.sha256,
        catalogue_sha256=table.catalogue.sha256,
        set="; ".join(settings),
        seed=seed,
        cautions=" ".join(cautions(form)),
    )
