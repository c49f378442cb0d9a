"""Which arguments move scores, ranks and winners, as a report: the study itself, and what is said and shown of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import combinations
from math import isnan
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.indices.document import (
    INDEX_FIELDS,
    sensitivity_body,
    sensitivity_frame,
    shapley_body,
    shapley_frame,
    state_of,
)
from analysis.indices.precision import Precision, read_precision
from analysis.indices.sensitivity import BUDGET, GROUPINGS, ScoreSensitivity, most_points, sensitivity_study
from analysis.indices.shapley_study import ScoreShapley, as_published, shapley_study
from analysis.indices.verdict import SIMULATION, factor_rows, group_rows, sensitivity_verdict, shapley_verdict
from analysis.report.given import Given, Readings, Scores, names_of, scored
from analysis.report.pictures import Picture
from analysis.report.report import Block, Report, Section
from analysis.report.source import source_of
from analysis.report.studied import HINT, AskedOfStudy, GivenStudy, studied, study_of, study_section
from analysis.report.tables import (
    Column,
    OnScreen,
    Table,
    Values,
    computed,
    figures,
    moves,
    ranks,
    span,
    strongest_first,
    words,
)
from analysis.study import Study
from analysis.trials.quantities import SHIFT
from analysis.wording import fixed, kind_in_words
from scoring.errors import Place, Problem, StudyError, nearest
from scoring.table.selection import Where
from scoring.table.table import ScoreTable

if TYPE_CHECKING:
    import pandas as pd

Progress = Callable[[int, int], None]
#: Factors that the terminal lists; files and pages hold all.
LISTED = 12
IN_FULL = OnScreen(in_full=True)
#: Over a column of intervals.
SIMULATED = "simulation, 95 %"
NEAR_NOUGHT = "~0: an index that its own interval does not tell from 0; below 0 by the noise of the estimate."


@dataclass(frozen=True, slots=True)
class AskedOfIndices:
    """How indices are asked for.

    by: the groups, one of "kind", "rating", "section", or "factor" for none; draws: base points at most
    second_order: between the groups too; shapley: Shapley effects of the groups, in place of indices
    within, of: how closely shares are to be known, and of what, as `read_precision` takes them
    resolved: whether a terminal shows everything that varies
    """

    by: str = "kind"
    draws: int = BUDGET
    second_order: bool = False
    shapley: bool = False
    within: float | None = None
    of: Sequence[str] = ()
    seed: int = 0
    resolved: bool = False

    def check(self) -> None:
        """Refuse what cannot be asked for, before anything is read.

        Raises
        ------
        StudyError : groups that are none, or a precision of Shapley effects
        """
        if self.by not in GROUPINGS:
            expected = f"one of {', '.join(GROUPINGS)}"
            raise StudyError([Problem(Place("--by"), f"`{self.by}`", expected, nearest(self.by, GROUPINGS))])
        if self.shapley and self.within is not None:
            hint = "Shapley effects come from a sample of a fixed size. Leave out one of the two."
            raise StudyError([Problem(Place("--within"), "`--shapley`", "Sobol' indices", hint)])

    def precision(self, study: Study, table: ScoreTable) -> Precision:
        """How closely which shares are asked for.

        Raises
        ------
        StudyError : a precision that no share can have, or a quantity that the study has not
        """
        return read_precision(self.within, self.of, table.catalogue.products, study.pairs)


def sensitivity(
    formula: Given,
    catalogue: Readings,
    *,
    study: GivenStudy = None,
    scores: Scores = (),
    pairs: Sequence[tuple[str, str]] = (),
    top: int | None = None,
    by: str = "kind",
    draws: int = BUDGET,
    second_order: bool = False,
    shapley: bool = False,
    within: float | None = None,
    of: Sequence[str] = (),
    where: Where = None,
    seed: int = 0,
) -> Report:
    """Which arguments of a formula move its scores, ranks and winners, by Sobol' indices over what a study varies.

    Parameters
    ----------
    formula : read, or the path of its file; catalogue : read, a pandas frame, or the path of its file
    where : the products to show and rank, as `score` takes them
    study : read for that formula and catalogue, or the path of its file; derived from the formula by default
    scores : which ones; pairs : of products (A, B), asking whether A stands above B; top : how many places the top are; all
        three as the study says by default
    by : the groups of arguments, "kind", "rating", "section", or "factor" for none
    draws : base points at most, rounded up to 16 times a power of two
    second_order : between the groups too; shapley : Shapley effects of the groups, for correlated inputs, in place of indices
    within : the half-width of 95 % intervals that shares are to be known to; of : which shares, as "rank:A-01" or "shift"

    Returns
    -------
    Report : `found` is a tuple of `ScoreSensitivity`, whose `converged` says whether that precision is reached; of
        `ScoreShapley` with `shapley`

    Raises
    ------
    SteelyardError : a fault of the formula, the catalogue or the study, or anything asked for that is not there
    """
    asked = AskedOfIndices(by, draws, second_order, shapley, within, of, seed)
    asked.check()
    table = scored(formula, catalogue, where)
    return sensitivity_report(study_of(study, table, AskedOfStudy(names_of(scores), pairs, top)), table, asked)


def sensitivity_report(
    study: Study, table: ScoreTable, asked: AskedOfIndices, progress: Progress | None = None
) -> Report:
    """The same of a study as it is asked for, and of a score table."""
    asked.check()
    asked.precision(study, table)
    if asked.shapley:
        study = as_published(study)
        worked = _shapley_effects(study, table, asked, progress)
    else:
        worked = _indices(study, table, asked, progress)
    source = source_of(table, asked.seed, study)
    if not asked.shapley:  # whose sample is of another size for each score
        most = most_points(asked.draws)
        source = replace(source, draws=most, draws_in_words="At most {} base points")
    return Report(
        command="sensitivity",
        title=f"{table.form.title}: what moves the ranking",
        heading=studied(study, source),
        source=source,
        sections=(*worked.sections, study_section(study, (SIMULATION,), resolved=asked.resolved)),
        body=worked.body,
        whole=worked.whole,
        found=worked.found,
        on_screen=() if asked.resolved else (HINT,),
    )


def precision_reached(report: Report) -> bool:
    """Whether every score's shares are known as closely as was asked; True where nothing was asked."""
    indices = [one for one in report.found if isinstance(one, ScoreSensitivity)]
    return all(one.converged for one in indices if one.precision.asked)


