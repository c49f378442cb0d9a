"""The pictures of a score table, each with a sentence that says what it shows."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from analysis.explanation.contributions import Contributions, contributions
from analysis.figures.canvas import FILLS, shortened
from analysis.figures.contribution_bars import Split, contribution_bars
from analysis.figures.curves import curve_figure
from analysis.figures.strip import Strip, value_strip
from analysis.figures.uncertainty import Known, score_intervals
from analysis.partial.partial_place import first_places
from analysis.rankings.distinguishable import Distinguishable, bench_of
from analysis.report.pictures import Picture
from analysis.scores.curve_track import can_be_drawn, curve_track
from analysis.scores.findings import curve_finding, known_finding, parts_finding, strip_finding
from analysis.scores.places import labels, ranked
from analysis.scores.standings import MEANINGS, cell_text, marks_of, places, without_place
from analysis.wording import counted, noise_in_words
from scoring.form import Output, Part
from scoring.numbers.array_types import Array
from scoring.program.program import Program
from scoring.table.evaluate import stages
from scoring.table.table import Column, ScoreTable

LONGEST_LABEL = 60
#: A sentence of a finding is cut at so many letters, however long the names in it.
LONGEST_SENTENCE = 600


@dataclass(frozen=True, slots=True)
class Planned:
    """A picture that a table has, before anything of it is worked out.

    of: the rating or score that it is of, "" for all ratings together; is_curve: whether it is of a curve
    """

    of: str
    is_curve: bool
    name: str
    make: Callable[[], Picture]


def planned_pictures(
    table: ScoreTable, seed: int = 0, bench_known: Callable[[], Mapping[str, Distinguishable]] | None = None
) -> tuple[Planned, ...]:
    """Every picture of a table: the strip; each score's parts and uncertainty; each rating's curves.

    A score without any known noise has no picture of its uncertainty, one without a product on it none of its parts, and a
    table without ratings or without products no strip. The groups are those that `steelyard stability` prints for the same
    seed; they are worked out here where they are not known already.
    """
    tried, found = ", ".join(table.settings), list[Planned]()
    if table.ratings and table.catalogue.products:
        found.append(Planned("", False, "ratings", partial(strip_picture, table, tried=tried)))
    bench = bench_of(table, seed) if bench_known is None else bench_known()
    for column in table.scores:
        name = column.output.name
        if ranked(column):
            made = partial(contribution_picture, table, name, tried=tried)
            found.append(Planned(name, False, f"{name}-parts", made))
        if name in bench:
            made = partial(uncertainty_picture, table, name, bench[name], tried=tried)
            found.append(Planned(name, False, f"{name}-uncertainty", made))
    for output in table.form.outputs:
        for part in output.parts:
            if can_be_drawn(table, part):
                made = partial(curve_picture, table.program, table, output, part, tried=tried)
                found.append(Planned(output.name, True, _curve_name(output, part), made))
    return tuple(_each_name_once(found))


def made(planned: Planned) -> Picture:
    """The picture, under the name that was planned."""
    return replace(planned.make(), name=planned.name)


def score_pictures(table: ScoreTable, seed: int = 0) -> tuple[Picture, ...]:
    """Every picture of a table, in the order in which they were planned."""
    return tuple(made(one) for one in planned_pictures(table, seed))


def strip_picture(table: ScoreTable, *, tried: str = "") -> Picture:
    """Every product's ratings side by side, in the order of the first score's places (of the first rating's without scores).

    Raises
    ------
    ValueError : no product, or no rating
    """
    first = (table.scores or table.ratings)[0]
    placed = ranked(first)
    order = placed + [i for i in table.rows.tolist() if i not in set(placed)]
    values = np.stack([column.value[order] for column in table.ratings], axis=1)
    scales = [column.output.scale for column in table.ratings]
    tops = [
        scale.high.value if scale.high is not None else _above(scale.low.value, column.value)
        for scale, column in zip(scales, table.ratings, strict=True)
    ]
    low, high = np.array([scale.low.value for scale in scales]), np.array(tops)
    same = bool(np.ptp(low) == 0 and np.ptp(high) == 0)
    strip = Strip(
        products=labels(table, order),
        places=places(first, order),
        columns=[column.output.label for column in table.ratings],
        values=values,
        low=low,
        high=high,
        texts=[[cell_text(column, i) for column in table.ratings] for i in order],
        absent=MEANINGS,
    )
    label = shortened(first.output.label, LONGEST_LABEL)
    title = _titled(f"{shortened(table.form.title, 120)}: ratings by product, places in {label}", tried)
    unit = "rating points" if same else "from the low to the high end of each rating's scale"
    draw = partial(value_strip, strip, title=title, unit=unit)
    return Picture("ratings", title, strip_finding(table, first, placed, label), draw, fitted=True)


def _above(low: float, values: Array) -> float:
    """The top of a column whose scale is open: its greatest value."""
    greatest = float(np.nanmax(values)) if (~np.isnan(values)).any() else low
    return greatest if greatest > low else low + 1.0


def contribution_picture(
    table: ScoreTable, score_name: str, program: Program | None = None, *, tried: str = "", most: int | None = None
) -> Picture:
    """What each product's score is made of, part by part; of the `most` best placed, or of all.

    Raises
    ------
    ValueError : no product has a place in the score
    """
    program = program or table.program
    column = table.column(score_name)
    placed = ranked(column)
    order = placed[:most]
    if not order:
        raise ValueError(f"nothing to draw: no product has a place in {score_name}")
    worked = stages(program, table.inputs)
    found = [contributions(program, column.output, table.inputs, table.evaluation, worked, i) for i in order]
    names, shares = _shares(column.output, found)
    marks = marks_of(table, column, order)
    split = Split(
        products=labels(table, order),
        places=places(column, order),
        parts=_labels(table, names),
        start=np.array([0.0 if one is None else one.start for one in found]),
        shares=shares,
        limits=np.array([0.0 if one is None or abs(one.limits) < 1e-9 else one.limits for one in found]),
        values=column.value[order],
        texts=[column.shown_text(i) for i in order],
        marks=marks.beside,
    )
    label = shortened(column.output.label, LONGEST_LABEL)
    whole = sum(one is None for one in found)
    note = "points are printed where there is room"
    note += f"; {counted(whole, 'score')} not split into parts" if whole else ""
    which = "each product's score is" if len(order) == len(placed) else f"the first {len(order)} scores are"
    title = _titled(f"{label}: what {which} made of", tried)
    words = {"signs": "; ".join(marks.meanings), "note": note, "absent": without_place(table, column)}
    words["start_words"] = "start: every part at the catalogue's median"
    draw = partial(contribution_bars, split, title=title, unit=f"{label}, points", **words)
    finding = f"{parts_finding(column, split, label)}{_on_missing(table, column)}"
    return Picture(f"{score_name}-parts", title, finding, draw, fitted=True)


def _labels(table: ScoreTable, names: list[str]) -> list[str]:
    """Parts by their labels; two with the same label by their names as well."""
    known = {one.name: one.label for one in table.form.measures if one.label}
    known |= {one.name: one.label for one in table.form.outputs}
    labels = [known.get(name, name) for name in names]
    return [
        f"{label} ({name})" if labels.count(label) > 1 else label for name, label in zip(names, labels, strict=True)
    ]


def _shares(output: Output, found: list[Contributions | None]) -> tuple[list[str], Array]:
    """The parts' names and their points, shape (products, parts); the smallest are put together where fills run out."""
    split = [one.parts if one is not None else () for one in found]
    names = list(dict.fromkeys(name for parts in split for name, _ in parts))
    names = names or list(dict.fromkeys(output.sources))
    shares = np.full((len(found), len(names)), np.nan)
    for row, parts in enumerate(split):
        for name, share in parts:
            column = names.index(name)
            shares[row, column] = np.nan_to_num(shares[row, column]) + share
    most = len(FILLS)
    if len(names) > most:
        size = np.nansum(np.abs(shares), axis=0)
        kept = sorted(np.argsort(-size, kind="stable")[: most - 1].tolist())
        rest = [i for i in range(len(names)) if i not in kept]
        shares = np.column_stack([shares[:, kept], np.nansum(shares[:, rest], axis=1)])
        names = [*(names[i] for i in kept), f"{len(rest)} other parts"]
    return names, shares


def uncertainty_picture(table: ScoreTable, score_name: str, told: Distinguishable, *, tried: str = "") -> Picture:
    """Each product's score with its standard uncertainty under the bench's noise, and the groups not told apart.

    Raises
    ------
    ValueError : `told` is of other products than those that have a place in the score
    """
    column = table.column(score_name)
    order = ranked(column)
    if len(order) != len(told.sd):
        raise ValueError(f"{len(told.sd)} uncertainties for {len(order)} products with a place in {score_name}")
    marks = marks_of(table, column, order)
    known = Known(
        products=labels(table, order),
        places=places(column, order),
        values=column.value[order],
        u=told.sd,
        uneven=np.isin(np.arange(len(order)), told.uneven),
        letters=told.groups.letters,
        marks=marks.beside,
    )
    label = shortened(column.output.label, LONGEST_LABEL)
    title = _titled(f"{label}: scores, and how well the bench knows them", tried)
    shared = "cannot be told apart" if told.groups.exact else "may not be told apart"
    note = told.noise.at_best(
        f"noise of {noise_in_words(table.form, column.output)}; each interval by itself; products that share a letter {shared}"
        f" (all pairs at once, {100 * told.sets.coverage:g} %)"
    )
    words = {"signs": "; ".join(marks.meanings), "note": note, "absent": without_place(table, column)}
    draw = partial(score_intervals, known, title=title, unit=f"{label}, points", scale=_scale(column.output), **words)
    return Picture(f"{score_name}-uncertainty", title, known_finding(column, told, known, label), draw, fitted=True)


def curve_picture(program: Program, table: ScoreTable, output: Output, part: Part, *, tried: str = "") -> Picture:
    """The curve of one part of a rating, from the kernel, with the readings that it meets.

    Raises
    ------
    ValueError : the part has no curve, or one that leans on readings that are not there
    """
    track = curve_track(program, table, output, part)
    label = shortened(output.label, LONGEST_LABEL)
    mixed = len(output.parts) > 1
    unit = "no unit" if track.unit == "1" else track.unit
    measure = program.form.measures_by_name.get(part.source)
    said = measure.label if measure is not None else ""
    named = f"{shortened(said, 100)} ({part.source})" if said and said != part.source else part.source
    what = f"{label}: its part of {part.source}" if mixed else f"{label} over {part.source}"
    title = _titled(what, tried)
    points = f"{label}, points of this part" if mixed else f"{label}, rating points"
    draw = partial(curve_figure, track, title=title, measure=f"{named}, {unit}", points=points, scale=_scale(output))
    return Picture(_curve_name(output, part), title, curve_finding(what, track, unit), draw, fitted=True)


def _curve_name(output: Output, part: Part) -> str:
    """The rating's, with the part's number where there are several."""
    return f"{output.name}-curve" + (f"-{output.parts.index(part) + 1}" if len(output.parts) > 1 else "")


def _scale(output: Output) -> tuple[float, float | None]:
    """The ends of an output's scale; None where it is open at the top."""
    return output.scale.low.value, output.scale.high.value if output.scale.high is not None else None


def _titled(title: str, tried: str) -> str:
    """A title that says what was tried on the formula."""
    return f"{title}, with {shortened(tried, 120)}" if tried else title


def _on_missing(table: ScoreTable, column: Column) -> str:
    """Whether the first place stands on a missing part, after another sentence."""
    return "".join(f" {shortened(one.says, LONGEST_SENTENCE)}" for one in first_places(table, [column]))


def _each_name_once(planned: list[Planned]) -> Iterator[Planned]:
    """Names that differ even where a folder does not tell capitals from small letters."""
    taken: set[str] = set()
    for one in planned:
        name, number = one.name, 2
        while name.casefold() in taken:
            name, number = f"{one.name}-{number}", number + 1
        taken.add(name.casefold())
        yield replace(one, name=name)
