"""`steelyard sensitivity`: which argument moves a score, a rank, a winner; verdicts first."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from analysis.cli.inputs import guard_of
from analysis.cli.studies import check_output, close, headline, is_table, load_for_study, one_of, write_results
from analysis.cli.terminal import print_json, print_table, progress_bar, say
from analysis.indices.document import (
    sensitivity_document,
    sensitivity_frame,
    shapley_document,
    shapley_frame,
    state_of,
)
from analysis.indices.precision import read_precision
from analysis.indices.sensitivity import GROUPINGS, ScoreSensitivity, sensitivity
from analysis.indices.shapley_study import ScoreShapley, as_published, shapley_study
from analysis.indices.shapley_verdict import shapley_verdict
from analysis.indices.verdict import SIMULATION, group_rows, sensitivity_verdict
from analysis.study_document import with_provenance
from analysis.wording import kind_in_words
from scoring.errors import Place, Problem, StudyError

#: Factors that the terminal lists; files and `--json` hold all.
LISTED = 12
#: Over a column of intervals.
SIMULATED = "simulation, 95 %"


def run(
    formula: Path,
    catalogue: Path,
    settings: Sequence[str],
    study: Path | None,
    *,
    only: Sequence[str],
    pairs: Sequence[str],
    top: int | None,
    by: str,
    draws: int,
    second_order: bool,
    shapley: bool,
    resolved: bool,
    as_json: bool,
    out: Path | None,
    seed: int,
    force: bool = False,
    within: float | None = None,
    of: Sequence[str] = (),
) -> bool:
    """Run the study and show what it found; gives whether the precision that was asked for is reached."""
    one_of(by, GROUPINGS, "--by")
    if out is not None:
        is_table(out)
    made, table = load_for_study(formula, catalogue, settings, study, only=only, pairs=pairs, top=top)
    if shapley and within is not None:
        hint = "Shapley effects come from a sample of a fixed size. Leave out one of the two."
        raise StudyError([Problem(Place("--within"), "`--shapley`", "Sobol' indices", hint)])
    made = as_published(made) if shapley else made
    precision = read_precision(within, of, table.catalogue.products, made.pairs)
    guard = guard_of([table.form], [catalogue], [study], force=force)
    if out is not None:
        check_output(out, guard, by="sensitivity")
    shared: tuple[ScoreShapley, ...] = ()
    found: tuple[ScoreSensitivity, ...] = ()
    with progress_bar("sensitivity") as told:
        if shapley:
            shared = shapley_study(made, table, by=by, seed=seed, progress=told)
        else:
            found = sensitivity(
                made,
                table,
                by=by,
                budget=draws,
                second_order=second_order,
                precision=precision,
                seed=seed,
                progress=told,
            )
    reached = not precision.asked or all(one.converged for one in found)
    if out is not None or as_json:
        document = (
            shapley_document(made, table, shared, settings, seed)
            if shapley
            else sensitivity_document(made, table, found, settings, seed)
        )
    if out is not None:
        frame = shapley_frame(shared) if shapley else sensitivity_frame(found)
        frame = with_provenance(frame, made, table, settings, seed)
        write_results(out, "sensitivity", document, frame, lambda: _figures(found), guard)
    if as_json:
        print_json(document)
        return reached
    say(headline(made, table), "")
    for one in found:
        show(one, in_full=len(found) == 1)
    for each in shared:
        show_shapley(each)
    say(SIMULATION)
    close(made, table, out, resolved=resolved)
    return reached


def _figures(found: Sequence[ScoreSensitivity]) -> dict[str, bytes]:
    from analysis.study_figures import sensitivity_figures

    files: dict[str, bytes] = {}
    for one in found:
        files |= sensitivity_figures(one)
    return files


def show(found: ScoreSensitivity, *, in_full: bool) -> None:
    """Print the verdict, the groups, and in full the factors, the products and second order."""
    say(*sensitivity_verdict(found), "")
    rows = group_rows(found)
    if not found.swaps:
        return
    show_indices(found, rows, f"{found.quantities.output.label}: what moves the ranking (mean shift in rank)")
    if in_full:
        factors = [row for row, swap in enumerate(found.swaps) if swap.level == "factor"]
        if factors and factors != rows:
            order = sorted(factors, key=lambda row: -np.nan_to_num(found.indices.total[row, found.shift]))
            show_indices(found, order[:LISTED], f"The {min(LISTED, len(order))} strongest of {len(order)} arguments")
        show_local(found)
        show_products(found)
        show_second(found)


def show_indices(found: ScoreSensitivity, rows: Sequence[int], title: str) -> None:
    """Print first-order and total indices of the mean shift in rank, strongest first."""
    i, q = found.indices, found.shift
    order = sorted(rows, key=lambda row: -np.nan_to_num(i.total[row, q]))
    cells = [
        [
            kind_in_words(found.swaps[row].name),
            *index_cells(i.first[row, q], i.first_low[row, q], i.first_high[row, q]),
            *index_cells(i.total[row, q], i.total_low[row, q], i.total_high[row, q]),
        ]
        for row in order
    ]
    headers = ["", "alone", SIMULATED, "with interactions", SIMULATED]
    print_table(headers, cells, right=range(1, len(headers)), title=title)
    if any(cell[1].endswith("~0") for cell in cells):
        say("~0: an index that its own interval does not tell from 0; below 0 by the noise of the estimate.", "")


def index_cells(value: float, low: float, high: float) -> list[str]:
    """An index and its interval as text; one that is not told from 0 says so."""
    if np.isnan(value):
        return ["–", ""]
    near = " ~0" if low <= 0 <= high else ""
    return [f"{value:.3f}{near}", f"{low:.3f} to {high:.3f}"]


def show_local(found: ScoreSensitivity) -> None:
    """Print the derivatives at the stated setting: points per standard deviation, strongest first."""
    products = found.quantities.products
    size = np.abs(found.local.per_sd[:, products])
    known = [row for row in range(len(size)) if not np.isnan(size[row]).all()]
    order = sorted(known, key=lambda row: -float(np.nanmean(size[row])))[:LISTED]
    rows = []
    for row in order:
        widest = int(np.nanargmax(size[row]))
        broken = int(np.isnan(size[row]).sum())
        change = found.local.per_sd[row, products][widest]
        rows.append(
            [
                found.local.names[row],
                f"{np.nanmean(size[row]):.3f}",
                f"{change:+.3f}",
                found.quantities.ids[widest],
                str(broken or ""),
            ]
        )
    headers = ["", "mean size", "largest", "of", "on a jump or corner"]
    title = "At the stated setting: points of score per standard deviation of the number, to first order"
    if rows:
        print_table(headers, rows, right=(1, 2, 4), title=title)


def show_products(found: ScoreSensitivity) -> None:
    """Print every product's score and rank over the draws, and what moves its score and rank most."""
    names, i = found.quantities, found.indices
    groups = group_rows(found)
    score, ranks = names.family("score"), names.family("rank")
    rows = []
    for number, product in enumerate(names.ids):
        cells = [f"{names.published[number]:g}", product]
        for at, digits in ((score, 2), (ranks, 1)):
            q = at.start + number
            if i.lost[q]:
                cells += ["–", "–", "no score in some draws", ""]
                continue
            cells += [f"{i.mean[q]:.{digits}f}", f"{np.sqrt(max(0.0, i.variance[q])):.{digits}f}"]
            if not i.reacts[q]:
                cells += [state_of(found, q), ""]
                continue
            first = max(groups, key=lambda row: i.total[row, q])
            cells += [kind_in_words(found.swaps[first].name), f"{i.total[first, q]:.2f}"]
        rows.append(cells)
    headers = [
        "#",
        "product",
        "mean",
        "sd",
        "score moved most by",
        "total",
        "rank",
        "sd",
        "rank moved most by",
        "total",
    ]
    title = f"{names.output.label}: every product over the draws"
    print_table(headers, rows, right=(0, 2, 3, 5, 6, 7, 9), title=title)


