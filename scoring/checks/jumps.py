"""The search for jumps: neighbours on a line with different states are drawn together until only the jump is between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scoring.checks.bench import Answers, Array, Bench, Setting
from scoring.checks.sizes import Line, Sizes
from scoring.checks.survey import Pair, Survey

HALVINGS = 60
ROUNDS = 2
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


def jumps_met(bench: Bench, survey: Survey, sizes: Sizes) -> Seen:
    """The largest jump met of each output at each of its lines, and at each break that is not declared."""
    seen = Seen({}, {})
    names = {each.name for each in sizes.breaks}
    crossings = [Crossing(name, pair) for name, pairs in survey.crossings.items() for pair in pairs if name in names]
    _look(bench, crossings, sizes, seen)
    for _ in range(ROUNDS):
        _look(bench, _nearby(bench, seen), sizes, seen)
    return seen


def _look(bench: Bench, crossings: Sequence[Crossing], sizes: Sizes, seen: Seen) -> None:
    by_crowd: dict[int, list[Crossing]] = {}
    for crossing in crossings:
        by_crowd.setdefault(crossing.pair.first.crowd, []).append(crossing)
    order = [each.name for each in sizes.breaks]
    for together in by_crowd.values():
        drawn, before, after = drawn_together(bench, together)
        turned = np.array([_differs(before.states[name], after.states[name]) for name in order])
        for index, crossing in enumerate(drawn):
            names = [order[at] for at in np.flatnonzero(turned[:, index])]
            for output, lines in sizes.lines.items():
                size = abs(float(after.values[output][index] - before.values[output][index]))
                if np.isfinite(size):
                    _note_line(crossing, names, output, lines, size, seen)
                    _note_breaks(crossing, names, output, sizes, size, seen)


def _differs(before: Array, after: Array) -> NDArray[np.bool_]:
    return np.asarray((before != after) & ~(np.isnan(before) & np.isnan(after)))


def _note_line(
    crossing: Crossing, names: Sequence[str], output: str, lines: Sequence[Line], size: float, seen: Seen
) -> None:
    """Note a jump under the first line of the output that turned."""
    pair = crossing.pair
    low, high = pair.first.values[pair.measure], pair.second.values[pair.measure]
    turned = set(names)
    for line in lines:
        spot = line.spot
        here = spot is None or (spot.measure == pair.measure and near(low, high, float(spot.reading)))
        if here and turned.intersection(line.breaks):
            best = seen.of_lines.get((line, output))
            if best is None or size > best.size:
                seen.of_lines[line, output] = Met(crossing, size)
            return


def near(low: float, high: float, reading: float) -> bool:
    """Whether a reading lies between two others, or next to them: a float stands for its decimal of 13 digits."""
    reach = 1e-12 * max(abs(low), abs(high))
    return low - reach <= reading <= high + reach


def _note_breaks(crossing: Crossing, names: Sequence[str], output: str, sizes: Sizes, size: float, seen: Seen) -> None:
    """Note a jump for each break that is not declared, beyond what may have turned with it."""
    for each in sizes.hidden(output):
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
    by_crowd: dict[int, list[Crossing]] = {}
    for crossing in found:
        by_crowd.setdefault(crossing.pair.first.crowd, []).append(crossing)
    kept: list[Crossing] = []
    for together in by_crowd.values():
        before, after = (
            states_of(bench, together, [getattr(c.pair, end) for c in together]) for end in ("first", "second")
        )
        kept += [c for c, changes in zip(together, before != after, strict=True) if changes]
    return kept


def _across_the_range(bench: Bench, pair: Pair, setting: Setting) -> Pair:
    low, high = bench.spans[pair.measure]
    return Pair(pair.measure, setting.moved(pair.measure, low), setting.moved(pair.measure, high), 0.0)


def states_of(bench: Bench, crossings: Sequence[Crossing], settings: Sequence[Setting]) -> Array:
    """For each crossing, its own break's state at the setting beside it."""
    states = bench.ask(settings).states
    return np.array([states[crossing.name][index] for index, crossing in enumerate(crossings)])


def drawn_together(bench: Bench, crossings: Sequence[Crossing]) -> tuple[list[Crossing], Answers, Answers]:
    """Each pair drawn together to neighbouring readings that still differ in the break's state, and the answers at both.

    At last each goes one double further out: the very place (where a division is by 0, say) may answer like either side.
    All pairs must share a reference population.
    """
    pairs = [crossing.pair for crossing in crossings]
    low = np.array([pair.first.values[pair.measure] for pair in pairs])
    high = np.array([pair.second.values[pair.measure] for pair in pairs])
    left = states_of(bench, crossings, [pair.first for pair in pairs])
    for _ in range(HALVINGS):
        middle = low / 2 + high / 2
        inside = (low < middle) & (middle < high)
        if not inside.any():
            break
        same = states_of(bench, crossings, _moved(pairs, middle)) == left
        low, high = np.where(inside & same, middle, low), np.where(inside & ~same, middle, high)
    ends = np.array([bench.spans[pair.measure] for pair in pairs]).T
    low, high = np.maximum(np.nextafter(low, -np.inf), ends[0]), np.minimum(np.nextafter(high, np.inf), ends[1])
    firsts, seconds = _moved(pairs, low), _moved(pairs, high)
    drawn = [
        Crossing(crossing.name, Pair(crossing.pair.measure, first, second, 0.0))
        for crossing, first, second in zip(crossings, firsts, seconds, strict=True)
    ]
    return drawn, bench.ask(firsts), bench.ask(seconds)


def _moved(pairs: Sequence[Pair], readings: Array) -> list[Setting]:
    return [pair.first.moved(pair.measure, float(x)) for pair, x in zip(pairs, readings, strict=True)]
