"""The smallest change of each kind that turns an order round, each confirmed by scoring again with what is printed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.asked import unknown_scores, unselected
from analysis.flips.certificates import enclosed_of
from analysis.flips.contest import TIE, Contest, check_published, contest_of, margin_of, reason
from analysis.flips.found import KINDS, READING, Change, Flip, Repeats
from analysis.flips.missing import missing_changes
from analysis.flips.single import number_change, reading_change, readings_of
from analysis.flips.unlooked import unlooked_of
from analysis.flips.ways import ways_of, weighed_together
from analysis.flips.weight_changes import weight_changes_of
from analysis.partial.partial_place import PartialPlace, first_places
from scoring.catalogue.repeats import repeat_sd
from scoring.errors import Place, Problem, StudyError
from scoring.table.table import ScoreTable


@dataclass(frozen=True, slots=True)
class Asked:
    """Who is to be at least equal to whom, and under which scores.

    products: A and B, of which B is to be at least equal to A; first: who is to come first, in place of these two
    scores: all where none is named
    """

    products: tuple[str, ...]
    first: str | None = None
    scores: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class FlipStudy:
    """What was found under each score.

    unpublished: scores that one of the products is not published with -> why; repeats: measure -> how closely the bench repeats
    it, where that is known; firsts: the first places that stand on a missing part
    """

    flips: tuple[Flip, ...]
    unpublished: Mapping[str, str]
    repeats: Mapping[str, Repeats]
    firsts: tuple[PartialPlace, ...]


def flip_study(table: ScoreTable, asked: Asked, *, seed: int) -> FlipStudy:
    """The smallest changes under every score that is asked for.

    Raises
    ------
    StudyError : products or scores that are not there, or that are not published
    """
    subject, rival = asked_for(table, asked)
    names = scores_of(table, asked.scores)
    missing = unpublished(table, names, [subject] if rival is None else [subject, rival], asked=bool(asked.scores))
    flips = tuple(flip_of(table, name, subject, rival, seed=seed) for name in names if name not in missing)
    firsts = first_places(table, [each.column for each in flips])
    return FlipStudy(flips, missing, repeats_of(table), firsts)


def asked_for(table: ScoreTable, asked: Asked) -> tuple[str, str | None]:
    """Who is to be at least equal to whom: (B, A) of a pair, (A, None) where A is to come first.

    Raises
    ------
    StudyError : not two different products (or one with --first alone), or one that the catalogue does not hold
    """
    known, place, first = table.catalogue.products, Place("the products"), asked.first
    if first is not None and asked.products:
        found = f"--first {first} and {', '.join(asked.products)}"
        raise StudyError([Problem(place, found, "either two products A B, or --first A")])
    named = asked.products if first is None else (first,)
    if first is None and (len(named) != 2 or named[0] == named[1]):
        found = " ".join(named) or "none"
        raise StudyError([Problem(place, found, "two different products A B, or --first A")])
    problems = [
        Problem(place, f"`{name}`", "a product of the catalogue", table.catalogue.hint_at(name))
        for name in named
        if name not in known
    ]
    problems += unselected(table, named, "the products")
    if problems:
        raise StudyError(problems)
    return (named[0], None) if first is not None else (named[1], named[0])


def scores_of(table: ScoreTable, only: Sequence[str]) -> list[str]:
    """The scores asked for: those named, or all, or all ratings of a formula without scores.

    Raises
    ------
    StudyError : a name that is no score or rating
    """
    known = [column.output.name for column in table.scores + table.ratings]
    problems = unknown_scores(only, known)
    if problems:
        raise StudyError(problems)
    return list(dict.fromkeys(only)) or [column.output.name for column in table.scores or table.ratings]


def unpublished(table: ScoreTable, names: Sequence[str], ids: Sequence[str], *, asked: bool) -> dict[str, str]:
    """The scores that a product is not published with, and why; a fault where they were asked for, or where they are all.

    Raises
    ------
    StudyError : a product without a published score
    """
    at = [table.catalogue.products.index(name) for name in ids]
    missing: dict[str, str] = {}
    for name in names:
        column = table.column(name)
        gone = [product for product in at if np.isnan(column.value[product])]
        if gone:
            missing[name] = "; ".join(f"{table.catalogue.products[p]}: {reason(column, p)}" for p in gone)
    if missing and (asked or len(missing) == len(names)):
        problems: list[Problem] = []
        for name in missing:
            try:
                check_published(table, table.column(name), at)
            except StudyError as fault:
                problems += fault.problems
        raise StudyError(problems)
    return missing


def repeats_of(table: ScoreTable) -> dict[str, Repeats]:
    """How closely the bench repeats each measure, where that is known."""
    found: dict[str, Repeats] = {}
    for measure in table.form.measures:
        readings = table.catalogue.readings.get(measure.name)
        sd = repeat_sd(measure, readings) if readings is not None else None
        if sd is not None and measure.repeatability is not None:
            found[measure.name] = Repeats(sd, measure.repeatability.kind.value.endswith("relative"))
    return found


def flip_of(table: ScoreTable, name: str, subject: str, rival: str | None, *, seed: int) -> Flip:
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
    changes = _changes(contest, np.random.default_rng([seed, 10]))
    found = sorted(changes, key=lambda change: (KINDS.index(change.kind), not change.found, _size(change)))
    return Flip(table, column, at, other, lead, "behind", tuple(found), unlooked_of(contest))


def _size(change: Change) -> float:
    """What changes of a kind are put in order by: a reading's in its standard uncertainties, where they are known."""
    if change.kind == READING and change.u > 0:
        return abs(change.change) / change.u
    return math.inf if math.isnan(change.share) else abs(change.share)


def _changes(contest: Contest, rng: np.random.Generator) -> Iterator[Change]:
    """Every change that is looked for, each of one kind alone."""
    enclosed = enclosed_of(contest)
    if weighed_together(contest.output):
        yield from weight_changes_of(contest, rng).all()
    for way in ways_of(contest):
        yield number_change(contest, way, enclosed)
    for reading in readings_of(contest):
        yield reading_change(contest, reading, enclosed)
    yield from missing_changes(contest)
