"""What was found of a formula's claims as a JSON document, and as one table for files."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from analysis.claims.study import Claims
from analysis.claims.verdict import case_text, jump_texts
from analysis.partial.partial_place import partial_document
from analysis.published_reasons import reasons_of
from analysis.report.nouns import as_json
from scoring.checks.findings import Finding

if TYPE_CHECKING:
    import pandas as pd


def claims_body(found: Claims) -> dict[str, Any]:
    """Findings and warnings as plain nouns, ready for JSON; a bound that is not finite is null."""
    body = {
        "refuted": found.checked.refuted,
        "findings": as_json(found.checked.findings),
        "warnings": as_json(found.checked.warnings),
        "draft": as_json(found.draft),
    }
    if found.catalogue is not None:
        body["without_repeatability"] = list(found.noise.unknown)
        body["wild_readings"] = as_json(found.wild)
        body["first_places"] = partial_document(found.firsts, found.catalogue.products)
        reasons = reasons_of(found.form, found.catalogue)
        body |= {"reasons_published": reasons} if reasons else {}
    return body


def finding_fields(findings: Sequence[Finding]) -> dict[str, list[Any]]:
    """The fields of findings by the names that the document has; counter-examples and jumps in words."""
    rows = [as_json(one) for one in findings]
    for row, one in zip(rows, findings, strict=True):
        row["counterexample"] = "; ".join(case_text(case) for case in one.counterexample)
        row["jumps"] = "; ".join(jump_texts(one.jumps))
    return {name: [row[name] for row in rows] for name in Finding.__dataclass_fields__}


def claims_frame(found: Claims) -> pd.DataFrame:
    """One row for every finding."""
    import pandas as pd  # slow to import, and most commands make no frame

    return pd.DataFrame(finding_fields(found.checked.findings))