def show_second(found: ScoreSensitivity) -> None:
    """Print second-order indices of the mean shift in rank, strongest first."""
    i, q = found.indices, found.shift
    if i.second is None or i.second_low is None or i.second_high is None:
        return
    names = [kind_in_words(found.swaps[row].name) for row in found.paired]
    pairs = [f"{a} x {b}" for place, a in enumerate(names) for b in names[place + 1 :]]
    order = sorted(range(len(pairs)), key=lambda row: -np.nan_to_num(i.second[row, q]))[:LISTED]  # type: ignore[index]
    rows = [[pairs[r], *index_cells(i.second[r, q], i.second_low[r, q], i.second_high[r, q])] for r in order]
    print_table(
        ["", "together, beyond each alone", SIMULATED], rows, right=(1, 2), title="Second order, mean shift in rank"
    )


def show_shapley(found: ScoreShapley) -> None:
    """Print the Shapley effects on the mean shift in rank and on whether the published winner is first."""
    e, names = found.effects, found.quantities
    shift, first = names.family("mean shift in rank").start, names.family("first").start
    order = sorted(range(len(e.groups)), key=lambda row: -np.nan_to_num(e.effects[row, shift]))
    say(*shapley_verdict(found), "")
    if not e.reacts[shift]:
        return
    rows = [
        [
            kind_in_words(e.groups[row]),
            *index_cells(e.effects[row, shift], e.low[row, shift], e.high[row, shift]),
            f"{e.first[row, shift]:.3f}",
            f"{e.total[row, shift]:.3f}",
            *index_cells(e.effects[row, first], e.low[row, first], e.high[row, first]),
        ]
        for row in order
    ]
    headers = ["", "share", SIMULATED, "alone", "last", f"{names.ids[0]} first", SIMULATED]
    print_table(headers, rows, right=range(1, len(headers)), title="Shapley effects: shares that add to 1")
