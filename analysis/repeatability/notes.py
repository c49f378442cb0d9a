"""What a reader of repeatability figures should mind, in sentences; and how its figures are written."""

from __future__ import annotations

import math
from collections.abc import Sequence

from analysis.repeatability.repeatability import Precision
from analysis.wording import counted, listed
from scoring.measurement_error.variance_components import COVERAGE

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


def unit_of(one: Precision) -> str:
    """The unit that the figures of a measure are shown in."""
    return "% of the mean" if one.is_share else one.unit


def figure_of(one: Precision, value: float | None) -> str:
    """Three figures, shares in per cent; empty where there is nothing."""
    if value is None or math.isnan(value):
        return ""
    return f"{100 * value if one.is_share else value:.3g}"


def amount_of(one: Precision, value: float | None) -> str:
    return f"{figure_of(one, value)} {'%' if one.is_share else one.unit}".removesuffix(" 1")


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
