"""Checking a formula: what can be proved of it, what can be refuted, and what its author may not have meant."""

from __future__ import annotations

from scoring.checks.findings import Report
from scoring.checks.proofs import prove_claims
from scoring.checks.warnings import warnings_of
from scoring.measurement_error import ErrorModel
from scoring.program.program import Program
from scoring.table.evaluate import Inputs


def check(program: Program, inputs: Inputs | None = None, errors: ErrorModel | None = None, seed: int = 0) -> Report:
    """Every claim with its verdict, and every warning.

    Parameters
    ----------
    inputs : the summarised readings of a catalogue; without them nothing is said of how the formula fits one
    errors : of the readings
    seed : of the search for counter-examples; a proof does not depend on it

    Returns
    -------
    Report
        `refuted` is true where any claim is refuted. The same arguments give the same report.
    """
    findings, domain = prove_claims(program, inputs, seed)
    return Report(findings, warnings_of(domain, inputs, errors))
