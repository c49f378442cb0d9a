"""The section on measures: what is read, how repeats become one value, and what the errors of readings are made of."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from analysis.languages.facts import Block, Points, Run, Runs, Section, Table
from analysis.languages.writing import code, figure, listed_runs, name, paragraph, runs, table
from analysis.methods_appendix.bench import compared, outside_names, refuted_in_words, used_in_words
from analysis.methods_appendix.workings import Workings
from analysis.repeats.repeatability import LIMIT_FACTOR, Precision
from analysis.wording import ABSENT, WORDS, noise_in_words
from scoring.catalogue.conditions_of_reading import was_read
from scoring.form import ErrorCorrelation, Form, Measure
from scoring.measurement_error.components import Component
from scoring.units.by_hand import by_hand

SHARED = {
    "repeatability": "each reading its own",
    "between_sessions": "all readings of the measure in one session",
    "between_specimens": "all readings of one specimen",
    "systematic": "all readings of the measure",
}


def error_components(found: Workings) -> Section | None:
    """The components of errors, their sizes and correlations; None where the formula declares none."""
    rows = [row for measure in found.form.measures for row in _rows(found, measure.name)]
    if not rows:
        return None
    says = (
        "A reading errs by the sum of these. Noise is that of "
        f"{noise_in_words(found.form)}. The size is a standard deviation of one reading in the unit of the measure, or its range"
        " over the products where it is a share of the reading; where it is estimated, its degrees of freedom are reckoned with."
    )
    blocks: list[Block] = [paragraph(says), _table(rows), *_correlations(found), *_unread(found)]
    return Section("errors", runs("What the errors of readings are made of"), tuple(blocks))


def _table(rows: list[tuple[str | Run | Runs, ...]]) -> Table:
    heads = ("measure", "component", "shared by", "standard deviation #", "unit", "freedom #", "from")
    return table("errors", runs("Components of the errors of readings."), heads, rows)


def _rows(found: Workings, measure: str) -> Iterator[tuple[str | Run | Runs, ...]]:
    errors = found.table.errors.measures.get(measure)
    noun = found.form.measure(measure)
    for component in errors.components if errors is not None else ():
        yield (
            (name(noun.label),),
            (Run(f"{WORDS[component.name]} "), code(noun.errors[component.name].address)),
            SHARED[component.name],
            _size(component),
            name(noun.unit),
            _freedom(component),
            _origin(component),
        )


def _size(component: Component) -> str:
    known = component.sd[~np.isnan(component.sd)]
    if not len(known):
        return ABSENT
    low, high = figure(float(known.min()), 3), figure(float(known.max()), 3)
    return low if low == high else f"{low} to {high}"


def _freedom(component: Component) -> str:
    low, high = float(component.freedom.min()), float(component.freedom.max())
    if math.isinf(high):
        return "known"
    return f"{low:.3g}" if low == high else f"{low:.3g} to {high:.3g}"


def _origin(component: Component) -> str:
    spread = "" if component.distribution == "normal" else f", {component.distribution}"
    return component.origin + spread


def _correlations(found: Workings) -> Iterator[Block]:
    for stated in found.form.error_correlations:
        labels = [name(m.label) for m in found.form.measures if m.name in stated.measures]
        yield paragraph(
            f"Errors ({WORDS[stated.component.value]}) of ",
            *listed_runs(labels),
            f" are correlated: {_coefficient(stated)} [",
            code(stated.address),
            "].",
        )


def _coefficient(stated: ErrorCorrelation) -> str:
    if stated.coefficient is not None:
        return f"coefficient {stated.coefficient.text}"
    return "each coefficient pooled from this catalogue's runs"


def _unread(found: Workings) -> Iterator[Block]:
    """How what was not read is drawn, where the study draws it."""
    if found.unread:
        yield paragraph(
            "A score with a missing part is published as the missing rule says. For the places that a product may hold, what was"
            " not read is drawn: ",
            "; ".join(found.unread),
            ".",
        )


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
        *_converted(found),
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


def _converted(found: Workings) -> Iterator[Table]:
    """Which readings were written down in another unit, and how a person converts them."""
    catalogue = found.table.catalogue
    rows: list[tuple[str | Run | Runs, ...]] = []
    for measure in found.form.measures:
        readings = catalogue.readings.get(measure.name)
        if readings is None or readings.as_read is None:
            continue
        n_read = int(was_read(readings).sum())
        for number, unit in enumerate(readings.as_read.units):
            count = int((readings.as_read.codes == number).sum())
            rule = code(by_hand(unit, measure.unit).says)
            rows.append(((name(measure.label),), name(unit), f"{count} of {n_read}", rule))
    if rows:
        caption = runs("Readings that were written down in another unit, and how they are converted.")
        yield table("converted", caption, ("measure", "as read, in", "readings #", "by"), rows)


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
    """What the formula holds and the catalogue does not; the other way about, the terminal alone names it."""
    read = [m for m in found.form.measures if m.name not in found.table.catalogue.readings]
    if read:
        yield paragraph("In the formula and not in the catalogue: ", *listed_runs([name(m.label) for m in read]), ".")


def _used_for(form: Form, attribute: str) -> str:
    """What an attribute is for."""
    asked = {
        "in a gate": {n for gate in form.gates for n in gate.when.names},
        "in a limit of bands": {n for output in form.outputs for n in output.asked_for_bands},
        "for places within its words": {output.ranks.classes for output in form.outputs},
    }
    uses = [use for use, names in asked.items() if attribute in names]
    return " and ".join(uses) or "to tell products apart"


def _attributes(found: Workings) -> Table | None:
    rows = [
        (
            (name(one.label), Run(" "), code(one.name)),
            (name(", ".join(one.values)),) if one.values else "any word",
            _used_for(found.form, one.name),
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
