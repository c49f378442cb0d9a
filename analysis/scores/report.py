"""The score table as a report: all products side by side, each score in full, pictures; a million of them where need be."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from typing import TYPE_CHECKING

import numpy as np

from analysis.asked import unknown_scores
from analysis.json_text import json_bytes
from analysis.partial.partial_place import first_places
from analysis.rankings.distinguishable import bench_of
from analysis.report.given import Given, Readings, scored
from analysis.report.page import MOST_ROWS
from analysis.report.pictures import Picture
from analysis.report.report import Report, Section
from analysis.report.source import source_of
from analysis.report.tables import Column, Made, OnScreen, Table, Values, computed, words
from analysis.scores.class_firsts import Bench, firsts_table
from analysis.scores.document import flat_frame, products_of
from analysis.scores.in_class import in_class_column
from analysis.scores.places import ByPlace, placeless
from analysis.wording import ABSENT, counted, some
from scoring.errors import AddressError
from scoring.numbers.rounding import show
from scoring.table.classes import in_class_figures, in_class_text
from scoring.table.frames import PLACE, attribute_columns, role_columns
from scoring.table.missing import STARRED
from scoring.table.selection import Where
from scoring.table.table import Column as Scored
from scoring.table.table import ScoreTable
from scoring.units.role import POINTS_UNIT

if TYPE_CHECKING:
    from analysis.scores.figures import Planned

#: Where the rows are that a terminal leaves out of a long table.
IN_FILES = "`--out scores.csv` (or .parquet, .json) writes all."
IN_FULL_HINT = "`--score NAME` gives bands and remarks."
PLACED = "# place, best first"
IN_CLASS = "in {}: place among how many of it that have one"
#: So many products that share the first place are named.
MOST_FIRST = 3
#: The section of the curves; no rating can have this name.
CURVES = "curves-of-ratings"


@dataclass(frozen=True, slots=True)
class Asked:
    """What of a score table is said and shown: one rating or score in full, or the ratings; all of it by default."""

    only: str | None = None
    ratings: bool = False
    seed: int = 0


def score_report(
    formula: Given, catalogue: Readings, *, score: str | None = None, where: Where = None, seed: int = 0
) -> Report:
    """The scores of a catalogue: every product, who is first, and the pictures of them.

    Parameters
    ----------
    formula : read, or the path of its file; catalogue : read, a pandas frame, or the path of its file
    score : one score or rating, in full; all by default
    where : the products to show and rank, as `score` takes them
    seed : of the draws by which a picture of a score says what the bench cannot tell apart

    Returns
    -------
    Report : `found` is the `ScoreTable`

    Raises
    ------
    SteelyardError : a fault of the formula or the catalogue, or a score that is not there
    """
    return table_report(scored(formula, catalogue, where), Asked(score, seed=seed))


def figures_report(table: ScoreTable) -> Report:
    """The figures alone, for .json, .csv, .parquet and .xlsx: of a million products nothing else is worked out."""
    source = source_of(table)
    title = f"{table.form.title}: scores"
    return Report(
        command="score",
        title=title,
        heading=f"{table.form.title} ({source.headed})" + ("" if table.selected else f": {_products(table)}"),
        source=source,
        sections=(),
        body=lambda: {"products": products_of(table)},
        whole=lambda: flat_frame(table),
        found=table,
        called="scores",
    )


def _products(table: ScoreTable) -> str:
    return counted(len(table.catalogue.products), "product")


def table_report(table: ScoreTable, asked: Asked) -> Report:
    """The same with what is said of them, and their pictures.

    Raises
    ------
    AddressError : a rating or score that is not there
    """
    column = find_column(table, asked.only) if asked.only is not None else None
    looked_at = table if column is None else replace(table, scores=(column,))
    bench = cache(partial(bench_of, looked_at, asked.seed))
    # pictures of one score have the names that they have in a folder of all
    of_all = bench if column is None else cache(partial(bench_of, table, asked.seed))
    pictures = cache(partial(_planned, table, asked.seed, of_all))
    drawn = _Drawn(pictures, bench)
    sections = tuple(_all(table, asked, drawn)) if column is None else (_one(table, column, drawn),)
    shown = table.scores if column is None else (column,)
    return replace(
        figures_report(table),
        sections=sections,
        closing=tuple(one.says for one in first_places(table, shown)),
        beside=lambda: {"pictures.json": _what_pictures_show(sections)},
    )


def find_column(table: ScoreTable, name: str) -> Scored:
    """The named rating or score; the nearest known name where there is none.

    Raises
    ------
    AddressError : there is none
    """
    columns = {column.output.name: column for column in table.scores + table.ratings}
    if name not in columns:
        raise AddressError(unknown_scores([name], columns))
    return columns[name]


def _what_pictures_show(sections: Sequence[Section]) -> bytes:
    """Name, title and finding of each picture, as JSON."""
    pictures = [one for section in sections for one in section.pictures()]
    said = [{"name": one.name, "title": one.title, "finding": one.finding} for one in pictures]
    return json_bytes({"pictures": said})


@dataclass(frozen=True, slots=True)
class _Drawn:
    """What is worked out when it is first asked for: pictures, and what the bench tells apart of each score."""

    planned: Callable[[], tuple[Planned, ...]]
    bench: Bench

    def pictures(self, wanted: Callable[[Planned], bool]) -> tuple[Picture, ...]:
        """Those of the planned pictures that are wanted, worked out."""
        from analysis.scores.figures import made

        return tuple(made(one) for one in self.planned() if wanted(one))


def _planned(table: ScoreTable, seed: int, bench: Bench) -> tuple[Planned, ...]:
    from analysis.scores.figures import planned_pictures

    return planned_pictures(table, seed, bench)


def _all(table: ScoreTable, asked: Asked, drawn: _Drawn) -> Iterator[Section]:
    """All products side by side; each score in full, which a terminal shows only where it is asked for; the curves."""
    ratings_alone = asked.ratings or not table.scores
    blocks = [] if ratings_alone else [side_by_side(table, "scores", on_screen=True)]
    if table.ratings:
        blocks.append(side_by_side(table, "ratings", on_screen=ratings_alone))
    strip = partial(drawn.pictures, lambda one: not one.of)
    yield Section("", "All products side by side", (), tuple(blocks), pictures=strip)
    if not asked.ratings:
        for column in table.scores:
            yield _one(table, column, drawn, on_screen=False)
    curves = partial(drawn.pictures, lambda one: one.is_curve)
    yield Section(CURVES, "Curves, and the readings that they meet", (), (), pictures=curves, on_screen=False)


def _one(table: ScoreTable, column: Scored, drawn: _Drawn, *, on_screen: bool = True) -> Section:
    """One rating or score in full, with what is drawn of it: of a rating its curves."""
    name, is_score = column.output.name, column in table.scores
    pictures = partial(drawn.pictures, lambda one: one.of == name and one.is_curve is not is_score)
    verdict = (leader_in_words(table, column),)
    firsts = firsts_table(table, column, drawn.bench) if is_score or not table.scores else None
    blocks = (in_full(table, column), *([] if firsts is None else [firsts]))
    return Section(name, column.output.label, verdict, blocks, pictures, on_screen=on_screen)


def leader_in_words(table: ScoreTable, column: Scored) -> str:
    """Who is first, of how many and with what; and how many have no place."""
    label, placed = column.output.label, int(np.sum(~np.isnan(column.rank)))
    if not placed:
        return f"{label}: no product has a place: {placeless(column)}."
    first = np.flatnonzero(column.rank == np.nanmin(column.rank)).tolist()
    who = some([table.catalogue.products[product] for product in first], MOST_FIRST)
    band = table.band_name(column, first[0])
    share = "is first" if len(first) == 1 else "share the first place"
    said = f"{label}: {who} {share} of {placed} with {column.shown_text(first[0])}"
    if band:
        said += f" ({band})"
    without = placeless(column)
    return f"{said}; without a place: {without}." if without else f"{said}."


def cell(step: float, shown: float, status: str) -> str:
    """The shown figure, starred where partial; the status where there is none."""
    if np.isnan(shown):
        return status
    return show(float(shown), step) + ("*" if status == "partial" else "")


def _place(rank: float) -> str:
    """A place, empty where there is none: the status stands beside it."""
    return "" if np.isnan(rank) else f"{rank:g}"


def _statuses(table: ScoreTable, column: Scored) -> Made:
    return Made(len(table.catalogue.products), column.status_text)


def side_by_side(table: ScoreTable, what: str, *, on_screen: bool) -> Table:
    """Every product with its figures, in the order of the first column's places, then of the catalogue.

    Parameters
    ----------
    what : "scores" or "ratings"
    """
    with_rank = what == "scores"
    outputs = table.scores if with_rank else table.ratings
    columns = [words("product", "product", table.catalogue.products, kind="name")]
    for column in outputs:
        name, step = column.output.name, column.output.scale.show.step.value
        held: dict[str, Values] = {f"{name}.shown": column.shown, f"{name}.status": _statuses(table, column)}
        columns.append(Column(name, held, partial(cell, step), {f"{name}.shown": POINTS_UNIT}, numeric=True))
        if with_rank:
            columns.append(computed("#", {f"{name}.rank": column.rank}, _place, unit=PLACE))
            columns += in_class_column(column, f"{name}.", in_class_figures)
    order = ByPlace(outputs[0].rank, table.rows)
    marks = [PLACED] if with_rank else []
    if with_rank:
        labels = dict.fromkeys(column.within.classes.label for column in outputs if column.within is not None)
        marks += [IN_CLASS.format(label) for label in labels]
    if any(column.status_text(product) == "partial" for column in outputs for product in order[:MOST_ROWS]):
        marks.append(STARRED)
    published = ", ".join(f"{one.output.name} {int(np.sum(~np.isnan(one.value)))}" for one in outputs)
    counts = f"Published, of {len(table.rows)}: {published}."
    return Table(
        what,
        f"{what.capitalize()} of every product",
        tuple(columns),
        notes=(counts, *([f"{'; '.join(marks)}."] if marks else [])),
        rows=order,
        hidden={f"{one.output.name}.value": one.value for one in outputs},
        on_screen=OnScreen(
            title="", notes=(counts, "; ".join([*marks, IN_FULL_HINT])), more=IN_FILES, in_full=not on_screen
        ),
    )


def in_full(table: ScoreTable, column: Scored) -> Table:
    """One rating or score with its bands and remarks, and the attributes of each product."""
    products, name, step = len(table.catalogue.products), column.output.name, column.output.scale.show.step.value
    held = {"shown": column.shown}
    places = ("rank", "rank_within", "of_within", "word_within")
    own = (*places, "product", "value", "shown", "band", "status", "decided_by", "remarks")
    columns = [
        computed("#", {"rank": column.rank}, _place, unit=PLACE),
        *in_class_column(column, "", in_class_text),
        words("product", "product", table.catalogue.products, kind="name"),
        computed(name, held, lambda shown: cell(step, shown, ABSENT), unit=POINTS_UNIT),
        words("band", "band", Made(products, lambda product: table.band_name(column, product)), kind="name"),
        words("status", "status", _statuses(table, column)),
    ]
    roles, held_apart = table.catalogue.roles, dict[str, Values]()
    for free, of in attribute_columns(table, own).items():
        if free in role_columns(table.catalogue):  # beside the ids, as in every table
            continue
        if free in (roles.name, roles.maker):
            held_apart[free] = of
        else:
            columns.append(words(free, free, of, kind="name"))
    if name in table.deciders:
        decided = Made(products, lambda product: ", ".join(table.decided_by(column, product)))
        columns.append(words("decided_by", "decided by", decided, kind="name"))
    remarks = Made(products, lambda product: "; ".join(column.remarks.get(product, ())))
    columns.append(words("remarks", "remarks", remarks, kind="name"))
    return Table(
        "places",
        column.output.label,
        tuple(columns),
        rows=ByPlace(column.rank, table.rows),
        hidden={"value": column.value, **held_apart},
        on_screen=OnScreen(more=IN_FILES),
    )
