"""Worked examples: a product's score, from its readings to its shown figure and place, to be keyed in line by line.

The best-placed product first; then, where the catalogue has them, one whose figure is partial and one held by a limit.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

import numpy as np

from analysis.explanation.explanation import Explanation, OutputNote, ReadingNote, explanation_of
from analysis.explanation.trace import DUST, SIGNIFICANT, Line
from analysis.languages.facts import Block, Run, Section, Step, Steps
from analysis.languages.writing import code, labels, name, paragraph, runs
from analysis.methods_appendix.measures import summary_in_words
from analysis.methods_appendix.published import held_by, labelled
from analysis.methods_appendix.workings import Workings
from analysis.wording import ABSENT, place_text
from scoring.catalogue import State
from scoring.form import Rounding
from scoring.numbers.rounding import round_to
from scoring.table.evaluate import stages
from scoring.table.table import Column

KEYED = (
    "Each line can be keyed in from what is printed: * times, / divided by, ** to the power, log the natural logarithm, exp its"
    f" inverse. Results are printed to {SIGNIFICANT} significant digits and carried on so, so that a line keyed in differs from"
    " its result in the last digit or two at most. Words in [ ] say what happened and are no arithmetic."
)
KINDS = {"curve": "by its curve", "blend": "blended", "value": "worked out", "limit": "after limit", "round": "rounded"}


#: What else is worked out: the end of an anchor, and what makes a product one of its kind.
PARTIAL, HELD = "partial", "limit"
TITLES = {PARTIAL: "A partial figure: ", HELD: "A figure held by a limit: "}
ABOUT = {
    PARTIAL: "the best placed of those whose figure is partial, as a part of it is missing.",
    HELD: "the best placed of those whose figure a limit holds.",
}
COUNTS = ("One product", "Two products", "Three products")


def worked_section(found: Workings) -> Section:
    """The best-placed product's figures, number by number; then a partial one's and one's that a limit holds."""
    if found.explanation is None:
        said = paragraph("No score is published, so there is none to work out.")
        return Section("worked", runs(f"{COUNTS[0]}, worked out by hand"), (said,))
    others = tuple(_others(found, found.explanation))
    title = runs(f"{COUNTS[len(others)]}, worked out by hand")
    return Section("worked", title, worked_blocks(found, found.explanation), others)


def worked_blocks(found: Workings, explanation: Explanation, kind: str = "") -> tuple[Block, ...]:
    """One product's first score: what is worked out, the lines, and how well the figure is known."""
    note = explanation.outputs[0]
    product, label = _product(explanation), name(note.output.label)
    said: list[str | Run] = ["This is how ", product, " comes by its ", label]
    said += [f"; it is {ABOUT[kind]}"] if kind else [f". {KEYED}"]
    remarks = [labelled(one, labels(found.form)) for one in note.column.remarks.get(explanation.product, ())]
    said += [" Remarked on it: ", name("; ".join(remarks)), "."] if remarks else []
    return (
        paragraph(*said),
        Steps(_called(kind), runs(label, " of ", product, ", line by line."), tuple(_lines(found, explanation, note))),
        *_known(found, explanation),
    )


def _called(kind: str) -> str:
    return f"worked-{kind}" if kind else "worked"


def _product(explanation: Explanation) -> Run:
    catalogue = explanation.table.catalogue
    return name(catalogue.product_names.in_words(catalogue.products[explanation.product]))


def _others(found: Workings, first: Explanation) -> Iterator[Section]:
    """A section for each kind that no example before it is of."""
    shown = [(first.outputs[0].output.name, first.product)]
    for kind in (PARTIAL, HELD):
        of_kind = {column.output.name: _of_kind(found, column, kind) for column in found.headline}
        chosen = _best_of(found, of_kind)
        if chosen is None or any(product in of_kind[score] for score, product in shown):
            continue
        column, product = chosen
        shown.append((column.output.name, product))
        called, score = found.table.catalogue.products[product], column.output.name
        explanation = explanation_of(found.table, called, only=score, seed=first.seed)
        title = runs(TITLES[kind], name(column.output.label), " of ", _product(explanation))
        yield Section(_called(kind), title, worked_blocks(found, explanation, kind))


def _best_of(found: Workings, of_kind: dict[str, Collection[int]]) -> tuple[Column, int] | None:
    """The first score that has a product of a kind, and its best placed; of equals the first in the catalogue."""
    for column in found.headline:
        placed = [product for product in sorted(of_kind[column.output.name]) if column.rank[product] >= 1]
        if placed:
            return column, min(placed, key=lambda product: float(column.rank[product]))
    return None


