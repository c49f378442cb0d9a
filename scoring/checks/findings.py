"""What a check finds: proofs and refutations with their evidence, and warnings in plain words."""

from __future__ import annotations

from dataclasses import dataclass

from scoring.errors import Place

PROVED, REFUTED, NOT_DECIDED, NOT_CLAIMED = "proved", "refuted", "not decided", "not claimed"
IDLE, UNIT, SATURATION, REFERENCE, WEIGHTS, SHOWN_STEP, RENAMED, BANDS, NO_REPEATABILITY = (
    "cannot matter",
    "unit",
    "saturation",
    "live reference",
    "weights",
    "shown step",
    "renamed",
    "bands",
    "no repeatability",
)
NO_VALUE = "no value"


@dataclass(frozen=True, slots=True)
class Case:
    """One setting of the inputs and what the formula makes of it, to be typed in again by hand.

    inputs: (name, text, unit) of each measure, word and reference figure that counts; value: the output there.
    """

    inputs: tuple[tuple[str, str, str], ...]
    value: float


@dataclass(frozen=True, slots=True)
class Jump:
    """A place where an output jumps.

    kind: "steps", "limit", "rounding", "choice", "standing", "division" or "none"; where: the reading or condition at which it
    jumps; at_most: a bound of its size in the output, proved; exact: whether the size is that wherever it is met; met:
    the largest that the search met, None where it met none or did not tell this place from others; declared: whether the
    form says that it jumps here.
    """

    kind: str
    address: str
    where: str
    at_most: float
    exact: bool
    met: float | None
    declared: bool


@dataclass(frozen=True, slots=True)
class Finding:
    """One claim about one output, and what became of it.

    kind: "scale", "direction", "continuity", "bands" or "steps"; measure: the reading that a direction is about; detail:
    the verdict in words; counterexample: the inputs that refute the claim; samples: how many points were tried.
    """

    output: str
    kind: str
    measure: str
    claim: str
    verdict: str
    detail: str
    counterexample: tuple[Case, ...]
    jumps: tuple[Jump, ...]
    samples: int
    place: Place


@dataclass(frozen=True, slots=True)
class Warning:
    """Something that a formula's author may not have meant, in plain words with its numbers.

    topic groups the like; figures are the numbers in it where the like can be set out as a table.
    """

    place: Place
    address: str
    says: str
    topic: str
    figures: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Checked:
    """All findings and warnings, in the order of the form."""

    findings: tuple[Finding, ...]
    warnings: tuple[Warning, ...]

    @property
    def refuted(self) -> bool:
        """Whether any claim is refuted."""
        return any(finding.verdict == REFUTED for finding in self.findings)
