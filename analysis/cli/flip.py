"""`steelyard flip`: what turns the order of two products round, or puts one first, each change confirmed by scoring again."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from analysis.asked_scores import unknown_scores
from analysis.cautions import cautions
from analysis.cli.inputs import headed, load
from analysis.cli.terminal import print_json, print_table, say
from analysis.flips.document import (
    NUMBERS,
    Repeats,
    flip_document,
    part_of,
    room_in_words,
    shares_of,
    verdict,
)
from analysis.flips.flip import flip
from analysis.flips.found import ABSOLUTE, MISSING, ONE, READING, SQUARES, Change, Flip
from analysis.flips.readings import check_published, reason
from analysis.partial.document import partial_document
from analysis.partial.partial_place import first_places
from scoring.catalogue.repeats import repeat_sd
from scoring.errors import Place, Problem, StudyError, nearest
from scoring.table.table import ScoreTable, score_catalogue
from scoring.units.role import UnitRole, in_unit

HEADERS = ["what", "kind", "stated", "needed", "change", "in percent", "beside", "verdict", "scored again"]
#: Addresses that a line of text names; `--json` has all.
MOST_NAMED = 3


def run(
    formula: Path,
    catalogue: Path,
    products: Sequence[str],
    settings: Sequence[str],
    *,
    first: str | None,
    only: Sequence[str],
    as_json: bool,
    seed: int,
) -> None:
    """Look for the smallest changes and show them."""
    table = score_catalogue(*load(formula, catalogue, settings))
    subject, rival = asked_for(table, products, first)
    names = scores_of(table, only)
    missing = unpublished(table, names, subject, rival, asked=bool(only))
    flips = [flip(table, name, subject, rival, seed=seed) for name in names if name not in missing]
    known = repeats_of(table)
    firsts = first_places(table, [each.column for each in flips])
    if as_json:
        document = flip_document(table, flips, known, missing=missing, settings=settings, seed=seed)
        document["first_places"] = partial_document(firsts, table.catalogue.products)
        print_json(document)
        return
    show(table, flips, known, missing=missing, settings=settings)
    say(*(one.says for one in firsts))


def asked_for(table: ScoreTable, products: Sequence[str], first: str | None) -> tuple[str, str | None]:
    """Who is to be at least equal to whom: (B, A) of a pair, (A, None) where A is to come first.

    Raises
    ------
    StudyError : not two different products (or one with --first alone), or one that the catalogue does not hold
    """
    known, place = table.catalogue.products, Place("the products")
    if first is not None and products:
        found = f"--first {first} and {', '.join(products)}"
        raise StudyError([Problem(place, found, "either two products A B, or --first A")])
    named = [first] if first is not None else list(products)
    if first is None and (len(named) != 2 or named[0] == named[1]):
        found = " ".join(named) or "none"
        raise StudyError([Problem(place, found, "two different products A B, or --first A")])
    problems = [
        Problem(place, f"`{name}`", "a product of the catalogue", nearest(name, known))
        for name in named
        if name not in known
    ]
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


def unpublished(
    table: ScoreTable, names: Sequence[str], subject: str, rival: str | None, *, asked: bool
) -> dict[str, str]:
    """The scores that a product is not published with, and why; a fault where they were asked for, or where they are all.

    Raises
    ------
    StudyError : a product without a published score
    """
    ids = [subject] if rival is None else [subject, rival]
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


def show(
    table: ScoreTable,
    flips: Sequence[Flip],
    known: Mapping[str, Repeats],
    *,
    missing: Mapping[str, str],
    settings: Sequence[str],
) -> None:
    """Print the verdict of each score, and where there is one score alone, every change in full."""
    say(f"{table.form.title} ({headed(table.form, settings)})", "")
    say(*(verdict(each, known) for each in flips))
    say(*(f"{table.column(name).output.label}: not published. {why}" for name, why in missing.items()), "")
    if len(flips) == 1 and flips[0].changes:
        show_changes(flips[0])
    elif any(each.changes for each in flips):
        say("--score NAME shows every change of one score.", "")
    say(*(f"! {caution}" for caution in cautions(table.form)))


def show_changes(found: Flip) -> None:
    """Every change that was looked for, the least of each kind first; then what does nothing, and why."""
    there = [change for change in found.changes if change.found]
    if there and there[0].certificate is not None:
        proof = there[0].certificate
        say(f"As published: {proof.before:.6f} against {proof.other_before:.6f}.", "")
        print_table(HEADERS, [row_of(found, change) for change in there], right=(2, 3, 4, 5, 8))
    for change in there:
        if change.kind in (SQUARES, ABSOLUTE):
            texts = ", ".join(f"{part_of(address)} {text}" for address, _, text in change.settings)
            say(f"{change.kind}: {texts}")
    gone = [[named(change), change.kind, change.verdict, change.why] for change in found.changes if not change.found]
    if gone:
        print_table(["what", "kind", "verdict", "why"], gone, title="By these alone, no change was found")
    say(*NOTES, "")
    say(*unlooked_lines(found), "")


def unlooked_lines(found: Flip) -> list[str]:
    """A line for each kind of number that was not looked at, and why."""
    lines = []
    for one in found.unlooked:
        beyond = len(one.addresses) - MOST_NAMED
        named = ", ".join(one.addresses[:MOST_NAMED]) + (f" and {beyond} more" if beyond > 0 else "")
        lines.append(f"Not looked at: {one.what} ({named}): {one.why}.")
    return lines


NOTES = (
    "`needed` is rounded outward; the last column is both scores when it is set in the formula or the catalogue and all is "
    "scored again. In percent: of the weight itself, the sum of weights, the curve's stretch, the scale, or the room of any "
    "other number.",
    "`proved`: no smaller change of that number does it within the room that stands beside it, which for an anchor is the "
    "plausible range between its neighbours (of the score's own weights none at all; else none below 99.5 %). By ratio: an "
    "anchor of a curve that counts ratios is set against the logarithm of the curve's stretch, and the smaller change is the "
    "smaller ratio. A missing reading has no stated figure: `beside` says where along its range it turns the order. "
    "`searched`: on a grid of 2 001 points, or in random directions. `impossible`: proved, within the room that is named, "
    "in which anchors keep their order. `not decided`: none was found, which proves nothing.",
)


def named(change: Change) -> str:
    """What changes, without the section of its address."""
    name = change.name.split(".", 1)[-1] if change.kind not in (READING, MISSING) else change.name
    return f"{change.product} {name}".strip() or "all weights"


def row_of(found: Flip, change: Change) -> list[str]:
    """A change that was found, as a row of the table."""
    proof = change.certificate
    assert proof is not None  # it was found
    percent = "" if math.isnan(change.share) else f"{100 * change.share:+.3g} %"
    scores = f"{proof.after:.6f} : {proof.other_after:.6f}"
    if change.kind in (SQUARES, ABSOLUTE):
        moved = f"{change.change:.4g}"
        return [named(change), change.kind, "", "below", moved, percent, "", change.verdict, scores]
    (_, stated, text) = change.settings[0]
    if change.kind == MISSING:
        return [named(change), change.kind, "missing", text, "", "", change.why, change.verdict, scores]
    beside = ""
    if change.kind == ONE:
        before, after = shares_of(found, change)
        beside = f"{before:.3g} % -> {after:.3g} %"
    elif change.kind == READING and change.u > 0:
        beside = f"{abs(change.change) / change.u:.1f} u"
    elif change.kind in NUMBERS:
        beside = f"in {room_in_words(change)}{', by ratio' if change.in_ratios else ''}"
    moved = in_unit(f"{change.change:+.4g}", UnitRole.LENGTH.unit(change.unit))
    return [named(change), change.kind, f"{stated:.7g}", text, moved, percent, beside, change.verdict, scores]