def _of_kind(found: Workings, column: Column, kind: str) -> Collection[int]:
    """The products whose figure in a column is partial, or stands at a limit."""
    if kind == HELD:
        return held_by(found, column.output, stages(found.program, found.table.inputs)) if column.output.limits else ()
    return [product for product in range(len(column.status)) if column.status_text(product) == "partial"]


def _lines(found: Workings, explanation: Explanation, note: OutputNote) -> Iterator[Step]:
    used = {line.source for line in note.lines} | set(note.output.sources)
    used |= {source for line in note.lines for source in found.program.form.output(line.output).sources}
    for reading in explanation.readings:
        if reading.measure.name in used and not np.isnan(reading.value):
            yield from _reading(explanation, reading)
    for line in note.lines:
        yield Step(_what(found, line), line.arithmetic, _figure(line.value))
    yield from _end(explanation, note)


def _figure(value: float) -> str:
    return "0" if abs(value) < DUST else f"{value:.{SIGNIFICANT}g}"


def _reading(explanation: Explanation, reading: ReadingNote) -> Iterator[Step]:
    """The lines that turn what a product's cells say into one value: each that is converted, then all of them summed up."""
    measure, product = reading.measure, explanation.product
    states = explanation.table.catalogue.readings[measure.name].states[product]
    below, gone = int((states == State.BELOW).sum()), int((states == State.MISSING).sum())
    remarks = [f"{below} below the reporting limit"] if below else []
    remarks += [f"{gone} missing"] if gone else []
    for one in reading.converted:
        said = runs(name(measure.label), f", repeat {one.repeat}, ", name(one.as_read), ", as ", name(measure.unit))
        yield Step(said, one.arithmetic, f"{one.value:.10g}")
    what = runs(name(measure.label), ", ", name(measure.unit), f", {summary_in_words(measure)}")
    remarked = f" [{'; '.join(remarks)}]" if remarks else ""
    yield Step(what, reading.arithmetic + remarked, _figure(reading.value))


def _what(found: Workings, line: Line) -> tuple[Run, ...]:
    """What a line works out."""
    known = labels(found.form)
    label = name(known[line.output])
    if line.kind == "curve":
        return runs(label, ", from ", name(known.get(line.source, line.source)), " [", code(line.address), "]")
    return runs(label, f", {KINDS.get(line.kind, line.kind)} [", code(line.address), "]")


def _end(explanation: Explanation, note: OutputNote) -> Iterator[Step]:
    """From the unrounded figure to the shown one, the band and the place."""
    column, product = note.column, explanation.product
    rule = note.output.scale.show
    label = name(note.output.label)
    value = float(column.value[product])
    arithmetic = f"{_to_round(value, rule)} [rounded {rule.rule.value} to a multiple of {rule.step.text}]"
    yield Step(runs(label, ", shown"), arithmetic, column.shown_text(product))
    if not np.isnan(column.rank[product]):
        ranks = note.output.ranks
        kept = column.shown if ranks.on.value == "shown" else column.value
        ahead = int(((kept > kept[product]) if ranks.best.value == "highest" else (kept < kept[product])).sum())
        count = int((~np.isnan(column.rank)).sum())
        if ranks.ties.value == "shared-best":
            yield Step(
                runs(label, ", place"),
                f"{ahead} + 1 [{ahead} of {count} stand before it]",
                place_text(column.rank[product]),
            )


def _to_round(value: float, rule: Rounding) -> str:
    """A figure in so many digits that rounding what is printed gives what is shown."""
    step, how = rule.step.value, rule.rule.value
    short = _figure(value)
    same = round_to(float(short), step, how) == round_to(value, step, how)
    return short if same else f"{value:.13g}"


def _known(found: Workings, explanation: Explanation) -> Iterator[Block]:
    """How well the figure is known."""
    u = explanation.outputs[0].uncertainty
    if u is None:
        yield paragraph("Its uncertainty is not known: no repeatability is stated for what it leans on.")
        return
    first = ABSENT if np.isnan(u.first_order) else f"{u.first_order:.3f}"
    known = found.form.measures_by_name
    said: list[str | Run] = [
        f"Its standard uncertainty from repeats is {u.sd:.3f} points by Monte Carlo ({explanation.draws}"
        f" draws; 95 % of them from {u.low:.2f} to {u.high:.2f}), and {first} to first order."
    ]
    if u.budget:
        said.append(" Most of it comes of ")
        for index, (source, share) in enumerate(u.budget[:3]):
            said += [", " if index else "", name(known[source].label), f" ({share:.3f})"]
        said.append(".")
    yield paragraph(*said)
