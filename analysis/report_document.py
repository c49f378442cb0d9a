"""A check's report as a JSON document."""

from __future__ import annotations

from dataclasses import asdict
from math import isfinite
from typing import Any

from scoring.checks.findings import Checked
from scoring.form import Form


def report_document(form: Form, report: Checked, seed: int) -> dict[str, Any]:
    """Findings and warnings as plain nouns; a bound that is not finite is null."""
    return {
        "formula": {"name": form.name, "version": form.version, "sha256": form.sha256},
        "seed": seed,
        "refuted": report.refuted,
        "findings": [plain(asdict(finding)) for finding in report.findings],
        "warnings": [plain(asdict(warning)) for warning in report.warnings],
    }


def plain(noun: Any) -> Any:
    """Nouns for JSON: tuples as lists, places as text, floats that are not finite as null."""
    if isinstance(noun, dict):
        if {"source", "line", "column"} <= noun.keys():
            return ":".join(str(noun[key]) for key in ("source", "line", "column") if noun[key])
        return {key: plain(value) for key, value in noun.items()}
    if isinstance(noun, list | tuple):
        return [plain(item) for item in noun]
    if isinstance(noun, float) and not isfinite(noun):
        return None
    return noun
