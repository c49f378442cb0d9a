"""Who is first in each class of a score, and whether the bench tells them apart from the others of it.

A first place is said with what the bench can tell, or not at all: the joint comparison of the whole table is asked again within
each class, so that nothing said of a class contradicts what `stability` says of the table.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache, partial

import numpy as np

from analysis.rankings.distinguishable import Distinguishable, noise_of
from analysis.report.tables import Made, Table, computed, counts, words
from analysis.scores.places import ranked
from analysis.wording import ABSENT, some
from scoring.numbers.array_types import Indices
from scoring.table.classes import ALONE, InClass
from scoring.table.table import Column as Scored
from scoring.table.table import ScoreTable

#: So many products are named in a cell.
NAMED = 3
#: Of more products than these the bench's comparison of all pairs is not asked for here.
MOST_COMPARED = 2_000
NO_NOISE = "no noise of the bench is known"
TOO_MANY = f"not compared: the table has more than {MOST_COMPARED:,} products"
TOLD = "told apart from all others of its class"
TOLD_NOTE = "told apart: by the bench, all pairs of the whole table at once (95 %), as `stability` has it."

Bench = Callable[[], Mapping[str, Distinguishable]]


@dataclass(frozen=True, slots=True, eq=False)
class ClassFirst:
    """The best of one class: firsts, all who share its first place; rivals: the others of it with a place; all by their rows."""

    word: str
    members: int
    firsts: tuple[int, ...]
    rivals: tuple[int, ...]

    @property
    def placed(self) -> int:
        """How many of the class have a place."""
        return len(self.firsts) + len(self.rivals)


def class_firsts(within: InClass, rows: Indices) -> tuple[ClassFirst, ...]:
    """The best of each class, by the alphabet of classes; rows: the products that the table is of."""
    shown = np.isin(np.arange(len(within.place)), rows)
    found = []
    for word, every in within.classes.members():
        members = every[shown[every]]
        place = within.place[members]
        if not len(members):
            continue
        best = np.nanmin(place) if not np.isnan(place).all() else np.nan
        firsts, others = members[place == best], members[place > best]
        found.append(ClassFirst(word, len(members), tuple(firsts.tolist()), tuple(others.tolist())))
    return tuple(found)


def bench_in_words(table: ScoreTable, column: Scored, first: ClassFirst, bench: Bench) -> str:
    """Whether the bench tells the best of a class apart from the others of it."""
    if not first.firsts:
        return ""
    if first.placed == 1:
        return ALONE
    if not first.rivals:
        return "all of its class share its first place"
    if len(table.rows) > MOST_COMPARED:
        return TOO_MANY
    told = bench().get(column.output.name)
    if told is None:
        return NO_NOISE
    line = {row: number for number, row in enumerate(ranked(column))}
    beats = told.sets.beats
    close = [row for row in first.rivals if not all(beats[line[best], line[row]] for best in first.firsts)]
    close.sort(key=lambda row: line[row])
    if not close:
        return told.noise.marked(TOLD)
    return told.noise.marked(f"not told apart from {some([_called(table, row) for row in close], NAMED)}")


def firsts_table(table: ScoreTable, column: Scored, bench: Bench) -> Table | None:
    """A row a class: who is first, with what, and what the bench says of it; None where the form counts no classes."""
    within = column.within
    if within is None:
        return None
    classes, found = within.classes, class_firsts(within, table.rows)
    n = len(found)
    says = cache(lambda row: bench_in_words(table, column, found[row], bench))
    classless = sum(not classes.words[row] for row in table.rows.tolist())
    stated = f"Without a stated {classes.label}: {classless} of {len(table.rows)} products." if classless else ""
    return Table(
        "classes",
        f"{column.output.label}: first in each {classes.label}",
        (
            words("class", classes.label, [one.word for one in found], kind="name"),
            counts("members", "products", [one.members for one in found]),
            counts("placed", "with a place", [one.placed for one in found]),
            words("first", "first", Made(n, partial(_named, table, found)), kind="name"),
            computed(column.output.name, {"shown": Made(n, partial(_shown, column, found))}, str),
            words("bench", "against the others of it", Made(n, says)),
        ),
        notes=tuple(note for note in (_told_note(table, column), stated) if note),
    )


def _told_note(table: ScoreTable, column: Scored) -> str:
    """What "told apart" means; of which measures it says nothing, where their noise is not known."""
    noise = noise_of(table, column.output.name)
    return (
        f"{NO_NOISE[:1].upper()}{NO_NOISE[1:]}: {noise.of_nothing}." if noise.is_nothing else noise.at_best(TOLD_NOTE)
    )


def _named(table: ScoreTable, found: tuple[ClassFirst, ...], row: int) -> str:
    """Who is first; "–" where nobody has a place."""
    return some([_called(table, product) for product in found[row].firsts], NAMED) or ABSENT


def _called(table: ScoreTable, product: int) -> str:
    """A product by its id, with its name behind it where it has one."""
    return table.catalogue.product_names.in_words(table.catalogue.products[product])


def _shown(column: Scored, found: tuple[ClassFirst, ...], row: int) -> str:
    """The figure of the first, starred where it is partial."""
    firsts = found[row].firsts
    if not firsts:
        return ABSENT
    starred = any(column.status_text(product) == "partial" for product in firsts)
    return column.shown_text(firsts[0]) + "*" * starred
