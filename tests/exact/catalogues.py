"""Catalogues as they are written, cell by cell, and what a product's repeats come to in exact numbers."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import mpmath
from exact.reals import Number, Real, Undecided, Value, key_of, leaf, rounded, wide

from scoring.form import Measure

#: What a sum of some tens of readings, or a factor of a unit, leaves on a value, as a share of the largest.
DUST = 64 * 2.0**-53

VALUE, BELOW, MISSING, NOT_APPLICABLE = "", "below", "missing", "not_applicable"
#: What a reading in the first unit is multiplied by, and what is added, to give one in the second.
FACTORS: dict[tuple[str, str], tuple[Fraction, Fraction]] = {
    ("ug/m3", "mg/m3"): (Fraction(1, 1000), Fraction(0)),
    ("in", "mm"): (Fraction("25.4"), Fraction(0)),
    ("cm", "mm"): (Fraction(10), Fraction(0)),
    ("lb", "kg"): (Fraction("0.45359237"), Fraction(0)),
    ("ms", "s"): (Fraction(1, 1000), Fraction(0)),
    ("Pa", "kPa"): (Fraction(1, 1000), Fraction(0)),
    ("degF", "degC"): (Fraction(5, 9), Fraction(-160, 9)),
    ("delta_degF", "delta_degC"): (Fraction(5, 9), Fraction(0)),
}


@dataclass(frozen=True, slots=True)
class Cell:
    """One reading as it is written; its flag says what it is."""

    number: str
    unit: str = ""
    flag: str = VALUE


@dataclass(frozen=True, slots=True)
class Written:
    """A catalogue: the cells of each measure and product, in order of repeats, and the word of each attribute."""

    products: tuple[str, ...]
    cells: Mapping[str, Mapping[str, tuple[Cell, ...]]]
    words: Mapping[str, Mapping[str, str]]

    def only(self, products: Sequence[str]) -> Written:
        """The same without the other products."""
        kept = tuple(product for product in self.products if product in set(products))
        return Written(kept, self.cells, self.words)

    def write(self, folder: Path) -> Path:
        """The files `readings.csv` and `items.csv` of a folder."""
        folder.mkdir(parents=True, exist_ok=True)
        lines = ["product,measure,repeat,value,unit,flag"]
        for measure, by_product in self.cells.items():
            for product in self.products:
                for repeat, cell in enumerate(by_product.get(product, ()), start=1):
                    lines.append(f"{product},{measure},{repeat},{cell.number},{cell.unit},{cell.flag}")
        (folder / "readings.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
        header = ",".join(["product", *self.words])
        rows = [",".join([p, *(by[p] for by in self.words.values())]) for p in self.products]
        (folder / "items.csv").write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
        return folder


@dataclass(frozen=True, slots=True)
class Summary:
    """What a product's readings of one measure come to; `unsure` says why doubles cannot tell, where they cannot."""

    state: str
    value: Value | None
    unsure: str = ""


def summary_of(measure: Measure, cells: Sequence[Cell]) -> Summary:
    """One value by the measure's own rule, and what it is."""
    counted: list[Fraction] = []
    state = VALUE
    for cell in cells:
        number = _counts_as(measure, cell)
        if number is None:
            continue
        if number[1]:
            state = BELOW
        counted.append(number[0])
    if not counted:
        gone = any(cell.flag == NOT_APPLICABLE for cell in cells)
        return Summary(NOT_APPLICABLE if gone else MISSING, None)
    value: Value = _summed_up(measure, sorted(counted))
    if measure.round is None:
        return Summary(state, value)
    try:
        return Summary(state, rounded(value, Fraction(measure.round.step.text), measure.round.rule.value))
    except Undecided as why:
        return Summary(state, None, f"{why} of a reading")


def _counts_as(measure: Measure, cell: Cell) -> tuple[Fraction, bool] | None:
    """The number that a reading counts as, and whether it is below the reporting limit; None where it does not count."""
    floor = Fraction(measure.reporting_limit.text) if measure.reporting_limit is not None else None
    if cell.flag in (MISSING, NOT_APPLICABLE):
        return None
    number = converted(cell, measure.unit)
    if cell.flag != BELOW and (floor is None or number >= floor):
        return number, False
    highest = number if floor is None else max(number, floor)
    share = {"limit": Fraction(1), "half": Fraction(1, 2), "zero": Fraction(0), "missing": None}[
        measure.below_limit.value
    ]
    return None if share is None else (highest * share, True)


def converted(cell: Cell, unit: str) -> Fraction:
    """A reading in the measure's own unit."""
    number = Fraction(cell.number)
    if cell.unit in ("", unit):
        return number
    factor, shift = FACTORS[cell.unit, unit]
    return number * factor + shift


def _summed_up(measure: Measure, ordered: Sequence[Fraction]) -> Real:
    if len(ordered) == 1:
        return _undusted(ordered[0], float(abs(ordered[0])))
    n = len(ordered)
    if measure.repeats.value == "level mean":
        powers = [mpmath.power(10, wide(level) / 10) for level in ordered]
        mean = 10 * mpmath.log10(mpmath.fsum(powers) / n)
        return _undusted(mean, float(max(abs(level) for level in ordered)))
    kept = ordered
    if measure.repeats.value == "median":
        kept = ordered[(n - 1) // 2 : n // 2 + 1]
    if measure.repeats.value == "trimmed":
        cut = int(Fraction(measure.trim.text) * n) if measure.trim.text else int(Fraction(str(measure.trim.value)) * n)
        kept = ordered[cut : n - cut]
    return _undusted(sum(kept, Fraction(0)) / len(kept), float(max(abs(reading) for reading in kept)))


def _undusted(x: Number, size: float) -> Real:
    """A mean or a converted reading: the decimal that it is, where it is one of 13 digits of the largest; else near to it."""
    if size == 0:
        return leaf(0)
    unit = Fraction(10) ** (math.floor(math.log10(size)) - 12)
    exact = Fraction(x) if isinstance(x, Fraction) else Fraction(str(mpmath.nstr(x, 40)))
    decimal = round(exact / unit) * unit
    if abs(exact - decimal) <= unit / 10**20:
        return leaf(decimal)
    return Real(exact, DUST * size, key_of("open", exact))
