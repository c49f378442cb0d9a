"""Checking a formula: what can be proved of it, what can be refuted, and what its author may not have meant."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from scoring.checks.band_limits import band_limit_warnings
from scoring.checks.bands import band_warnings
from scoring.checks.bench import bench_of
from scoring.checks.bench_reach import reach_warnings, unknown_noise_warnings
from scoring.checks.breaks import breaks_of
from scoring.checks.catalogue_fit import newcomer_warnings, saturation_warnings
from scoring.checks.continuity import continuity_finding, without_false_poles
from scoring.checks.coverage import coverage_findings
from scoring.checks.direction import direction_finding
from scoring.checks.domain import Domain, domain_of
from scoring.checks.findings import RENAMED, UNIT, Checked, Finding, Warning
from scoring.checks.idle import idle_warnings
from scoring.checks.jumps import jumps_met
from scoring.checks.scale import prove_on_scale, scale_finding
from scoring.checks.sizes import sizes_of
from scoring.checks.survey import survey_of
from scoring.checks.unanswered_gates import unanswered_gate_warnings
from scoring.curves import KINDS
from scoring.form import Form
from scoring.measurement_error import ErrorModel
from scoring.program.program import Program
from scoring.table.evaluate import Inputs
from scoring.units.conversion import is_offset_unit


def check(program: Program, inputs: Inputs | None = None, errors: ErrorModel | None = None, seed: int = 0) -> Checked:
    """Every claim with its verdict, and every warning.

    Parameters
    ----------
    inputs : the summarised readings of a catalogue; without them nothing is said of how the formula fits one
    errors : of the readings
    seed : of the search for counter-examples; a proof does not depend on it

    Returns
    -------
    Checked
        `refuted` is true where any claim is refuted. The same arguments give the same report.
    """
    findings, domain = prove_claims(program, inputs, seed)
    return Checked(findings, warnings_of(domain, inputs, errors))


def prove_claims(
    program: Program, catalogue: Inputs | None = None, seed: int = 0
) -> tuple[tuple[Finding, ...], Domain]:
    """Every claim with its verdict, and the domain with all that was proved on the way.

    Claims stand in the order of the form: scale, continuity and direction by measure of each output, then coverage.

    Parameters
    ----------
    catalogue : readings whose statistics live references are tried with, beside made-up ones
    seed : of the search for counter-examples; proofs need none
    """
    domain = domain_of(program)
    outputs = [program.form.output(name) for name in program.order]
    quick = {output.name: prove_on_scale(domain, output) for output in outputs}
    breaks = without_false_poles(domain, breaks_of(domain))
    rng = np.random.default_rng(seed)
    turned_by: dict[str, tuple[str, ...]] = {}
    for each in breaks:
        for measure in domain.moves(each.mover):
            turned_by[measure] = (*turned_by.get(measure, ()), each.name)
    bench = bench_of(domain, {each.name: each.state for each in breaks}, catalogue, rng, turned_by)
    survey = survey_of(bench, rng)
    scales = {output.name: scale_finding(survey, output, quick[output.name]) for output in outputs}
    directions: dict[str, list[Finding]] = {}
    for output in outputs:
        measures = [measure for measure in program.form.measures if measure.name in domain.leans_on(output.name)]
        directions[output.name] = [direction_finding(survey, output, each) for each in measures]
    sizes = sizes_of(domain, breaks)
    seen = jumps_met(survey, sizes)

    def ordered() -> Iterator[Finding]:
        for output in program.form.outputs:
            yield scales[output.name]
            yield continuity_finding(survey, output, sizes, seen)
            yield from directions[output.name]
        yield from coverage_findings(program.form)

    return tuple(ordered()), domain


def warnings_of(domain: Domain, inputs: Inputs | None, errors: ErrorModel | None) -> tuple[Warning, ...]:
    """Every warning, in the order in which the formula is written.

    Those that need readings, or their uncertainty, are looked for only where these are given.
    """
    found = [
        *idle_warnings(domain),
        *band_warnings(domain),
        *band_limit_warnings(domain),
        *_offset_units(domain.program.form),
        *_old_names(domain.program.form),
        *unanswered_gate_warnings(domain),
    ]
    if inputs is not None:
        found += saturation_warnings(domain.program, inputs)
        found += newcomer_warnings(domain, inputs)
        if errors is not None:
            found += unknown_noise_warnings(domain.program, errors)
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