@dataclass(frozen=True, slots=True, eq=False)
class _Worked:
    """What was worked out: the nouns, their sections, and what makes the document and the table of them."""

    found: tuple[ScoreSensitivity, ...] | tuple[ScoreShapley, ...]
    sections: tuple[Section, ...]
    body: Callable[[], Mapping[str, Any]]
    whole: Callable[[], pd.DataFrame]


def _indices(study: Study, table: ScoreTable, asked: AskedOfIndices, progress: Progress | None) -> _Worked:
    found = sensitivity_study(
        study,
        table,
        by=asked.by,
        budget=asked.draws,
        second_order=asked.second_order,
        precision=asked.precision(study, table),
        seed=asked.seed,
        progress=progress,
    )
    sections = tuple(_section(one, in_full=len(found) == 1) for one in found)
    return _Worked(found, sections, partial(sensitivity_body, found), partial(sensitivity_frame, found))


def _shapley_effects(study: Study, table: ScoreTable, asked: AskedOfIndices, progress: Progress | None) -> _Worked:
    found = shapley_study(study, table, by=asked.by, seed=asked.seed, progress=progress)
    sections = tuple(_shapley_section(one) for one in found)
    return _Worked(found, sections, partial(shapley_body, found), partial(shapley_frame, found))


def _section(found: ScoreSensitivity, *, in_full: bool) -> Section:
    output = found.quantities.output
    return Section(
        output.name,
        output.label,
        sensitivity_verdict(found),
        tuple(_blocks(found)),
        pictures=partial(_pictures, found),
        in_full=in_full,
    )


def _pictures(found: ScoreSensitivity) -> tuple[Picture, ...]:
    from analysis.indices.figures import sensitivity_pictures

    return sensitivity_pictures(found)


def _blocks(found: ScoreSensitivity) -> list[Block]:
    """Groups; then arguments, derivatives, products, and second order where it was asked for."""
    if not found.swaps:
        return []
    groups, factors = group_rows(found), factor_rows(found)
    blocks: list[Block] = [groups_table(found, groups)]
    if factors and factors != groups:
        blocks.append(arguments_table(found, factors))
    return [*blocks, local_table(found), products_table(found, groups), *second_tables(found)]


