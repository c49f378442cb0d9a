"""From what the cells of a product say to the one value of a measure, in arithmetic that a person keys in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scoring.catalogue import Catalogue, Readings, State
from scoring.form import Form, Measure
from scoring.units.by_hand import by_hand
from scoring.units.role import in_unit


@dataclass(frozen=True, slots=True)
class Converted:
    """A repeat whose cell is in another unit than the measure.

    repeat: counts from 1; number and unit: as they stand in the cell, of a reading below a limit that limit; arithmetic: how
    it is converted; value: what that gives, in the measure's unit, before the reporting limit has its say; is_limit: whether
    the reading lies below it.
    """

    repeat: int
    number: float
    unit: str
    arithmetic: str
    value: float
    is_limit: bool

    @property
    def as_read(self) -> str:
        """The cell: 2.44 in, or < 2 in."""
        return f"{'< ' if self.is_limit else ''}{self.number:.15g} {self.unit}"


@dataclass(frozen=True, slots=True)
class Disputed:
    """A reading that is set aside: as its cell has it, and in the measure's unit, NaN for no number."""

    product: str
    measure: str
    repeat: int
    as_read: str
    value: float
    unit: str
    is_converted: bool

    @property
    def says(self) -> str:
        """Where it stands, what the cell says, and what was made of it."""
        plain = self.as_read if self.is_converted else in_unit(self.as_read, self.unit)
        made = f", which is {in_unit(f'{self.value:.10g}', self.unit)}" if self.is_converted else ""
        return f"Set aside: {self.measure} of {self.product}, repeat {self.repeat}, read as {plain}{made}."


def converted(measure: Measure, readings: Readings, product: int) -> tuple[Converted, ...]:
    """The repeats of a product that were converted, in their order."""
    if readings.as_read is None:
        return ()
    found = []
    for repeat in range(readings.written.shape[1]):
        said = readings.said(product, repeat)
        if said is not None:
            rule = by_hand(said.unit, measure.unit)
            value = float(readings.written[product, repeat])
            is_limit = int(readings.marks[product, repeat]) == State.BELOW
            found.append(Converted(repeat + 1, said.number, said.unit, rule.of(said.figure), value, is_limit))
    return tuple(found)


def disputed(catalogue: Catalogue, form: Form, reading: tuple[str, str, int]) -> Disputed:
    """A reading of a catalogue that holds it still, given by product, measure and repeat, which counts from 1."""
    product, measure, repeat = reading
    readings, row = catalogue.readings[measure], catalogue.products.index(product)
    cell = row, repeat - 1
    is_converted = readings.said(*cell) is not None
    value, unit = float(readings.written[cell]), form.measure(measure).unit
    return Disputed(product, measure, repeat, readings.as_written(*cell), value, unit, is_converted)


def counted_repeats(readings: Readings, product: int) -> list[str]:
    """The repeats that go into the value, in the measure's unit, in their order."""
    states = readings.states[product]
    values = readings.values[product][(states == State.VALUE) | (states == State.BELOW)]
    return [f"{one:.10g}" for one in values[~np.isnan(values)]]


def summed(measure: Measure, texts: Sequence[str]) -> str:
    """The arithmetic by which repeats, of which there is at least one, become one value, but for its rounding."""
    match measure.repeats.value:
        case "mean":
            return f"({' + '.join(texts)})/{len(texts)}" if len(texts) > 1 else texts[0]
        case "level mean":
            powers = " + ".join(f"10**({text}/10)" for text in texts)
            return f"10*log10(({powers})/{len(texts)})"
    ordered = sorted(texts, key=float)
    if measure.repeats.value == "median":
        kept = ordered[(len(ordered) - 1) // 2 : len(ordered) // 2 + 1]
    else:
        cut = int(np.floor(measure.trim.value * len(ordered) + 1e-9))
        kept = ordered[cut : len(ordered) - cut]
    mean = f"({' + '.join(kept)})/{len(kept)}" if len(kept) > 1 else kept[0]
    return f"{mean} [of {', '.join(ordered)} in order]"


def summed_and_rounded(measure: Measure, texts: Sequence[str]) -> str:
    """The same with its rounding."""
    arithmetic = summed(measure, texts)
    if measure.round is None:
        return arithmetic
    return f"{arithmetic} [rounded {measure.round.rule.value} to a multiple of {measure.round.step.text}]"
