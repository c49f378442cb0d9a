"""What a stability study found, in sentences that its own figures carry."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from analysis.rankings.bench_findings import BenchFindings
from analysis.rankings.catalogue_robustness import CatalogueChange, CatalogueRobustness
from analysis.rankings.distinguishable import Distinguishable
from analysis.rankings.rank_groups import run_from
from analysis.rankings.stability import RankStability, ScoreStability
from analysis.rankings.study import AskedOfRankings, RankingFound, StabilityFound
from analysis.rankings.winners import Lead
from analysis.repeats.notes import outside_in_words
from analysis.trials.quantities import Quantities
from analysis.wording import counted, noise_in_words, percent, place_text, places, some
from scoring.measurement_error import NoiseKnown

#: So many products are named in a sentence, and so many where the sentence is about who they are.
NAMED, MEMBERS = 4, 8
SOURCES = {"judgement": "Judgement alone", "bench": "Bench noise alone", "both": "Both together"}
#: What draws of the bench's noise stand for: one dose of it about the published readings.
ONE_DOSE = "one dose about the published readings: how far these may lie from the true ones"
RETEST = "A re-test"


def ranking_verdict(found: RankingFound) -> tuple[str, ...]:
    """Sentences on one score, the first being the one to quote."""
    return (
        *stability_verdict(found.drawn, found.bench, found.robustness),
        *findings_verdict(found.quantities, found.findings),
    )


def said_of_all(found: StabilityFound) -> tuple[str, ...]:
    """What is said of all scores together: how often the statements of several tables hold, and what they stand on."""
    tables = sum(1 for one in found.rankings if one.bench is not None)
    outside = outside_in_words(found.repeats)
    return (
        *((tables_in_words(tables, found.asked),) if tables > 1 else ()),
        *outside,
        *(("`steelyard check FORMULA CATALOGUE --repeatability` has the figures.",) if outside else ()),
    )


def tables_in_words(n_tables: int, asked: AskedOfRankings) -> str:
    """How often the statements of several tables hold at once."""
    if asked.at_once:
        each = 100 * (1 - (1 - asked.coverage) / n_tables)
        return (
            f"All {n_tables} tables' statements hold at once with {100 * asked.coverage:g} %: each is at {each:.4g} %"
            " (Bonferroni)."
        )
    return (
        f"Joint means of one table at a time: all {n_tables} tables' statements hold at once less often than each"
        " (`--at-once` for all together)."
    )


def stability_verdict(
    found: ScoreStability, bench: Distinguishable | None, robustness: CatalogueRobustness | None
) -> tuple[str, ...]:
    """Sentences, the first being the one to quote."""
    label, ids = found.quantities.output.label, found.quantities.ids
    if len(ids) < 2:
        only = f"{ids[0]} alone has a published score" if ids else "no product has a published score"
        return (f"{label}: {only}, so that there is no order to test.", *_absent(found))
    sources = list(_sources(found))
    if bench is None:
        why = "moves no score here" if "bench" in found.by_source else "is no part of this study"
        if found.noise.unknown:
            why = found.noise.not_known.removeprefix("the bench's noise ")
        said = f"The bench's noise {why}: nothing is said of what the bench can tell apart."
        sentences = [*(sources or ["nothing varies in this study."]), said]
    else:
        sentences = [_bench(found, bench), _distance(bench), *sources, *_unsure(found, bench), *_uneven(found, bench)]
    sentences += [*_absent(found), *_catalogue(robustness)]
    return (f"{label}: {sentences[0]}", *sentences[1:])


def compared_rankings(found: ScoreStability) -> Iterator[tuple[str, RankStability]]:
    """What is drawn beside the published ranking, each with its name: every source, and the re-test."""
    for source, one in found.by_source.items():
        yield SOURCES[source], one
        if source == "bench" and found.retest is not None:
            yield RETEST, found.retest


def _bench(found: ScoreStability, bench: Distinguishable) -> str:
    """How far down the table places are settled, and what follows below."""
    ids, settled = found.quantities.ids, bench.first_settled
    level = f"against {noise_in_words(found.quantities.form, found.quantities.output)}, joint {100 * bench.sets.coverage:g} %"
    at_best = bench.noise.at_best
    if settled == len(ids):
        return at_best(f"every place is settled {level}.")
    text = f"{_settled(ids[:settled])} {level}"
    last = run_from(bench.sets.beats, settled)
    if last > settled:
        return at_best(f"{text}; {places(settled + 1, last + 1)} cannot be told apart by this bench.")
    low, high = int(bench.sets.low[settled]), int(bench.sets.high[settled])
    published = place_text(found.quantities.published[settled])
    return at_best(f"{text}; {ids[settled]}, published at {published}, may hold {places(low, high)}.")


def _settled(firsts: Sequence[str]) -> str:
    """Which places are settled, by the products that hold them."""
    if not firsts:
        return "not even the first place is settled"
    named = some(firsts, NAMED)
    if len(firsts) == 1:
        return f"the first place ({named}) is settled"
    return f"the first {len(firsts)} places ({named}) are settled"


def _distance(bench: Distinguishable) -> str:
    """How far apart two scores must lie, over the whole table and for one pair; and what kind of noise that is."""
    return bench.noise.at_best(
        f"Two neighbours in this table are told apart from about {bench.distance():.2g} points on (the median; all pairs at"
        f" once), or {bench.distance(alone=True):.2g} where only one pair is looked at."
    )


def _sources(found: ScoreStability) -> Iterator[str]:
    """A sentence for each source, with the re-test after the bench's noise."""
    for one in found.by_source.values():
        if one.source == "bench" and found.noise.is_nothing:
            continue  # what is drawn is what was not read, and no noise: it says nothing of how firm a place is
        said = source_in_words(found, one)
        yield said if one.source == "judgement" else found.noise.at_best(said)
        if one.source == "bench" and found.retest is not None:
            yield found.noise.at_best(_retest(found, found.retest))


