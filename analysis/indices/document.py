"""A sensitivity study as a JSON document, and as one long table for files."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analysis.indices.precision import TARGET, quantities_named
from analysis.indices.sensitivity import ScoreSensitivity, half_widths
from analysis.indices.shapley_study import ScoreShapley
from analysis.indices.shapley_verdict import shapley_verdict
from analysis.indices.sobol import BLOCKS
from analysis.indices.verdict import sensitivity_verdict
from analysis.study import Study
from analysis.study_document import figure, figures, heading
from scoring.table.table import ScoreTable

METHODS = {
    "design": f"Sobol' points, {BLOCKS} independent scrambles; every base point run twice, and twice with every swap",
    "first": "Azzini, Mara, Rosati 2021",
    "total": "Azzini, Mara, Rosati 2021",
    "second": "the closed index of a pair by the same formula, less the two by themselves",
    "intervals": f"of the error of the simulation alone, under the ranges of the study: two-ended, 95 %, Student's t over the"
    f" {BLOCKS} scrambles, each by itself",
    "converged": f"half-widths of the mean shift's indices at most {TARGET:g}, order held on doubling; with `precision`, what"
    " that asks for, and nothing else",
    "small": "the total index of all arguments whose own lies under 0.01 by the upper end of its interval, swapped together",
    "local": "central differences at the stated setting, points per standard deviation",
}


def sensitivity_document(
    study: Study, table: ScoreTable, found: Sequence[ScoreSensitivity], settings: Sequence[str], seed: int
) -> dict[str, Any]:
    """Everything found, ready for JSON; null where a figure does not exist, with the reason beside it."""
    return heading(study, table, settings, seed) | {
        "methods": METHODS,
        "scores": {one.quantities.output.name: _score(one) for one in found},
    }


def _score(found: ScoreSensitivity) -> dict[str, Any]:
    return {
        "verdict": list(sensitivity_verdict(found)),
        "converged": found.converged,
        "ended": found.ended,
        "precision": _precision(found),
        "base_points": found.trail[-1].points,
        "design_sha256": found.design.sha256,
        "order": list(found.quantities.ids),
        "does_not_reach": list(found.idle),
        "swapped_only_together": list(found.tied),
        "quantities": _quantities(found),
        "indices": _indices(found),
        "second": _second(found),
        "small": _small(found),
        "trail": _trail(found),
        "local": [
            {"factor": name, "points_per_sd": figures(row[found.quantities.products])}
            for name, row in zip(found.local.names, found.local.per_sd, strict=True)
        ],
    }


def _precision(found: ScoreSensitivity) -> dict[str, Any]:
    """What was asked for, and the half-width that each named quantity has: null where it has no index."""
    widths = half_widths(found.indices)
    places = [(named, q) for named in found.precision.of for q in quantities_named(named, found.quantities)]
    return {
        "within": found.precision.within,
        "asked": found.precision.asked,
        "of": [
            {"what": what, "of": which or None, "widest_half_width": figure(_widest(widths[..., q]))}
            for what, which, q in dict.fromkeys((*found.quantities.names[q], q) for _, q in places)
        ],
    }


def _widest(widths: NDArray[np.float64]) -> float:
    return float(np.nanmax(widths)) if np.isfinite(widths).any() else float("nan")


def _small(found: ScoreSensitivity) -> dict[str, Any] | None:
    if found.small is None:
        return None
    one = found.small
    return {"factors": list(one.factors), "total": figure(one.total), "low": figure(one.low), "high": figure(one.high)}


def _quantities(found: ScoreSensitivity) -> list[dict[str, Any]]:
    i = found.indices
    return [
        {
            "what": family,
            "of": which or None,
            "mean": figure(float(i.mean[q])),
            "variance": figure(float(i.variance[q])),
            "share_of_draws": figure(float(i.known[q])),
            "state": state_of(found, q),
        }
        for q, (family, which) in enumerate(found.quantities.names)
    ]


def _indices(found: ScoreSensitivity) -> list[dict[str, Any]]:
    i = found.indices
    return [
        {
            "name": swap.name,
            "level": swap.level,
            "factors": list(swap.factors),
            "first": figures(i.first[row]),
            "first_low": figures(i.first_low[row]),
            "first_high": figures(i.first_high[row]),
            "total": figures(i.total[row]),
            "total_low": figures(i.total_low[row]),
            "total_high": figures(i.total_high[row]),
        }
        for row, swap in enumerate(found.swaps)
    ]


def _trail(found: ScoreSensitivity) -> list[dict[str, Any]]:
    return [
        {
            "base_points": step.points,
            "widest_half_width": figure(step.half_width),
            "total": figures(step.total),
            "low": figures(step.low),
            "high": figures(step.high),
        }
        for step in found.trail
    ]


def state_of(found: ScoreSensitivity, quantity: int) -> str:
    """Why a quantity has no indices, in words; "varies" where it has."""
    lost = int(found.indices.lost[quantity])
    if lost:
        return f"not a number in {lost} evaluations: no index is given"
    return "varies" if found.indices.reacts[quantity] else "does not react to anything that varies"


def _second(found: ScoreSensitivity) -> list[dict[str, Any]] | None:
    i = found.indices
    if i.second is None or i.second_low is None or i.second_high is None:
        return None
    names = [found.swaps[row].name for row in found.paired]
    pairs = [(a, b) for place, a in enumerate(names) for b in names[place + 1 :]]
    return [
        {
            "between": list(pair),
            "second": figures(i.second[row]),
            "low": figures(i.second_low[row]),
            "high": figures(i.second_high[row]),
        }
        for row, pair in enumerate(pairs)
    ]


def sensitivity_frame(found: Sequence[ScoreSensitivity]) -> pd.DataFrame:
    """One row for every score, quantity and factor or group."""
    return pd.concat([_frame(one) for one in found], ignore_index=True)


def _frame(found: ScoreSensitivity) -> pd.DataFrame:
    i, names = found.indices, found.quantities.names
    k, q = len(found.swaps), len(names)
    columns: dict[str, Any] = {
        "score": [found.quantities.output.name] * (k * q),
        "quantity": [family for family, _ in names] * k,
        "of": [which for _, which in names] * k,
        "name": np.repeat([swap.name for swap in found.swaps], q),
        "level": np.repeat([swap.level for swap in found.swaps], q),
    }
    for name in ("first", "first_low", "first_high", "total", "total_low", "total_high"):
        columns[name] = getattr(i, name).ravel()
    columns["state"] = [state_of(found, quantity) for quantity in range(q)] * k
    return pd.DataFrame(columns)


def shapley_document(
    study: Study, table: ScoreTable, found: Sequence[ScoreShapley], settings: Sequence[str], seed: int
) -> dict[str, Any]:
    """Shapley effects, ready for JSON."""
    return heading(study, table, settings, seed) | {
        "methods": {
            "effects": "Shapley effects by all subsets of the groups, pick-freeze; 95 % intervals over blocks, of the error of"
            " the simulation alone"
        },
        "scores": {one.quantities.output.name: _shapley(one) for one in found},
    }


def _shapley(found: ScoreShapley) -> dict[str, Any]:
    e = found.effects
    return {
        "verdict": list(shapley_verdict(found)),
        "evaluations": e.evaluations,
        "order": list(found.quantities.ids),
        "quantities": [
            {"what": family, "of": which or None, "reacts": bool(e.reacts[q]), "not_numbers": int(e.n_nonfinite[q])}
            for q, (family, which) in enumerate(found.quantities.names)
        ],
        "groups": [
            {
                "name": name,
                "factors": list(members),
                "effect": figures(e.effects[row]),
                "low": figures(e.low[row]),
                "high": figures(e.high[row]),
                "first": figures(e.first[row]),
                "total": figures(e.total[row]),
                "linear": figures(found.linear[row]),
            }
            for row, (name, members) in enumerate(zip(e.groups, found.members, strict=True))
        ],
    }


def shapley_frame(found: Sequence[ScoreShapley]) -> pd.DataFrame:
    """One row for every score, quantity and group."""
    frames = []
    for one in found:
        e, names = one.effects, one.quantities.names
        k, q = len(e.groups), len(names)
        columns: dict[str, Any] = {
            "score": [one.quantities.output.name] * (k * q),
            "quantity": [family for family, _ in names] * k,
            "of": [which for _, which in names] * k,
            "group": np.repeat(e.groups, q),
        }
        for name in ("effects", "low", "high", "first", "total"):
            columns[name.removesuffix("s")] = getattr(e, name).ravel()
        frames.append(pd.DataFrame(columns))
    return pd.concat(frames, ignore_index=True)
