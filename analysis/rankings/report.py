"""How firm a ranking is, as a report: the study itself, and what is said and shown of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from analysis.rankings.bench_findings import BenchFindings
from analysis.rankings.catalogue_robustness import CatalogueRobustness
from analysis.rankings.distinguishable import COVERAGE
from analysis.rankings.document import rankings_body, rankings_frame
from analysis.rankings.rank_sets import RankSets
from analysis.rankings.stability import DRAWS, Progress, RankStability, ScoreStability
from analysis.rankings.study import AskedOfRankings, RankingFound, stability_study
from analysis.rankings.verdict import SOURCES, compared_rankings, ranking_verdict, said_of_all
from analysis.report.given import Given, Readings, Scores, names_of, scored
from analysis.report.pictures import Picture
from analysis.report.report import Block, Report, Section
from analysis.report.source import source_of
from analysis.report.studied import HINT, AskedOfStudy, GivenStudy, studied, study_of, study_section
from analysis.report.tables import Column, OnScreen, Table, computed, counts, figures, ranks, shares, words
from analysis.study import Study
from analysis.wording import ABSENT, fixed, percent, place_text
from scoring.table.selection import Where
from scoring.table.table import ScoreTable

#: A product that is first in fewer draws than this has no typical weights worth printing.
SELDOM = 0.01
#: So many of those who move are named beside a change to the catalogue.
NAMED = 4
DRAWN_NOISE = "Where the bench's noise is drawn, it is what is known of it."
IN_FULL = OnScreen(in_full=True)


def stability(
    formula: Given,
    catalogue: Readings,
    *,
    study: GivenStudy = None,
    scores: Scores = (),
    top: int | None = None,
    draws: int = DRAWS,
    coverage: float = COVERAGE,
    at_once: bool = False,
    where: Where = None,
    seed: int = 0,
) -> Report:
    """How firm a ranking is: under judgement, bench noise and both, and what the bench cannot tell apart.

    Parameters
    ----------
    formula : read, or the path of its file; catalogue : read, a pandas frame, or the path of its file
    where : the products to show and rank, as `score` takes them
    study : what varies, read or as the path of its file; derived from the formula by default
    scores : which ones, those of the study by default; top : how many places the top are, as the study has it by default
    draws : of each source of variation, 100 or more
    coverage : joint confidence of the sets of places, above 0.5 and below 1; at_once : of all tables together

    Returns
    -------
    Report : `found` is a `StabilityFound`

    Raises
    ------
    SteelyardError : a fault of a file, a score that is not there, too few draws, or so many tables at once that the draws do
        not reach the level of each
    """
    table = scored(formula, catalogue, where)
    made = study_of(study, table, AskedOfStudy(names_of(scores), top=top))
    return stability_report(made, table, AskedOfRankings(draws, coverage, at_once, seed))


def stability_report(
    study: Study,
    table: ScoreTable,
    asked: AskedOfRankings,
    *,
    progress: Progress | None = None,
    resolved: bool = False,
) -> Report:
    """The same of a score table and a study as it is asked for.

    Parameters
    ----------
    progress : told how many draws are done, of how many
    resolved : whether a terminal shows what varies and how
    """
    found = stability_study(study, table, asked, progress)
    source = replace(
        source_of(table, asked.seed, study), draws=asked.draws, draws_in_words="{} draws of each source of variation"
    )
    alone = len(found.rankings) == 1
    return Report(
        command="stability",
        title=f"{table.form.title}: how firm the ranking is",
        heading=studied(study, source),
        source=source,
        sections=(
            *(_section(one, in_full=alone) for one in found.rankings),
            study_section(study, said_of_all(found), resolved=resolved),
        ),
        body=lambda: rankings_body(found),
        whole=lambda: rankings_frame(found.rankings),
        found=found,
        on_screen=() if resolved else (HINT,),
    )


def _section(found: RankingFound, *, in_full: bool) -> Section:
    return Section(
        found.name,
        found.label,
        (*(first.says for first in found.firsts), *ranking_verdict(found)),
        tuple(_blocks(found)),
        pictures=partial(_pictures, found),
        in_full=in_full,
    )


def _pictures(found: RankingFound) -> tuple[Picture, ...]:
    from analysis.rankings.figures import stability_pictures

    return stability_pictures(found)


def _blocks(found: RankingFound) -> Iterator[Block]:
    """How rankings agree; then every product, and who moves when the catalogue changes."""
    if not found.has_order:
        return
    yield agreement_table(found.drawn)
    if found.findings is not None:
        yield open_table(found.drawn, found.findings)
    yield places_table(found.drawn)
    judged = found.drawn.by_source.get("judgement")
    if judged is not None and found.drawn.parts:
        yield typical_table(found.drawn, judged)
    yield catalogue_table(found.robustness)


def agreement_table(found: ScoreStability) -> Table:
    """How the drawn rankings agree with the published one, a row a source."""
    compared = list(compared_rankings(found))
    n = len(found.quantities.ids)
    return Table(
        "agreement",
        f"{found.quantities.output.label}: drawn rankings against the published one, mean (5 % to 95 % of draws)",
        (
            words("source", "source", [name for name, _ in compared]),
            *(_agreement(found, name) for name in compared[0][1].agreement),
        ),
        notes=(
            f"pairs turned: pairs in the other order, of {n * (n - 1) // 2}; a tie in one of the two rankings counts half.",
            *((found.noise.at_best(DRAWN_NOISE),) if found.noise.unknown else ()),
        ),
    )


def _agreement(found: ScoreStability, name: str) -> Column:
    """One figure of the whole ranking, over the draws of each source."""
    spreads = [one.agreement[name] for _, one in compared_rankings(found)]
    places = 1 if name == "pairs turned" else 2
    key = name.lower().replace(" ", "_").replace("-", "_")
    return computed(
        f"top {found.quantities.top} overlap" if name == "top overlap" else name,
        {f"{key}_{end}": [getattr(one, end) for one in spreads] for end in ("mean", "low", "high")},
        partial(_spread, places),
    )


def _spread(places: int, mean: float, low: float, high: float) -> str:
    """A mean with the middle nine tenths of the draws."""
    if np.isnan(mean):
        return ABSENT
    return f"{fixed(mean, places)} ({fixed(low, places)} to {fixed(high, places)})"


def _published(found: ScoreStability) -> tuple[Column, ...]:
    """Every product with its published place and score."""
    quantities = found.quantities
    return (
        ranks("published_rank", "#", quantities.published),
        words("product", "product", quantities.ids, kind="name"),
        figures("published_score", quantities.output.name, quantities.values, 2, unit="points"),
    )


def open_table(found: ScoreStability, findings: BenchFindings) -> Table:
    """Every product: what the bench leaves open of it, and what its noise draws the score in to."""
    quantities, bench, shrunken = found.quantities, findings.bench, findings.shrunken
    top = set(findings.top_set(quantities.top))
    level = f"{100 * bench.sets.coverage:g} %"
    in_top = f"in top {quantities.top}"
    return Table(
        "open",
        f"{quantities.output.label}: what the bench's noise leaves open",
        (
            *_published(found),
            _set("set", "may hold", bench.sets),
            _set("alone", "alone", findings.alone),
            Column(in_top, {"in_top_set": [i in top for i in range(len(quantities.ids))]}, _yes),
            figures("shrunken", "shrunken", shrunken.scores, 2, unit="points"),
            figures("expected_rank", "expected", shrunken.expected_ranks, 1, unit="place"),
            words("letters", "group", [" ".join(own) for own in bench.groups.letters]),
        ),
        notes=(
            bench.noise.at_best(
                f"may hold: the places that the bench's noise leaves open, all sets together with {level} confidence;"
                " ~ where the bound lies within the simulation's error."
            ),
            f"alone: the same for a question about that product and no other, at {level} for each by itself.",
            bench.noise.at_best(
                f"{in_top}: could truly be among the first {quantities.top}, with the joint confidence of `may hold`."
            ),
            "shrunken, expected: the score drawn in towards the catalogue's mean by how badly it is known, and the place"
            " expected then; a coin toss between two places counts half.",
            bench.noise.at_best(
                "group: products that share a letter are not told apart by this bench; those that share none are."
                if bench.groups.exact
                else "group: runs of the table; products that share no letter are told apart."
            ),
        ),
        on_screen=IN_FULL,
    )


def _yes(holds: bool) -> str:
    return "yes" if holds else ""


def _set(key: str, heading: str, sets: RankSets) -> Column:
    """The places that each product may hold; its bounds, and which of them another seed may move."""
    fields = {
        f"{key}_low": sets.low,
        f"{key}_high": sets.high,
        f"{key}_low_unsure": sets.low_unsure,
        f"{key}_high_unsure": sets.high_unsure,
    }
    return Column(heading, fields, _set_text, unit="place")


def _set_text(low: int, high: int, low_unsure: bool, high_unsure: bool) -> str:
    if low == high and not (low_unsure or high_unsure):
        return f"{low}"
    marks = ["~" if unsure else "" for unsure in (low_unsure, high_unsure)]
    return f"{low}{marks[0]}-{high}{marks[1]}"


def places_table(found: ScoreStability) -> Table:
    """Every product's places over the draws of both sources, or of the one that there is."""
    quantities = found.quantities
    one = found.by_source.get("both") or next(iter(found.by_source.values()))
    return Table(
        "places",
        f"{quantities.output.label}: {SOURCES[one.source].lower()}",
        (
            *_published(found),
            ranks("median", "median", one.median),
            computed("5-95 %", {"low_5": one.low, "high_95": one.high}, _run, unit="place"),
            computed("all draws", {"lowest": one.lowest, "highest": one.highest}, _run, unit="place"),
            shares("first", "first", one.first),
            shares("in_the_top", f"top {quantities.top}", one.top),
            computed("absent", {"absent": one.absent}, lambda share: percent(share) if share else ""),
        ),
        notes=("median to all draws: places over the draws of the study, which is no confidence set.",),
        on_screen=IN_FULL,
    )