def source_in_words(found: ScoreStability, one: RankStability) -> str:
    """How far one source moves the ranking, and who is first then."""
    ids = found.quantities.ids
    shift, tau = one.agreement["mean shift in rank"], one.agreement["Kendall tau-b"]
    lead = f"{SOURCES[one.source]} ({_dose(found)})" if one.source == "bench" else SOURCES[one.source]
    if shift.mean == 0:
        return f"{lead}: no product changes place in any of {one.n_draws} draws."
    text = f"{lead}: a product moves {_mean_shift(one)} places on average ({_nine_of_ten(one)})"
    if not math.isnan(tau.mean):
        text += f", Kendall's tau-b with the published order is {tau.mean:.2f} ({tau.low:.2f} to {tau.high:.2f})"
    text += f"; {ids[0]}, published first, is first in {percent(float(one.first[0]))} of {one.n_draws} draws"
    likeliest = int(np.argmax(one.first))
    both, gap = one.first[likeliest] + one.first[0], one.first[likeliest] - one.first[0]
    if gap > 3 * math.sqrt(both / one.n_draws):  # three standard errors of their difference
        text += f", {ids[likeliest]} in {percent(float(one.first[likeliest]))}"
    return text + "."


def surest_firsts_in_words(quantities: Quantities, one: RankStability) -> str:
    """Who is first in most draws."""
    order = np.argsort(-one.first, kind="stable").tolist()
    firsts = [f"{quantities.ids[i]} in {percent(float(one.first[i]))}" for i in order if one.first[i] > 0]
    if not firsts:
        return f"{SOURCES[one.source]}: nobody is first alone in any of {one.n_draws} draws."
    return f"{SOURCES[one.source]}: first is {some(firsts, NAMED)} of {one.n_draws} draws."


def swaps_in_words(quantities: Quantities, one: RankStability) -> str:
    """Which neighbours of the published order change places most readily."""
    above = np.diag(one.beats, 1)
    if np.isnan(above).all():
        return f"{SOURCES[one.source]}: no two neighbours of the published order have a score in the same draw."
    least = int(np.nanargmin(above))
    return (
        f"{SOURCES[one.source]}: of all neighbours in the published order, {quantities.ids[least]} and"
        f" {quantities.ids[least + 1]} keep theirs most seldom, in {percent(float(above[least]))} of draws."
    )


def _dose(found: ScoreStability) -> str:
    """What draws of the bench's noise stand for; with missing readings, where they are drawn."""
    own = found.quantities.form.dependencies.under(found.quantities.output.name)
    unread = [name for name in found.unread if name in own]
    return f"{ONE_DOSE}; what was not read of {some(unread, NAMED)} is drawn too" if unread else ONE_DOSE


def _retest(found: ScoreStability, one: RankStability) -> str:
    """How far a second table lies from the published one, and whether it has the same first."""
    lead = f"{RETEST} (everything read again; both tables err)"
    if one.agreement["mean shift in rank"].mean == 0:
        return f"{lead}: no product stands at another place in any of {one.n_draws} draws."
    return (
        f"{lead}: a product stands {_mean_shift(one)} places from its published one on average ({_nine_of_ten(one)});"
        f" {found.quantities.ids[0]}, published first, is first again in {percent(float(one.first[0]))} of {one.n_draws} draws."
    )


def _mean_shift(one: RankStability) -> str:
    mean = one.agreement["mean shift in rank"].mean
    return f"{mean:.1f}" if mean >= 0.05 else "under 0.1"


def _nine_of_ten(one: RankStability) -> str:
    shift = one.agreement["mean shift in rank"]
    return f"{shift.low:.1f} to {shift.high:.1f} in nine draws of ten"


def _unsure(found: ScoreStability, bench: Distinguishable) -> Iterator[str]:
    unsure = np.flatnonzero(bench.sets.low_unsure | bench.sets.high_unsure)
    if len(unsure):
        names = some([found.quantities.ids[i] for i in unsure.tolist()], NAMED)
        yield (
            f"Close calls: bounds of {names} (marked ~) lie within the simulation's own error, and another seed may move them."
        )


