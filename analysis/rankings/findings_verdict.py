"""What the lead, the top set and the shrunken scores come to, in sentences."""

from __future__ import annotations

import math

import numpy as np

from analysis.rankings.bench_findings import BenchFindings
from analysis.rankings.winners import Lead
from analysis.trials.quantities import Quantities
from analysis.wording import counted, some

NAMED = 8


def findings_verdict(quantities: Quantities, found: BenchFindings | None) -> tuple[str, ...]:
    """Sentences on whose lead is real, who may be among the first, and where the noise draws scores in."""
    if found is None:
        return ()
    lead = () if found.lead is None else (_lead(quantities, found.lead),)
    return (*lead, _top(quantities, found), _shrunken(quantities, found))


def _lead(quantities: Quantities, lead: Lead) -> str:
    first, second = quantities.ids[lead.first], quantities.ids[lead.second]
    margin, score = lead.margin, lead.score
    level = f"{100 * lead.coverage:g} %"
    says = "it holds against the bench's noise" if lead.stands else "it may be nothing but noise"
    corrected = (
        f"{first} leads {second} by {margin.published:.2g} points; corrected for both having been picked by their figures, by"
        f" {margin.estimate:.2g} ({level} interval {margin.low:.2g} to {margin.high:.2g}): {says}."
    )
    own = f"Its own {score.published:.2f} becomes {score.estimate:.2f} ({score.low:.2f} to {score.high:.2f})."
    return f"{corrected} {own}"


def _top(quantities: Quantities, found: BenchFindings) -> str:
    members = [quantities.ids[i] for i in found.top_set(quantities.top)]
    level = f"joint {100 * found.bench.sets.coverage:g} %"
    which = "first" if quantities.top == 1 else f"among the first {quantities.top}"
    if len(members) <= quantities.top:
        return f"Nobody but {some(members, NAMED)} could truly be {which} ({level})."
    return f"{counted(len(members), 'product')} could truly be {which} ({level}): {some(members, NAMED)}."


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
    return f"{said}, {some(moved, NAMED)} would stand in another line than published."