def _run(low: float, high: float) -> str:
    """A run of places, which no draw may have."""
    return ABSENT if np.isnan(low) else f"{place_text(low)}-{place_text(high)}"


def typical_table(found: ScoreStability, judged: RankStability) -> Table:
    """The mean weights among the judgement draws in which each product is first, the likeliest of them first."""
    order = np.argsort(-judged.first, kind="stable").tolist()
    return Table(
        "typical_weights",
        "Typical weights under which a product comes first (judgement draws)",
        (
            words("product", "product", found.quantities.ids, kind="name"),
            shares("first", "first", judged.first),
            *(
                computed(part, {f"share_{part}": judged.typical[:, column]}, lambda share: f"{100 * share:.1f} %")
                for column, part in enumerate(found.parts)
            ),
        ),
        rows=[row for row in order if judged.first[row] >= SELDOM],
        on_screen=IN_FULL,
    )


def catalogue_table(found: CatalogueRobustness) -> Table:
    """Who moves when the catalogue changes, a row a kind of change."""
    changes = found.changes
    return Table(
        "catalogue",
        "Robustness to the catalogue",
        (
            words("what", "change to the catalogue", [change.what for change in changes]),
            counts("tried", "tried", [change.tried for change in changes]),
            counts("scores_moved", "scores moved", [change.scores_moved for change in changes]),
            counts("ranks_moved", "order moved", [change.ranks_moved for change in changes]),
            computed(
                "most points", {"most": [change.most for change in changes]}, lambda most: f"{most:.3g}", unit="points"
            ),
            words("who", "who moves (places)", [_movers(change.who) for change in changes]),
        ),
        on_screen=IN_FULL,
    )


def _movers(who: Sequence[tuple[str, float]]) -> str:
    return ", ".join(f"{name} ({moves:g})" for name, moves in who[:NAMED])
