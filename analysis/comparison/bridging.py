"""A changed test method: a map from old readings to new ones, fitted on products that were measured both ways.

Reference: ordinary least squares, as in Draper and Smith, Applied Regression Analysis, 1998, chapter 1 (from memory; a test
holds it to scipy's).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from scoring.catalogue import Catalogue, State
from scoring.catalogue.cells import parse_cells, shown, texts_of
from scoring.catalogue.repeats import repeat_sd, summarise_all
from scoring.catalogue.sheet_file import read_sheet
from scoring.catalogue.sheets import Sheet
from scoring.errors import CatalogueError, Place, Problem, nearest
from scoring.expression import LARGEST_NUMBER
from scoring.form import Form
from scoring.measurement_error import value_uncertainty
from scoring.numbers.array_types import Array
from scoring.numbers.ordered_sums import matrix_product
from scoring.table_formats import ENDINGS, ONE_OF_ENDINGS
from scoring.texts.file_limits import limits, too_many
from scoring.texts.input_files import TooLarge, file_bytes
from scoring.units.conversion import PLAIN_NUMBER
from scoring.units.role import in_unit

COLUMNS = ("product", "old", "new")
#: Fewer products measured both ways leave nothing to judge the map's own error by.
FEWEST = 3
#: Two readings of one product differ where they lie further apart than so many combined standard uncertainties.
APART = 3.0
#: So many products that are not there are told which is nearest: a search among many names takes its time.
MOST_HINTS = 20


@dataclass(frozen=True, slots=True, eq=False)
class Bridge:
    """new = intercept + slope * old, in the measure's unit.

    covariance: of intercept and slope, shape (2, 2); residual_sd: of one product's new reading about the line, on n - 2;
    old, new: the means of each product measured both ways, by id; old_counts: of how many rows, where not of one.
    """

    measure: str
    intercept: float
    slope: float
    covariance: Array
    residual_sd: float
    old: Mapping[str, float]
    new: Mapping[str, float]
    old_counts: Mapping[str, int] = field(default_factory=dict)

    def errors(self, readings: Array, n_draws: int, rng: np.random.Generator) -> Array:
        """Draws of how far the map may be off at old readings, shape (n_draws, products): its line's error, alike for all, and
        each product's own scatter about it.
        """
        sizes, directions = np.linalg.eigh(self.covariance)
        root = directions * np.sqrt(np.maximum(sizes, 0.0))
        line = matrix_product(rng.standard_normal((n_draws, 2)), root.T)
        own = self.residual_sd * rng.standard_normal((n_draws, len(readings)))
        return np.asarray(line[:, :1] + line[:, 1:] * readings + own)


def fit_bridge(measure: str, old: Mapping[str, float], new: Mapping[str, float]) -> Bridge:
    """The straight line by least squares through products measured both ways, keyed by id.

    Raises
    ------
    CatalogueError : fewer than three products, or all with the same old reading
    """
    names = [name for name in old if name in new]
    x, y = (np.array([side[name] for name in names]) for side in (old, new))
    n, spread = len(names), float(np.sum((x - x.mean()) ** 2)) if len(names) else 0.0
    if n < FEWEST or spread == 0:
        found = f"{n} products measured both ways" if n < FEWEST else "one old reading for all products"
        raise CatalogueError(
            [Problem(Place(f"the bridge of {measure}"), found, "three or more, with different readings")]
        )
    slope = float(np.sum((x - x.mean()) * (y - y.mean()))) / spread
    if slope <= 0:
        place, hint = Place(f"the bridge of {measure}"), "Look for readings of one product that belong to another."
        raise CatalogueError([Problem(place, f"a slope of {slope:.3g}", "new readings that rise with the old", hint)])
    intercept = float(y.mean() - slope * x.mean())
    residual = y - intercept - slope * x
    variance = float(np.sum(residual**2)) / (n - 2)
    covariance = variance * np.array(
        [[1 / n + x.mean() ** 2 / spread, -x.mean() / spread], [-x.mean() / spread, 1 / spread]]
    )
    return Bridge(measure, intercept, slope, covariance, math.sqrt(variance), dict(old), dict(new))


def read_bridge(
    path: Path, measure: str, catalogue: Catalogue, plausible: tuple[float, float] = (-math.inf, math.inf)
) -> Bridge:
    """The bridge written in a table (CSV, Parquet or XLSX) with the columns product, old, new; a product's rows are averaged.

    Raises
    ------
    CatalogueError : every fault of the file, with its row and column
    """
    problems: list[Problem] = []
    sheet = _bridge_sheet(path, problems)
    if sheet is None or problems:
        raise CatalogueError(problems)
    sides: dict[str, dict[str, list[float]]] = {side: {} for side in ("old", "new")}
    names = _known_products(sheet, catalogue.products, problems)
    for side, found in sides.items():
        parsed = parse_cells(sheet.column(side))
        for row, (name, number) in enumerate(zip(names, parsed.numbers.tolist(), strict=True)):
            fault = parsed.faults.get(row)
            cell = shown(sheet.column(side)[row])
            if fault is not None or parsed.states[row] != State.VALUE:
                expected, hint = "a finite number with a point", fault.hint if fault is not None else ""
                problems.append(Problem(sheet.place(row, side), cell, expected, hint))
            elif not plausible[0] <= number <= plausible[1]:
                expected = f"{plausible[0]:g} to {plausible[1]:g}, the plausible range of {measure}"
                hint = "Check the reading and its decimal point."
                problems.append(Problem(sheet.place(row, side), cell, expected, hint))
            elif abs(number) > LARGEST_NUMBER:
                expected = f"a number of at most {LARGEST_NUMBER:g}"
                problems.append(Problem(sheet.place(row, side), cell, expected))
            else:
                found.setdefault(name, []).append(number)
    if problems:
        raise CatalogueError(problems)
    old, new = ({name: float(np.mean(values)) for name, values in found.items()} for found in sides.values())
    counts = {name: len(values) for name, values in sides["old"].items()}
    return replace(fit_bridge(measure, old, new), old_counts=counts)


def _bridge_sheet(path: Path, problems: list[Problem]) -> Sheet | None:
    """The table of a bridge's file, with all of `COLUMNS`."""
    expected = "a table of products measured both ways"
    if path.suffix.lower() not in ENDINGS:
        found = f"a file with the ending `{path.suffix}`"
        problems.append(Problem(Place(str(path)), found, f"{expected}, with the ending {ONE_OF_ENDINGS}"))
        return None
    try:
        content = file_bytes(path, limits().file_bytes)
    except TooLarge as fault:
        problems.append(too_many("file_bytes", fault.size, Place(str(path))))
        return None
    except (OSError, ValueError) as fault:
        why = getattr(fault, "strerror", None) or "no such path"
        problems.append(Problem(Place(str(path)), why, expected))
        return None
    sheet = read_sheet(content, str(path), problems)
    if sheet is not None and not set(COLUMNS) <= set(sheet.header):
        place = Place(str(path), sheet.header_line)
        problems.append(Problem(place, f"columns {', '.join(sheet.header[:12])}", ", ".join(COLUMNS)))
    return sheet


