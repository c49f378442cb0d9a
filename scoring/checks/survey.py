"""The survey: lines through the box along every measure, for counter-examples, found with the kernel itself.

Along a line one reading moves and all else is held. From each line come the greatest rise and fall of every output, its
extremes, the settings at which it has no value, and the neighbours between which a break's state changes. Lines through the
boxes that a proof left open are a second look.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from scoring.catalogue import State
from scoring.checks.bench import Answers, Bench, Setting
from scoring.checks.proving import Box
from scoring.numbers.array_types import Array, Flags
from scoring.numbers.intervals import ONE, Interval

#: Lines along each measure, fewer (but never below the second number) where there are many measures.
LINES, FEWEST_LINES, MANY_MEASURES = 40, 6, 15
EVEN = 25
#: Steps of arithmetic on one number that all lines together may take, and what one call of the kernel counts as: a large
#: form is searched along the lines of its first measures.
MOST_STEPS, ONE_CALL = 1_500_000_000, 5_000
#: A change below this is arithmetic, not the formula's doing.
NO_CHANGE = 1e-9
MOST_PAIRS = 6
#: How many of the boxes that a proof left open are looked into, and at how many points along each line.
MOST_LOOKED_INTO, POINTS_LOOKED_AT = 24, 9


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """Two settings that differ in one reading, the lesser first, and how much the output changes from one to the other."""

    measure: str
    first: Setting
    second: Setting
    change: float


@dataclass(frozen=True, slots=True, eq=False)
class Extreme:
    """A setting and an output's value there."""

    setting: Setting
    value: float


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Lines along a measure: settings that share a reference population, each with the measure at every reading of a grid.

    grid : shape (n_grid,)
    """

    measure: str
    settings: Sequence[Setting]
    grid: Array

    @property
    def shape(self) -> tuple[int, int]:
        """How many lines there are, and readings along each."""
        return len(self.settings), len(self.grid)

    def at(self, line: int, reading: int) -> Setting:
        """The setting at one reading of one line."""
        return self.settings[line].moved(self.measure, float(self.grid[reading]))


@dataclass(slots=True, eq=False)
class Survey:
    """What lines through the box of a bench met so far, by output, by (output, measure), and by break."""

    bench: Bench
    least: dict[str, Extreme] = field(default_factory=dict)
    most: dict[str, Extreme] = field(default_factory=dict)
    without: dict[str, Extreme] = field(default_factory=dict)
    rises: dict[tuple[str, str], Pair] = field(default_factory=dict)
    falls: dict[tuple[str, str], Pair] = field(default_factory=dict)
    crossings: dict[str, list[Pair]] = field(default_factory=dict)
    tried: dict[tuple[str, str], int] = field(default_factory=dict)

    def samples(self, output: str, measures: Sequence[str]) -> int:
        """How many points were tried for an output along the given measures."""
        return sum(self.tried.get((output, measure), 0) for measure in measures)


def survey_of(bench: Bench, rng: np.random.Generator) -> Survey:
    """Lines along every measure, with every reference population, some with readings missing."""
    survey = Survey(bench)
    measures = list(bench.domain.measures)
    leaning = {name: bench.domain.leans_on(name) for name in bench.domain.outputs}
    n_lines = max(FEWEST_LINES, LINES * MANY_MEASURES // max(MANY_MEASURES, len(measures)))
    left = MOST_STEPS
    for measure in measures:
        outputs = [name for name, needs in leaning.items() if measure in needs]
        for population in range(len(bench.populations) if bench.domain.program.figures else 1):
            for missing in (0.0, 0.25):
                count = n_lines if missing == 0 else n_lines // 2
                left -= bench.steps * (count * EVEN * 2 + ONE_CALL)
                if left < 0:
                    return survey
                lines = [_setting(bench, rng, population, missing, measure) for _ in range(count)]
                look_along(survey, Lines(measure, lines, grid_of(bench, measure, rng)), outputs)
    return survey


def _setting(bench: Bench, rng: np.random.Generator, population: int, missing: float, moving: str) -> Setting:
    """A setting made up of ends, hints and chance; some readings may be missing or not apply."""
    values, states = {}, {}
    for measure in bench.domain.program.form.measures:
        name = measure.name
        values[name] = _reading(bench, name, rng)
        if name != moving and rng.random() < missing:
            states[name] = State.MISSING if rng.random() < 0.5 else State.NOT_APPLICABLE
    words = {name: str(rng.choice(list(known))) for name, known in bench.words.items()}
    return Setting(values, states, words, population)


def _reading(bench: Bench, name: str, rng: np.random.Generator) -> float:
    (low, high), hints = bench.spans[name], bench.hints[name]
    way = rng.random()
    if way < 0.25:
        return low if rng.random() < 0.5 else high
    if way < 0.5 and hints:
        return float(rng.choice(hints))
    return float(rng.uniform(low, high))


def grid_of(bench: Bench, name: str, rng: np.random.Generator) -> Array:
    """Readings along a line, shape (n_grid,), rising.

    Even ones, ends, hints, either side of each hint, the middles between, and some by chance.
    """
    (low, high), hints = bench.spans[name], np.array(bench.hints[name])
    near = (high - low) * 1e-6
    middles = (hints[1:] + hints[:-1]) / 2
    chosen = np.concatenate(
        [np.linspace(low, high, EVEN), hints, hints - near, hints + near, middles, rng.uniform(low, high, 7)]
    )
    return np.unique(np.clip(chosen, low, high))


def look_along(survey: Survey, lines: Lines, outputs: Sequence[str]) -> None:
    """Ask the kernel along lines and note what they show."""
    bench, settings = survey.bench, lines.settings
    n_lines, n_grid = lines.shape
    values = {name: np.repeat([each.values[name] for each in settings], n_grid) for name in settings[0].values}
    values[lines.measure] = np.tile(lines.grid, n_lines)
    states = {
        name: np.repeat(np.array([each.states.get(name, State.VALUE) for each in settings], np.uint8), n_grid)
        for name in values
    }
    words = {name: tuple(each.words[name] for each in settings for _ in lines.grid) for name in bench.words}
    answers = bench.ask_arrays(values, states, words, settings[0].population)
    for output in outputs:
        key = output, lines.measure
        survey.tried[key] = survey.tried.get(key, 0) + n_lines * n_grid
        _note_output(survey, lines, output, answers)
    for name in bench.turned_by.get(lines.measure, ()):
        _note_crossings(survey, lines, name, answers.states[name].reshape(lines.shape))


def _note_output(survey: Survey, lines: Lines, output: str, answers: Answers) -> None:
    """Note what the lines show of one output; its answers have the shape (n_lines * n_grid,), line after line."""
    found, published = answers.values[output].reshape(lines.shape), answers.published[output].reshape(lines.shape)
    strange = published & ~np.isfinite(found)
    if strange.any() and output not in survey.without:
        at = _place(strange)
        survey.without[output] = Extreme(lines.at(*at), float(found[at]))
    known = np.where(published & np.isfinite(found), found, np.nan)
    if np.isnan(known).all():
        return
    for extremes, sign in ((survey.least, -1.0), (survey.most, 1.0)):
        at = _place(sign * known == np.nanmax(sign * known))
        if output not in extremes or sign * known[at] > sign * extremes[output].value:
            extremes[output] = Extreme(lines.at(*at), float(known[at]))
    for pairs, sign in ((survey.rises, 1.0), (survey.falls, -1.0)):
        rise = _greatest_rise(lines, sign * known)
        earlier = pairs.get((output, lines.measure))
        if rise is not None and (earlier is None or rise.change > abs(earlier.change)):
            pairs[output, lines.measure] = replace(rise, change=sign * rise.change)


def _place(where: Flags) -> tuple[int, int]:
    """The row and the column of the first that is true, shape (n_lines, n_grid)."""
    row, column = np.argwhere(where)[0]
    return int(row), int(column)


def _greatest_rise(lines: Lines, known: Array) -> Pair | None:
    """The greatest rise of `known`, shape (n_lines, n_grid), from any reading to a later one on the same line, if it rises."""
    floor = np.fmin.accumulate(known, axis=1)
    rise = known - floor
    best = float(np.nanmax(rise))
    size = max(1.0, float(np.nanmax(np.abs(known))))
    if best <= NO_CHANGE * size:
        return None
    row, later = _place(rise == best)
    earlier = int(np.flatnonzero(known[row, : later + 1] == floor[row, later])[-1])
    return Pair(lines.measure, lines.at(row, earlier), lines.at(row, later), best)


def _note_crossings(survey: Survey, lines: Lines, name: str, state: Array) -> None:
    """Note a few neighbours on a line between which a state, shape (n_lines, n_grid), changes."""
    one, other = state[:, :-1], state[:, 1:]
    changed = np.argwhere((one != other) & np.isfinite(one) & np.isfinite(other))
    pairs = survey.crossings.setdefault(name, [])
    for row, column in changed[:: max(1, len(changed) // MOST_PAIRS)][:MOST_PAIRS]:
        first, second = lines.at(row, column), lines.at(row, column + 1)
        pairs.append(Pair(lines.measure, first, second, float(other[row, column] - one[row, column])))


def look_into(survey: Survey, boxes: Sequence[Box], output: str, measure: str | None = None) -> None:
    """Lines through the middles of open boxes, along one measure or along each that the output leans on."""
    bench, domain = survey.bench, survey.bench.domain
    every = max(1, len(boxes) // MOST_LOOKED_INTO)
    for box in boxes[::every][:MOST_LOOKED_INTO]:
        for moving in (measure,) if measure is not None else domain.leans_on(output):
            side = _within(box.get(domain.measures[moving], domain.ranges[moving]), bench.spans[moving])
            grid = np.unique(np.linspace(side[0], side[1], POINTS_LOOKED_AT))
            for population in range(len(bench.populations) if domain.program.figures else 1):
                look_along(survey, Lines(moving, [_middle(bench, box, population)], grid), [output])


def _middle(bench: Bench, box: Box, population: int) -> Setting:
    domain = bench.domain
    values = {}
    for name in bench.spans:
        side = _within(box.get(domain.measures.get(name, -1), domain.ranges[name]), bench.spans[name])
        values[name] = side[0] / 2 + side[1] / 2
    words = {}
    for attribute, known in bench.words.items():
        chosen = [word for (name, word), slot in domain.words.items() if name == attribute and box.get(slot) == ONE]
        words[attribute] = chosen[0] if chosen else known[-1]
    return Setting(values, {}, words, population)


def _within(side: Interval, span: tuple[float, float]) -> tuple[float, float]:
    """A bounded part of a side: what of it lies in the span that is tried, or its own finite end."""
    low = min(max(side.low, span[0]), max(side.high, span[0]))
    high = max(min(side.high, span[1]), low)
    return low, high