def _uneven(found: ScoreStability, bench: Distinguishable) -> Iterator[str]:
    if bench.uneven:
        names = some([found.quantities.ids[i] for i in bench.uneven], NAMED)
        yield bench.noise.at_best(
            f"The noise of {names} does not lie evenly about the score (a limit or the end of a curve is near): they are told"
            " from another only where hardly a draw puts the two in the other order."
        )


def _absent(found: ScoreStability) -> Iterator[str]:
    one = found.by_source.get("judgement") or found.by_source.get("both") or found.by_source.get("bench")
    if one is not None and one.absent.max(initial=0) > 0:
        names = [
            f"{found.quantities.ids[i]} ({percent(float(one.absent[i]))})"
            for i in np.argsort(-one.absent, kind="stable")
            if one.absent[i] > 0
        ]
        yield (
            f"Some draws leave a product without a score, what is missing then outweighing the missing rule:"
            f" {some(names, NAMED)}; those below it move up."
        )


#: Each change to the catalogue as a sentence calls it.
CHANGES = {
    "drop one": "dropping one",
    "clone one": "adding a clone of one",
    "add a middling one": "adding a middling one",
    "add a dominated one": "adding one that is nowhere better",
}


def _catalogue(robustness: CatalogueRobustness | None) -> Iterator[str]:
    if robustness is None:
        return
    tried = counted(sum(change.tried for change in robustness.changes), "change")
    moving = [change for change in robustness.changes if change.ranks_moved or change.scores_moved]
    if not moving:
        why = "" if robustness.leans else "nothing in the formula leans on the catalogue, and "
        yield f"The catalogue: {why}none of {tried} to it (a product dropped, cloned or added) moved another product."
        return
    why = ", since the formula leans on them" if robustness.leans else ""
    yield f"The catalogue: other products move a score{why}. " + " ".join(_changed(change) for change in moving)


def _changed(change: CatalogueChange) -> str:
    who = some([f"{name} by {moves:g}" for name, moves in change.who], NAMED)
    text = (
        f"{CHANGES[change.what].capitalize()}: the order of the others changed in {change.ranks_moved} of {change.tried}"
        f" tries, scores by up to {change.most:.2g}"
    )
    text += f", {change.lost} left another without a score" if change.lost else ""
    return text + (f" (most places: {who})." if who else ".")


def findings_verdict(quantities: Quantities, found: BenchFindings | None) -> tuple[str, ...]:
    """Sentences on whose lead is real, who may be among the first, and where the noise draws scores in."""
    if found is None:
        return ()
    noise = found.bench.noise
    lead = () if found.lead is None else (_lead(quantities, found.lead, noise),)
    return (*lead, *map(noise.at_best, _top(quantities, found)), noise.at_best(_shrunken(quantities, found)))


def _lead(quantities: Quantities, lead: Lead, noise: NoiseKnown) -> str:
    first, second = quantities.ids[lead.first], quantities.ids[lead.second]
    margin, score = lead.margin, lead.score
    level = f"{100 * lead.coverage:g} %"
    says = "it holds against the bench's noise" if lead.stands else "it may be nothing but noise"
    corrected = noise.at_best(
        f"{first} leads {second} by {margin.published:.2g} points; corrected for both having been picked by their figures, by"
        f" {margin.estimate:.2g} ({level} interval {margin.low:.2g} to {margin.high:.2g}): {says}."
    )
    own = f"Its own {score.published:.2f} becomes {score.estimate:.2f} ({score.low:.2f} to {score.high:.2f})."
    return f"{corrected} {own}"


def _top(quantities: Quantities, found: BenchFindings) -> Iterator[str]:
    """Who could be among the first; nothing where that is everybody."""
    members = [quantities.ids[i] for i in found.top_set(quantities.top)]
    level = f"joint {100 * found.bench.sets.coverage:g} %"
    which = "first" if quantities.top == 1 else f"among the first {quantities.top}"
    if len(members) > quantities.top:
        yield f"{counted(len(members), 'product')} could truly be {which} ({level}): {some(members, MEMBERS)}."
    elif len(members) < len(quantities.ids):
        yield f"Nobody but {some(members, MEMBERS)} could truly be {which} ({level})."


def _shrunken(quantities: Quantities, found: BenchFindings) -> str:
    n = len(quantities.ids)
    if found.shrunken.is_flat:
        return (
            "The scores show no spread beyond the bench's noise (the variance between products is put at 0): drawn in by it, all"
            f" come to {found.shrunken.prior.mean:.2f}, and one place, {(n + 1) / 2:g}, is expected of all."
        )
    order = np.argsort(found.shrunken.expected_ranks, kind="stable")
    moved = [quantities.ids[i] for i in np.flatnonzero(order != np.arange(n)).tolist()]
    spread = math.sqrt(found.shrunken.prior.variance)
    noise = float(np.median(found.bench.sd))
    said = (
        f"Products spread by {spread:.2g} points (standard deviation), the noise of a score is {noise:.2g}: by the places"
        " expected of shrunken scores"
    )
    if not moved:
        return f"{said} the published order stays."
    return f"{said}, {some(moved, MEMBERS)} would hold another place than published."
