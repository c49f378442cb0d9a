"""The worked example: one product's score, from its readings to its shown figure and place, to be keyed in line by line."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analysis.appendix.facts import Block, Run, Section, Step, Steps
from analysis.appendix.measures import summary_in_words
from analysis.appendix.workings import Workings
from analysis.appendix.writing import ABSENT, code, labels, name, paragraph, place, runs
from analysis.explanation.explanation import Explanation, OutputNote
from analysis.explanation.trace import DUST, SIGNIFICANT, Line
from scoring.catalogue import State
from scoring.form import Measure, Rounding
from scoring.rounding import round_to

KEYED = (
    "Each line can be keyed in from what is printed: * times, / divided by, ** to the power, log the natural logarithm, exp its"
    f" inverse. Results are printed to {SIGNIFICANT} significant digits and carried on so, so that a line keyed in differs from"
    " its result in the last digit or two at most. Words in [ ] say what happened and are no arithmetic."
)
KINDS = {"curve": "by its curve", "blend": "blended", "value": "worked out", "limit": "after limit", "round": "rounded"}


def worked_section(found: Workings) -> Section:
    """One product's figures, number by number."""
    title = runs("One product, worked out by hand")
    if found.explanation is None:
        return Section("worked", title, (paragraph("No score is published, so there is none to work out."),))
    explanation = found.explanation
    note = explanation.outputs[0]
    product = name(explanation.table.catalogue.products[explanation.product])
    label = name(note.output.label)
    blocks: list[Block] = [
        paragraph(
            "This is how ",
            product,
            " comes by its ",
            label,
            f". {KEYED}",
        ),
        Steps("worked", runs(label, " of ", product, ", line by line."), tuple(_lines(found, explanation, note))),
        *_known(found, note),
    ]
    return Section("worked", title, tuple(blocks))


def _lines(found: Workings, explanation: Explanation, note: OutputNote) -> Iterator[Step]:
    used = {line.source for line in note.lines} | set(note.output.sources)
    used |= {source for line in note.lines for source in found.program.output(line.output).sources}
    for reading in explanation.readings:
        if reading.measure.name in used and not np.isnan(reading.value):
            yield _reading(explanation, reading.measure, reading.value)
    for line in note.lines:
        yield Step(_what(found, line), line.arithmetic, _figure(line.value))
    yield from _end(explanation, note)


def _figure(value: float) -> str:
    return "0" if abs(value) < DUST else f"{value:.{SIGNIFICANT}g}"


def _reading(explanation: Explanation, measure: Measure, value: float) -> Step:
    """The line that turns a product's repeats into one value."""
    readings = explanation.table.catalogue.readings[measure.name]
    states = readings.states[explanation.product]
    counted = (states == State.VALUE) | (states == State.BELOW)
    values = readings.values[explanation.product][counted]
    texts = [f"{one:.10g}" for one in values[~np.isnan(values)]]
    below = int((states == State.BELOW).sum())
    gone = int((states == State.MISSING).sum())
    remarks = [f"{below} below the reporting floor"] if below else []
    remarks += [f"{gone} missing"] if gone else []
    what = runs(name(measure.label), ", ", name(measure.unit), f", {summary_in_words(measure)}")
    arithmetic = _summed(measure, texts)
    if measure.round is not None:
        arithmetic = f"{arithmetic} [rounded {measure.round.rule.value} to a multiple of {measure.round.step.text}]"
    return Step(what, arithmetic + (f" [{'; '.join(remarks)}]" if remarks else ""), _figure(value))


def _summed(measure: Measure, texts: list[str]) -> str:
    """The arithmetic of a summary of repeats."""
    match measure.repeats.value:
        case "mean":
            return f"({' + '.join(texts)})/{len(texts)}" if len(texts) > 1 else texts[0]
        case "level mean":
            powers = " + ".join(f"10**({text}/10)" for text in texts)
            return f"10*log10(({powers})/{len(texts)})"
    ordered = sorted(texts, key=float)
    if measure.repeats.value == "median":
        kept = ordered[(len(ordered) - 1) // 2 : len(ordered) // 2 + 1]
    else:
        cut = int(np.floor(measure.trim.value * len(ordered) + 1e-9))
        kept = ordered[cut : len(ordered) - cut]
    mean = f"({' + '.join(kept)})/{len(kept)}" if len(kept) > 1 else kept[0]
    return f"{mean} [of {', '.join(ordered)} in order]"


def _what(found: Workings, line: Line) -> tuple[Run, ...]:
    """What a line works out."""
    known = labels(found.form)
    label = name(known[line.output])
    if line.kind == "curve":
        return runs(label, ", from ", name(known.get(line.source, line.source)), " [", code(line.address), "]")
    return runs(label, f", {KINDS.get(line.kind, line.kind)} [", code(line.address), "]")


def _end(explanation: Explanation, note: OutputNote) -> Iterator[Step]:
    """From the unrounded figure to the shown one, the band and the place."""
    column, product, table = note.column, explanation.product, explanation.table
    rule = note.output.scale.show
    label = name(note.output.label)
    value = float(column.value[product])
    arithmetic = f"{_to_round(value, rule)} [rounded {rule.rule.value} to a multiple of {rule.step.text}]"
    yield Step(runs(label, ", shown"), arithmetic, column.shown_text(product))
    if not np.isnan(column.rank[product]):
        ranks = table.form.ranks
        kept = column.shown if ranks.on.value == "shown" else column.value
        ahead = int(((kept > kept[product]) if ranks.best.value == "highest" else (kept < kept[product])).sum())
        count = int((~np.isnan(column.rank)).sum())
        if ranks.ties.value == "shared-best":
            yield Step(
                runs(label, ", place"), f"{ahead} + 1 [{ahead} of {count} stand before it]", place(column.rank[product])
            )


def _to_round(value: float, rule: Rounding) -> str:
    """A figure in so many digits that rounding what is printed gives what is shown."""
    step, how = rule.step.value, rule.rule.value
    short = _figure(value)
    same = round_to(float(short), step, how) == round_to(value, step, how)
    return short if same else f"{value:.13g}"


def _known(found: Workings, note: OutputNote) -> Iterator[Block]:
    """How well the figure is known."""
    u = note.uncertainty
    if u is None:
        yield paragraph("Its uncertainty is not known: no repeatability is stated for what it leans on.")
        return
    draws = found.explanation.draws if found.explanation is not None else 0
    first = ABSENT if np.isnan(u.first_order) else f"{u.first_order:.3f}"
    known = {measure.name: measure for measure in found.form.measures}
    said: list[str | Run] = [
        f"Its standard uncertainty from repeats is {u.sd:.3f} points by Monte Carlo ({draws}"
        f" draws; 95 % of them from {u.low:.2f} to {u.high:.2f}), and {first} to first order."
    ]
    if u.budget:
        said.append(" Most of it comes of ")
        for index, (source, share) in enumerate(u.budget[:3]):
            said += [", " if index else "", name(known[source].label), f" ({share:.3f})"]
        said.append(".")
    yield paragraph(*said)
