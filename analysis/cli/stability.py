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
from analysis.repeatability.document import repeatability_document
from analysis.repeatability.notes import outside_in_words
from analysis.repeatability.repeatability import precisions
from analysis.stability.bench_alone import bench_under
from analysis.stability.catalogue_robustness import CatalogueRobustness, catalogue_robustness
from analysis.stability.document import stability_document, stability_frame
from analysis.stability.stability import ScoreStability, stability
from analysis.stability.told_apart import ToldApart
from analysis.stability.verdict import SOURCES, compared_rankings, stability_verdict
from analysis.study_document import with_provenance
from analysis.wording import percent
from scoring.program import compile_form

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
    benches = bench_under(made, table, seed, coverage=coverage)
    asked = {one.quantities.output.name: one.quantities for one in found}
    robustness = catalogue_robustness(compile_form(table.form), table.inputs, asked)
    bench = precisions(table.form, table.catalogue)
    firsts = first_places(table, [table.column(name) for name in asked])
    if out is not None or as_json:
        repeats = repeatability_document(table.form, table.catalogue, bench)
        document = stability_document(made, table, found, benches, robustness, repeats, settings, seed)
        document["first_places"] = partial_document(firsts, table.catalogue.products)
    if out is not None:
        frame = with_provenance(stability_frame(found, benches), made, table, settings, seed)
        write_results(out, "stability", document, frame, lambda: _figures(found, benches), guard)
    if as_json:
        print_json(document)
        return
    say(headline(made, table, settings), "")
    for one in found:
        name = one.quantities.output.name
        say(*(first.says for first in firsts if first.name == name))
        show(one, benches.get(name), robustness[name], in_full=len(found) == 1)
    several = [one for one in found if one.quantities.output.name in benches]
    if len(several) > 1:
        said = f"Joint means of one table at a time: all {len(several)} tables' statements hold at once less often than each."
        say(said)
    outside = outside_in_words(bench)
    if outside:
        say(*outside, "`steelyard check FORMULA CATALOGUE --repeatability` has the figures.")
    close(made, table, out, resolved=resolved)


def _figures(found: Sequence[ScoreStability], benches: Mapping[str, ToldApart]) -> dict[str, bytes]:
    from analysis.study_figures import stability_figures

    files: dict[str, bytes] = {}
    for one in found:
        files |= stability_figures(one, benches.get(one.quantities.output.name))
    return files


def show(found: ScoreStability, bench: ToldApart | None, robustness: CatalogueRobustness, *, in_full: bool) -> None:
    """Print the verdict and how rankings agree; in full, every product too."""
    say(*stability_verdict(found, bench, robustness), "")
    if not found.by_source or len(found.quantities.ids) < 2:
        return
    show_agreement(found)
    if in_full:
        show_products(found, bench)
        show_typical_weights(found)
        show_catalogue(robustness)


def show_agreement(found: ScoreStability) -> None:
    """Print how the drawn rankings agree with the published one, by source."""
    rows = []
    for source, one in compared_rankings(found):
        cells = [source]
        for spread in one.agreement.values():
            known = not math.isnan(spread.mean)
            cells.append(f"{spread.mean:.2f} ({spread.low:.2f} to {spread.high:.2f})" if known else "–")
        rows.append(cells)
    names = list(next(iter(found.by_source.values())).agreement)
    names = [f"top {found.quantities.top} overlap" if name == "top overlap" else name for name in names]
    title = f"{found.quantities.output.label}: drawn rankings against the published one, mean (5 % to 95 % of draws)"
    print_table(["", *names], rows, right=range(1, len(names) + 1), title=title)


def show_products(found: ScoreStability, bench: ToldApart | None) -> None:
    """Print every product: published place, what the bench leaves open, and its places over the draws."""
    names = found.quantities
    one = found.by_source.get("both") or next(iter(found.by_source.values()))
    headers = ["#", "product", names.output.name]
    right = [0, 2]
    if bench is not None:
        headers += ["may hold", "group"]
    start = len(headers)
    headers += ["median", "5-95 %", "all draws", "first", f"top {names.top}", "absent"]
    right += range(start, len(headers))
    rows = []
    for i, product in enumerate(names.ids):
        row = [f"{names.published[i]:g}", product, f"{names.values[i]:.2f}"]
        if bench is not None:
            row += [_set(bench, i), " ".join(bench.groups.letters[i])]
        row += [
            f"{one.median[i]:g}",
            f"{one.low[i]:g}-{one.high[i]:g}",
            f"{one.lowest[i]:g}-{one.highest[i]:g}",
            percent(float(one.first[i])),
            percent(float(one.top[i])),
            percent(float(one.absent[i])) if one.absent[i] else "",
        ]
        rows.append(row)
    print_table(headers, rows, right=right, title=f"{names.output.label}: {SOURCES[one.source].lower()}")
    if bench is not None:
        level = f"{100 * bench.sets.coverage:g} %"
        say(
            f"may hold: the places that the bench's noise leaves open, all sets together with {level} confidence;"
            " ~ where the bound lies within the simulation's error.",
            "group: products that share a letter are not told apart by this bench; those that share none are."
            if bench.groups.exact
            else "group: runs of the table; products that share no letter are told apart.",
            "median to all draws: places over the draws of the study, which is no confidence set.",
            "",
        )


def _set(bench: ToldApart, i: int) -> str:
    low, high = int(bench.sets.low[i]), int(bench.sets.high[i])
    marks = "~" if bench.sets.low_unsure[i] else "", "~" if bench.sets.high_unsure[i] else ""
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
