"""Readings that stand out among the repeats of their product, for whoever looks at a formula and not at its bench."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.repeats.cells import Cells, cells_of
from analysis.repeats.outliers import COCHRAN, GRUBBS, MANDEL_K, OutlierFinding, outlier_study
from analysis.repeats.repeatability import is_relative
from analysis.wording import some
from scoring.catalogue import Catalogue
from scoring.form import Form
from scoring.units.role import in_unit

#: The tests that are of readings; others are of the means of sessions.
OF_READINGS = (GRUBBS, COCHRAN, MANDEL_K)
#: The chance, all cells of a measure tested at once, below which a reading is named here: once in a hundred measures.
CHANCE = 0.01
#: So many readings are named in the sentence.
MOST_NAMED = 4


@dataclass(frozen=True, slots=True)
class WildReading:
    """A repeat that a test suspects; where the test is of its cell's scatter, the one furthest from the cell's mean.

    repeat: counts from 1; value: in the measure's unit; as_read: as its cell has it where it was converted; tests: by which it
    stands out.
    """

    measure: str
    product: str
    repeat: int
    value: float
    unit: str
    as_read: str
    tests: tuple[str, ...]

    @property
    def says(self) -> str:
        """The reading in a few words."""
        shown = in_unit(f"{self.value:.6g}", self.unit)
        beside = f", read as {self.as_read}" if self.as_read else ""
        return f"{self.measure} of {self.product}, repeat {self.repeat} ({shown}{beside})"


def wild_readings_in_words(found: Sequence[WildReading]) -> str:
    """How many, and the first few of them; "" where there is none."""
    if not found:
        return ""
    one, several = "1 reading stands out from the repeats beside it", "readings stand out from the repeats beside them"
    counts = one if len(found) == 1 else f"{len(found)} {several}"
    named = some([one.says for one in found], MOST_NAMED)
    return f"{counts} ({100 * CHANCE:g} %, all of a measure judged at once): {named}. `check --repeatability` has the tests."


def wild_readings(form: Form, catalogue: Catalogue) -> tuple[WildReading, ...]:
    """Every measure's readings that stand out, in the form's order; measure by measure the least likely first."""
    found: list[WildReading] = []
    for measure in form.measures:
        if measure.name not in catalogue.readings:
            continue
        cells = cells_of(measure.name, catalogue, is_relative(measure))
        if (cells.counts >= 3).any():  # of two repeats none is further from their mean than the other
            _, findings, _ = outlier_study(cells)
            found += _of_measure(cells, catalogue, measure.unit, findings)
    return tuple(found)


def _of_measure(
    cells: Cells, catalogue: Catalogue, unit: str, findings: tuple[OutlierFinding, ...]
) -> list[WildReading]:
    """The repeats of one measure that its findings suspect, each once."""
    readings = catalogue.readings[cells.measure]
    by_reading: dict[tuple[str, int], list[str]] = {}
    for finding in findings:
        suspect = finding.repeats[0] if finding.test == GRUBBS else finding.furthest
        is_named = finding.test in OF_READINGS and finding.p_value * finding.n_tests <= CHANCE
        if is_named and suspect is not None:
            by_reading.setdefault((finding.product, suspect), []).append(finding.test)
    rows = {name: row for row, name in enumerate(catalogue.products)}
    found = []
    for (product, repeat), tests in by_reading.items():
        cell = rows[product], repeat - 1
        as_read = readings.as_written(*cell) if readings.said(*cell) is not None else ""
        value = float(readings.values[cell])
        found.append(WildReading(cells.measure, product, repeat, value, unit, as_read, tuple(tests)))
    return found
