"""Repeatability in sentences: the verdict, what a reader of its figures should mind, and how they are written."""

from __future__ import annotations

import math
from collections.abc import Sequence

from analysis.repeats.outliers import LEVELS, OutlierTest
from analysis.repeats.repeatability import Precision
from analysis.wording import counted, listed
from scoring.measurement_error.variance_components import COVERAGE
from scoring.units.role import in_unit

ONCE = (
    "Nothing is set aside by itself. Each test is made once, and one wild reading can hide another: look again after "
    "setting one aside."
)
#: Fewer degrees of freedom than this get a note: the upper end of the interval is then over 1.75 times the estimate.
FEW = 10


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


def repeatability_verdict(found: Sequence[Precision]) -> tuple[str, ...]:
    """Of how many measures the scatter is known, what that says of what is declared, and how much stands out."""
    known = sum(one.freedom > 0 for one in found)
    kinds = [finding.kind for one in found for finding in one.findings]
    outliers, stragglers = kinds.count("outlier"), kinds.count("straggler")
    verb = "was" if known == 1 else "were"
    return (
        f"{known} of {counted(len(found), 'measure')} {verb} read more than once under the same conditions.",
        *outside_in_words(found),
        f"{counted(outliers, 'finding')} beyond the 1 % value of a test, and {stragglers} more beyond the 5 % value.",
    )


def agreement_notes(found: Sequence[Precision]) -> tuple[str, ...]:
    """What to mind of every measure, then of all of them."""
    notes = [f"{one.measure}: {note}" for one in found for note in notes_of(one)]
    return (*notes, *outside_by_chance(found), *not_separated(found))


def outlier_notes(found: Sequence[Precision]) -> tuple[str, ...]:
    """What chance alone would give, what was not tested, and that nothing is set aside."""
    return (*multiplicity(found), *untested(found), ONCE)


def multiplicity(found: Sequence[Precision]) -> tuple[str, ...]:
    """For each test, over all measures: how often it was made, how often it found something, and how often chance would."""
    tests = [test for test in _tests(found) if test.n_tests]
    return tuple(
        _expected(name, [test for test in tests if test.test == name])
        for name in dict.fromkeys(test.test for test in tests)
    )


def _tests(found: Sequence[Precision]) -> list[OutlierTest]:
    return [test for one in found for test in one.tests]


def not_separated(found: Sequence[Precision]) -> list[str]:
    """Why sessions or specimens cannot be told apart: one line a reason."""
    lines = []
    for reasons in ([one.why_no_sessions for one in found], [one.why_no_specimens for one in found]):
        for reason in dict.fromkeys(filter(None, reasons)):
            measures = [one.measure for one, why in zip(found, reasons, strict=True) if why == reason]
            lines.append(f"{reason} ({_measures(measures, len(found))}).")
    return lines


def untested(found: Sequence[Precision]) -> list[str]:
    """What was not tested, or tested in another way: one line a test and reason."""
    noted = [test for test in _tests(found) if test.note]
    lines = []
    for name, note in dict.fromkeys((test.test, test.note) for test in noted):
        same = [test for test in noted if (test.test, test.note) == (name, note)]
        n_untested = sum(test.n_untested for test in same)
        many = f", {n_untested} in all" if n_untested else ""
        lines.append(f"{name}: {note}{many} ({_measures([test.measure for test in same], len(found))}).")
    return lines


def _measures(measures: Sequence[str], of: int) -> str:
    return "every measure" if len(measures) == of else ", ".join(measures)


def outside_by_chance(found: Sequence[Precision]) -> list[str]:
    """How many declared values lie outside, and how many would by chance."""
    held = [inside for inside in (one.declared_inside for one in found) if inside is not None]
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
    return f"{name}: {counted(n_tests, 'test')} of {counted(len(tests), 'measure')}; {'; '.join(parts)}."


def three_figures(value: float | None, is_share: bool) -> str:
    """A standard deviation or a limit to three figures, a share in per cent; empty where there is nothing.

    Examples
    --------
    >>> three_figures(1.23456, False), three_figures(0.1, True), three_figures(None, False)
    ('1.23', '10', '')
    """
    if value is None or math.isnan(value):
        return ""
    return f"{100 * value if is_share else value:.3g}"


def amount_of(one: Precision, value: float | None) -> str:
    """The same with its unit."""
    return in_unit(three_figures(value, one.is_share), "%" if one.is_share else one.unit)


def _few(one: Precision) -> str:
    if not one.freedom:
        return "nothing was read twice under the same conditions, so the scatter of repeats is not known."
    apart = f": the interval's ends are {one.high / one.low:.1f} times apart" if one.low > 0 else ""
    return f"rests on {one.freedom} degrees of freedom only{apart}."


def _declared(one: Precision) -> str:
    side = "below" if one.declared is not None and one.declared < one.low else "above"
    return (
        f"the declared {amount_of(one, one.declared)} lies {side} the {COVERAGE * 100:g} % interval of what the repeats show, "
        f"{amount_of(one, one.low)} to {amount_of(one, one.high)}."
    )


def _robust(one: Precision) -> str:
    if one.made_by:
        return f"{_without(one)}; the robust value is {amount_of(one, one.robust_sd)}."
    return (
        f"the robust value {amount_of(one, one.robust_sd)} lies outside the interval: few readings carry the difference, "
        "or the scatter is not of one kind."
    )


def _without(one: Precision) -> str:
    """Which products carry s_r away from what is declared."""
    verb = "carries" if len(one.made_by) == 1 else "carry"
    return f"{listed(one.made_by)} {verb} it: without those readings s_r is {amount_of(one, one.sd_without)}"


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
        f"session shifts all its products alike: {amount_of(one, part.between_low)} to {amount_of(one, part.between_high)}; "
        f"{counted(part.n_products, 'product')} {'was' if part.n_products == 1 else 'were'} read in two or more. s_R is of "
        f"readings in sessions of their own in this laboratory, {amount_of(one, part.low)} to {amount_of(one, part.high)} on "
        f"{part.freedom:.3g} degrees of freedom.{said}"
    )


def _specimens(one: Precision) -> str:
    part = one.specimens
    if part is None:
        return ""
    said = _put_at_zero("s_S", "specimens", one, part.high) if part.is_zero else ""
    return (
        f"s_S is between {part.n_levels} specimens of {counted(part.n_products, 'product')}, on "
        f"{counted(part.mean_square_freedom, 'degree')} of freedom: {amount_of(one, part.low)} to {amount_of(one, part.high)}; "
        f"it is in neither s_r nor s_R.{said}"
    )


def _put_at_zero(symbol: str, what: str, one: Precision, high: float) -> str:
    return (
        f" No difference between {what} shows: the estimate of {symbol}^2 came out at 0 or below and is put at 0, which rules out"
        f" no more than what lies above {amount_of(one, high)}."
    )
