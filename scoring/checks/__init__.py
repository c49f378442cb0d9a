"""Checks of a formula: proofs over all plausible readings, counter-examples where they fail, and warnings.

`check` asks for everything in its order: the claims (`scale`, `continuity`, `direction`, `coverage`), then the warnings.
`domain` turns the program into a `tape` of `nodes` that is run over boxes of intervals; `proving` cuts boxes. `bench`,
`survey` and `jumps` look for counter-examples with the kernel itself, and `cases` writes them down.
"""

from scoring.checks.check import check
from scoring.checks.findings import Case, Checked, Finding, Jump, Warning

__all__ = ["Case", "Checked", "Finding", "Jump", "Warning", "check"]
