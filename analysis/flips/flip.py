"""The smallest change of each kind that turns an order round, each confirmed by scoring again with what is printed."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from analysis.flips.found import KINDS, READING, Change, Flip
from analysis.flips.linear_scores import linear_view
from analysis.flips.missing import missing_changes
from analysis.flips.numbers import TIE, Contest, margin_of
from analysis.flips.readings import check_published, contest_of, enclosed_of, readings_of
from analysis.flips.single import number_change, reading_change
from analysis.flips.unlooked import unlooked_of
from analysis.flips.ways import ways_of, weighed_together
from analysis.flips.weight_changes import WeightChanges
from scoring.table.table import ScoreTable


def flip(table: ScoreTable, name: str, subject: str, rival: str | None, *, seed: int) -> Flip:
    """The smallest changes after which a product is at least equal to a rival, or (rival None) to all that are published.

    Parameters
    ----------
    table : the scores as they stand
    name : of a rating or score
    seed : of the random directions of a search over all weights, where the score is not linear in them

    Raises
    ------
    StudyError : a product without a published value; names the reason
    """
    column, products = table.column(name), table.catalogue.products
    at = products.index(subject)
    other = None if rival is None else products.index(rival)
    check_published(table, column, [at] if other is None else [at, other])
    contest = contest_of(table, column, at, other)
    lead = float(margin_of(contest.values(gated=False), contest)[0])
    if lead >= TIE:
        return Flip(table, column, at, other, lead, "tied" if abs(lead) <= -TIE else "ahead", ())
    changes = _changes(contest, table, np.random.default_rng([seed, 10]))
    found = sorted(changes, key=lambda change: (KINDS.index(change.kind), not change.found, _size(change)))
    return Flip(table, column, at, other, lead, "behind", tuple(found), unlooked_of(contest))


def _size(change: Change) -> float:
    """What changes of a kind are put in order by: a reading's in its standard uncertainties, where they are known."""
    if change.kind == READING and change.u > 0:
        return abs(change.change) / change.u
    return math.inf if math.isnan(change.share) else abs(change.share)


def _changes(contest: Contest, table: ScoreTable, rng: np.random.Generator) -> Iterator[Change]:
    """Every change that is looked for, each of one kind alone."""
    enclosed = enclosed_of(contest)
    if weighed_together(contest.output):
        yield from WeightChanges(contest, table, rng, linear_view(contest)).all()
    for way in ways_of(contest):
        yield number_change(contest, table, way, enclosed)
    for reading in readings_of(contest):
        yield reading_change(contest, table, reading, enclosed)
    yield from missing_changes(contest, table)
