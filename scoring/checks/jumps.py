"""The search for jumps: neighbours on a line with different states are drawn together until only the jump is between them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scoring.catalogue import State
from scoring.checks.bench import Answers, Bench, Setting
from scoring.checks.breaks import Break
from scoring.checks.sizes import Line, Sizes
from scoring.checks.survey import Pair, Survey
from scoring.numbers.array_types import Array, Flags

#: Between two readings, so many are tried at once, and the stretch with the change in it is kept; so many times.
SHARES = np.arange(1, 64) / 64
ROUNDS_OF_DRAWING = 11
ROUNDS = 2
#: Steps of arithmetic on one number that drawing together may take; so many crossings are looked at in any case.
MOST_STEPS, FEWEST_CROSSINGS = 500_000_000, 60
#: A jump that is met must be this large, in points, to refute: far above what neighbouring doubles differ by.
REAL_JUMP = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Crossing:
    """Two settings between which one break's state changes; `pair.change` is not used."""

    name: str
    pair: Pair


@dataclass(frozen=True, slots=True, eq=False)
class Met:
    """A jump that was met: on either side of it, as near as doubles can be, and its size in an output."""

    crossing: Crossing
    size: float


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """The largest jumps that were met.

    of_lines: by (line, output), where the line is the first of what turned; of_breaks: by (break, output), for breaks that
    are not declared, and only of what no declared break can have done.
    """

    of_lines: dict[tuple[Line, str], Met]
    of_breaks: dict[tuple[str, str], Met]


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """The lines of one output, where each break stands among them, and the breaks that are not declared."""

    lines: Sequence[Line]
    at: Mapping[str, Sequence[int]]
    names: frozenset[str]
    hidden: Sequence[Break]

    @classmethod
    def of(cls, sizes: Sizes, output: str) -> Known:
        """What is known of one output."""
        at: dict[str, list[int]] = {}
        for index, line in enumerate(sizes.of(output)):
            for name in line.breaks:
                at.setdefault(name, []).append(index)
        return cls(sizes.of(output), at, frozenset(at), sizes.hidden(output))


def jumps_met(survey: Survey, sizes: Sizes) -> Seen:
    """The largest jump met of each output at each of its lines, and at each break that is not declared."""
    bench, seen = survey.bench, Seen({}, {})
    names = {each.name for each in sizes.breaks}
    crossed = {name: pairs for name, pairs in survey.crossings.items() if name in names}
    crossings = [Crossing(name, pair) for name, pairs in crossed.items() for pair in pairs]
    _look(bench, crossings, sizes, seen)
    for _ in range(ROUNDS):
        _look(bench, _nearby(bench, seen), sizes, seen)
    return seen


