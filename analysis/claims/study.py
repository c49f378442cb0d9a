"""A formula checked: its claims and warnings, the guesses that stand in it, and what of a catalogue calls for a look."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.claims.wild_readings import WildReading, wild_readings
from analysis.draft.marked import Standing
from analysis.draft.standing import decisions_of, draft_of, guesses_of
from analysis.partial.partial_place import PartialPlace, first_places
from scoring.catalogue import Catalogue
from scoring.checks import Checked, check
from scoring.errors import SteelyardError
from scoring.form import Form
from scoring.measurement_error import ALL_KNOWN, NoiseKnown, error_model, noise_known
from scoring.program.program import compile_form
from scoring.table.evaluate import inputs_of
from scoring.table.part import narrowed
from scoring.table.selection import Selected, Where, chosen_of, conditions_of
from scoring.table.table import score_catalogue


@dataclass(frozen=True, slots=True, eq=False)
class Claims:
    """What was found of a formula, and how it fits a catalogue, None where there is none.

    firsts: first places on a missing part, of the selected; wild: readings that stand out from their repeats; draft: the files in
    which guesses stand, of the formula and of the recipe that the catalogue was read by; noise: of which measures it is known.
    """

    form: Form
    catalogue: Catalogue | None
    checked: Checked
    firsts: tuple[PartialPlace, ...] = ()
    selected: Selected | None = None
    wild: tuple[WildReading, ...] = ()
    draft: tuple[Standing, ...] = ()
    noise: NoiseKnown = ALL_KNOWN

    @property
    def guesses(self) -> int:
        """How many guesses stand."""
        return guesses_of(self.draft)

    @property
    def decisions(self) -> int:
        """How many of them say that a human must decide."""
        return decisions_of(self.draft)

    @property
    def is_unsettled(self) -> bool:
        """Whether something stands that must not: a refuted claim, or a guess that a human must decide."""
        return self.checked.refuted or self.decisions > 0


def claims_study(form: Form, catalogue: Catalogue | None, *, where: Where = None, seed: int) -> Claims:
    """Every claim with its verdict, and every warning."""
    program = compile_form(form)
    draft = draft_of(form, catalogue)
    if catalogue is None:
        return Claims(form, None, check(program, seed=seed), draft=draft)
    conditions = conditions_of(where, [catalogue])
    selected = Selected(conditions, chosen_of(conditions, catalogue)) if conditions else None
    errors = error_model(form, catalogue)
    checked = check(program, inputs_of(form, catalogue), errors, seed=seed)
    return Claims(
        form=form,
        catalogue=catalogue,
        checked=checked,
        firsts=_first_places(form, catalogue, selected),
        selected=selected,
        wild=wild_readings(form, catalogue),
        draft=draft,
        noise=noise_known(errors, program.measures_under(*program.outputs)),
    )


def _first_places(form: Form, catalogue: Catalogue, selected: Selected | None) -> tuple[PartialPlace, ...]:
    """The first places that stand on a missing part; none of a catalogue that cannot be scored, of which `score` says why."""
    try:
        table = score_catalogue(form, catalogue)
    except SteelyardError:
        return ()
    return first_places(narrowed(table, selected))
