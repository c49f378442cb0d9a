"""The catalogue: products, their attributes, and their readings, from a file or a folder.

A catalogue is one file of readings (CSV, Parquet or XLSX, wide or long), or a folder that holds `readings.*` and may
hold `items.*`, a row a product: its id in the column `product` or `id`, and attributes in the others. The products of
an items file are the catalogue's, in its order, also those without a reading.

In which session each reading was taken, and of which specimen, stands beside it in a long file; the session of a whole
product, in a column `session` of a wide file or of the items. `conditions_of_reading` brings the two together.

Words that the formula does not declare as an attribute (notes, who tested) are not read at all: what is not in a
catalogue can be in no publication.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scoring.catalogue.conditions_of_reading import SHARED, faults_of_conditions
from scoring.catalogue.files import digest, read_files
from scoring.catalogue.frame import catalogue_frame
from scoring.catalogue.in_html import catalogue_html
from scoring.catalogue.items import Items, find_id_column, merged_attributes, read_items
from scoring.catalogue.long import is_long, read_long
from scoring.catalogue.product_columns import SESSION
from scoring.catalogue.readings import Contents, Readings, State
from scoring.catalogue.sheet_file import read_sheet
from scoring.catalogue.sheets import Sheet
from scoring.catalogue.wide import read_wide
from scoring.errors import CatalogueError, Place, Problem, nearest
from scoring.form import Form

if TYPE_CHECKING:
    import pandas as pd

SPECIMEN = "specimen"

__all__ = ["Catalogue", "Readings", "State", "as_declared", "from_arrays", "read_catalogue", "without"]


@dataclass(frozen=True, slots=True, eq=False)
class Catalogue:
    """Products and what was read of them.

    Attributes
    ----------
    source : the path as it was given
    products : the ids, in the order of the file
    attributes : name -> a text a product, empty where none is stated; those that the formula declares, each of them
    readings : measure -> its readings; a measure without a column is absent
    sha256 : of the file's bytes; of a folder, of the lines that `sha256sum` prints for its files by name
    unused : measures in the file that the formula does not know
    left_out : the names of columns of words in the files that the formula does not declare; their cells are not kept
    extras : "operator", "session", "specimen", "date" -> measure -> texts in the shape of its readings, from a long file
    product_sessions : the session of each product as a wide file or the items say, "" where they do not; empty where there is
        no such column
    set_aside : (product, measure, repeat) of every reading that was set aside after reading
    units : measure -> the unit its readings are in; empty for arrays
    """

    source: str
    products: tuple[str, ...]
    attributes: Mapping[str, tuple[str, ...]]
    readings: Mapping[str, Readings]
    sha256: str
    unused: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    extras: Mapping[str, Mapping[str, NDArray[np.object_]]] = field(default_factory=dict)
    set_aside: tuple[tuple[str, str, int], ...] = ()
    units: Mapping[str, str] = field(default_factory=dict)
    product_sessions: tuple[str, ...] = ()

    def frame(self) -> pd.DataFrame:
        """A row a reading, index the product ids.

        The columns are measure, repeat, value, unit, flag, reason, session, specimen, which are those of a long file, and
        counts_as. `value` is as written, in the formula's unit; `counts_as` is what the
        reporting limit makes of it, NaN for no reading; `attrs` holds the unit of each measure.
        """
        return catalogue_frame(self)

    def __repr__(self) -> str:
        return f"<Catalogue {self.source}: {len(self.products)} products, {len(self.readings)} measures>"

    def _repr_html_(self) -> str:
        return catalogue_html(self)


def read_catalogue(path: Path, form: Form) -> Catalogue:
    """Read a catalogue for a formula.

    Raises
    ------
    CatalogueError : with every problem that was found, each with its file, row and column
    """
    path, problems = Path(path), list[Problem]()
    files = read_files(path, problems)
    sheets = {role: read_sheet(file.content, file.source, problems) for role, file in files.items()}
    items_sheet, sheet = sheets.get("items"), sheets.get("readings")
    items = read_items(items_sheet, form, problems) if items_sheet else None
    contents = _read_readings(sheet, form, items, problems) if sheet else None
    for one in sheets.values():
        _check_specimens(one, form, problems)
    if contents is None:
        raise CatalogueError(problems)
    attributes = merged_attributes(contents, items, form, files["readings"].source, problems)
    sessions, declared = attributes.get(SESSION, ()), {attribute.name for attribute in form.attributes}
    read = Catalogue(
        source=str(path),
        products=contents.products,
        attributes={name: words for name, words in attributes.items() if name in declared},
        readings=contents.readings,
        sha256=digest(files, is_folder=path.is_dir()),
        unused=contents.unused,
        left_out=tuple(dict.fromkeys((*(items.left_out if items else ()), *contents.left_out))),
        extras=contents.extras,
        units={measure.name: measure.unit for measure in form.measures if measure.name in contents.readings},
        product_sessions=sessions,
    )
    if not any(f"`{SESSION}`" in problem.hint for problem in problems):  # a misspelt column is why none is named
        problems += faults_of_conditions(read, form)
    if problems:
        raise CatalogueError(problems)
    return read


def as_declared(catalogue: Catalogue, form: Form) -> Catalogue:
    """The catalogue with no words but those of attributes that the form declares: it may have been read for another form."""
    declared = {attribute.name for attribute in form.attributes}
    if declared.issuperset(catalogue.attributes):
        return catalogue
    kept = {name: words for name, words in catalogue.attributes.items() if name in declared}
    return replace(catalogue, attributes=kept)


def without(catalogue: Catalogue, product: str, measure: str, repeat: int) -> Catalogue:
    """A copy of the catalogue with one reading set aside.

    Parameters
    ----------
    repeat : counts from 1; where repeats are numbered anew in each session or specimen, it is the reading's number in the
        order of the file for the product and measure

    Raises
    ------
    CatalogueError : there is no such reading; names the nearest product or measure, or the repeats that there are
    """
    place = Place(catalogue.source)
    nothing = f"nothing to set aside at {product}, {measure}, repeat {repeat}"
    for name, known, what in ((product, catalogue.products, "product"), (measure, catalogue.readings, "measure")):
        if name not in known:
            expected = f"a {what} of the catalogue"
            raise CatalogueError([Problem(place, f"{nothing}: no such {what}", expected, nearest(name, known))])
    readings, row = catalogue.readings[measure], catalogue.products.index(product)
    read = (np.flatnonzero(np.isfinite(readings.written[row]) | (readings.marks[row] == State.BELOW)) + 1).tolist()
    if repeat not in read:
        there = ", ".join(_told_apart(catalogue, measure, row, number) for number in read)
        hint = f"Repeats read there: {there}." if read else "It has no reading there."
        raise CatalogueError([Problem(place, nothing, "a reading", hint)])
    kept = dict(catalogue.readings) | {measure: _set_aside(readings, row, repeat - 1)}
    return replace(catalogue, readings=kept, set_aside=(*catalogue.set_aside, (product, measure, repeat)))


def from_arrays(
    products: Sequence[str],
    readings: Mapping[str, ArrayLike],
    attributes: Mapping[str, Sequence[str]] | None = None,
    sessions: Mapping[str, ArrayLike] | None = None,
    specimens: Mapping[str, ArrayLike] | None = None,
) -> Catalogue:
    """A catalogue held in memory; no limit and no plausible range is applied.

    Parameters
    ----------
    products : n_products ids
    readings : measure -> array, shape (n_products,) or (n_products, n_repeats), in the form's unit; NaN is missing
    attributes : name -> n_products texts
    sessions, specimens : measure -> texts, one a product or in the shape of its readings; "" names none

    Raises
    ------
    CatalogueError : an array does not fit the products, a reading is infinite, or a product stands there twice
    """
    place, problems, held = Place("arrays"), list[Problem](), dict[str, Readings]()
    words = {name: tuple(texts) for name, texts in (attributes or {}).items()}
    if len(set(products)) != len(products):
        problems.append(Problem(place, "a product that stands there twice", "every product once"))
    for name, texts in words.items():
        if len(texts) != len(products):
            problems.append(Problem(place, f"{len(texts)} texts of `{name}`", f"{len(products)}"))
    for name, numbers in readings.items():
        values = np.array(numbers, dtype=np.float64)
        values = values[:, np.newaxis] if values.ndim == 1 else values
        if values.ndim == 2 and len(values) == len(products) and not np.isinf(values).any():
            held[name] = _readings_of(name, values)
        else:
            found = f"readings of `{name}` of shape {values.shape}, {np.isinf(values).sum()} infinite"
            expected = f"({len(products)},) or ({len(products)}, repeats), finite or NaN"
            problems.append(Problem(place, found, expected))
    named = {"session": sessions or {}, "specimen": specimens or {}}
    extras = {key: _texts_of(key, of, held, problems) for key, of in named.items() if of}
    if problems:
        raise CatalogueError(problems)
    sha256 = _digest_of(products, words, held, extras)
    return Catalogue("arrays", tuple(products), words, held, sha256, extras=extras)


def _texts_of(
    key: str, named: Mapping[str, ArrayLike], readings: Mapping[str, Readings], problems: list[Problem]
) -> dict[str, NDArray[np.object_]]:
    """Texts in the shape of each measure's readings."""
    found: dict[str, NDArray[np.object_]] = {}
    for name, texts in named.items():
        given = np.array(texts, dtype=object)
        given = given[:, np.newaxis] if given.ndim == 1 else given
        shape = readings[name].values.shape if name in readings else ()
        if given.shape not in (shape, (*shape[:1], 1)):
            place, expected = Place("arrays"), f"{shape[:1]} or {shape}" if shape else "a measure that has readings"
            problems.append(Problem(place, f"the {key}s of `{name}`, of shape {given.shape}", expected))
            continue
        found[name] = np.array(np.broadcast_to(given, shape), dtype=object)
        found[name].setflags(write=False)
    return found


