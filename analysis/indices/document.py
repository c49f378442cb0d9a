"""A sensitivity study as a JSON document, and as one long table for files."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.indices.precision import TARGET, quantities_asked
from analysis.indices.sensitivity import ScoreSensitivity, half_widths
from analysis.indices.shapley_study import ScoreShapley
from analysis.indices.sobol import BLOCKS
from analysis.indices.verdict import sensitivity_verdict, shapley_verdict
from analysis.report.nouns import as_json
from scoring.numbers.array_types import Array

if TYPE_CHECKING:
    import pandas as pd

DIGITS = 9
#: The indices, as files call them.
INDEX_FIELDS = ("first", "first_low", "first_high", "total", "total_low", "total_high")
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


def sensitivity_body(found: Sequence[ScoreSensitivity]) -> dict[str, Any]:
    """Everything found, ready for JSON; null where a figure does not exist, with the reason beside it."""
    return {"methods": METHODS, "scores": {one.quantities.output.name: as_json(_score(one), DIGITS) for one in found}}


def _score(found: ScoreSensitivity) -> dict[str, Any]:
    return {
        "verdict": sensitivity_verdict(found),
        "converged": found.converged,
        "ended": found.ended,
        "precision": _precision(found),
        "base_points": found.trail[-1].points,
        "design_sha256": found.design.sha256,
        "order": found.quantities.ids,
        "does_not_reach": found.idle,
        "swapped_only_together": found.tied,
        "quantities": _quantities(found),
        "indices": _indices(found),
        "second": _second(found),
        "small": found.small,
        "trail": [
            {
                "base_points": step.points,
                "widest_half_width": step.half_width,
                "total": step.total,
                "low": step.low,
                "high": step.high,
            }
            for step in found.trail
        ],
        "local": [
            {"factor": name, "points_per_sd": row[found.quantities.products]}
            for name, row in zip(found.local.names, found.local.per_sd, strict=True)
        ],
    }


def _precision(found: ScoreSensitivity) -> dict[str, Any]:
    """What was asked for, and the half-width that each named quantity has: null where it has no index."""
    widths, names = half_widths(found.indices), found.quantities.names
    places = quantities_asked(found.precision, found.quantities)
    return {
        "within": found.precision.within,
        "asked": found.precision.asked,
        "of": [
            {"what": names[q][0], "of": names[q][1] or None, "widest_half_width": _widest(widths[..., q])}
            for q in places
        ],
    }


def _widest(widths: Array) -> float:
    return float(np.nanmax(widths)) if np.isfinite(widths).any() else float("nan")


def _quantities(found: ScoreSensitivity) -> list[dict[str, Any]]:
    i = found.indices
    return [
        {
            "what": family,
            "of": which or None,
            "mean": i.mean[q],
            "variance": i.variance[q],
            "share_of_draws": i.known[q],
            "state": state_of(found, q),
        }
        for q, (family, which) in enumerate(found.quantities.names)
    ]


def _indices(found: ScoreSensitivity) -> list[dict[str, Any]]:
    return [
        {"name": swap.name, "level": swap.level, "factors": swap.factors}
        | {key: getattr(found.indices, key)[row] for key in INDEX_FIELDS}
        for row, swap in enumerate(found.swaps)
    ]


def _second(found: ScoreSensitivity) -> list[dict[str, Any]] | None:
    i = found.indices
    if i.second is None or i.second_low is None or i.second_high is None:
        return None
    pairs = combinations([found.swaps[row].name for row in found.paired], 2)
    return [
        {"between": pair, "second": i.second[row], "low": i.second_low[row], "high": i.second_high[row]}
        for row, pair in enumerate(pairs)
    ]


def state_of(found: ScoreSensitivity, quantity: int) -> str:
    """Why a quantity has no indices, in words; "varies" where it has."""
    lost = int(found.indices.lost[quantity])
    if lost:
        return f"not a number in {lost} evaluations: no index is given"
    return "varies" if found.indices.reacts[quantity] else "does not react to anything that varies"


def sensitivity_frame(found: Sequence[ScoreSensitivity]) -> pd.DataFrame:
    """One row for every score, quantity and factor or group."""
    import pandas as pd  # slow to import, and most commands make no frame

    return pd.concat([_frame(one) for one in found], ignore_index=True)


def _frame(found: ScoreSensitivity) -> pd.DataFrame:
    import pandas as pd  # slow to import, and most commands make no frame

    i, names = found.indices, found.quantities.names
    k, q = len(found.swaps), len(names)
    columns: dict[str, Any] = {
        "score": [found.quantities.output.name] * (k * q),
        "quantity": [family for family, _ in names] * k,
        "of": [which for _, which in names] * k,
        "name": np.repeat([swap.name for swap in found.swaps], q),
        "level": np.repeat([swap.level for swap in found.swaps], q),
    }
    for name in INDEX_FIELDS:
        columns[name] = getattr(i, name).ravel()
    columns["state"] = [state_of(found, quantity) for quantity in range(q)] * k
    return pd.DataFrame(columns)


def shapley_body(found: Sequence[ScoreShapley]) -> dict[str, Any]:
    """Shapley effects, ready for JSON."""
    return {
        "methods": {
            "effects": "Shapley effects by all subsets of the groups, pick-freeze; 95 % intervals over blocks, of the error of"
            " the simulation alone"
        },
        "scores": {one.quantities.output.name: as_json(_shapley(one), DIGITS) for one in found},
    }


def _shapley(found: ScoreShapley) -> dict[str, Any]:
    e = found.effects
    return {
        "verdict": shapley_verdict(found),
        "evaluations": e.evaluations,
        "order": found.quantities.ids,
        "quantities": [
            {"what": family, "of": which or None, "reacts": e.reacts[q], "not_numbers": e.n_nonfinite[q]}
            for q, (family, which) in enumerate(found.quantities.names)
        ],
        "groups": [
            {
                "name": name,
                "factors": members,
                "effect": e.effects[row],
                "low": e.low[row],
                "high": e.high[row],
                "first": e.first[row],
                "total": e.total[row],
                "linear": found.linear[row],
            }
            for row, (name, members) in enumerate(zip(e.groups, found.members, strict=True))
        ],
    }


def shapley_frame(found: Sequence[ScoreShapley]) -> pd.DataFrame:
    """One row for every score, quantity and group."""
    import pandas as pd  # slow to import, and most commands make no frame

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
