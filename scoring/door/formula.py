"""A formula at hand: its form, its program, and what was tried on it; the way from files, or a frame, to a score table.

Where a formula is asked for, its path will do, and where a catalogue is, the path of a file or folder, or a pandas frame. What is
wrong with a formula or a catalogue is a `SteelyardError` with places; something else altogether is a `TypeError`.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from scoring.addresses.addresses import addresses, set_all, written
from scoring.catalogue import Catalogue
from scoring.catalogue import read_catalogue as _read_catalogue
from scoring.catalogue.reporting_limit import recount
from scoring.door.drawn_curve import DrawnCurve, drawn_curve
from scoring.door.notebook import formula_html
from scoring.errors import CatalogueError, Place, Problem
from scoring.form import Form, Number
from scoring.program.program import Program, compile_form
from scoring.reader import read_form
from scoring.table.part import select
from scoring.table.selection import Where
from scoring.table.table import ScoreTable, score_catalogue

if TYPE_CHECKING:
    import pandas as pd

AnyPath = str | os.PathLike[str]
Value = str | int | float

_WHOLE = re.compile(r"[+-]?\d+")
_DECIMAL = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")


@dataclass(frozen=True, slots=True, eq=False)
class Formula:
    """A formula that can be looked at, tried and scored with; a notebook shows it with its curves.

    Attributes
    ----------
    form : the formula as typed nouns, each number and choice with its address
    program : the same as symbols and steps
    settings : "ADDRESS=VALUE" of every value that was tried, in order; empty for the formula as it stands in its file
    """

    form: Form
    program: Program
    settings: tuple[str, ...] = ()

    def __repr__(self) -> str:
        tried = f", with {', '.join(self.settings)}" if self.settings else ""
        return f"<formula {self.form.name} {self.form.version}".rstrip() + f"{tried}>"

    def addresses(self) -> dict[str, Value]:
        """Every address of the formula and what stands there, in the order of the formula.

        Returns
        -------
        dict : address -> an int or float where a plain number is written, else the text (a choice, a share such as "8%", an
            expression, a curve in braces); whatever stands there can be given to `set`

        Examples
        --------
        >>> from scoring import read_formula
        >>> formula = read_formula("beds.yaml")
        >>> formula.addresses()["scores.reading_upright.weights.edge"]
        4
        >>> formula.addresses()["ratings.quiet.curve"]
        '{line: {worst: 46, best: 22}}'
        """
        return {address: _value(written(self.form, noun), noun) for address, noun in addresses(self.form).items()}

    def set(self, settings: Mapping[str, Value]) -> Formula:
        """A new formula with other values at some addresses, as if they stood in its file; this one stays as it is.

        Parameters
        ----------
        settings : address -> the value, as a number or as the text that the file would hold

        Raises
        ------
        AddressError : an address names nothing (the nearest is named), or a value does not fit there
        FormulaError : the formula that comes of it goes round in a circle

        Examples
        --------
        >>> from scoring import read_formula
        >>> formula = read_formula("beds.yaml")
        >>> formula.set({"scores.reading_upright.weights.quiet": 3})
        <formula beds 1.0.0, with scores.reading_upright.weights.quiet=3>
        >>> formula.set({"scores.reading_upright.weights.quite": 3})
        Traceback (most recent call last):
        scoring.errors.AddressError: beds.yaml: the address `scores.reading_upright.weights.quite`, which names nothing;
        expected an address of the formula. Did you mean `scores.reading_upright.weights.quiet`?
        """
        if not settings:
            return self
        texts = {address: str(value).strip() for address, value in settings.items()}
        form = set_all(self.form, texts)
        said = tuple(f"{address}={text}" for address, text in texts.items())
        return Formula(form, compile_form(form), self.settings + said)

    def curve(
        self, name: str, measure: str | None = None, *, catalogue: AnyPath | pd.DataFrame | Catalogue | None = None
    ) -> DrawnCurve:
        """The curve of a rating, which draws itself in a notebook.

        Parameters
        ----------
        name : the rating (or score) that the curve belongs to
        measure : which measure's, where a rating mixes several
        catalogue : the products that a curve with the reference `live` leans on, as `read_catalogue` takes them

        Raises
        ------
        AddressError : there is no such curve, `measure` is needed to choose one, or a `catalogue` to lean on

        Examples
        --------
        >>> from scoring import read_formula
        >>> quiet = read_formula("beds.yaml").curve("quiet")
        >>> quiet
        <curve of quiet over noise_dba [dB]>
        >>> quiet.at([46, 34, 22])
        array([ 1. ,  5.5, 10. ])
        """
        read = None if catalogue is None else read_catalogue(catalogue, self)
        return drawn_curve(self.program, name, measure, read)

    def _repr_html_(self) -> str:
        return formula_html(self.program, self.settings)


def _value(text: str, noun: object) -> Value:
    """A plain number as a number, anything else as it is written."""
    if not isinstance(noun, Number):
        return text
    if _WHOLE.fullmatch(text):
        return int(text)
    return float(text) if _DECIMAL.fullmatch(text) else text


def read_formula(path: AnyPath | Formula, set: Mapping[str, Value] | None = None) -> Formula:
    """Read a formula, compiled and ready to score with.

    Parameters
    ----------
    path : the YAML file; or a formula, which is given back
    set : address -> value, tried on the formula as `Formula.set` does; the file, or the formula given, is left alone

    Raises
    ------
    FormulaError : with every fault of the file, each with its line and column; or a circle of outputs
    AddressError : a setting names nothing, or does not fit
    TypeError : neither a path nor a formula is given

    Examples
    --------
    >>> from scoring import read_formula
    >>> read_formula("beds.yaml", set={"scale.show.step": 0.5})
    <formula beds 1.0.0, with scale.show.step=0.5>
    """
    if isinstance(path, Formula):
        return path.set(set or {})
    if not isinstance(path, str | os.PathLike):
        raise TypeError(f"a formula is given as a path or as a Formula, and not as {type(path).__name__}")
    form = read_form(Path(path))
    return Formula(form, compile_form(form)).set(set or {})


def read_catalogue(path: AnyPath | pd.DataFrame | Catalogue, formula: AnyPath | Formula) -> Catalogue:
    """Read the products and their readings for a formula: CSV, Parquet or XLSX, a folder, or a pandas frame.

    Readings come in the formula's units, whatever units they are given in.

    Parameters
    ----------
    path : of a file, a folder or a recipe; or, instead of one, a frame; or a catalogue, which is given back as it is
    formula : the path of its file, or the formula

    Raises
    ------
    CatalogueError : with every fault that was found, each with its file (or "the frame"), row and column
    FormulaError : the formula's file has faults
    TypeError : something else altogether is given

    Notes
    -----
    A frame is read by the rules of files, and is left as it is. It is wide (a row a product, a column a measure: `noise`,
    `noise [dB]`, `noise #2`) or long (a row a reading, with the columns `product`, `measure` and `value`, and `repeat`, `unit`,
    `flag`, `session` and the others of a long file). Levels of the index that have a name are columns like the others, so that
    products may stand in an index called `product`. NaN, None, NaT and `pd.NA` are readings that are missing. Units stand in the
    names of columns, in the column `unit`, or in `frame.attrs["units"]` by column or measure, where the frames of this package
    have theirs. A row is named by its number, counted from 1, and its label in the index.

    The hash of a catalogue that was a frame is the SHA-256 of what the frame holds (units, names and cells, written down in one
    way): the same for the same frame whenever it is taken, and not that of any file.

    Examples
    --------
    >>> from scoring import read_catalogue, read_formula
    >>> beds = read_catalogue("beds.csv", read_formula("beds.yaml"))
    >>> beds.frame().drop(columns=["session", "specimen", "as_read", "unit_as_read"])  # none is named or converted there
                  measure  repeat  value        unit     flag        reason  counts_as
    product
    A-01        noise_dba       1   31.5          dB                              31.5
    A-01         sit_drop       1   62.0          mm                              62.0
    A-01     surface_rise       1    3.4  delta_degC                               3.4
    A-02        noise_dba       1   38.0          dB                              38.0
    A-02         sit_drop       1   48.0          mm                              48.0
    A-02     surface_rise       1    2.2  delta_degC                               2.2
    A-03        noise_dba       1   26.1          dB                              26.1
    A-03         sit_drop       1   95.0          mm                              95.0
    A-03     surface_rise       1    NaN  delta_degC  missing  probe failed        NaN

    >>> import pandas as pd
    >>> frame = pd.DataFrame({"sit_drop": [6.2, 4.8], "noise_dba": [31.5, None]}, index=["A-01", "A-02"])
    >>> frame.attrs["units"] = {"sit_drop": "cm"}
    >>> read_catalogue(frame.rename_axis("product"), "beds.yaml").frame()[["measure", "value", "unit", "flag"]]
               measure  value unit     flag
    product
    A-01     noise_dba   31.5   dB
    A-01      sit_drop   62.0   mm
    A-02     noise_dba    NaN   dB  missing
    A-02      sit_drop   48.0   mm
    >>> read_catalogue(frame, "beds.yaml")
    Traceback (most recent call last):
    scoring.errors.CatalogueError: the frame: no column of products, and an index without a name; expected a column or an index
    called `product` or `id`. If it names the products (`A-01` and so on), give `frame.rename_axis("product")`.
    """
    if isinstance(path, Catalogue):
        return path
    return _read_catalogue(path, read_formula(formula).form)


def score(formula: AnyPath | Formula, catalogue: AnyPath | pd.DataFrame | Catalogue, where: Where = None) -> ScoreTable:
    """Score a catalogue under a formula.

    Parameters
    ----------
    formula : the path of its file, or the formula
    catalogue : the path of a file or a folder, or a frame, read as `read_catalogue` does. Or a catalogue, read for this formula,
        or for one that differs in what was set: a reporting limit that was set since decides anew what counts as below it.
        Plausible ranges are looked at when a catalogue is read, not here.
    where : the products to show and rank, by their attributes: {"class": "hybrid"}, {"class": ["hybrid", "foam"]}, or
        ["class!=hybrid"] for the others. Each is scored as in the whole catalogue.

    Returns
    -------
    ScoreTable : shows itself in a notebook; `frame()` gives it to pandas

    Raises
    ------
    CatalogueError : a catalogue that cannot be read; a measure that was read in another unit than this formula's; an attribute
        that it needs and that is not there; or an attribute or word in `where` that is not there
    FormulaError, ScoringError : as `scoring.table.table.score_catalogue`
    TypeError : as `read_formula` and `read_catalogue`

    Examples
    --------
    >>> from scoring import read_catalogue, read_formula, score
    >>> formula = read_formula("beds.yaml")
    >>> beds = read_catalogue("beds.csv", formula)
    >>> tried = formula.set({"scores.reading_upright.weights.quiet": 3})
    >>> for one in (formula, tried):
    ...     print(score(one, beds).frame("reading_upright")["shown"].to_dict())
    {'A-01': 7.8, 'A-02': 8.6, 'A-03': 5.4}
    {'A-01': 7.5, 'A-02': 7.5, 'A-03': 6.3}
    >>> score("beds.yaml", "beds.csv")
    <ScoreTable of beds 1.0.0: 3 products>
    """
    formula = read_formula(formula)
    read = counted_for(formula.form, read_catalogue(catalogue, formula))
    whole = replace(score_catalogue(formula.form, read, formula.program), settings=formula.settings)
    return select(whole, where)


def counted_for(form: Form, catalogue: Catalogue) -> Catalogue:
    """The catalogue with its readings counted by this formula's reporting limits."""
    measures = [measure for measure in form.measures if measure.name in catalogue.readings]
    problems = [
        Problem(
            Place(catalogue.source, column_name=measure.name),
            f"readings in {catalogue.units[measure.name]}",
            f"{measure.unit}, the formula's unit",
            "Read the catalogue again, for this formula.",
        )
        for measure in measures
        if catalogue.units.get(measure.name, measure.unit) != measure.unit
    ]
    if problems:
        raise CatalogueError(problems)
    counted = {measure.name: recount(measure, catalogue.readings[measure.name]) for measure in measures}
    return replace(catalogue, readings={**catalogue.readings, **counted})