def _known_products(sheet: Sheet, known: Sequence[str], problems: list[Problem]) -> list[str]:
    """The product of each row; those that the catalogue has not are faults."""
    names, there = texts_of(sheet.column("product")), frozenset(known)
    strange = [row for row, name in enumerate(names) if name not in there]
    for count, row in enumerate(strange):
        hint = nearest(names[row], known) if count < MOST_HINTS else ""
        problems.append(Problem(sheet.place(row, "product"), shown(names[row]), "a product of the catalogue", hint))
    return names


def bridged(catalogue: Catalogue, bridge: Bridge) -> Catalogue:
    """The catalogue with a measure's readings on the new method: mapped, or as read anew where a product was."""
    readings = catalogue.readings[bridge.measure]
    values = bridge.intercept + bridge.slope * readings.values
    for name, reading in bridge.new.items():
        row = catalogue.products.index(name)
        values[row] = np.where(np.isfinite(readings.values[row]), reading, np.nan)
    changed = replace(readings, values=values, written=values.copy(), as_read=None)
    return replace(catalogue, readings=dict(catalogue.readings) | {bridge.measure: changed})


def unbridged(catalogue: Catalogue, bridge: Bridge) -> Catalogue:
    """A bridged catalogue with the measure's readings mapped back; those that were read anew, too."""
    readings = catalogue.readings[bridge.measure]
    values = (readings.values - bridge.intercept) / bridge.slope
    changed = replace(readings, values=values, written=values.copy(), as_read=None)
    return replace(catalogue, readings=dict(catalogue.readings) | {bridge.measure: changed})


def bridge_in_words(bridge: Bridge, unit: str) -> str:
    """A bridge's line, and how well it is known."""
    error = math.sqrt(bridge.covariance[1, 1])
    beside = "" if unit in PLAIN_NUMBER else f" ({unit})"
    return (
        f"Bridge of {bridge.measure}: new = {bridge.intercept:.4g} + {bridge.slope:.4g} old{beside}, from {len(bridge.new)}"
        f" products measured both ways (which keep their own new reading); slope give or take {error:.2g}, one product"
        f" {in_unit(f'{bridge.residual_sd:.2g}', unit)} about the line. Its error is in u."
    )


def unlike_the_catalogue(bridge: Bridge, form: Form, catalogue: Catalogue) -> tuple[str, ...]:
    """A note for each product whose old reading in the bridge is not the one that the catalogue has, by the old method.

    Notes
    -----
    The two differ where they lie more than three combined standard uncertainties apart, u = root(u1^2 + u2^2): of the
    catalogue's value, and of the bridge's mean of k rows, s / root(k). Readings that both have are taken for independent,
    and a row for one repeat, so that u is rather too large than too small.
    """
    measure = form.measure(bridge.measure)
    readings = catalogue.readings[measure.name]
    summary, sd = summarise_all(form, catalogue)[measure.name], repeat_sd(measure, readings)
    if sd is None:
        return (
            f"The bridge's old readings are not held against the catalogue's: no repeatability of {measure.name} is known.",
        )
    own_u = value_uncertainty(measure, catalogue)
    is_share = measure.repeatability is not None and measure.repeatability.kind.value.endswith("relative")
    unit = "" if measure.unit == "1" else f" {measure.unit}"
    notes = []
    for row, product in enumerate(catalogue.products):
        if product not in bridge.old or np.isnan(summary.values[row]):
            continue
        read, kept = bridge.old[product], float(summary.values[row])
        u = math.hypot(
            float(own_u[row]), sd * (abs(read) if is_share else 1.0) / math.sqrt(bridge.old_counts.get(product, 1))
        )
        if abs(read - kept) > APART * u:
            notes.append(
                f"{product}: the bridge has {read:.4g}{unit} as its old reading of {measure.name}, the catalogue"
                f" {kept:.4g}{unit}, more than {APART:g} combined standard uncertainties (u {u:.2g}{unit}) apart. Check both."
            )
    return tuple(notes)