def _varied(names: Sequence[str], *, are_addresses: bool) -> Column:
    """What varies; groups are called as the study calls them, in words where it has none of its own."""
    return Column("what varies", {"name": names}, kind_in_words, kind="code" if are_addresses else "name")


def _index(key: str, heading: str, found: Mapping[str, Values]) -> tuple[Column, Column]:
    """An index with a mark where its own interval does not tell it from 0, and that interval."""
    ends = {end: found[end] for end in (f"{key}_low", f"{key}_high")}
    return (
        computed(heading, {key: found[key], **ends}, _index_in_words),
        computed(SIMULATED, ends, _interval),
    )


def _index_in_words(value: float, low: float, high: float) -> str:
    return fixed(value, 3) + (" ~0" if low <= 0 <= high else "")


def _interval(low: float, high: float) -> str:
    return span(low, high, lambda end: fixed(end, 3))


def _near_nought(found: Mapping[str, Values], *keys: str) -> tuple[str, ...]:
    """What the mark says, where it stands beside one of these indices."""
    marked = [(np.asarray(found[f"{key}_low"]) <= 0) & (np.asarray(found[f"{key}_high"]) >= 0) for key in keys]
    return (NEAR_NOUGHT,) if np.any(marked) else ()


def groups_table(found: ScoreSensitivity, rows: Sequence[int]) -> Table:
    """First-order and total indices of the mean shift in rank by group, or by argument where there are no groups."""
    title = f"{found.quantities.output.label}: what moves the ranking (mean shift in rank)"
    return _index_table("groups", title, found, rows)


def arguments_table(found: ScoreSensitivity, rows: Sequence[int]) -> Table:
    """The same by argument."""
    made = _index_table("arguments", f"All {len(rows)} arguments, the strongest first", found, rows)
    shown = f"The {min(LISTED, len(rows))} strongest of {len(rows)} arguments"
    return replace(made, on_screen=OnScreen(most=LISTED, title=shown, in_full=True))


def _index_table(name: str, title: str, found: ScoreSensitivity, rows: Sequence[int]) -> Table:
    i = {key: getattr(found.indices, key)[rows, found.shift] for key in INDEX_FIELDS}
    swaps = [found.swaps[row] for row in rows]
    levels = [swap.level for swap in swaps]
    return Table(
        name,
        title,
        (
            _varied([swap.name for swap in swaps], are_addresses="group" not in levels),
            *_index("first", "alone", i),
            *_index("total", "with interactions", i),
        ),
        notes=_near_nought(i, "first", "total"),
        rows=strongest_first(i["total"]),
        hidden={"level": levels},
    )


def local_table(found: ScoreSensitivity) -> Table:
    """The derivatives at the stated setting, strongest first, of the numbers that have one for some product."""
    per_sd = found.local.per_sd[:, found.quantities.products]
    known = np.flatnonzero(np.isfinite(per_sd).any(axis=1)).tolist()
    per_sd = per_sd[known]
    mean = np.nanmean(np.abs(per_sd), axis=1)
    widest = np.nanargmax(np.abs(per_sd), axis=1)
    largest = np.take_along_axis(per_sd, widest[:, np.newaxis], axis=1)[:, 0]
    return Table(
        "local",
        "At the stated setting: points of score per standard deviation of the number, to first order",
        (
            words("factor", "number", [found.local.names[row] for row in known], kind="code"),
            figures("mean_size", "mean size", mean, 3, unit="points"),
            moves("largest", "largest", largest, 3, unit="points"),
            words("of", "of", [found.quantities.ids[product] for product in widest.tolist()], kind="name"),
            computed("on a jump or corner", {"broken": np.isnan(per_sd).sum(axis=1)}, lambda count: str(count or "")),
        ),
        rows=strongest_first(mean),
        on_screen=OnScreen(most=LISTED, in_full=True),
    )


