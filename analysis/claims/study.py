"""A formula checked: its claims and warnings, and the first places of a catalogue that stand on a missing part."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.partial.partial_place import PartialPlace, first_places
from scoring.catalogue import Catalogue
from scoring.checks import Checked, check
from scoring.errors import SteelyardError
from scoring.form import Form
from scoring.measurement_error import error_model
from scoring.program.program import compile_form
from scoring.table.evaluate import inputs_of
from scoring.table.part import narrowed
from scoring.table.selection import Selected, Where, chosen_of, conditions_of
from scoring.table.table import score_catalogue


@dataclass(frozen=True, slots=True, eq=False)
class Claims:
    """What was found of a formula, and how it fits a catalogue, None where there is none; selected: whose first places."""

    form: Form
    catalogue: Catalogue | None
    checked: Checked
    firsts: tuple[PartialPlace, ...] = ()
    selected: Selected | None = None


def claims_study(form: Form, catalogue: Catalogue | None, *, where: Where = None, seed: int) -> Claims:
    """Every claim with its verdict, and every warning."""
    program = compile_form(form)
    if catalogue is None:
        return Claims(form, None, check(program, seed=seed))
    conditions = conditions_of(where, [catalogue])
    selected = Selected(conditions, chosen_of(conditions, catalogue)) if conditions else None
    checked = check(program, inputs_of(form, catalogue), error_model(form, catalogue), seed=seed)
    return Claims(form, catalogue, checked, _first_places(form, catalogue, selected), selected)


def _first_places(form: Form, catalogue: Catalogue, selected: Selected | None) -> tuple[PartialPlace, ...]:
    """The first places that stand on a missing part; none of a catalogue that cannot be scored, of which `score` says why."""
    try:
        table = score_catalogue(form, catalogue)
    except SteelyardError:
        return ()
    return first_places(narrowed(table, selected))
