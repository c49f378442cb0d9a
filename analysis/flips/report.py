"""What turns an order round, as a report: the study itself, and what is said and shown of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from analysis.flips.document import change_fields, flip_body, flip_frame
from analysis.flips.found import ABSOLUTE, MISSING, SQUARES, Change, Flip
from analysis.flips.study import Asked, FlipStudy, flip_study
from analysis.flips.unlooked import Unlooked
from analysis.flips.verdict import beside, named, part_of, verdict
from analysis.partial.partial_place import first_places_section
from analysis.report.given import Given, Readings, Scores, names_of, scored
from analysis.report.report import Block, Report, Said, Section
from analysis.report.source import source_of
from analysis.report.tables import Column, OnScreen, Table, computed, words
from scoring.table.selection import Where
from scoring.table.table import ScoreTable
from scoring.units.role import UnitRole, in_unit

#: Addresses that a line of a terminal names; files and pages hold all.
MOST_NAMED = 3
WEIGHTS_TOGETHER = (SQUARES, ABSOLUTE)
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


def flip(
    formula: Given,
    catalogue: Readings,
    a: str | None = None,
    b: str | None = None,
    *,
    first: str | None = None,
    scores: Scores = (),
    where: Where = None,
    seed: int = 0,
) -> Report:
    """The smallest change of each kind after which product `b` is at least equal to product `a`, each scored again.

    Parameters
    ----------
    formula : read, or the path of its file; catalogue : read, a pandas frame, or the path of its file
    where : the products to show and rank, as `score` takes them
    a, b : ids of two products; first : in place of them, the id of one that is to come first
    scores : which ones, all by default
    seed : of a search over all weights together, where a score is not linear in them

    Returns
    -------
    Report : `found` is a `FlipStudy`

    Raises
    ------
    SteelyardError : a fault of the formula or the catalogue, products or scores that are not there or not published
    """
    products = tuple(name for name in (a, b) if name is not None)
    return flip_report(scored(formula, catalogue, where), Asked(products, first, names_of(scores)), seed=seed)


def flip_report(table: ScoreTable, asked: Asked, *, seed: int) -> Report:
    """The same of a score table."""
    found = flip_study(table, asked, seed=seed)
    source = source_of(table, seed)
    several = len(found.flips) > 1
    hint = "--score NAME shows every change of one score."
    return Report(
        command="flip",
        title=f"{table.form.title}: {_asked_in_words(asked)}",
        heading=f"{table.form.title} ({source.headed})",
        source=source,
        sections=(
            *(_section(one, found, in_full=not several) for one in found.flips),
            *_unpublished(table, found),
            *first_places_section(found.firsts),
        ),
        body=lambda: flip_body(found, table.catalogue.products),
        whole=lambda: flip_frame(found),
        found=found,
        on_screen=(hint,) if several and any(one.changes for one in found.flips) else (),
    )


def _asked_in_words(asked: Asked) -> str:
    if asked.first is not None:
        return f"what puts {asked.first} first"
    return "what makes {1} at least equal to {0}".format(*asked.products)


def _section(flip: Flip, found: FlipStudy, *, in_full: bool) -> Section:
    output = flip.column.output
    blocks = tuple(_blocks(flip, found)) if flip.changes else ()
    return Section(output.name, output.label, (verdict(flip, found.repeats),), blocks, in_full=in_full)


def _unpublished(table: ScoreTable, found: FlipStudy) -> tuple[Section, ...]:
    """The scores that one of the products is not published with."""
    said = tuple(f"{table.column(name).output.label}: not published. {why}" for name, why in found.unpublished.items())
    return (Section("not-looked-at", "Not looked at", said),) if said else ()


def _blocks(flip: Flip, found: FlipStudy) -> list[Block]:
    """Every change that was looked for, the least of each kind first; then what does nothing, and why."""
    there = [change for change in flip.changes if change.found]
    proof = there[0].certificate if there else None
    stands = () if proof is None else (f"As published: {proof.before:.6f} against {proof.other_before:.6f}.",)
    return [
        Said(stands, in_full=True),
        changes_table(flip, there, found),
        Said(tuple(_weights_in_words(change) for change in there if change.kind in WEIGHTS_TOGETHER), in_full=True),
        no_change_table([change for change in flip.changes if not change.found]),
        Said(NOTES, in_full=True),
        unlooked_table(flip.unlooked),
    ]


def _weights_in_words(change: Change) -> str:
    texts = ", ".join(f"{part_of(address)} {text}" for address, _, text in change.settings)
    return f"{change.kind}: {texts}"


def changes_table(flip: Flip, changes: Sequence[Change], found: FlipStudy) -> Table:
    """The changes that turn the order, each as stated, as needed, and scored again."""
    rows = [change_fields(flip, change, found) for change in changes]
    held = {key: [row[key] for row in rows] for key in (rows[0] if rows else ())}

    def fields(*names: str) -> dict[str, list[Any]]:
        return {name: held.pop(name, []) for name in names}

    kinds = held.pop("kind", [])
    units = held.pop("unit", [])
    return Table(
        "changes",
        f"{flip.column.output.label}: the smallest changes that turn the order",
        (
            words("change_of", "what", [named(change) for change in changes], kind="code"),
            words("kind", "kind", kinds),
            computed("stated", {"kind": kinds, **fields("stated")}, _stated),
            computed("needed", {"kind": kinds, **fields("needed")}, _needed),
            computed("change", {"kind": kinds, "unit": units, **fields("change")}, _moved),
            computed("in percent", fields("share"), lambda share: "" if share is None else f"{100 * share:+.3g} %"),
            words("beside", "beside", [beside(flip, change) for change in changes]),
            words("verdict", "verdict", held.pop("verdict", [])),
            computed(
                "scored again", fields("after_subject", "after_other"), lambda own, other: f"{own:.6f} : {other:.6f}"
            ),
        ),
        hidden=held,
        on_screen=OnScreen(title="", in_full=True),
    )


def _stated(kind: str, stated: float | None) -> str:
    if kind == MISSING:
        return "missing"
    return "" if stated is None else f"{stated:.7g}"


def _needed(kind: str, needed: str) -> str:
    return "below" if kind in WEIGHTS_TOGETHER else needed


def _moved(kind: str, unit: str | None, change: float | None) -> str:
    if change is None:
        return ""
    if kind in WEIGHTS_TOGETHER:
        return f"{change:.4g}"
    return in_unit(f"{change:+.4g}", UnitRole.LENGTH.unit(unit or ""))


def no_change_table(changes: Sequence[Change]) -> Table:
    """What does nothing by itself, and why."""
    return Table(
        "no_change",
        "By these alone, no change was found",
        (
            words("change_of", "what", [named(change) for change in changes], kind="code"),
            words("kind", "kind", [change.kind for change in changes]),
            words("verdict", "verdict", [change.verdict for change in changes]),
            words("why", "why", [change.why for change in changes]),
        ),
        hidden={
            "what": [change.name or None for change in changes],
            "product": [one.product or None for one in changes],
        },
        on_screen=OnScreen(in_full=True),
    )


def unlooked_table(unlooked: Sequence[Unlooked]) -> Table:
    """The numbers and choices that were not looked at, and why."""
    return Table(
        "not_looked_at",
        "Not looked at",
        (
            words("what", "what", [one.what for one in unlooked]),
            Column("addresses", {"addresses": [one.addresses for one in unlooked]}, ", ".join, kind="code"),
            words("why", "why", [one.why for one in unlooked]),
        ),
        on_screen=OnScreen(in_full=True, lines=(*(_unlooked_line(one) for one in unlooked), "")),
    )


def _unlooked_line(one: Unlooked) -> str:
    beyond = len(one.addresses) - MOST_NAMED
    addresses = ", ".join(one.addresses[:MOST_NAMED]) + (f" and {beyond} more" if beyond > 0 else "")
    return f"Not looked at: {one.what} ({addresses}): {one.why}."