def _look(bench: Bench, crossings: Sequence[Crossing], sizes: Sizes, seen: Seen) -> None:
    by_population: dict[int, list[Crossing]] = {}
    most = max(FEWEST_CROSSINGS, MOST_STEPS // (len(SHARES) * ROUNDS_OF_DRAWING * bench.steps))
    every = max(1, math.ceil(len(crossings) / most))
    for crossing in crossings[::every]:
        by_population.setdefault(crossing.pair.first.population, []).append(crossing)
    known = {output: Known.of(sizes, output) for output in sizes.lines}
    order = [each.name for each in sizes.breaks]
    for together in by_population.values():
        drawn, before, after = drawn_together(bench, together)
        turned = np.array([_differs(before.states[name], after.states[name]) for name in order])
        for index, crossing in enumerate(drawn):
            names = [order[at] for at in np.flatnonzero(turned[:, index])]
            for output, lines in known.items():
                if not lines.names.intersection(names):
                    continue
                size = abs(float(after.values[output][index]) - float(before.values[output][index]))
                if np.isfinite(size):
                    _note_line(crossing, names, output, lines, size, seen)
                    _note_breaks(crossing, names, lines.hidden, output, sizes, size, seen)


def _differs(before: Array, after: Array) -> Flags:
    """Whether a state, shape (crossings,), differs; a state without a value differs from one that has one."""
    return np.asarray((before != after) & ~(np.isnan(before) & np.isnan(after)))


def _note_line(crossing: Crossing, names: Sequence[str], output: str, known: Known, size: float, seen: Seen) -> None:
    """Note a jump under the first line of the output that turned."""
    pair = crossing.pair
    low, high = pair.first.values[pair.measure], pair.second.values[pair.measure]
    turned = sorted({at for name in names for at in known.at.get(name, ())})
    for line in (known.lines[at] for at in turned):
        spot = line.spot
        if spot is None or (spot.measure == pair.measure and near(low, high, float(spot.reading))):
            best = seen.of_lines.get((line, output))
            if best is None or size > best.size:
                seen.of_lines[line, output] = Met(crossing, size)
            return


def near(low: float, high: float, reading: float) -> bool:
    """Whether a reading lies between two others, or next to them: a float stands for its decimal of 13 digits."""
    reach = 1e-12 * max(abs(low), abs(high))
    return low - reach <= reading <= high + reach


def _note_breaks(
    crossing: Crossing,
    names: Sequence[str],
    hidden: Sequence[Break],
    output: str,
    sizes: Sizes,
    size: float,
    seen: Seen,
) -> None:
    """Note a jump for each break that is not declared, beyond what may have turned with it."""
    for each in hidden:
        best = seen.of_breaks.get((each.name, output))
        if each.name not in names or (best is not None and best.size >= size):
            continue
        if len(names) == 1 or size > sizes.without(each, output) + REAL_JUMP:
            seen.of_breaks[each.name, output] = Met(crossing, size)


def _nearby(bench: Bench, seen: Seen) -> list[Crossing]:
    """From each jump met, the same with one other reading at an end of its range, wherever the state still changes."""
    found: list[Crossing] = []
    met = [(output, best) for places in (seen.of_lines, seen.of_breaks) for (_, output), best in places.items()]
    for output, best in met:
        name, pair = best.crossing.name, best.crossing.pair
        for other in bench.domain.leans_on(output):
            if other != pair.measure:
                for end in bench.spans[other]:
                    found.append(Crossing(name, _across_the_range(bench, pair, pair.first.moved(other, end))))
    by_population: dict[int, list[Crossing]] = {}
    for crossing in found:
        by_population.setdefault(crossing.pair.first.population, []).append(crossing)
    kept: list[Crossing] = []
    for together in by_population.values():
        kept += [one for one, changes in zip(together, changes_state(bench, together), strict=True) if changes]
    return kept


def _across_the_range(bench: Bench, pair: Pair, setting: Setting) -> Pair:
    low, high = bench.spans[pair.measure]
    return Pair(pair.measure, setting.moved(pair.measure, low), setting.moved(pair.measure, high), 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Batch:
    """Crossings that share a reference population, as arrays: readings of shape (crossings,), asked of many at once."""

    bench: Bench
    crossings: Sequence[Crossing]
    values: Mapping[str, Array]
    gaps: Mapping[str, NDArray[np.uint8]]
    moving: NDArray[np.str_]

    def ask(self, readings: Array) -> Answers:
        """The answers with other readings of each crossing's own measure, of shape (crossings, tries), in that order."""
        tries = readings.shape[1]
        values = {
            name: np.where((self.moving == name)[:, None], readings, held[:, None]).ravel()
            for name, held in self.values.items()
        }
        gaps = {name: np.repeat(states, tries) for name, states in self.gaps.items()}
        firsts = [crossing.pair.first for crossing in self.crossings]
        words = {
            name: tuple(one.words.get(name, "") for one in firsts for _ in range(tries)) for name in self.bench.words
        }
        return self.bench.ask_arrays(values, gaps, words, firsts[0].population)

    def states(self, readings: Array) -> Array:
        """Each crossing's own state at the readings, shape (crossings, tries)."""
        answers = self.ask(readings).states
        found = np.empty(readings.shape)
        names = np.array([crossing.name for crossing in self.crossings])
        for name in np.unique(names):
            found[names == name] = answers[str(name)].reshape(readings.shape)[names == name]
        return found


def _batch(bench: Bench, crossings: Sequence[Crossing]) -> _Batch:
    firsts = [crossing.pair.first for crossing in crossings]
    measures = [measure.name for measure in bench.domain.program.form.measures]
    return _Batch(
        bench,
        crossings,
        {name: np.array([one.values[name] for one in firsts]) for name in measures},
        {name: np.array([one.states.get(name, State.VALUE) for one in firsts], np.uint8) for name in measures},
        np.array([crossing.pair.measure for crossing in crossings]),
    )


def changes_state(bench: Bench, crossings: Sequence[Crossing]) -> Flags:
    """For each crossing, whether its own break's state differs between its two settings; shape (crossings,)."""
    ends = np.array([_ends(crossing.pair) for crossing in crossings])
    states = _batch(bench, crossings).states(ends)
    return np.asarray(states[:, 0] != states[:, 1])


def _ends(pair: Pair) -> tuple[float, float]:
    return pair.first.values[pair.measure], pair.second.values[pair.measure]


def drawn_together(bench: Bench, crossings: Sequence[Crossing]) -> tuple[list[Crossing], Answers, Answers]:
    """Each pair drawn together to neighbouring readings that still differ in the break's state, and the answers at both.

    At last each goes one double further out: the very place (where a division is by 0, say) may answer like either side.
    All pairs must share a reference population.
    """
    batch = _batch(bench, crossings)
    low, high = np.array([_ends(crossing.pair) for crossing in crossings]).T
    left = batch.states(low[:, None])
    for _ in range(ROUNDS_OF_DRAWING):
        tries = low[:, None] * (1 - SHARES) + high[:, None] * SHARES
        if not ((low[:, None] < tries) & (tries < high[:, None])).any():
            break
        tries = np.clip(tries, low[:, None], high[:, None])
        whole = np.concatenate([low[:, None], tries, high[:, None]], axis=1)
        differs = np.concatenate([batch.states(tries) != left, np.ones((len(low), 1), bool)], axis=1)
        at = np.argmax(differs, axis=1) + 1
        rows = np.arange(len(low))
        low, high = whole[rows, at - 1], whole[rows, at]
    ends = np.array([bench.spans[crossing.pair.measure] for crossing in crossings]).T
    low, high = np.maximum(np.nextafter(low, -np.inf), ends[0]), np.minimum(np.nextafter(high, np.inf), ends[1])
    pairs = [crossing.pair for crossing in crossings]
    drawn = [
        Crossing(crossing.name, Pair(crossing.pair.measure, first, second, 0.0))
        for crossing, first, second in zip(crossings, _moved(pairs, low), _moved(pairs, high), strict=True)
    ]
    return drawn, batch.ask(low[:, None]), batch.ask(high[:, None])


def _moved(pairs: Sequence[Pair], readings: Array) -> list[Setting]:
    """The first setting of each pair, at another reading; readings : shape (pairs,)."""
    return [pair.first.moved(pair.measure, float(x)) for pair, x in zip(pairs, readings, strict=True)]
