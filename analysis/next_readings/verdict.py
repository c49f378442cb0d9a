"""What to read again, in sentences."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analysis.next_readings.plan import Plan, Plans
from analysis.next_readings.preposterior import WORTH_COUNTING
from analysis.next_readings.study import FIRST, Reread
from analysis.wording import counted, listed, percent, some

NAMED = 8
#: An end of the chance that is this near to certain is not worth a sentence.
ALL_BUT_CERTAIN = 0.99


def question_in_words(found: Reread) -> str:
    """What is to be settled, as a sentence calls it."""
    if found.asked.pair is not None:
        return f"which of {found.asked.pair[0]} and {found.asked.pair[1]} is better"
    return "the first place" if found.asked.what == FIRST else f"who the first {found.quantities.top} are"


def level_in_words(found: Reread) -> str:
    """By what criterion."""
    if found.asked.pair is not None:
        return "at 95 %, for this pair alone"
    level = 95.0 if found.bench is None else 100 * found.bench.sets.coverage
    return f"joint {level:g} %, as in `stability`"


def reread_verdict(found: Reread) -> tuple[str, ...]:
    """Sentences, the first being the one to quote."""
    label = found.quantities.output.label
    if found.why_not:
        return (f"{label}: nothing to settle, {found.why_not}.",)
    noise, question, level = found.noise, question_in_words(found), level_in_words(found)
    if found.bench is None and noise.unknown:
        return (f"{label}: {noise.not_known}; what settles {question} cannot be said, and no reading is planned.",)
    if found.bench is None:
        return (f"{label}: the bench's noise moves no score here; no reading is needed.",)
    if found.settled:
        needed = "no reading is planned" if noise.unknown else "no reading is needed for it"
        return (noise.at_best(f"{label}: {question} is settled as it stands ({level}); {needed}."),)
    if found.asked.pair is not None:
        opening = f"{label}: {' and '.join(found.asked.pair)} are not told apart ({level})."
    else:
        opening = f"{label}: {question} is not settled ({level}); it hangs on {_disputed(found)}."
    return (noise.at_best(opening), *map(noise.at_best, _plans(found)))


def _disputed(found: Reread) -> str:
    names = [found.quantities.ids[i] for i in found.disputed]
    return some(names, NAMED)


def _plans(found: Reread) -> Iterator[str]:
    if found.plans is None:
        yield "No further reading of what is read of these products takes any of their noise away."
        return
    best, readings = found.plans.best, counted(found.budget, "further reading")
    beside = (
        f"shared out equally over these products and their measures in {_drawn(found.plans.equal.chance)}, all on"
        f" {measure_of(found, found.plans.one_measure)} in {_drawn(found.plans.one_measure.chance)}"
    )
    if best.chance < WORTH_COUNTING:
        yield (
            f"{readings} will hardly settle it: as planned, in {_drawn(best.chance)} of what they may say;"
            f" {beside}. The plan is the one that brings it nearest."
        )
    else:
        yield f"{readings} settle it, as planned, in {_drawn(best.chance)} of what they may say; {beside}."
    if found.enough is None:
        yield f"Not even {found.looked_up_to:,} readings would give an even chance."
    elif found.enough > found.budget:
        yield f"About {found.enough:,} readings, well used, would give an even chance."
    if found.at_most < ALL_BUT_CERTAIN:
        yield (
            f"Readings of these products without end would settle it in {percent(found.at_most)}: the noise of the other"
            " products stays, and what repeats do not take away."
        )


def _drawn(chance: float) -> str:
    """A chance told by draws: that none of them was settled does not make it 0."""
    return "under 1 %" if chance == 0 else percent(chance)


def measure_of(found: Reread, plan: Plan) -> str:
    """The measures that a plan reads."""
    assert found.falling is not None  # there is a plan
    rows = np.flatnonzero(plan.further.any(axis=1)).tolist()
    return listed([found.falling.measures[row] for row in rows])


def plans_by_name(plans: Plans) -> dict[str, Plan]:
    """Each plan by what a document calls it."""
    return {"proposed": plans.best, "equal": plans.equal, "one_measure": plans.one_measure}
