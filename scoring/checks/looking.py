"""A second look with the kernel: along lines through the boxes that a proof left open."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from scoring.checks.bench import Bench, Setting
from scoring.checks.proving import Box
from scoring.checks.survey import Survey, look_along
from scoring.numbers.intervals import ONE, Interval

MOST_LOOKED_INTO = 24
POINTS = 9


def look_into(bench: Bench, survey: Survey, boxes: Sequence[Box], output: str, measure: str | None = None) -> None:
    """Lines through the middles of open boxes, along one measure or along each that the output leans on."""
    domain = bench.domain
    every = max(1, len(boxes) // MOST_LOOKED_INTO)
    for box in boxes[::every][:MOST_LOOKED_INTO]:
        for moving in (measure,) if measure is not None else domain.leans_on(output):
            side = _within(box.get(domain.measures[moving], domain.ranges[moving]), bench.spans[moving])
            grid = np.unique(np.linspace(side[0], side[1], POINTS))
            for crowd in range(len(bench.crowds) if domain.program.figures else 1):
                look_along(bench, survey, moving, [_middle(bench, box, crowd)], grid, [output])


def _middle(bench: Bench, box: Box, crowd: int) -> Setting:
    domain = bench.domain
    values = {}
    for name in bench.spans:
        side = _within(box.get(domain.measures.get(name, -1), domain.ranges[name]), bench.spans[name])
        values[name] = side[0] / 2 + side[1] / 2
    words = {}
    for attribute, known in bench.words.items():
        chosen = [word for (name, word), slot in domain.words.items() if name == attribute and box.get(slot) == ONE]
        words[attribute] = chosen[0] if chosen else known[-1]
    return Setting(values, {}, words, crowd)


def _within(side: Interval, span: tuple[float, float]) -> tuple[float, float]:
    """A bounded part of a side: what of it lies in the span that is tried, or its own finite end."""
    low = min(max(side.low, span[0]), max(side.high, span[0]))
    high = max(min(side.high, span[1]), low)
    return low, high
