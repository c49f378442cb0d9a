"""A comparison as a JSON document, and as one table for files."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.class_places import in_class
from analysis.comparison.comparison import Comparison, Edition, ScoreMoves
from analysis.comparison.verdict import comparison_verdict, retractions
from analysis.partial.partial_place import PartialPlace, partial_document
from analysis.report.nouns import as_json

if TYPE_CHECKING:
    import pandas as pd

#: Significant digits of the document's figures.
DIGITS = 9
METHODS = {
    "why": "Shapley shares of the move among the causes, over the orders in which every step has a score; exact up to 12 causes,"
    " else sampled orders with 95 % intervals",
    "u": "standard uncertainty of the difference; the same readings err alike under both",
    "told": "the move is more than `critical` u: the 95 % point, over draws of noise, of the largest move of all products in u",
    "overtakings": "of all pairs of products that both editions rank, next to each other or not, those that stand in the opposite"
    " order now; told apart: by the joint confidence sets of ranks (95 %) that letter the groups of that edition",
}


def comparison_body(
    found: Comparison, notes: Sequence[str] = (), firsts: Sequence[PartialPlace] = ()
) -> dict[str, Any]:
    """Everything found, ready for JSON; null where a figure does not exist.

    Parameters
    ----------
    notes : what else it rests on; firsts : first places of the new edition that stand on a missing part
    """
    body = {
        "notes": notes,
        "methods": METHODS,
        "changes": found.changes,
        "readings_changed": [
            {name: getattr(one, name) for name in ("product", "measure", "says", "before", "after")}
            for one in found.readings_changed
        ],
        "causes": [{"name": player.name, "kind": player.kind, "says": player.says} for player in found.players],
        "scores_added": found.added,
        "scores_removed": found.removed,
        "scores": {score.name: _score(found, score) for score in found.scores},
    }
    found_so_far: dict[str, Any] = as_json(body, DIGITS)
    return found_so_far | {"first_places": partial_document(firsts, found.new.catalogue.products)}


def _score(found: Comparison, score: ScoreMoves) -> dict[str, Any]:
    return {
        "verdict": comparison_verdict(score, found.players),
        "no_longer_true": retractions(score),
        "agreement": score.agreement,
        "shares_exact": score.by_score.exact,
        "critical": score.critical,
        "overtakings": _overtakings(score),
        "without_repeatability": score.noise.unknown,
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
                "told_before": swaps.before[k],
                "told_now": swaps.now[k],
            }
            for k in told
        ],
    }


def _product(found: Comparison, score: ScoreMoves, i: int) -> dict[str, Any]:
    return {
        "id": score.products[i],
        "old": _standing(score.old, i),
        "new": _standing(score.new, i),
        "move": score.move[i],
        "u": score.u[i],
        "told": score.told[i],
        "climb": score.climb[i],
        "why": {
            player.name: {
                "score": score.by_score.shares[k, i],
                "score_interval": [score.by_score.low[k, i], score.by_score.high[k, i]],
                "rank": score.by_rank.shares[k, i],
            }
            for k, player in enumerate(found.players)
        },
    }


def _standing(edition: Edition, i: int) -> dict[str, Any]:
    return {
        "value": edition.value[i],
        "shown": edition.shown[i] or None,
        "band": edition.band[i] or None,
        "status": edition.status[i],
        "rank": edition.rank[i],
        **in_class(edition.within, i),
        "letters": " ".join(edition.letters[i]) or None,
    }


def comparison_frame(found: Comparison) -> pd.DataFrame:
    """One row for every score and product, with a column for each cause's share of the move."""
    import pandas as pd  # slow to import, and most commands make no frame

    return pd.concat([_rows(found, score) for score in found.scores], ignore_index=True)


def _rows(found: Comparison, score: ScoreMoves) -> pd.DataFrame:
    import pandas as pd  # slow to import, and most commands make no frame

    columns: dict[str, Any] = {"score": score.name, "product": list(score.products)}
    for name, edition in (("old", score.old), ("new", score.new)):
        columns[f"{name}_value"], columns[f"{name}_rank"] = edition.value, edition.rank
        if edition.within is not None:
            columns[f"{name}_rank_within"], columns[f"{name}_of_within"] = edition.within.place, edition.within.of
        columns[f"{name}_shown"] = pd.to_numeric(pd.Series(edition.shown))
        columns[f"{name}_band"] = list(edition.band)
        columns[f"{name}_letters"] = [" ".join(own) for own in edition.letters]
    columns |= {"move": score.move, "u": score.u, "told": score.told, "climb": score.climb}
    for ending, told in (("", False), ("_told", True)):
        counts = score.overtakings.counts(len(score.products), told=told)
        columns[f"overtakes{ending}"], columns[f"overtaken_by{ending}"] = counts
    for k, player in enumerate(found.players):
        columns[f"why {player.name}"] = score.by_score.shares[k]
    return pd.DataFrame(columns)
