"""`steelyard stability`: what becomes of the ranking under judgement, bench noise, and both; verdicts first."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from analysis.cli.inputs import guard_of
from analysis.cli.long_work import announce, share_of, share_of_draws
from analysis.cli.studies import check_output, close, headline, is_table, load_for_study, write_results
from analysis.cli.terminal import print_json, print_table, progress_bar, say
from analysis.partial.document import partial_document
from analysis.partial.partial_place import first_places
from analysis.rankings.bench_alone import bench_under
from analysis.rankings.bench_findings import BenchFindings, bench_findings
from analysis.rankings.catalogue_robustness import CatalogueRobustness, catalogue_robustness
from analysis.rankings.document import stability_document, stability_frame
from analysis.rankings.findings_verdict import findings_verdict
from analysis.rankings.rank_sets import RankSets
from analysis.rankings.stability import ScoreStability, stability
from analysis.rankings.told_apart import ToldApart
from analysis.rankings.verdict import SOURCES, compared_rankings, stability_verdict
from analysis.repeatability.document import repeatability_document
from analysis.repeatability.notes import outside_in_words
from analysis.repeatability.repeatability import precisions
from analysis.study_document import with_provenance
from analysis.wording import percent

#: A product that is first in fewer draws than this has no typical weights worth printing.
SELDOM = 0.01


def run(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    study: Path | None,
    *,
    only: Sequence[str],
    top: int | None,
    draws: int,
    coverage: float,
    at_once: bool,
    resolved: bool,
    as_json: bool,
    out: Path | None,
    seed: int,
    force: bool = False,
) -> None:
    """Run the study and show what it found."""
    if out is not None:
        is_table(out)
    made, table = load_for_study(formula, catalogue, settings, study, only=only, pairs=(), top=top)
    guard = guard_of([table.form], [catalogue], [study], force=force)
    if out is not None:
        check_output(out, guard, by="stability")
    share = share_of(only, table.form) * share_of_draws(draws)
    announce("stability", len(table.catalogue.products), share)
    with progress_bar("stability") as told:
        found = stability(made, table, draws=draws, seed=seed, progress=told, retest=True)
    benches = bench_under(made, table, seed, coverage=coverage, at_once=at_once)
    asked = {one.quantities.output.name: one.quantities for one in found}
    findings = {name: bench_findings(asked[name], bench, seed=seed) for name, bench in benches.items()}
    robustness = catalogue_robustness(table.program, table.inputs, asked)
    bench = precisions(table.form, table.catalogue)
    firsts = first_places(table, [table.column(name) for name in asked])
    if out is not None or as_json:
        repeats = repeatability_document(table.form, table.catalogue, bench)
        document = stability_document(made, table, found, benches, findings, robustness, repeats, settings, seed)
        document["first_places"] = partial_document(firsts, table.catalogue.products)
    if out is not None:
        frame = with_provenance(stability_frame(found, benches, findings), made, table, settings, seed)
        write_results(out, "stability", document, frame, lambda: _figures(found, benches), guard)
    if as_json:
        print_json(document)
        return
    say(headline(made, table), "")
    for one in found:
        name = one.quantities.output.name
        say(*(first.says for first in firsts if first.name == name))
        show(one, benches.get(name), findings.get(name), robustness[name], in_full=len(found) == 1)
    several = [one for one in found if one.quantities.output.name in benches]
    if len(several) > 1:
        say(tables_in_words(len(several), coverage, at_once=at_once))
    outside = outside_in_words(bench)
    if outside:
        say(*outside, "`steelyard check FORMULA CATALOGUE --repeatability` has the figures.")
    close(made, table, out, resolved=resolved)


def tables_in_words(n_tables: int, coverage: float, *, at_once: bool) -> str:
    """How often the statements of several tables hold at once."""
    if at_once:
        each = 100 * (1 - (1 - coverage) / n_tables)
        return f"All {n_tables} tables' statements hold at once with {100 * coverage:g} %: each is at {each:.4g} % (Bonferroni)."
    return (
        f"Joint means of one table at a time: all {n_tables} tables' statements hold at once less often than each"
        " (`--at-once` for all together)."
    )


def _figures(found: Sequence[ScoreStability], benches: Mapping[str, ToldApart]) -> dict[str, bytes]:
    from analysis.study_figures import stability_figures

    files: dict[str, bytes] = {}
    for one in found:
        files |= stability_figures(one, benches.get(one.quantities.output.name))
    return files


def show(
    found: ScoreStability,
    bench: ToldApart | None,
    findings: BenchFindings | None,
    robustness: CatalogueRobustness,
    *,
    in_full: bool,
) -> None:
    """Print the verdict and how rankings agree; in full, every product too."""
    say(*stability_verdict(found, bench, robustness), *findings_verdict(found.quantities, findings), "")
    if not found.by_source or len(found.quantities.ids) < 2:
        return
    show_agreement(found)
    if in_full:
        if findings is not None:
            show_what_is_open(found, findings)
        show_places(found)
        show_typical_weights(found)
        show_catalogue(robustness)


def show_agreement(found: ScoreStability) -> None:
    """Print how the drawn rankings agree with the published one, by source."""
    rows = []
    for source, one in compared_rankings(found):
        cells = [source]
        for name, spread in one.agreement.items():
            known = not math.isnan(spread.mean)
            digits = 1 if name == "pairs turned" else 2
            figures = (f"{figure:.{digits}f}" for figure in (spread.mean, spread.low, spread.high))
            cells.append("{} ({} to {})".format(*figures) if known else "–")
        rows.append(cells)
    names = list(next(iter(found.by_source.values())).agreement)
    names = [f"top {found.quantities.top} overlap" if name == "top overlap" else name for name in names]
    title = f"{found.quantities.output.label}: drawn rankings against the published one, mean (5 % to 95 % of draws)"
    print_table(["", *names], rows, right=range(1, len(names) + 1), title=title)
    n = len(found.quantities.ids)
    say(
        f"pairs turned: pairs in the other order, of {n * (n - 1) // 2}; a tie in one of the two rankings counts half.",
        "",
    )


def show_what_is_open(found: ScoreStability, findings: BenchFindings) -> None:
    """Print every product: published place, what the bench leaves open of it, and what its noise draws the score in to."""
    names, bench, shrunken = found.quantities, findings.bench, findings.shrunken
    top = set(findings.top_set(names.top))
    rows = [
        [
            f"{names.published[i]:g}",
            product,
            f"{names.values[i]:.2f}",
            _set(bench.sets, i),
            _set(findings.alone, i),
            "yes" if i in top else "",
            f"{shrunken.scores[i]:.2f}",
            f"{shrunken.expected_ranks[i]:.1f}",
            " ".join(bench.groups.letters[i]),
        ]
        for i, product in enumerate(names.ids)
    ]
    headers = [
        "#",
        "product",
        names.output.name,
        "may hold",
        "alone",
        f"in top {names.top}",
        "shrunken",
        "expected",
        "group",
    ]
    title = f"{names.output.label}: what the bench's noise leaves open"
    print_table(headers, rows, right=(0, 2, 6, 7), title=title)
    level = f"{100 * bench.sets.coverage:g} %"
    say(
        f"may hold: the places that the bench's noise leaves open, all sets together with {level} confidence;"
        " ~ where the bound lies within the simulation's error.",
        f"alone: the same for a question about that product and no other, at {level} for each by itself.",
        f"in top {names.top}: could truly be among the first {names.top}, with the joint confidence of `may hold`.",
        "shrunken, expected: the score drawn in towards the catalogue's mean by how badly it is known, and the place expected"
        " then; a coin toss between two places counts half.",
        "group: products that share a letter are not told apart by this bench; those that share none are."
        if bench.groups.exact
        else "group: runs of the table; products that share no letter are told apart.",
        "",
    )


def show_places(found: ScoreStability) -> None:
    """Print every product's places over the draws."""
    names = found.quantities
    one = found.by_source.get("both") or next(iter(found.by_source.values()))
    headers = [
        "#",
        "product",
        names.output.name,
        "median",
        "5-95 %",
        "all draws",
        "first",
        f"top {names.top}",
        "absent",
    ]
    rows = [
        [
            f"{names.published[i]:g}",
            product,
            f"{names.values[i]:.2f}",
            f"{one.median[i]:g}",
            f"{one.low[i]:g}-{one.high[i]:g}",
            f"{one.lowest[i]:g}-{one.highest[i]:g}",
            percent(float(one.first[i])),
            percent(float(one.top[i])),
            percent(float(one.absent[i])) if one.absent[i] else "",
        ]
        for i, product in enumerate(names.ids)
    ]
    title = f"{names.output.label}: {SOURCES[one.source].lower()}"
    print_table(headers, rows, right=(0, *range(2, len(headers))), title=title)
    say("median to all draws: places over the draws of the study, which is no confidence set.", "")


