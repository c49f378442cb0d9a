"""What a stability study found of one score, in sentences that its own figures carry."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analysis.catalogue_robustness import CatalogueRobustness
from analysis.rank_groups import run_from
from analysis.stability import RankStability, ScoreStability
from analysis.told_apart import ToldApart
from analysis.wording import counted, percent, places, some

NAMED = 4
SOURCES = {"judgement": "Judgement alone", "bench": "Bench noise alone", "both": "Both together"}


def stability_verdict(
    found: ScoreStability, bench: ToldApart | None, robustness: CatalogueRobustness | None
) -> tuple[str, ...]:
    """Sentences, the first being the one to quote."""
    label = found.quantities.output.label
    if not found.quantities.ids:
        return (f"{label}: no product has a published score.",)
    sentences = [*_bench(found, bench), *(_source(found, one) for one in found.by_source.values())]
    sentences += [*_uneven(found, bench), *_absent(found), *_catalogue(robustness)]
    return (f"{label}: {sentences[0]}", *sentences[1:])


def _bench(found: ScoreStability, bench: ToldApart | None) -> Iterator[str]:
    if bench is None:
        yield "the study does not vary the readings, so that nothing is said of what the bench can tell apart."
        return
    n, level = len(found.quantities.ids), f"joint {100 * bench.sets.coverage:g} %"
    settled = bench.first_settled
    if settled == n:
        yield f"every place is settled against the bench's noise ({level})."
        return
    if settled:
        head = "the first place is settled" if settled == 1 else f"the first {settled} places are settled"
    else:
        head = "not even the first place is settled"
    last = run_from(bench.sets.beats, settled)
    text = f"{head} against the bench's noise ({level})"
    if last > settled:
        text += f"; {places(settled + 1, last + 1)} cannot be told apart by this bench"
    else:
        low, high = int(bench.sets.low[settled]), int(bench.sets.high[settled])
        text += f"; {found.quantities.ids[settled]}, published at {settled + 1}, may stand at {places(low, high)}"
    unsure = int((bench.sets.low_unsure | bench.sets.high_unsure).sum())
    if unsure:
        text += f" ({counted(unsure, 'set')} with a bound that lies within the simulation's own error, marked ~)"
    yield text + "."


def _source(found: ScoreStability, one: RankStability) -> str:
    ids = found.quantities.ids
    shift, tau = one.agreement["mean shift in rank"], one.agreement["Kendall tau-b"]
    text = (
        f"{SOURCES[one.source]}: a product moves {shift.mean:.1f} places on average (5 to 95 % of draws: {shift.low:.1f} to"
        f" {shift.high:.1f}), Kendall tau-b with the published order {tau.mean:.2f} ({tau.low:.2f} to {tau.high:.2f});"
        f" {ids[0]} is first in {percent(float(one.first[0]))} of {one.n_draws} draws"
    )
    likeliest = int(np.argmax(one.first))
    error = 2 * np.sqrt(0.5 / one.n_draws)
    if likeliest and one.first[likeliest] - one.first[0] > error:
        text += f", {ids[likeliest]} in {percent(float(one.first[likeliest]))}"
    return text + "."


def _uneven(found: ScoreStability, bench: ToldApart | None) -> Iterator[str]:
    if bench is not None and bench.uneven:
        names = some([found.quantities.ids[i] for i in bench.uneven], NAMED)
        yield (
            f"The noise of {names} does not lie evenly about the score (a limit or the end of a curve is near): their sets rest"
            " on a normal law that holds badly there."
        )


def _absent(found: ScoreStability) -> Iterator[str]:
    one = found.by_source.get("judgement") or found.by_source.get("both")
    if one is not None and one.absent.max(initial=0) > 0:
        names = [
            f"{found.quantities.ids[i]} ({percent(float(one.absent[i]))})"
            for i in np.argsort(-one.absent)
            if one.absent[i] > 0
        ]
        yield (
            f"Without a score in some draws, what is missing then outweighing the missing rule: {some(names, NAMED)};"
            " others move up when they are gone."
        )


def _catalogue(robustness: CatalogueRobustness | None) -> Iterator[str]:
    if robustness is None:
        return
    tried = sum(change.tried for change in robustness.changes)
    moving = [change for change in robustness.changes if change.ranks_moved or change.scores_moved]
    if not moving:
        why = "nothing in the formula leans on the catalogue, and " if not robustness.leans else ""
        yield f"The catalogue: {why}none of {tried} products dropped, cloned or added moved any other."
        return
    parts = []
    for change in moving:
        who = some([f"{name} ({moves:g})" for name, moves in change.who], NAMED)
        moved = f"{change.ranks_moved} of {change.tried} changed the order among the others"
        parts.append(
            f"{change.what}: {moved}, scores by up to {change.most:.2g}" + (f" (most places: {who})" if who else "")
        )
    yield "The catalogue moves others, since the formula leans on it: " + "; ".join(parts) + "."
