"""All claims about all outputs, in the order of the form: scale, continuity, direction by measure, then coverage."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from scoring.checks.bench import bench_of
from scoring.checks.breaks import breaks_of
from scoring.checks.continuity import continuity_finding, without_false_poles
from scoring.checks.coverage import coverage_findings
from scoring.checks.direction import direction_finding
from scoring.checks.domain import Domain, domain_of
from scoring.checks.findings import Finding
from scoring.checks.jumps import jumps_met
from scoring.checks.scale import prove_on_scale, scale_finding
from scoring.checks.sizes import sizes_of
from scoring.checks.survey import survey_of
from scoring.program.program import Program
from scoring.table.evaluate import Inputs


def prove_claims(
    program: Program, catalogue: Inputs | None = None, seed: int = 0
) -> tuple[tuple[Finding, ...], Domain]:
    """Every claim with its verdict, and the domain with all that was proved on the way.

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
    scales = {output.name: scale_finding(domain, bench, survey, output, quick[output.name]) for output in outputs}
    directions = {
        (output.name, measure.name): direction_finding(domain, bench, survey, output, measure)
        for output in outputs
        for measure in program.form.measures
        if measure.name in domain.leans_on(output.name)
    }
    sizes = sizes_of(domain, breaks)
    seen = jumps_met(bench, survey, sizes)

    def ordered() -> Iterator[Finding]:
        for output in program.form.outputs:
            yield scales[output.name]
            yield continuity_finding(domain, bench, survey, output, sizes, seen)
            yield from (found for (name, _), found in directions.items() if name == output.name)
        yield from coverage_findings(program.form)

    return tuple(ordered()), domain
