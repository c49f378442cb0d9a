"""A comparison as a JSON document, and as one table for files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np
import pandas as pd

from analysis.cautions import cautions
from analysis.comparison.comparison import Comparison, Edition, ScoreMoves
from analysis.comparison.verdict import comparison_verdict, retractions
from analysis.outputs.marks import WRITTEN_BY
from analysis.study_document import figure, figures
from scoring.table.table import ScoreTable

METHODS = {
    "why": "Shapley shares of the move among the causes, over the orders in which every step has a score; exact up to 12 causes,"
    " else sampled orders with 95 % intervals",
    "u": "standard uncertainty of the difference; the same readings err alike under both",
    "told": "the move is more than `critical` u: the 95 % point, over draws of noise, of the largest move of all products in u",
    "overtakings": "of all pairs of products that both editions rank, next to each other or not, those that stand in the opposite"
    " order now; told apart: by the joint confidence sets of ranks (95 %) that letter the groups of that edition",
}


def comparison_document(
    found: Comparison, settings: Sequence[str], seed: int, notes: Sequence[str] = ()
) -> dict[str, Any]:
    """Everything found, ready for JSON; null where a figure does not exist; `notes` say what else it rests on."""
    return {
        **WRITTEN_BY,
        "old": _edition(found.old),
        "new": _edition(found.new),
        "set": list(settings),
        "seed": seed,
        "cautions": list(cautions(found.new.form)),
        "notes": list(notes),
        "methods": METHODS,
        "changes": [asdict(change) for change in found.changes],
        "causes": [{"name": p.name, "kind": p.kind, "says": p.says} for p in found.players],
        "scores_added": list(found.added),
        "scores_removed": list(found.removed),
        "scores": {score.name: _score(found, score) for score in found.scores},
    }


def _edition(table: ScoreTable) -> dict[str, Any]:
    form = table.form
    return {
        "formula": {"name": form.name, "version": form.version, "sha256": form.sha256},
        "catalogue": {"sha256": table.catalogue.sha256, "products": len(table.catalogue.products)},
    }


def _score(found: Comparison, score: ScoreMoves) -> dict[str, Any]:
    return {
        "verdict": list(comparison_verdict(score, found.players)),
        "no_longer_true": list(retractions(score)),
        "agreement": {name: figure(value) for name, value in score.agreement.items()},
        "shares_exact": score.by_score.exact,
        "critical": figure(score.critical),
        "overtakings": _overtakings(score),
        "products": [_product(found, score, i) for i in range(len(score.products))],
    }


def _overtakings(score: ScoreMoves) -> dict[str, Any]:
    swaps = score.overtakings
    told = np.flatnonzero(swaps.told).tolist()
    return {
        "pairs": swaps.pairs,
        "swaps": len(swaps.above),
        "told_apart": len(told) if swaps.known else None,
        "these": [
            {
                "above": score.products[swaps.above[k]],
                "below": score.products[swaps.below[k]],
                "told_before": bool(swaps.before[k]),
                "told_now": bool(swaps.now[k]),
            }
            for k in told
        ],
    }


def _product(found: Comparison, score: ScoreMoves, i: int) -> dict[str, Any]:
    return {
        "id": score.products[i],
        "old": _standing(score.old, i),
        "new": _standing(score.new, i),
        "move": figure(float(score.move[i])),
        "u": figure(float(score.u[i])),
        "told": bool(score.told[i]),
        "climb": figure(float(score.climb[i])),
        "why": {
            player.name: {
                "score": figure(float(score.by_score.shares[k, i])),
                "score_interval": figures(np.array([score.by_score.low[k, i], score.by_score.high[k, i]])),
                "rank": figure(float(score.by_rank.shares[k, i])),
            }
            for k, player in enumerate(found.players)
        },
    }


def _standing(edition: Edition, i: int) -> dict[str, Any]:
    return {
        "value": figure(float(edition.value[i])),
        "shown": edition.shown[i] or None,
        "band": edition.band[i] or None,
        "status": edition.status[i],
        "rank": figure(float(edition.rank[i])),
        "letters": " ".join(edition.letters[i]) or None,
    }


def comparison_frame(found: Comparison, settings: Sequence[str], seed: int) -> pd.DataFrame:
    """One row for every score and product, with a column for each cause's share of the move."""
    frames = []
    for score in found.scores:
        columns: dict[str, Any] = {"score": score.name, "product": list(score.products)}
        for name, edition in (("old", score.old), ("new", score.new)):
            columns[f"{name}_value"], columns[f"{name}_rank"] = edition.value, edition.rank
            columns[f"{name}_shown"] = pd.to_numeric(pd.Series(edition.shown))
            columns[f"{name}_band"] = list(edition.band)
            columns[f"{name}_letters"] = [" ".join(own) for own in edition.letters]
        columns["move"], columns["u"] = score.move, score.u
        columns["told"], columns["climb"] = score.told, score.climb
        for ending, told in (("", False), ("_told", True)):
            counts = score.overtakings.counts(len(score.products), told=told)
            columns[f"overtakes{ending}"], columns[f"overtaken_by{ending}"] = counts
        for k, player in enumerate(found.players):
            columns[f"why {player.name}"] = score.by_score.shares[k]
        frames.append(pd.DataFrame(columns))
    old, new = found.old, found.new
    return pd.concat(frames, ignore_index=True).assign(
        old_formula=f"{old.form.name} {old.form.version}".strip(),
        old_formula_sha256=old.form.sha256,
        old_catalogue_sha256=old.catalogue.sha256,
        new_formula=f"{new.form.name} {new.form.version}".strip(),
        new_formula_sha256=new.form.sha256,
        new_catalogue_sha256=new.catalogue.sha256,
        set="; ".join(settings),
        seed=seed,
        cautions=" ".join(cautions(new.form)),
    )