def _set(sets: RankSets, i: int) -> str:
    low, high = int(sets.low[i]), int(sets.high[i])
    marks = "~" if sets.low_unsure[i] else "", "~" if sets.high_unsure[i] else ""
    return f"{low}{marks[0]}" if low == high and not any(marks) else f"{low}{marks[0]}-{high}{marks[1]}"


def show_typical_weights(found: ScoreStability) -> None:
    """Print the mean weights among the judgement draws in which each product is first."""
    one = found.by_source.get("judgement") or found.by_source.get("both")
    if one is None or not found.parts:
        return
    likely = [i for i in np.argsort(-one.first, kind="stable").tolist() if one.first[i] >= SELDOM]
    rows = [
        [found.quantities.ids[i], percent(float(one.first[i])), *(f"{100 * share:.1f} %" for share in one.typical[i])]
        for i in likely
    ]
    if rows:
        title = "Typical weights under which a product comes first (judgement draws)"
        print_table(["product", "first", *found.parts], rows, right=range(1, len(found.parts) + 2), title=title)


def show_catalogue(robustness: CatalogueRobustness) -> None:
    """Print who moves when the catalogue changes."""
    rows = [
        [
            change.what,
            str(change.tried),
            str(change.scores_moved),
            str(change.ranks_moved),
            f"{change.most:.3g}",
            ", ".join(f"{name} ({moves:g})" for name, moves in change.who[:4]),
        ]
        for change in robustness.changes
    ]
    headers = ["change to the catalogue", "tried", "scores moved", "order moved", "most points", "who moves (places)"]
    print_table(headers, rows, right=(1, 2, 3, 4), title="Robustness to the catalogue")