def _told_apart(catalogue: Catalogue, measure: str, product: int, repeat: int) -> str:
    """A repeat by its number, with its session and specimen where they are named beside it."""
    texts = {key: catalogue.extras.get(key, {}).get(measure) for key in SHARED}
    said = [
        f"{key} {of[product, repeat - 1]}" for key, of in texts.items() if of is not None and of[product, repeat - 1]
    ]
    return f"{repeat} ({', '.join(said)})" if said else str(repeat)


def _read_readings(sheet: Sheet, form: Form, items: Items | None, problems: list[Problem]) -> Contents | None:
    column = find_id_column(sheet, form, problems)
    if column is None:
        return None
    read = read_long if is_long(sheet.header) else read_wide
    return read(sheet, column, form, items.products if items else None, problems)


def _check_specimens(sheet: Sheet | None, form: Form, problems: list[Problem]) -> None:
    """Specimens are named beside each reading: a column of them in another file would say nothing."""
    needs = any(measure.declares("between_specimens") for measure in form.measures)
    named = {attribute.name for attribute in form.attributes} | {measure.heading for measure in form.measures}
    named |= {measure.name for measure in form.measures} | {form.product_column}
    if sheet is None or not needs or SPECIMEN not in sheet.header or SPECIMEN in named or is_long(sheet.header):
        return
    hint = "Move it to a long file of readings; where no specimen is named, each product is one."
    expected = "specimens beside the readings of them"
    problems.append(Problem(sheet.place(None, SPECIMEN), "a column of specimens with a row a product", expected, hint))


