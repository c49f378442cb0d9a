"""A stability study as a JSON document, and as one table for files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

import numpy as np
import pandas as pd

from analysis.rankings.bench_findings import BenchFindings
from analysis.rankings.catalogue_robustness import CatalogueRobustness
from analysis.rankings.findings_verdict import findings_verdict
from analysis.rankings.rank_sets import RESAMPLES
from analysis.rankings.stability import RankStability, ScoreStability
from analysis.rankings.told_apart import ToldApart
from analysis.rankings.verdict import stability_verdict
from analysis.rankings.winners import Corrected, Lead
from analysis.report_document import plain
from analysis.study import Study
from analysis.study_document import figure, figures, heading
from scoring.table.table import ScoreTable

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


def stability_document(
    study: Study,
    table: ScoreTable,
    found: Sequence[ScoreStability],
    benches: Mapping[str, ToldApart],
    findings: Mapping[str, BenchFindings | None],
    robustness: Mapping[str, CatalogueRobustness],
    repeatability: dict[str, Any],
    settings: Sequence[str],
    seed: int,
) -> dict[str, Any]:
    """Everything found, ready for JSON; null where a figure does not exist."""
    return heading(study, table, settings, seed) | {
        "methods": METHODS,
        "repeatability": repeatability,
        "scores": {
            one.quantities.output.name: _score(
                one,
                benches.get(one.quantities.output.name),
                findings.get(one.quantities.output.name),
                robustness.get(one.quantities.output.name),
            )
            for one in found
        },
    }


def _score(
    found: ScoreStability,
    bench: ToldApart | None,
    findings: BenchFindings | None,
    robustness: CatalogueRobustness | None,
) -> dict[str, Any]:
    quantities = found.quantities
    return {
        "verdict": [*stability_verdict(found, bench, robustness), *findings_verdict(quantities, findings)],
        "order": list(quantities.ids),
        "published_rank": figures(quantities.published),
        "published_score": figures(quantities.values),
        "told_apart": None if bench is None else _told_apart(bench, quantities.ids),
        "findings": None if findings is None else _findings(findings, quantities.ids, quantities.top),
        "sources": {source: _source(one, found.parts) for source, one in found.by_source.items()},
        "retest": None if found.retest is None else _retest(found.retest),
        "catalogue": None if robustness is None else plain(asdict(robustness)),
    }


def _told_apart(bench: ToldApart, ids: Sequence[str]) -> dict[str, Any]:
    return {
        "coverage": bench.sets.coverage,
        "critical": figures(np.atleast_1d(np.asarray(bench.sets.critical, float)))[0],
        "low": bench.sets.low.tolist(),
        "high": bench.sets.high.tolist(),
        "low_within_simulation_error": bench.sets.low_unsure.tolist(),
        "high_within_simulation_error": bench.sets.high_unsure.tolist(),
        "sd": figures(bench.sd),
        "letters": ["".join(f"{letter} " for letter in own).strip() for own in bench.groups.letters],
        "groups": [
            {"letters": g.letters, "first_line": g.first, "last_line": g.last, "products": [ids[i] for i in g.products]}
            for g in bench.groups.groups
        ],
        "groups_exact": bench.groups.exact,
        "settled": [ids[i] for i in bench.settled],
        "uneven": [ids[i] for i in bench.uneven],
    }


def _retest(one: RankStability) -> dict[str, Any]:
    return {
        "draws": one.n_draws,
        "first": figures(one.first),
        "agreement": {name: plain(asdict(spread)) for name, spread in one.agreement.items()},
    }


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
            "mean": figure(drawn_in.prior.mean),
            "variance_between_products": figure(drawn_in.prior.variance),
            "scores": figures(drawn_in.scores),
            "expected_ranks": figures(drawn_in.expected_ranks),
        },
    }


def _lead(lead: Lead, ids: Sequence[str]) -> dict[str, Any]:
    return {
        "first": ids[lead.first],
        "second": ids[lead.second],
        "coverage": lead.coverage,
        "stands": lead.stands,
        "margin": _corrected(lead.margin),
        "score": _corrected(lead.score),
    }


def _corrected(one: Corrected) -> dict[str, Any]:
    return {name: figure(value) for name, value in asdict(one).items()}


def _source(one: RankStability, parts: Sequence[str]) -> dict[str, Any]:
    return {
        "draws": one.n_draws,
        "rank": {name: figures(getattr(one, name)) for name in ("median", "low", "high", "lowest", "highest")},
        "first": figures(one.first),
        "in_the_top": figures(one.top),
        "absent": figures(one.absent),
        "acceptability": figures(one.acceptability),
        "beats": figures(one.beats),
        "either_absent": figures(one.lacking),
        "typical_weights": {"parts": list(parts), "shares": figures(one.typical)},
        "agreement": {name: plain(asdict(spread)) for name, spread in one.agreement.items()},
        "score_mean": figures(one.score_mean),
        "score_sd": figures(one.score_sd),
    }


def stability_frame(
    found: Sequence[ScoreStability], benches: Mapping[str, ToldApart], findings: Mapping[str, BenchFindings | None]
) -> pd.DataFrame:
    """One row for every score, source and product."""
    frames = []
    for score in found:
        bench = benches.get(score.quantities.output.name)
        for source, one in score.by_source.items():
            columns: dict[str, Any] = {
                "score": score.quantities.output.name,
                "source": source,
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
            if bench is not None:
                columns["set_low"], columns["set_high"] = bench.sets.low, bench.sets.high
                columns["letters"] = [" ".join(own) for own in bench.groups.letters]
            also = findings.get(score.quantities.output.name)
            if also is not None:
                columns["alone_low"], columns["alone_high"] = also.alone.low, also.alone.high
                columns["shrunken"], columns["expected_rank"] = also.shrunken.scores, also.shrunken.expected_ranks
            frames.append(pd.DataFrame(columns))
    return pd.concat(frames, ignore_index=True) if frames else pd.DataFrame(columns=["score", "source", "product"])
