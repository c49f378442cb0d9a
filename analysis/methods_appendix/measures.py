"""The section on measures: what is read, in what unit, how repeats become one value, and how closely they agree."""

from __future__ import annotations

import math
from collections.abc import Iterator

from analysis.languages.facts import Block, Points, Run, Runs, Section, Table
from analysis.languages.writing import ABSENT, code, figure, listed_runs, name, paragraph, runs, table
from analysis.methods_appendix.error_components import error_components
from analysis.methods_appendix.repeatability_used import compared, outside_names, refuted_in_words, used_in_words
from analysis.methods_appendix.workings import Workings
from analysis.repeats.repeatability import LIMIT_FACTOR, Precision
from scoring.form import Measure

#: Which way is better, as a table says it.
BETTER = {"unstated": "by its curve", "higher": "higher", "lower": "lower", "neither": "neither"}
SUMMARIES = {
    "mean": "mean",
    "median": "median",
    "level mean": "level mean: 10 log10 of the mean of 10^(level / 10)",
}
BELOW = {
    "limit": "a reading below it counts as the limit",
    "half": "a reading below it counts as half the limit",
    "zero": "a reading below it counts as 0",
    "missing": "a reading below it counts as missing",
}


def measures_section(found: Workings) -> Section:
    """What the bench reads."""
    blocks: list[Block] = [
        paragraph(
            "Every rating starts from the measures below. Where a product is read several times, the readings become one value"
            " by the rule in the column “repeats”. A reading outside the plausible range is refused as a slip and must be"
            " corrected before anything is scored."
        ),
        _what_is_read(found),
        *_notes(found),
        *_not_used(found),
    ]
    attributes = _attributes(found)
    if attributes is not None:
        blocks.append(attributes)
    errors = error_components(found)
    parts = (_repeatability(found),) if errors is None else (_repeatability(found), errors)
    return Section("measures", runs("Measures"), tuple(blocks), parts)


def _what_is_read(found: Workings) -> Table:
    rows = [
        (
            (name(measure.label), Run(" "), code(measure.name)),
            name(measure.unit),
            BETTER[measure.better.value],
            " to ".join(end.text for end in measure.plausible) if measure.plausible else ABSENT,
            summary_in_words(measure) + _rounding(measure),
        )
        for measure in found.form.measures
    ]
    heads = ("measure", "unit", "better", "plausible range", "repeats")
    return table("measures", runs("What is read, and how repeats become one value."), heads, rows)


def summary_in_words(measure: Measure) -> str:
    """How the repeats of a measure become one value."""
    if measure.repeats.value == "trimmed":
        return f"mean without the outer {measure.trim.text} of readings at each end"
    return SUMMARIES[measure.repeats.value]


def _rounding(measure: Measure) -> str:
    if measure.round is None:
        return ""
    return f", rounded {measure.round.rule.value} to a multiple of {measure.round.step.text}"


def _notes(found: Workings) -> Iterator[Points]:
    """Method notes, and reporting limits."""
    items: list[Runs] = []
    for measure in found.form.measures:
        if measure.note:
            items.append(runs(name(measure.label), ": ", name(measure.note)))
        if measure.reporting_limit is not None:
            says = f": the reporting limit is {measure.reporting_limit.text} "
            items.append(
                runs(
                    name(measure.label),
                    says,
                    name(measure.unit),
                    f"; {BELOW[measure.below_limit.value]} [",
                    code(measure.reporting_limit.address),
                    "].",
                )
            )
    if items:
        yield Points(tuple(items))


def _not_used(found: Workings) -> Iterator[Block]:
    """What the catalogue holds and the formula does not know."""
    unused = found.table.catalogue.unused
    if unused:
        names = listed_runs([name(one) for one in unused])
        yield paragraph("In the catalogue and not in the formula: ", *names, ".")
    read = [m for m in found.form.measures if m.name not in found.table.catalogue.readings]
    if read:
        yield paragraph("In the formula and not in the catalogue: ", *listed_runs([name(m.label) for m in read]), ".")


def _attributes(found: Workings) -> Table | None:
    used = {n for gate in found.form.gates for n in gate.when.names}
    rows = [
        (
            (name(one.label), Run(" "), code(one.name)),
            (name(", ".join(one.values)),) if one.values else "any word",
            "in a gate" if one.name in used else "to tell products apart",
        )
        for one in found.form.attributes
    ]
    caption = runs("What is known of a product besides its readings.")
    return table("attributes", caption, ("attribute", "may be", "used"), rows) if rows else None


def _repeatability(found: Workings) -> Section:
    """s_r of every measure with its own interval, beside what the formula declares."""
    title = runs("How closely repeats agree")
    if not any(one.counts.cells for one in found.precisions):
        said = "No product was read twice, so this catalogue says nothing of how closely repeats agree. "
        return Section("repeatability", title, (paragraph(said, used_in_words(found)),))
    rows = [_row(found, one) for one in found.precisions]
    heads = (
        "measure",
        "unit",
        "products #",
        "readings #",
        "s_r #",
        "95 % from #",
        "to #",
        "freedom #",
        "declared",
        "r #",
    )
    caption = runs(
        "Repeatability pooled over this catalogue's repeats, with its own 95 % interval, beside what the formula declares."
    )
    says = (
        "s_r is the standard deviation of one reading, pooled over the products (over product and session, where sessions are"
        " named); its interval follows from chi-squared with the given degrees of freedom. A share of the reading is in"
        f" percent. r = {LIMIT_FACTOR:g} s_r: two readings of one product stay within it in about 95 % of cases."
        " Differences between specimens of one product are in none of it."
    )
    made = table("repeatability", caption, heads, rows)
    blocks: list[Block] = [made, paragraph(says), paragraph(used_in_words(found))]
    outside = outside_names(found)
    if outside:
        blocks.append(paragraph("Declared repeatability outside that interval: ", *outside, "."))
        blocks.append(Points(refuted_in_words(found)))
    elif compared(found):
        blocks.append(paragraph("No declared repeatability lies outside that interval."))
    return Section("repeatability", title, tuple(blocks))


def _row(found: Workings, one: Precision) -> tuple[str | Run | Runs, ...]:
    measure = found.form.measure(one.measure)
    return (
        (name(measure.label), Run(" "), code(one.measure)),
        "% of reading" if one.is_share else name(one.unit),
        str(one.counts.products),
        str(one.counts.readings),
        *(_in_unit(one, value) for value in (one.sd, one.low, one.high)),
        str(one.freedom) if one.freedom else ABSENT,
        _declared(measure, one),
        _in_unit(one, one.limit),
    )


def _in_unit(one: Precision, value: float) -> str:
    return ABSENT if math.isnan(value) else figure(100 * value if one.is_share else value, 3)


def _declared(measure: Measure, one: Precision) -> str:
    declared = measure.repeatability
    if declared is None:
        return "none"
    if declared.amount is None or "pooled" in declared.kind.value:
        return "as pooled"
    word = {True: "inside", False: "outside", None: "not tested"}[one.declared_inside]
    return f"{declared.amount.text.removesuffix('%').strip()}, {word}"
