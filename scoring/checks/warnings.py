"""All warnings of a check, in the order in which the formula is written."""

from __future__ import annotations

from collections.abc import Iterator

from scoring.checks.bench_reach import reach_warnings
from scoring.checks.catalogue_fit import newcomer_warnings, saturation_warnings
from scoring.checks.domain import Domain
from scoring.checks.findings import RENAMED, UNIT, Warning
from scoring.checks.idle import idle_warnings
from scoring.checks.unanswered_gates import unanswered_gate_warnings
from scoring.curves import KINDS
from scoring.form import Form
from scoring.measurement_error import ErrorModel
from scoring.table.evaluate import Inputs
from scoring.units.conversion import is_offset_unit


def warnings_of(domain: Domain, inputs: Inputs | None, errors: ErrorModel | None) -> tuple[Warning, ...]:
    """Every warning; those that need readings, or their uncertainty, only where these are given."""
    found = [
        *idle_warnings(domain),
        *_offset_units(domain.program.form),
        *_old_names(domain.program.form),
        *unanswered_gate_warnings(domain),
    ]
    if inputs is not None:
        found += saturation_warnings(domain.program, inputs)
        found += newcomer_warnings(domain, inputs)
        if errors is not None and errors.measures:
            found += reach_warnings(domain.program, inputs, errors)
    return tuple(sorted(found, key=lambda warning: warning.place))


def _old_names(form: Form) -> Iterator[Warning]:
    """Names that the form called otherwise once."""
    for old in form.renamed:
        yield Warning(old.place, old.address, old.says, RENAMED)


def _offset_units(form: Form) -> Iterator[Warning]:
    """A curve of ratios on a unit whose zero is a convention."""
    for output in form.outputs:
        for source, curve in output.curves:
            unit = form.units.get(source, "")
            if KINDS[curve.kind].ratio_scaled and is_offset_unit(unit):
                says = (
                    f"a {curve.kind} curve works on ratios, and {unit} has a zero by convention: 20 {unit} is not twice "
                    f"10 {unit}; take `{source}` in K, or as a difference (delta_{unit})"
                )
                yield Warning(curve.place, curve.address, says, UNIT)
