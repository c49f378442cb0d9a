"""Repeatability as a JSON document, and as rows of text for a terminal's tables."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, NamedTuple

from analysis.repeatability.outliers import LEVELS, OutlierFinding, OutlierTest
from analysis.repeatability.repeatability import Precision
from analysis.report_document import plain
from analysis.wording import counted, listed
from scoring.catalogue import Catalogue
from scoring.form import Form
from scoring.measurement_error.variance_components import COVERAGE

#: Fewer degrees of freedom than this get a note: the upper end of the interval is then over 1.75 times the estimate.
FEW = 10
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
            *(_figure(one, value) for value in (one.sd, one.low, one.high, one.robust_sd, one.declared)),
            {True: "inside", False: "outside", None: ""}[one.declared_inside],
            _figure(one, one.limit),
            *(_figure(one, value) for value in _beside(one, by_specimen)),
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


def notes_of(one: Precision) -> tuple[str, ...]:
    """What a reader of one measure's figures should mind, in sentences."""
    counts, cell = one.counts, _cell(one)
    notes = [
        (one.freedom < FEW, _few(one)),
        (one.declared_inside is False, _declared(one)),
        ((not one.low <= one.robust_sd <= one.high or bool(one.made_by)) and one.freedom > 0, _robust(one)),
        (counts.below_limit > 0, f"{counts.below_limit} readings below the reporting limit are left out."),
        (counts.alone > 0, f"{counts.alone} {cell} have one reading, which tells of no scatter."),
        (counts.at_zero > 0, f"{counts.at_zero} {cell} with a mean of 0 are left out, since there is no share of 0."),
        (counts.alike * 10 > counts.cells, _alike(one, cell)),
        (
            counts.unnamed > 0,
            f"{counts.unnamed} readings name no session; each product's are taken as one of their own.",
        ),
        (one.sessions is not None, _sessions(one)),
        (one.specimens is not None, _specimens(one)),
    ]
    return tuple(note for holds, note in notes if holds)


def outside_in_words(found: Sequence[Precision]) -> tuple[str, ...]:
    """The measures whose declared value the repeats do not bear out, and those where only s_r says so; two sentences at most."""
    outside = [one for one in found if one.declared_inside is False]
    refuted = [one.measure for one in outside if one.refuted]
    others = [one.measure + (f" ({listed(one.made_by)})" if one.made_by else "") for one in outside if not one.refuted]
    said = []
    if refuted:
        said.append(f"Declared repeatability outside the 95 % interval of what the repeats show: {', '.join(refuted)}.")
    if others:
        said.append(
            f"Outside that of all repeats, and not by the robust value, which wild readings (of products named here) hardly move:"
            f" {', '.join(others)}."
        )
    return tuple(said)


def multiplicity(found: Sequence[Precision]) -> tuple[str, ...]:
    """For each test, over all measures: how often it was made, how often it found something, and how often chance would."""
    tests = [test for one in found for test in one.tests if test.n_tests]
    return tuple(
        _expected(name, [test for test in tests if test.test == name])
        for name in dict.fromkeys(test.test for test in tests)
    )


def unit_of(one: Precision) -> str:
    """The unit that the figures of a measure are shown in."""
    return "% of the mean" if one.is_share else one.unit


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


def _figure(one: Precision, value: float | None) -> str:
    """Three figures, shares in per cent; empty where there is nothing."""
    if value is None or math.isnan(value):
        return ""
    return f"{100 * value if one.is_share else value:.3g}"


def _amount(one: Precision, value: float | None) -> str:
    return f"{_figure(one, value)} {'%' if one.is_share else one.unit}".removesuffix(" 1")


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


def _few(one: Precision) -> str:
    if not one.freedom:
        return "nothing was read twice under the same conditions, so the scatter of repeats is not known."
    apart = f": the interval's ends are {one.high / one.low:.1f} times apart" if one.low > 0 else ""
    return f"rests on {one.freedom} degrees of freedom only{apart}."


def _declared(one: Precision) -> str:
    side = "below" if one.declared is not None and one.declared < one.low else "above"
    return (
        f"the declared {_amount(one, one.declared)} lies {side} the {COVERAGE * 100:g} % interval of what the repeats show, "
        f"{_amount(one, one.low)} to {_amount(one, one.high)}."
    )


def _robust(one: Precision) -> str:
    if one.made_by:
        return f"{_without(one)}; the robust value is {_amount(one, one.robust_sd)}."
    return (
        f"the robust value {_amount(one, one.robust_sd)} lies outside the interval: few readings carry the difference, "
        "or the scatter is not of one kind."
    )


def _without(one: Precision) -> str:
    """Which products carry s_r away from what is declared."""
    verb = "carries" if len(one.made_by) == 1 else "carry"
    return f"{listed(one.made_by)} {verb} it: without those readings s_r is {_amount(one, one.sd_without)}"


def _alike(one: Precision, cell: str) -> str:
    return (
        f"in {one.counts.alike} of {one.counts.cells} {cell} all repeats are equal: the last digit is coarse beside the "
        "scatter."
    )


def _cell(one: Precision) -> str:
    """What the readings of a cell have in common."""
    shared = [word for word, is_named in (("sessions", one.by_session), ("specimens", one.by_specimen)) if is_named]
    return listed(["products", *shared])


def _sessions(one: Precision) -> str:
    part = one.sessions
    if part is None:
        return ""
    apart = f" in {part.n_parts} groups that no product links," if part.n_parts > 1 else ""
    said = _put_at_zero("s_L", "sessions", one, part.between_high) if part.is_zero else ""
    return (
        f"s_L is between {part.n_sessions} sessions,{apart} on {counted(part.freedom_between, 'degree')} of freedom, since a "
        f"session shifts all its products alike: {_amount(one, part.between_low)} to {_amount(one, part.between_high)}; "
        f"{counted(part.n_products, 'product')} {'was' if part.n_products == 1 else 'were'} read in two or more. s_R is of "
        f"readings in sessions of their own in this laboratory, {_amount(one, part.low)} to {_amount(one, part.high)} on "
        f"{part.freedom:.3g} degrees of freedom.{said}"
    )


def _specimens(one: Precision) -> str:
    part = one.specimens
    if part is None:
        return ""
    said = _put_at_zero("s_S", "specimens", one, part.high) if part.is_zero else ""
    return (
        f"s_S is between {part.n_levels} specimens of {counted(part.n_products, 'product')}, on "
        f"{counted(part.mean_square_freedom, 'degree')} of freedom: {_amount(one, part.low)} to {_amount(one, part.high)}; "
        f"it is in neither s_r nor s_R.{said}"
    )


def _put_at_zero(symbol: str, what: str, one: Precision, high: float) -> str:
    return (
        f" No difference between {what} shows: the estimate of {symbol}^2 came out at 0 or below and is put at 0, which rules out"
        f" no more than what lies above {_amount(one, high)}."
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