def _readings_of(name: str, values: NDArray[np.float64]) -> Readings:
    states = np.where(np.isnan(values), State.MISSING, State.VALUE).astype(np.uint8)
    rows = np.zeros(values.shape, dtype=np.int64)
    columns = tuple(f"{name} #{repeat + 1}" for repeat in range(values.shape[1]))
    return Readings(values, states, {}, values.copy(), states.copy(), rows, columns, "arrays")


def _digest_of(
    products: Sequence[str],
    attributes: Mapping[str, Sequence[str]],
    readings: Mapping[str, Readings],
    extras: Mapping[str, Mapping[str, NDArray[np.object_]]],
) -> str:
    """The SHA-256 of what the arrays hold."""
    held = [repr(tuple(products)), repr(sorted(attributes.items()))]
    held += (f"{name} {one.values.shape} {one.values.tobytes().hex()}" for name, one in sorted(readings.items()))
    held += (f"{key} {name} {of[name].tolist()!r}" for key, of in sorted(extras.items()) for name in sorted(of))
    return hashlib.sha256("\n".join(held).encode()).hexdigest()


def _set_aside(readings: Readings, product: int, repeat: int) -> Readings:
    values, written = readings.values.copy(), readings.written.copy()
    states, marks = readings.states.copy(), readings.marks.copy()
    values[product, repeat] = written[product, repeat] = np.nan
    states[product, repeat] = marks[product, repeat] = State.MISSING
    reasons = dict(readings.reasons) | {(product, repeat): "set aside"}
    return replace(readings, values=values, written=written, states=states, marks=marks, reasons=reasons)
