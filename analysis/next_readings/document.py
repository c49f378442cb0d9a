"""What to read again as a JSON document, and as one table for files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.next_readings.plan import Plan
from analysis.next_readings.study import JUDGED, Reread
from analysis.next_readings.verdict import level_in_words, plans_by_name, question_in_words, reread_verdict
from analysis.report.nouns import as_json

if TYPE_CHECKING:
    import pandas as pd

#: Significant digits of figures.
DIGITS = 9
METHODS = {
    "falls": "of the error variance of the product's score, to first order; only the scatter of repeats falls",
    "chance": f"that the question is settled then, over what the new readings may say ({JUDGED} draws; steps by quadrature),"
    " true scores being taken for draws of one normal law with the catalogue's mean and spread",
    "plan": "found by search from several starts, among them the allocation of Chen, Lin, Yucesan, Chick 2000; no better one is"
    " ruled out",
}
COLUMNS = ("score", "row", "product", "measure", "readings_now", "further", "falls", "chance", "gained_per_reading")


@dataclass(frozen=True, slots=True)
class PlannedReadings:
    """One line of a plan: falls is the share of the score's error variance that these readings take away."""

    product: str
    measure: str
    now: int
    further: int
    falls: float


def planned(found: Reread, plan: Plan) -> Iterator[PlannedReadings]:
    """The lines of a plan, product by product in published order, the measure that takes most away first."""
    falling = found.falling
    assert falling is not None  # there is a plan
    assert found.bench is not None
    left = np.take_along_axis(falling.kept, plan.further[:, :, np.newaxis], axis=2)[:, :, 0]
    variances = found.bench.sd**2
    falls = np.divide(falling.parts * (1 - left), variances, out=np.zeros_like(falling.parts), where=variances > 0)
    for product, name in enumerate(found.quantities.ids):
        rows = np.flatnonzero(plan.further[:, product])
        for row in rows[np.argsort(-falls[rows, product], kind="stable")].tolist():
            now, further = int(falling.readings[row, product]), int(plan.further[row, product])
            yield PlannedReadings(name, falling.measures[row], now, further, float(falls[row, product]))


def reread_body(found: Sequence[Reread]) -> dict[str, Any]:
    """Everything found, ready for JSON; null where a figure does not exist."""
    return {
        "readings": found[0].budget,
        "methods": METHODS,
        "scores": {one.quantities.output.name: _score(one) for one in found},
    }


def _score(found: Reread) -> dict[str, Any]:
    return {
        "verdict": list(reread_verdict(found)),
        "question": question_in_words(found),
        "criterion": level_in_words(found),
        "settled": found.settled,
        "disputed": [found.quantities.ids[i] for i in found.disputed],
        "plans": None
        if found.plans is None
        else {name: _plan(found, p) for name, p in plans_by_name(found.plans).items()},
        "enough_for_an_even_chance": found.enough,
        "chance_at_most": as_json(found.at_most, DIGITS),
        "steps": [
            {
                "product": step.product,
                "measure": step.measure,
                "further": step.further,
                "falls": as_json(step.fall, DIGITS),
                "chance": as_json(step.chance, DIGITS),
                "gained_per_reading": as_json(step.gained, DIGITS),
            }
            for step in found.steps
        ],
        "why_not": found.why_not or None,
        "without_repeatability": list(found.noise.unknown),
    }


def _plan(found: Reread, plan: Plan) -> dict[str, Any]:
    return {
        "chance": as_json(plan.chance, DIGITS),
        "readings": [as_json(line, DIGITS) for line in planned(found, plan)],
    }


def reread_frame(found: Sequence[Reread]) -> pd.DataFrame:
    """The proposed plan and the single steps of every score, a row each."""
    import pandas as pd  # slow to import, and most commands make no frame

    return pd.DataFrame([row for one in found for row in _rows(one)], columns=list(COLUMNS))


def _rows(found: Reread) -> Iterator[tuple[Any, ...]]:
    name = found.quantities.output.name
    if found.plans is not None:
        for p in planned(found, found.plans.best):
            yield (name, "plan", p.product, p.measure, p.now, p.further, p.falls, found.plans.best.chance, np.nan)
    for step in found.steps:
        now = _readings_now(found, step.product, step.measure)
        yield (name, "step", step.product, step.measure, now, step.further, step.fall, step.chance, step.gained)


def _readings_now(found: Reread, product: str, measure: str) -> int:
    assert found.falling is not None  # there are steps
    row, column = found.falling.measures.index(measure), found.quantities.ids.index(product)
    return int(found.falling.readings[row, column])
