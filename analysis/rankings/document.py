"""A stability study as a JSON document, and as one table for files."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.partial.partial_place import partial_document
from analysis.rankings.bench_findings import BenchFindings
from analysis.rankings.distinguishable import Distinguishable
from analysis.rankings.rank_sets import RESAMPLES
from analysis.rankings.stability import RankStability
from analysis.rankings.study import RankingFound, StabilityFound
from analysis.rankings.verdict import ranking_verdict
from analysis.rankings.winners import Lead
from analysis.repeats.document import repeatability_document
from analysis.report.nouns import as_json

if TYPE_CHECKING:
    import pandas as pd

#: Significant digits of arrays.
DIGITS = 9
METHODS = {
    "sets": "confidence sets of ranks, joint over the products of one score (not over scores), Mogstad, Romano, Shaikh,"
    f" Wilhelm 2024; {RESAMPLES} resamples",
    "alone": "marginal confidence sets of ranks, each by itself; same source",
    "top": "all products whose joint set reaches up to the last of the top places, at the joint level",
    "lead": "corrected for having been picked: hybrid intervals of Andrews, Kitagawa, McCloskey 2024, each by itself",
    "shrunken": "posterior means and expected ranks of a normal-normal model, Laird, Louis 1989",
    "groups": "products that share a letter are not told apart at the joint level, and only those",
    "sources": "bench: one dose of noise, about the published readings, as far as these may lie from the true ones",
    "retest": "a second table beside the published one, both with noise: two doses about the published readings, and a fall back"
    " towards the middle by the share of noise in the spread of the scores (Efron and Morris 1973); first: the published first"
    " is first again",
    "beats": "chance that the row stands above the column, over the draws in which both have a score; null where they never do",
    "either_absent": "share of draws in which either has no score",
    "acceptability": "chance of each place over the draws of the study; not a confidence set",
    "agreement": "with the published order: mean, median, 5 % and 95 % points over draws",
}


def rankings_body(found: StabilityFound) -> dict[str, Any]:
    """Everything found, ready for JSON; null where a figure does not exist."""
    table = found.table
    return {
        "methods": METHODS,
        "repeatability": repeatability_document(table.form, table.catalogue, found.repeats),
        "scores": {one.name: _score(one) for one in found.rankings},
        "first_places": partial_document(
            [first for one in found.rankings for first in one.firsts], table.catalogue.products
        ),
    }


def _score(found: RankingFound) -> dict[str, Any]:
    quantities, drawn, bench, findings = found.quantities, found.drawn, found.bench, found.findings
    return {
        "verdict": list(ranking_verdict(found)),
        "order": list(quantities.ids),
        "published_rank": as_json(quantities.published, DIGITS),
        "published_score": as_json(quantities.values, DIGITS),
        "told_apart": None if bench is None else _told_apart(bench, quantities.ids),
        "findings": None if findings is None else _findings(findings, quantities.ids, quantities.top),
        "sources": {source: _source(one, drawn.parts) for source, one in drawn.by_source.items()},
        "retest": None if drawn.retest is None else _retest(drawn.retest),
        "catalogue": as_json(found.robustness),
        "without_repeatability": list(drawn.noise.unknown),
    }


def _told_apart(bench: Distinguishable, ids: Sequence[str]) -> dict[str, Any]:
    return {
        "coverage": bench.sets.coverage,
        "critical": as_json(np.atleast_1d(np.asarray(bench.sets.critical, float)), DIGITS)[0],
        "low": bench.sets.low.tolist(),
        "high": bench.sets.high.tolist(),
        "low_within_simulation_error": bench.sets.low_unsure.tolist(),
        "high_within_simulation_error": bench.sets.high_unsure.tolist(),
        "sd": as_json(bench.sd, DIGITS),
        "letters": [" ".join(own) for own in bench.groups.letters],
        "groups": [
            {"letters": g.letters, "first_line": g.first, "last_line": g.last, "products": [ids[i] for i in g.products]}
            for g in bench.groups.groups
        ],
        "groups_exact": bench.groups.exact,
        "settled": [ids[i] for i in bench.settled],
        "uneven": [ids[i] for i in bench.uneven],
    }


def _retest(one: RankStability) -> dict[str, Any]:
    return {"draws": one.n_draws, "first": as_json(one.first, DIGITS), "agreement": as_json(one.agreement)}


def _findings(found: BenchFindings, ids: Sequence[str], top: int) -> dict[str, Any]:
    alone, drawn_in = found.alone, found.shrunken
    return {
        "alone": {
            "low": alone.low.tolist(),
            "high": alone.high.tolist(),
            "low_within_simulation_error": alone.low_unsure.tolist(),
            "high_within_simulation_error": alone.high_unsure.tolist(),
        },
        "top": {"places": top, "products": [ids[i] for i in found.top_set(top)]},
        "lead": None if found.lead is None else _lead(found.lead, ids),
        "shrunken": {
            "mean": as_json(drawn_in.prior.mean, DIGITS),
            "variance_between_products": as_json(drawn_in.prior.variance, DIGITS),
            "scores": as_json(drawn_in.scores, DIGITS),
            "expected_ranks": as_json(drawn_in.expected_ranks, DIGITS),
        },
    }


def _lead(lead: Lead, ids: Sequence[str]) -> dict[str, Any]:
    return {
        "first": ids[lead.first],
        "second": ids[lead.second],
        "coverage": lead.coverage,
        "stands": lead.stands,
        "margin": as_json(lead.margin, DIGITS),
        "score": as_json(lead.score, DIGITS),
    }


def _source(one: RankStability, parts: Sequence[str]) -> dict[str, Any]:
    return {
        "draws": one.n_draws,
        "rank": {name: as_json(getattr(one, name), DIGITS) for name in ("median", "low", "high", "lowest", "highest")},
        "first": as_json(one.first, DIGITS),
        "in_the_top": as_json(one.top, DIGITS),
        "absent": as_json(one.absent, DIGITS),
        "acceptability": as_json(one.acceptability, DIGITS),
        "beats": as_json(one.beats, DIGITS),
        "either_absent": as_json(one.lacking, DIGITS),
        "typical_weights": {"parts": list(parts), "shares": as_json(one.typical, DIGITS)},
        "agreement": as_json(one.agreement),
        "score_mean": as_json(one.score_mean, DIGITS),
        "score_sd": as_json(one.score_sd, DIGITS),
    }


def rankings_frame(found: Sequence[RankingFound]) -> pd.DataFrame:
    """One row for every score, source and product."""
    import pandas as pd  # slow to import, and most commands make no frame

    frames = [_rows(score, one) for score in found for one in score.drawn.by_source.values()]
    return pd.concat(frames, ignore_index=True) if frames else pd.DataFrame(columns=["score", "source", "product"])


def _rows(score: RankingFound, one: RankStability) -> pd.DataFrame:
    """One row for every product of a score under one source."""
    import pandas as pd  # slow to import, and most commands make no frame

    columns: dict[str, Any] = {
        "score": score.name,
        "source": one.source,
        "product": list(score.quantities.ids),
        "published_rank": score.quantities.published,
        "published_score": score.quantities.values,
        "median": one.median,
        "low_5": one.low,
        "high_95": one.high,
        "lowest": one.lowest,
        "highest": one.highest,
        "first": one.first,
        "in_the_top": one.top,
        "absent": one.absent,
        "score_sd": one.score_sd,
    }
    if score.bench is not None:
        columns["set_low"], columns["set_high"] = score.bench.sets.low, score.bench.sets.high
        columns["letters"] = [" ".join(own) for own in score.bench.groups.letters]
    also = score.findings
    if also is not None:
        columns["alone_low"], columns["alone_high"] = also.alone.low, also.alone.high
        columns["shrunken"], columns["expected_rank"] = also.shrunken.scores, also.shrunken.expected_ranks
    return pd.DataFrame(columns)
