"""The search for jumps: neighbours on a line with different states are drawn together until only the jump is between them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from scoring.checks.bench import Answers, Array, Bench, Setting
from scoring.checks.survey import Pair, Survey

HALVINGS = 60
ROUNDS = 2


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
class Watch:
    """What the search for one break's jumps minds: the outputs that can feel it, and the breaks that may not turn with it.

    These are the declared ones that it builds on: a jump that comes of them is not its own.
    """

    outputs: tuple[str, ...]
    aside: frozenset[str] = frozenset()


def jumps_met(bench: Bench, survey: Survey, watches: Mapping[str, Watch]) -> dict[tuple[str, str], Met]:
    """The largest jump met of each output at each break, by (break, output)."""
    met: dict[tuple[str, str], Met] = {}
    crossings = [Crossing(name, pair) for name, pairs in survey.crossings.items() for pair in pairs if name in watches]
    _look(bench, crossings, watches, met)
    for _ in range(ROUNDS):
        _look(bench, _nearby(bench, met), watches, met)
    return met


def _look(
    bench: Bench, crossings: Sequence[Crossing], watches: Mapping[str, Watch], met: dict[tuple[str, str], Met]
) -> None:
    by_crowd: dict[int, list[Crossing]] = {}
    for crossing in crossings:
        by_crowd.setdefault(crossing.pair.first.crowd, []).append(crossing)
    for together in by_crowd.values():
        drawn, before, after = drawn_together(bench, together)
        for index, crossing in enumerate(drawn):
            watch = watches[crossing.name]
            if any(before.states[other][index] != after.states[other][index] for other in watch.aside):
                continue
            for output in watch.outputs:
                size = abs(float(after.values[output][index] - before.values[output][index]))
                best = met.get((crossing.name, output))
                if np.isfinite(size) and (best is None or size > best.size):
                    met[crossing.name, output] = Met(crossing, size)


def _nearby(bench: Bench, met: Mapping[tuple[str, str], Met]) -> list[Crossing]:
    """From each jump met, the same with one other reading at an end of its range, wherever the state still changes."""
    found: list[Crossing] = []
    for (name, output), best in met.items():
        pair = best.crossing.pair
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
