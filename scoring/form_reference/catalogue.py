"""Units, and what a catalogue's columns, cells and flags may hold."""

from __future__ import annotations

from collections.abc import Iterator

from scoring.form_reference.text import bullet, code, listed, wrapped
from scoring.table_formats import ENDINGS
from scoring.units.conversion import LONGEST, SPELLINGS

#: Usual units by what they measure; those of one line go into each other.
USUAL = {
    "length": ("mm", "cm", "m", "in", "ft"),
    "area": ("cm2", "m2", "in2"),
    "time": ("ms", "s", "min", "h"),
    "mass": ("g", "kg", "lb", "oz"),
    "force": ("N", "kN", "lbf"),
    "stiffness": ("N/mm", "lbf/in"),
    "pressure": ("Pa", "kPa", "mmHg", "psi"),
    "acceleration": ("m/s2", "ft/s2"),
    "temperature": ("degC", "degF", "K"),
    "temperature difference": ("delta_degC", "delta_degF"),
    "heat flow over an area": ("W/m2", "W/cm2"),
    "water-vapour resistance": ("m2.Pa/W",),
    "thermal resistance": ("m2.K/W", "clo", "tog"),
    "heat of a body over its surface": ("met", "W/m2"),
    "concentration": ("mg/m3", "ug/m3"),
    "share of a gas in air": ("ppm", "ppb", "%"),
    "loudness": ("sone",),
    "mass over an area": ("g/m2", "gsm", "oz/yd2"),
    "flow of air": ("m3/h", "L/min", "cfm"),
    "sound level": ("dB",),
    "sound level, weighted by C": ("dB(C)",),
    "plain numbers": ("1", "%"),
}
COLUMNS = {
    "product": "the product's id, as text (or `id`)",
    "measure": "the name of the measure, as in the formula",
    "value": "the cell, as above",
    "repeat": "1, 2, ...; numbered in order where there is no such column, or where a product's repeats begin anew in each "
    "session or specimen: a reading's number is then its place in the order of the file, for its product and measure",
    "unit": "its unit; the formula's own where it is empty",
    "flag": "one of the flags below, or nothing",
    "reason": "why a reading is missing or not applicable",
    "operator": "who read it",
    "session": "in which session; `check --repeatability` sets sessions apart, and `between_sessions` is shared within one",
    "specimen": "of which specimen of the product, for `between_specimens`; where none is named, the product is one specimen",
    "date": "when",
}
FLAGS = {
    "": "an ordinary reading",
    "below": "below the reporting limit; the value is that limit, or empty",
    "missing": "missing",
    "not_applicable": "not applicable to this product (`not applicable` is the same)",
}
CELLS = {
    "31.5": "a number, with a point; also `1.2e-3`",
    "<22": "below a reporting limit of 22",
    "": "missing; also `missing`",
    "missing: probe failed": "missing, and why",
    "not applicable": "does not apply to this product; also `n/a`, and `: why` after either",
}


def unit_section() -> Iterator[str]:
    """How units are written, and which are usual."""
    yield "## Units"
    yield wrapped(
        "A unit is a product of names with whole powers: `W/m2`, `m2.Pa/W`, `W/(m2.K)`. `.` or `*` multiplies, `^` may stand "
        "before a power, and a product below the slash stands in brackets. Names mind capitals. Readings in another unit of the "
        "same kind are converted; a temperature (`degC`) is no temperature difference (`delta_degC`), and decibels are not "
        "converted, nor is a share of a gas (`ppb`) into a mass of it in air, which needs its molar mass. A unit that nobody "
        "knows may be used, spelt alike everywhere. "
        f"At most {LONGEST} characters, and no `[`, `]` or `#`. These are usual:"
    )
    yield "\n".join(bullet(f"{kind}: {listed([code(unit) for unit in units], 'or')}") for kind, units in USUAL.items())
    by_name: dict[str, list[str]] = {}
    for spelling, name in SPELLINGS.items():
        by_name.setdefault(name, []).append(code(spelling))
    spelt = "; ".join(f"{listed(spellings, 'or')} for {code(name)}" for name, spellings in by_name.items())
    yield wrapped(f"Other spellings that are known: {spelt}.")


def catalogue_section() -> Iterator[str]:
    """The files of a catalogue: cells, columns, flags."""
    endings = listed([code(ending) for ending in ENDINGS], "or")
    yield "## Catalogues"
    yield wrapped(
        f"A file of readings that ends in {endings}, or a folder that holds `readings` and, if you like, `items`, a row a "
        "product with its attributes. Readings are wide (a row a product, a column a measure) or long (a row a reading: there "
        "are columns `measure` and `value`). A column of a wide file is called `noise_dba`, `noise_dba [dB]`, or "
        "`noise_dba [dB] #2` for the second repeat. A column `session` or `Session` of a wide file says in which session "
        "the readings of a row were taken, and a product may have a row in each of several: the readings of each are further "
        "repeats. A column `session` of the items says it of all of a product; it may be declared as an attribute too. "
        "Columns that the formula does not declare (notes, who tested) are named and left out, here and among the items. Files "
        "that are laid out otherwise are read by a [recipe](#recipes-of-readings)."
    )
    yield "### Cells"
    yield "\n".join(bullet(f"{code(cell) if cell else 'an empty cell'}: {says}.") for cell, says in CELLS.items())
    yield "### Columns of a long file"
    yield "\n".join(bullet(f"{code(column)}: {says}.") for column, says in COLUMNS.items())
    yield "### Flags"
    yield "\n".join(bullet(f"{code(flag) if flag else 'no flag'}: {says}.") for flag, says in FLAGS.items())
