"""What the weights are worth, as a JSON document and as one table for files."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.importance.correlation_ratio import FACTORS
from analysis.importance.importance import KINDS, Importance
from analysis.importance.parts import WeightedParts
from analysis.importance.published import Published
from analysis.importance.redundancy import Redundancy
from analysis.importance.sought import WeightsSought
from analysis.importance.study import ScoreWeights
from analysis.importance.verdict import direction, weights_verdict
from analysis.importance.wanted import WORST_CONDITION
from analysis.report.nouns import as_json
from scoring.numbers.array_types import Array

if TYPE_CHECKING:
    import pandas as pd

DIGITS = 9
METHODS = {
    "squared": "w2 / sum w2: the share of the variance with equal spread and no correlation of the parts",
    "by_spread": "w2 s2 / sum w2 s2: the same with the parts' own spread",
    "effective": "cov(y, w x) / V of the weighted mean y, structural and correlative share; adds to 1",
    "linear": "squared correlation of the part with the published score",
    "ratio": f"Var E(y|x) / Var y of the published score, local-linear, at {', '.join(f'{f:g}' for f in FACTORS)} bandwidths",
    "unrelated": "the ratio that a part unrelated to the score would show on so many products",
    "shapley": "of the variance of the weighted mean, parts taken as jointly normal; adds to 1",
    "discrepancy": "Paruolo, Saisana, Saltelli 2013, equation 6, of the ratio and of the linear effect",
    "intervals": "95 %, two-ended, each by itself, percentile bootstrap over products",
    "coverage": "of effective shares, on normal parts: 90 % of samples of 15 products, 92 % of 30, 93 % of 60, 94 % of 200;"
    " figures that cannot be negative are covered less often near 0",
    "wanted": "share_of variance: squared correlation of the part with the weighted mean; effects: the same over its sum of all"
    " parts. Tried in turn, with what was held; impossible is proved over all weights from 0 up; not found was searched. Without"
    f" --want: main effects in the proportions of the stated weights, refused above condition {WORST_CONDITION:.0e}",
    "published": "the weights set at their addresses as printed, and scored again: limits, missing rules and rounding are in it",
    "first": "linear programme a product; weights that put it first, or a mixture of others that is better in every part",
    "beats": "at least as good in every part, and better in one",
}


def weights_body(found: Sequence[ScoreWeights]) -> dict[str, Any]:
    """Everything found, ready for JSON; null where a figure does not exist."""
    return {"methods": METHODS, "scores": {one.name: as_json(_score(one), DIGITS) for one in found}}


def _score(found: ScoreWeights) -> dict[str, Any]:
    parts = found.parts
    head = {"verdict": weights_verdict(found), "not_worked_out": found.why_not or None}
    if parts is None or found.importance is None or found.redundancy is None or found.sought is None:
        return head
    return head | {
        "products": list(parts.ids),
        "left_out": parts.left_out or None,
        "blend_is_linear": parts.linear,
        "besides_the_weighted_mean": parts.besides or None,
        "correlation_with_published": parts.agreement,
        "resamples": found.importance.resamples,
        "parts": _parts(parts, found.importance),
        "discrepancy": {
            name: dict(zip(("value", "low", "high"), gap, strict=True))
            for name, gap in zip(("ratio", "linear"), _gaps(found.importance), strict=True)
        },
        "redundancy": _redundancy(found.redundancy, parts.names),
        "wanted": _wanted(found, found.sought, parts.names),
        "first": [
            {
                "product": parts.ids[k],
                "state": one.state,
                "weights": one.weights if one.state == "can" else None,
                "mixture": {parts.ids[j]: one.mix[j] for j in np.flatnonzero(one.mix)} or None,
                "better_in_every_part_by": one.margin if one.state == "never" else None,
            }
            for k, one in enumerate(found.first)
        ]
        or "not decided",
        "best_case": None if found.best_case is None else dict(zip(parts.ids, found.best_case, strict=True)),
        "beats": {parts.ids[k]: [parts.ids[j] for j in own] for k, own in enumerate(found.beats) if own},
    }


def _gaps(found: Importance) -> Array:
    """Both discrepancies with the ends of their intervals, shape (2, 3)."""
    return np.stack([found.discrepancy, found.discrepancy_low, found.discrepancy_high], axis=1)


def _parts(parts: WeightedParts, found: Importance) -> dict[str, Any]:
    """Each part with its weight, and each kind of figure with its interval."""
    return {
        name: {
            "weight": parts.stated[i],
            "share": parts.shares[i],
            "squared": parts.squared[i],
            "by_spread": parts.by_spread[i],
            "goes": direction(*(float(each[i]) for each in found.of("effective"))),
            "bandwidths": found.bandwidths[:, i],
            "unrelated": found.unrelated[:, i],
        }
        | {
            kind: {"value": found.value[row, i], "low": found.low[row, i], "high": found.high[row, i]}
            for row, kind in enumerate(KINDS)
        }
        for i, name in enumerate(parts.names)
    }


def _redundancy(found: Redundancy, names: Sequence[str]) -> dict[str, Any]:
    return {
        "parts": list(names),
        "spearman": found.spearman,
        "pearson": found.pearson,
        "variance_inflation": found.inflation,
        "follows_from_the_others": [n for n, v in zip(names, found.inflation, strict=True) if np.isinf(v)],
        "eigenvalues": found.eigenvalues,
        "loadings": found.loadings,
        "alpha": found.alpha,
        "alpha_raw": found.alpha_raw,
        "alpha_without": found.alpha_without,
        "correlation_with_the_rest": found.rest_correlation,
    }


def _wanted(one: ScoreWeights, found: WeightsSought, names: Sequence[str]) -> dict[str, Any]:
    def each(values: Array) -> dict[str, float]:
        return dict(zip(names, values, strict=True))

    closed = found.proportional
    return {
        "share_of": found.share_of,
        "asked": list(one.named) or None,
        "shares": each(found.wanted),
        "state": found.state,
        "tried": [{"held": attempt.held, "state": attempt.state} for attempt in found.attempts],
        "now": each(found.now),
        "weights": each(found.weights),
        "gives": each(found.gives),
        "falls_as_the_score_rises": [name for name, there in zip(names, found.against, strict=True) if there],
        "published": None if one.published is None else _published(one.published, names),
        "can_be_given": {name: [a, b] for name, a, b in _ends(found, names)} or None,
        "nearest": None if np.isnan(found.nearest).all() else each(found.nearest),
        "nearest_gives": None if np.isnan(found.nearest).all() else each(found.nearest_gives),
        "closed_form": None
        if closed is None
        else {
            "state": closed.state,
            "solution": each(closed.weights),
            "falls_as_the_score_rises": [name for name, sign in zip(names, closed.signs, strict=True) if sign < 0],
            "every_sign_tried": closed.every_sign,
            "condition": closed.condition,
            "exists_in_resamples": one.in_resamples,
        },
    }


def _ends(found: WeightsSought, names: Sequence[str]) -> list[tuple[str, Any, Any]]:
    """The parts whose attainable shares are known, with their ends."""
    return [
        (name, a, b)
        for name, a, b in zip(names, found.low, found.high, strict=True)
        if not (np.isnan(a) or np.isnan(b))
    ]


def _published(found: Published, names: Sequence[str]) -> dict[str, Any]:
    """What the weights give once they are set, part by part."""
    rows = zip(names, found.mean, found.value, found.low, found.high, found.every, strict=True)
    return {
        "set": [f"{address}={text}" for address, text in found.settings],
        "products": found.products,
        "published_products": found.published,
        "besides_the_weighted_mean": found.besides or None,
        "parts": {
            name: {"weighted_mean": mean, "value": value, "low": low, "high": high, "all_published": every}
            for name, mean, value, low, high, every in rows
        },
    }


def weights_frame(found: Sequence[ScoreWeights]) -> pd.DataFrame:
    """One row for every score and part."""
    import pandas as pd  # slow to import, and most commands make no frame

    frames = []
    for one in found:
        parts, sought = one.parts, one.sought
        if parts is None or one.importance is None or one.redundancy is None or sought is None:
            continue
        columns: dict[str, Any] = {
            "score": one.name,
            "part": list(parts.names),
            "weight": [float(text) for text in parts.stated],
        }
        columns |= {"share": parts.shares, "squared": parts.squared, "by_spread": parts.by_spread}
        for kind in KINDS:
            columns[kind], columns[f"{kind}_low"], columns[f"{kind}_high"] = one.importance.of(kind)
        columns["variance_inflation"] = one.redundancy.inflation
        columns |= {"share_of": sought.share_of, "wanted": sought.wanted, "state": sought.state, "held": sought.held}
        columns |= {"weights_for_it": sought.weights, "gives": sought.gives}
        columns["gives_published"] = one.published.value if one.published is not None else np.nan
        frames.append(pd.DataFrame(columns))
    return pd.concat(frames, ignore_index=True) if frames else pd.DataFrame(columns=["score", "part"])
