"""What a partial score stands on: the readings that it lacks, and the share of its weight that they would have had."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from scoring.catalogue import State
from scoring.form import Output
from scoring.program.program import Program
from scoring.table.missing import Standing
from scoring.table.table import STATUSES, Column, ScoreTable

PARTIAL = STATUSES.index("partial")


@dataclass(frozen=True, slots=True)
class Lacking:
    """A product whose published score lacks something.

    product: its index in the catalogue; measures: those that were not read; share: of the score's weight that stood on them,
    from 0 to 1
    """

    product: int
    measures: tuple[str, ...]
    share: float


def lacking(table: ScoreTable, program: Program, column: Column, products: Sequence[int]) -> Iterator[Lacking]:
    """Which of some products have a partial score that readings are missing for, best place first."""
    order = sorted(products, key=lambda product: (float(column.rank[product]), product))
    for product in order:
        if column.status[product] != PARTIAL or np.isnan(column.value[product]):
            continue
        names = program.measures_under(column.output.name)
        gone = tuple(name for name in names if table.inputs.states[name][product] == State.MISSING)
        if gone:
            yield Lacking(product, gone, _missing_share(table, program, column.output, product))


def _missing_share(table: ScoreTable, program: Program, output: Output, product: int) -> float:
    """The share of an output's weight that stands on what is missing, through other outputs too; what does not apply has none."""
    presence = table.evaluation.presence
    total = gone = 0.0
    for source, weight in _weighed(output):
        if not _at(presence.applies[source], product):
            continue
        total += weight
        if not _at(presence.here[source], product):
            gone += weight
        elif source in presence.standing and _at(presence.standing[source], product) == Standing.PARTIAL:
            gone += weight * _missing_share(table, program, program.form.output(source), product)
    return gone / total if total > 0 else 0.0


def _weighed(output: Output) -> list[tuple[str, float]]:
    if output.value is not None:
        return [(name, 1.0) for name in output.value.names]
    return [(part.source, part.weight.value if part.weight is not None else 1.0) for part in output.parts]


def _at(array: np.ndarray[tuple[int, ...], np.dtype[np.generic]], product: int) -> int:
    row = array[0]
    return int(row[product if len(row) > 1 else 0])
