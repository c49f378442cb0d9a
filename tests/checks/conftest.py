"""Programs from a few lines of YAML, for the tests of the checks."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest

from scoring.checks import Finding, check
from scoring.program.program import Program, compile_form
from scoring.reader.form import read_sources
from scoring.texts.source import Source

HEAD = """
formula: invented
scale: {from: 0, to: 10}
attributes: {filling: {values: [foam, springs]}}
measures:
  sag: {unit: mm, plausible: [0, 50], better: lower}
  lift: {unit: mm, plausible: [0, 50], better: higher}
  width: {unit: mm, plausible: [0.5, 10], better: neither}
  warmth: {unit: degC, plausible: [-10, 60]}
  noise: {unit: dB}
"""


@pytest.fixture(scope="session")
def program_of() -> Callable[..., Program]:
    """A program from the sections of a formula, after a head of five invented measures unless another is given."""

    def build(body: str, head: str = HEAD) -> Program:
        return compile_form(read_sources([Source("invented.yaml", f"{head.strip()}\n{body.strip()}\n")]))

    return build


@pytest.fixture(scope="session")
def finding_of(program_of: Callable[..., Program]) -> Callable[..., Finding]:
    """The finding on one output of a formula: by its kind, and by the measure where it is about a direction."""

    def found(body: str, output: str, kind: str, measure: str = "", head: str = HEAD) -> Finding:
        findings: Sequence[Finding] = check(program_of(body, head)).findings
        return next(f for f in findings if (f.output, f.kind, f.measure) == (output, kind, measure))

    return found
