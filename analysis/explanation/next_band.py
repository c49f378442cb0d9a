"""The least change in one measure alone that takes a product's score into the next band."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from analysis.short_figures import outward
from scoring.catalogue.repeats import taken_by
from scoring.form import Output
from scoring.numbers.array_types import Array, Flags
from scoring.numbers.arrays import APART, reaches
from scoring.numbers.rounding import cleaned, round_to
from scoring.program.kernel import Kernel
from scoring.program.program import Program
from scoring.table.bands import banded
from scoring.table.evaluate import Evaluation, Inputs, evaluate, kernel_for

GRID = 2001
#: A search is halved so often at most; a reading that is searched for near 0 has no last decimal.
MOST_HALVINGS = 8
#: A reading nearer to 0 than this share of the way's end is told as 0: no decimal is the last one there.
AT_ZERO = 1e-20
#: A reading that a curve or limit turns at is written with so many digits at most.
EDGE_DIGITS = 8


@dataclass(frozen=True, slots=True)
class BandChange:
    """A measure's least change that reaches the band, and the reading that it leads to; None where none does.

    The reading, typed in for every repeat, reaches the band. beyond: the reading that it must lie beyond, where that one
    does not reach it itself; None where the least reading that reaches it is the one told.
    """

    measure: str
    change: float | None
    reading: float | None
    beyond: float | None = None


def next_band(output: Output, here: int) -> tuple[str, float] | None:
    """The name and edge of the next band that is better than the one a product has; None where there is none.

    here : the place of the band that it has, -1 where its figure lies below them all, or a limit of bands lets none through
    """
    bands, highest = output.bands.edges, output.ranks.best.value == "highest"
    better = here + 1 if highest else here - 1
    if not 0 <= better < len(bands):
        return None
    edge = bands[better if highest else here].edge.value
    return bands[better].name, float(edge)


def least_changes(
    program: Program, output: Output, inputs: Inputs, read: Mapping[str, float], product: int, aim: tuple[str, float]
) -> tuple[BandChange, ...]:
    """For each measure that the product has and the output leans on, the least change of it alone that reaches the band.

    Searched on a grid of 2 001 points from the reading to each end of its plausible range (or, without one, as far again
    on both sides), then halved down to the edge between two points. Statistics of a live reference are held as they are.

    Parameters
    ----------
    read : each measure's summary of the product's repeats, before the measure's own rounding
    aim : the name of the band to reach, and its edge, as `next_band` gives them
    """
    one = inputs.of_product(product)
    conditions = [f"gate {limit.condition}" for limit in output.band_limits]
    kernel = kernel_for(program, one, [output.name, *conditions])
    search = _Search(kernel, output, one, inputs if program.figures else None, aim)
    asked = [name for name in output.asked_for_bands if name in program.form.outputs_by_name]
    limiting = [name for name in output.asked_for_bands if name in program.measures]
    found = []
    for name in dict.fromkeys((*program.measures_under(output.name, *asked), *limiting)):
        value = read[name]
        if np.isnan(value):
            continue
        plausible = program.form.measure(name).plausible
        span = abs(value) or 1.0
        ends = (plausible[0].value, plausible[1].value) if plausible else (value - span, value + span)
        found.append(search.least_change(name, value, ends))
    return tuple(found)


@dataclass(frozen=True, slots=True, eq=False)
class _Search:
    """One product's way to a band: the kernel of one output, compiled once for all readings that are tried.

    `population`: the catalogue whose statistics live references take, None where the output takes none.
    """

    kernel: Kernel
    output: Output
    one: Inputs
    population: Inputs | None
    aim: tuple[str, float]

    def least_change(self, measure: str, value: float, ends: tuple[float, float]) -> BandChange:
        """The change of one measure alone, from its value towards either end, that is the least to reach the band."""
        found = []
        for end in ends:
            grid = np.linspace(value, end, GRID)
            reached = np.flatnonzero(self.reaches(measure, grid))
            if len(reached) and reached[0] > 0:
                found.append((self.halved(measure, grid[reached[0] - 1], grid[reached[0]]), end))
        if not found:
            return BandChange(measure, None, None)
        least, end = min(found, key=lambda pair: abs(pair[0] - value))
        beyond = self.edge_before(measure, value, least, end)
        reading = least if beyond is not None else self.shortened(measure, value, least, end)
        return BandChange(measure, reading - value, reading, beyond)

    def halved(self, measure: str, short: float, there: float) -> float:
        """The reading nearest to `short` that reaches the band, by a grid within the grid, down to the last decimal."""
        for _ in range(MOST_HALVINGS):
            grid = np.linspace(short, there, GRID)
            first = int(np.flatnonzero(self.reaches(measure, grid))[0])
            if first == 0:
                return float(cleaned(grid[0]))
            short, there = float(grid[first - 1]), float(grid[first])
            if abs(there - short) <= APART / 10 * abs(there):
                break
        return float(cleaned(there))

    def edge_before(self, measure: str, value: float, least: float, end: float) -> float | None:
        """The short decimal that a reading lies just beyond, seen from the value, and that does not reach the band itself."""
        dust = max(APART * max(abs(value), abs(least)), AT_ZERO * abs(end))
        edge = float(f"{least:.{EDGE_DIGITS}g}") if abs(least) > dust else 0.0
        near = abs(edge - least) <= dust and min(value, least) <= edge <= max(value, least)
        return edge if near and not self.reaches(measure, np.array([edge]))[0] else None

    def shortened(self, measure: str, value: float, least: float, end: float) -> float:
        """A short decimal at the least reading or just beyond it that reaches the band when it is typed in."""

        def certify(reading: float) -> bool | None:
            return bool(self.reaches(measure, np.array([reading]))[0]) or None

        done = outward(value, least, end, certify)
        return float(done[0]) if done is not None else least

    def reaches(self, measure: str, readings: Array) -> Flags:
        """Whether the shown (or unrounded) value reaches the edge for each reading, read as a decimal of 13 digits.

        A measure that is rounded is so here too.
        """
        form = self.kernel.program.form
        tried = replace(self.one, values={**self.one.values, **taken_by(form, {measure: cleaned(readings[:, None])})})
        found = evaluate(self.kernel, tried, reference=self.population or tried)
        values = found.values[self.output.name][:, 0]
        rule = self.output.scale.show
        judged = round_to(values, rule.step.value, rule.rule.value) if form.bands_on.value == "shown" else values
        if self.output.band_limits:
            return self.is_given(judged, found)
        reached = reaches(judged, self.aim[1])
        return reached if self.output.ranks.best.value == "highest" else ~reached & ~np.isnan(judged)

    def is_given(self, judged: Array, found: Evaluation) -> Flags:
        """Whether the band, or a better one, is given, also by the limits of bands; judged : shape (readings,)."""
        place = [band.name for band in self.output.bands.edges].index(self.aim[0])
        band = banded(self.output, judged[:, np.newaxis], found).band[:, 0]
        if self.output.ranks.best.value == "highest":
            return np.asarray(band >= place)
        return np.asarray((band >= 0) & (band <= place))
