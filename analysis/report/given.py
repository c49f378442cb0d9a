"""What the functions of the package take: a formula and a catalogue, read already, or as the paths of files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from scoring.catalogue import Catalogue
from scoring.door.formula import Formula, read_catalogue, read_formula, score
from scoring.table.selection import Where
from scoring.table.table import ScoreTable

if TYPE_CHECKING:
    import pandas as pd

    Readings = Catalogue | pd.DataFrame | str | Path
else:
    Readings = Any  # pandas is slow to import

Given = Formula | str | Path
#: One score, or several; none stands for all.
Scores = str | Sequence[str]


def formula_of(given: Given) -> Formula:
    """The formula, read where it is the path of a file."""
    return given if isinstance(given, Formula) else read_formula(given)


def names_of(scores: Scores) -> tuple[str, ...]:
    """The scores asked for by name, be it one or several.

    Examples
    --------
    >>> names_of("reading_upright"), names_of(["quiet", "edge"])
    (('reading_upright',), ('quiet', 'edge'))
    """
    return (scores,) if isinstance(scores, str) else tuple(scores)


def catalogue_of(given: Readings, formula: Formula) -> Catalogue:
    """The catalogue, read for the formula where it is a frame or the path of a file."""
    return given if isinstance(given, Catalogue) else read_catalogue(given, formula)


def scored(formula: Given, catalogue: Readings, where: Where = None) -> ScoreTable:
    """The scores of a catalogue under a formula, or those of a part of it.

    Raises
    ------
    SteelyardError : a fault of either, or a part that is not there
    """
    made = formula_of(formula)
    return score(made, catalogue_of(catalogue, made), where)