def products_table(found: ScoreSensitivity, groups: Sequence[int]) -> Table:
    """Every product's score and rank over the draws, and what moves its score and rank most."""
    asked = found.quantities
    return Table(
        "products",
        f"{asked.output.label}: every product over the draws",
        (
            ranks("published_rank", "#", asked.published),
            words("product", "product", asked.ids, kind="name"),
            *_moved(found, groups, _OfProducts("score", "mean", 2, "point")),
            *_moved(found, groups, _OfProducts("rank", "rank", 1, "place")),
        ),
        on_screen=IN_FULL,
    )


@dataclass(frozen=True, slots=True)
class _OfProducts:
    """A quantity that each product has: its family, what stands over its mean, and how it is written."""

    family: str
    heading: str
    places: int
    unit: str


def _moved(found: ScoreSensitivity, groups: Sequence[int], what: _OfProducts) -> Iterator[Column]:
    """Mean and standard deviation over the draws, and the group with the greatest total index; of a score that is lost none."""
    i, family = found.indices, what.family
    at = found.quantities.family(family)
    lost = i.lost[at] > 0
    mean, sd = (np.where(lost, np.nan, values[at]) for values in (i.mean, np.sqrt(np.maximum(i.variance, 0.0))))
    totals = np.where(i.reacts[at] & ~lost, i.total[groups][:, at], np.nan)
    most = [groups[row] for row in np.argmax(totals, axis=0).tolist()]
    said = [
        kind_in_words(found.swaps[row].name) if known else _why_none(found, q)
        for q, row, known in zip(found.quantities.places(family), most, ~np.isnan(totals[0]), strict=True)
    ]
    yield figures(f"{family}_mean", what.heading, mean, what.places, unit=what.unit)
    yield figures(f"{family}_sd", "sd", sd, what.places, unit=what.unit)
    yield words(f"{family}_moved_by", f"{family} moved most by", said, kind="name")
    yield computed(
        "total", {f"{family}_total": totals.max(axis=0)}, lambda total: "" if isnan(total) else f"{total:.2f}"
    )


def _why_none(found: ScoreSensitivity, quantity: int) -> str:
    return "no score in some draws" if found.indices.lost[quantity] else state_of(found, quantity)


def second_tables(found: ScoreSensitivity) -> list[Block]:
    """Second-order indices of the mean shift in rank, strongest first, where they were asked for."""
    i, q = found.indices, found.shift
    if i.second is None or i.second_low is None or i.second_high is None:
        return []
    pairs = list(combinations([found.swaps[row].name for row in found.paired], 2))
    figures_of = {"second": i.second[:, q], "second_low": i.second_low[:, q], "second_high": i.second_high[:, q]}
    both = {"between": [one for one, _ in pairs], "and": [other for _, other in pairs]}
    return [
        Table(
            "second",
            "Second order, mean shift in rank",
            (
                Column("pair", both, lambda one, other: f"{kind_in_words(one)} x {kind_in_words(other)}", kind="name"),
                *_index("second", "together, beyond each alone", figures_of),
            ),
            notes=_near_nought(figures_of, "second"),
            rows=strongest_first(figures_of["second"]),
            on_screen=OnScreen(most=LISTED, in_full=True),
        )
    ]


def _shapley_section(found: ScoreShapley) -> Section:
    output, shift = found.quantities.output, found.quantities.family(SHIFT).start
    blocks = (shapley_table(found),) if found.effects.reacts[shift] else ()
    return Section(output.name, output.label, shapley_verdict(found), blocks)


def shapley_table(found: ScoreShapley) -> Table:
    """The Shapley effects on the mean shift in rank and on whether the published winner is first, the largest first."""
    e, asked = found.effects, found.quantities
    shift, first = asked.family(SHIFT).start, asked.family("first").start
    of_shift = {"effect": e.effects[:, shift], "effect_low": e.low[:, shift], "effect_high": e.high[:, shift]}
    of_first = {"winner": e.effects[:, first], "winner_low": e.low[:, first], "winner_high": e.high[:, first]}
    return Table(
        "shapley",
        "Shapley effects: shares that add to 1",
        (
            _varied(e.groups, are_addresses=False),
            *_index("effect", "share", of_shift),
            figures("first", "alone", e.first[:, shift], 3),
            figures("total", "last", e.total[:, shift], 3),
            *_index("winner", f"{asked.ids[0]} first", of_first),
        ),
        notes=_near_nought(of_shift | of_first, "effect", "winner"),
        rows=strongest_first(of_shift["effect"]),
    )
