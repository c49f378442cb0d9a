"""Repeatability as a JSON document, and as rows of text for a terminal's tables."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, NamedTuple

from analysis.repeatability.notes import figure_of, notes_of, unit_of
from analysis.repeatability.outliers import LEVELS, OutlierFinding, OutlierTest
from analysis.repeatability.repeatability import Precision
from analysis.report_document import plain
from scoring.catalogue import Catalogue
from scoring.form import Form
from scoring.measurement_error.variance_components import COVERAGE

ONCE = (
    "Nothing is set aside by itself. Each test is made once, and one wild reading can hide another: look again after "
    "setting one aside."
)


class TextTable(NamedTuple):
    """Headers, rows and notes, all of them text; `right` are the columns of figures."""

    headers: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...]
    right: tuple[int, ...]


def repeatability_document(form: Form, catalogue: Catalogue, found: Sequence[Precision]) -> dict[str, Any]:
    """Everything said about every measure as plain nouns, ready for JSON; null where there is nothing."""
    return {
        "formula": {"name": form.name, "version": form.version, "sha256": form.sha256},
        "catalogue": {"sha256": catalogue.sha256, "products": len(catalogue.products)},
        "coverage": COVERAGE,
        "levels": list(LEVELS),
        "measures": {one.measure: _measure(one, catalogue.products) for one in found},
        "notes": list(multiplicity(found)),
    }


def repeatability_table(found: Sequence[Precision]) -> TextTable:
    """One row a measure: s_r with its interval, beside the robust value, what is declared, and the part of sessions."""
    headers = ("measure", "unit", "products", "readings", "freedom", "s_r", "from", "to", "robust", "declared", "", "r")
    by_specimen = any(one.specimens for one in found)
    rows = [
        (
            one.measure,
            unit_of(one),
            str(one.counts.products),
            str(one.counts.readings),
            str(one.freedom),
            *(figure_of(one, value) for value in (one.sd, one.low, one.high, one.robust_sd, one.declared)),
            {True: "inside", False: "outside", None: ""}[one.declared_inside],
            figure_of(one, one.limit),
            *(figure_of(one, value) for value in _beside(one, by_specimen)),
        )
        for one in found
    ]
    notes = [f"{one.measure}: {note}" for one in found for note in notes_of(one)]
    notes += _outside(found) + _not_separated(found)
    last = ("s_S", "s_L", "s_R", "R") if by_specimen else ("s_L", "s_R", "R")
    right = (*range(2, 10), *range(11, len(headers) + len(last)))
    return TextTable((*headers, *last), tuple(rows), tuple(notes), right)


def outlier_table(found: Sequence[Precision]) -> TextTable:
    """One row a finding, outliers first and the least likely of them first; the notes say what chance alone would give."""
    by_specimen = any(one.by_specimen for one in found)
    cell = ("product", "session", *(("specimen",) if by_specimen else ()), "repeats")
    headers = ("", "measure", *cell, "furthest", "test")
    in_order = sorted((f for one in found for f in one.findings), key=lambda f: (f.level, f.p_value))
    notes = (*multiplicity(found), *_untested(found), ONCE)
    rows = tuple(_finding_row(finding, by_specimen) for finding in in_order)
    right = tuple(len(headers) + place for place in range(3))
    return TextTable((*headers, "statistic", "critical", "by chance"), rows, notes, right)


def multiplicity(found: Sequence[Precision]) -> tuple[str, ...]:
    """For each test, over all measures: how often it was made, how often it found something, and how often chance would."""
    tests = [test for one in found for test in one.tests if test.n_tests]
    return tuple(
        _expected(name, [test for test in tests if test.test == name])
        for name in dict.fromkeys(test.test for test in tests)
    )


def _measure(one: Precision, products: Sequence[str]) -> dict[str, Any]:
    fields = (
        "unit",
        "is_share",
        "by_session",
        "by_specimen",
        "sd",
        "freedom",
        "low",
        "high",
        "robust_sd",
        "declared",
        "declared_inside",
        "refuted",
        "made_by",
        "sd_without",
    )
    known = {product: float(k) for product, k in zip(products, one.k, strict=True) if not math.isnan(k)}
    document = {name: getattr(one, name) for name in fields} | {
        "limit": one.limit,
        "counts": one.counts._asdict(),
        "whole_products": one.whole._asdict(),
        "sessions": asdict(one.sessions) | {"limit": one.sessions.limit} if one.sessions else None,
        "why_no_sessions": one.why_no_sessions,
        "specimens": asdict(one.specimens) if one.specimens else None,
        "why_no_specimens": one.why_no_specimens,
        "mandel_k": known,
        "tests": [test._asdict() for test in one.tests],
        "findings": [asdict(f) | {"kind": f.kind, "by_chance": f.by_chance} for f in one.findings],
        "notes": notes_of(one),
    }
    return {name: plain(value) for name, value in document.items()}


def _beside(one: Precision, by_specimen: bool) -> tuple[float | None, ...]:
    """What stands beside s_r: between specimens (where any measure tells), between sessions, both, and R."""
    part, specimens = one.sessions, (one.specimens.sd if one.specimens else None,) if by_specimen else ()
    return (*specimens, *((part.between_sd, part.total_sd, part.limit) if part else (None, None, None)))


def _finding_row(finding: OutlierFinding, by_specimen: bool) -> tuple[str, ...]:
    return (
        finding.kind,
        finding.measure,
        finding.product,
        finding.session,
        *((finding.specimen,) if by_specimen else ()),
        ", ".join(map(str, finding.repeats)),
        "" if finding.furthest is None else str(finding.furthest),
        finding.test,
        f"{finding.statistic:.4f}",
        f"{finding.critical:.4f} at {finding.level * 100:g} %",
        f"{finding.by_chance:.2g} of {finding.n_tests}",
    )


def _not_separated(found: Sequence[Precision]) -> list[str]:
    """Why sessions or specimens cannot be told apart: one line a reason."""
    lines = []
    for reasons in ([one.why_no_sessions for one in found], [one.why_no_specimens for one in found]):
        for reason in dict.fromkeys(filter(None, reasons)):
            measures = [one.measure for one, why in zip(found, reasons, strict=True) if why == reason]
            lines.append(f"{reason} ({_listed(measures, len(found))}).")
    return lines


def _untested(found: Sequence[Precision]) -> list[str]:
    """What was not tested, or tested in another way: one line a test and reason."""
    noted = [test for one in found for test in one.tests if test.note]
    lines = []
    for name, note in dict.fromkeys((test.test, test.note) for test in noted):
        same = [test for test in noted if (test.test, test.note) == (name, note)]
        n_untested = sum(test.n_untested for test in same)
        many = f", {n_untested} in all" if n_untested else ""
        lines.append(f"{name}: {note}{many} ({_listed([test.measure for test in same], len(found))}).")
    return lines


def _listed(measures: Sequence[str], of: int) -> str:
    return "every measure" if len(measures) == of else ", ".join(measures)


def _outside(found: Sequence[Precision]) -> list[str]:
    """How many declared values lie outside, and how many would by chance."""
    held = [one.declared_inside for one in found if one.declared_inside is not None]
    if not held:
        return []
    return [
        f"{held.count(False)} of {len(held)} declared values lie outside their intervals; about "
        f"{len(held) * (1 - COVERAGE):.2g} would by chance if all were true."
    ]


def _expected(name: str, tests: Sequence[OutlierTest]) -> str:
    n_tests = sum(test.n_tests for test in tests)
    counts = [sum(test.n_beyond[place] for test in tests) for place in range(len(LEVELS))]
    about = (
        "at most" if any(test.n_untested for test in tests) else "about"
    )  # those left out would go beyond most easily
    parts = [
        f"beyond the {level * 100:g} % value {count}, where chance alone gives {about} {n_tests * level:.2g}"
        for level, count in zip(LEVELS, counts, strict=True)
    ]
    return f"{name}: {n_tests} tests of {len(tests)} measures; {'; '.join(parts)}."
