"""Why a product scores what it scores, as a report: readings, gates, and each figure number by number."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from analysis.explanation.as_read_table import as_read_table, as_said
from analysis.explanation.contributions import Contributions
from analysis.explanation.document import explanation_body, explanation_frame
from analysis.explanation.explanation import (
    Explanation,
    OutputNote,
    Uncertainty,
    explanation_of,
    sds,
)
from analysis.explanation.trace import SIGNIFICANT, Line
from analysis.explanation.verdict import (
    change_in_words,
    decided_in_words,
    gate_in_words,
    headline,
    made_of,
    parts_of_u,
    shown_in_words,
    terms_of,
    uncertainty_in_words,
    way_up,
    ways_up,
    whats_worked_out,
)
from analysis.report.given import Given, Readings, scored
from analysis.report.report import Block, Report, Said, Section
from analysis.report.source import Edition, Source
from analysis.report.tables import Column, OnScreen, Table, Values, computed, figures, moves, words
from analysis.wording import significant
from scoring.form import Form
from scoring.table.selection import Where

LEGEND = "In a trace, words in [ ] say what happened and are no arithmetic; log is the natural logarithm."
#: Digits of what is known of a reading's error.
ERROR_DIGITS = 3
#: How far lines of a figure, and what belongs to one of them, are set in on a terminal.
IN, DEEPER = "  ", "     "
NOT_PUBLISHED = "not published; what can be worked out from what is there:"
PAGES_ALONE = OnScreen(most=0)


def explain(
    formula: Given,
    catalogue: Readings,
    product: str,
    *,
    score: str | None = None,
    without: Sequence[str] = (),
    where: Where = None,
    seed: int = 0,
) -> Report:
    """Why a product scores what it scores.

    Parameters
    ----------
    formula : read, or the path of its file; catalogue : read, a pandas frame, or the path of its file
    where : the products to show and rank, as `score` takes them
    product : its id
    score : one score or rating; all by default
    without : readings to set aside, each `MEASURE/REPEAT` (of this product) or `PRODUCT/MEASURE/REPEAT`

    Returns
    -------
    Report : `found` is an `Explanation`

    Raises
    ------
    SteelyardError : a fault of the formula or the catalogue, or no such product, score or reading
    """
    table = scored(formula, catalogue, where)
    return explanation_report(explanation_of(table, product, only=score, set_aside=without, seed=seed))


def explanation_report(found: Explanation) -> Report:
    """The same of what was worked out."""
    table, product = found.table, found.table.catalogue.products[found.product]
    source = Source(
        {"": Edition(table.form, table.catalogue)},
        table.settings,
        found.seed,
        about={"product": product, "set_aside": found.set_aside},
        draws=found.draws,
        selected=table.selected,
    )
    stated = attributes_of(found)
    together = together_table(found)
    return Report(
        command="explain",
        title=f"{table.form.title}: {product}, number by number",
        heading=f"{product} under {source.headed}. {', '.join(f'{name} {word}' for name, word in stated.items())}".rstrip(
            " ."
        ),
        source=source,
        sections=(
            Section("", "What was read", (), tuple(_of_the_product(found))),
            *(_section(found, note) for note in found.outputs),
            *([Section("errors-of-two-scores", "Errors of two scores", (), (together,))] if len(together) else []),
        ),
        body=lambda: explanation_body(found),
        whole=lambda: explanation_frame(found),
        found=found,
        closing=(LEGEND,),
    )


def attributes_of(found: Explanation) -> dict[str, str]:
    """What the catalogue says of the product in words, where it says anything."""
    return _stated(found, found.table.catalogue.attributes)


def _stated(found: Explanation, attributes: Mapping[str, Sequence[str]]) -> dict[str, str]:
    """The words of the product, where there are any."""
    return {name: of[found.product] for name, of in attributes.items() if of[found.product]}


def _of_the_product(found: Explanation) -> list[Block]:
    """What the product is, what is set aside and what that moves, the readings, what makes their errors, and the gates."""
    blocks: list[Block] = [attributes_table(found)]
    product = found.table.catalogue.products[found.product]
    own = [one for one in found.table.catalogue.published_corrections if one.product in (product, "")]
    blocks += [Said(tuple(f"corrected: {one.says}" for one in own))] if own else []
    if found.set_aside:
        title = f"Without {', '.join(found.set_aside)} (all below is without it):"
        nothing = Said((title, "no figure of this product moves."))
        blocks.append(Said(tuple(one.says for one in found.disputed)))
        blocks.append(challenge_table(found, title) if found.challenges else nothing)
    return [*blocks, readings_table(found), as_read_table(found), components_table(found), gates_table(found)]


def _section(found: Explanation, note: OutputNote) -> Section:
    """One rating or score: its figure, trace, contributions, uncertainty, and the way to the next band."""
    blocks: list[Block] = []
    published = not np.isnan(note.column.value[found.product])
    if note.lines:
        blocks.append(trace_table(found, note, published=published))
    if published:
        decided = found.table.decided_by(note.column, found.product)
        blocks.append(Said((IN + shown_in_words(found, note), *([IN + decided_in_words(decided)] if decided else []))))
        if note.contributions is not None and len(note.contributions.parts) > 1:
            blocks.append(contributions_table(note.contributions))
        first, *rest = uncertainty_in_words(found, note)
        blocks.append(Said((IN + first, *(DEEPER + line for line in rest))))
        if note.uncertainty is not None:
            blocks.append(budget_table(note.uncertainty))
    blocks.append(Said(tuple(IN + one.says for one in found.partial if one.name == note.output.name)))
    if note.next_band is not None:
        blocks.append(_next_band(found, note, *note.next_band))
    return Section(note.output.name, note.output.label, (headline(found, note),), tuple(blocks), close=True)


def _error(key: str, heading: str, values: Values) -> Column:
    """What is known of an error, "–" where nothing is."""
    return computed(heading, {key: values}, lambda value: significant(value, ERROR_DIGITS))


def _freedom(values: Values) -> Column:
    """Degrees of freedom, empty where the size is known."""
    return computed("freedom", {"freedom": values}, lambda value: f"{value:.3g}" if np.isfinite(value) else "")


def attributes_table(found: Explanation) -> Table:
    """What the product is; a terminal says it in its first line."""
    stated = _stated(found, found.table.catalogue.published)
    return Table(
        "attributes",
        "The product",
        (
            words("attribute", "attribute", list(stated), kind="name"),
            words("word", "stated", list(stated.values()), kind="name"),
        ),
        on_screen=PAGES_ALONE,
    )


def challenge_table(found: Explanation, title: str) -> Table:
    """What the readings that were set aside change."""
    moved = found.challenges

    def side(name: str, heading: str) -> list[Column]:
        held = [one.before if name == "before" else one.after for one in moved]
        return [
            computed(heading, {f"{name}_shown": [one.shown for one in held]}, str),
            computed("#", {f"{name}_rank": [one.rank for one in held]}, str),
            words(f"{name}_band", "band", [one.band for one in held], kind="name"),
        ]

    return Table(
        "challenges",
        title,
        (
            words("label", "rating or score", [one.output.label for one in moved], kind="name"),
            *side("before", "with"),
            *side("after", "without"),
            moves("move", "moved by", [one.move for one in moved], 4, unit="points"),
            words("remarks", "remarks", [one.remarks for one in moved], kind="name"),
        ),
        hidden={"output": [one.output.name for one in moved]},
    )


def readings_table(found: Explanation) -> Table:
    """The readings, their summary and its standard uncertainty."""
    notes = found.readings
    return Table(
        "readings",
        "Readings",
        (
            words("measure", "measure", [note.measure.name for note in notes], kind="name"),
            replace(
                words("repeats", "readings", [", ".join(as_said(note, note.repeats)) for note in notes], kind="name"),
                to_the_lead=[", ".join(as_said(note, note.said)) for note in notes],
            ),
            words("summary", "summary", [note.measure.repeats.value for note in notes]),
            computed("value", {"value": [note.value for note in notes]}, lambda value: significant(value, SIGNIFICANT)),
            _error("repeat_sd", "repeat sd", [note.repeat_sd for note in notes]),
            _error("u", "u", [note.u for note in notes]),
            _freedom([note.freedom for note in notes]),
            words("unit", "unit", [note.measure.unit for note in notes], kind="name"),
        ),
    )


def components_table(found: Explanation) -> Table:
    """What each component of the error makes of the uncertainty of a value, where there are several."""
    several = [note for note in found.readings if len(note.parts) > 1]
    parts = [(note.measure, part) for note in several for part in note.parts]
    return Table(
        "components",
        "What u of a value is made of",
        (
            words("measure", "measure", [measure.name for measure, _ in parts], kind="name"),
            words("component", "component", [part.component.replace("_", " ") for _, part in parts]),
            _error("u", "u", [part.u for _, part in parts]),
            words("unit", "unit", [measure.unit for measure, _ in parts], kind="name"),
            _freedom([part.freedom for _, part in parts]),
            words("origin", "from", [part.origin for _, part in parts]),
        ),
        on_screen=OnScreen(lines=("u of a value is made of:", *(IN + parts_of_u(note) for note in several), "")),
    )


def gates_table(found: Explanation) -> Table:
    """What each gate was judged on, and what it says."""
    gates = found.gates
    return Table(
        "gates",
        "Gates",
        (
            words("gate", "gate", [one.name for one in gates], kind="name"),
            words("condition", "condition", [one.condition for one in gates], kind="code"),
            words(
                "values",
                "stands at",
                [", ".join(f"{name} {value}" for name, value in one.values) for one in gates],
                kind="name",
            ),
            computed("guard band to either side", {"reach": [one.reach for one in gates]}, _reach),
            words("remark", "says", [one.remark or "passes" for one in gates], kind="name"),
        ),
        on_screen=OnScreen(lines=(*(gate_in_words(one) for one in gates), "")),
    )


def _reach(value: float | None) -> str:
    return "" if value is None or np.isnan(value) else significant(value, 4)


def trace_table(found: Explanation, note: OutputNote, *, published: bool) -> Table:
    """Every step with its numbers in, as a person would key it in."""
    lines, form = note.lines, found.table.form
    said = () if published else (IN + NOT_PUBLISHED,)
    return Table(
        "trace",
        "Number by number" if published else f"{note.output.label} is {NOT_PUBLISHED.removesuffix(':')}",
        (
            words("line", "what", [whats_worked_out(form, line) for line in lines], kind="name"),
            words("arithmetic", "arithmetic", [line.arithmetic for line in lines], kind="code"),
            computed("gives", {"value": [line.value for line in lines]}, lambda value: significant(value, SIGNIFICANT)),
        ),
        hidden={
            "output": [line.output for line in lines],
            "kind": [line.kind for line in lines],
            "address": [line.address for line in lines],
        },
        on_screen=OnScreen(lines=(*said, *(IN + _keyed_in(form, line) for line in lines)), whole=True),
    )


def _keyed_in(form: Form, line: Line) -> str:
    return f"{whats_worked_out(form, line)}: {line.arithmetic} = {significant(line.value, SIGNIFICANT)}"


def contributions_table(found: Contributions) -> Table:
    """What each part contributes, and what limits and rounding add."""
    terms = terms_of(found)
    return Table(
        "contributions",
        "What each part contributes",
        (
            words("part", "part", [name for name, _ in terms], kind="name"),
            moves("points", "points", [points for _, points in terms], 4, unit="points"),
        ),
        notes=(made_of(found),),
        on_screen=OnScreen(lines=(IN + made_of(found),)),
    )


def budget_table(found: Uncertainty) -> Table:
    """What each measure makes of the uncertainty, to first order."""
    return Table(
        "budget",
        "What the uncertainty comes from, to first order, each measure by itself",
        (
            words("measure", "measure", [measure for measure, _ in found.budget], kind="name"),
            figures("u", "u", [share for _, share in found.budget], 3, unit="points"),
        ),
        on_screen=PAGES_ALONE,
    )


def _next_band(found: Explanation, note: OutputNote, name: str, edge: float) -> Block:
    """The least change of each measure alone that reaches the next band."""
    known, units = sds(found), found.table.form.units
    changes = ways_up(note, known)
    title = way_up(name, edge, changes)
    if not changes:
        return Said((IN + title,))
    says = [change_in_words(one, units[one.measure], known.get(one.measure)) for one in changes]
    lines = (f"{DEEPER}{one.measure} {text}" for one, text in zip(changes, says, strict=True))
    return Table(
        "next_band",
        f"{title[:1].upper()}{title[1:]}",
        (
            words("measure", "measure", [one.measure for one in changes], kind="name"),
            words("says", "least change", says),
        ),
        hidden={
            "change": [one.change for one in changes],
            "reading": [one.reading for one in changes],
            "beyond": [one.beyond for one in changes],
            "repeat_sd": [known.get(one.measure) for one in changes],
            "unit": [units[one.measure] for one in changes],
        },
        on_screen=OnScreen(lines=(f"{IN}{title}:", *lines)),
    )


def together_table(found: Explanation) -> Table:
    """How the errors of its scores are correlated."""
    form, pairs = found.table.form, list(found.together)
    return Table(
        "correlations",
        "Errors of two scores: the same readings",
        (
            words("score", "score", [form.output(one).label for one, _ in pairs], kind="name"),
            words("and_score", "and score", [form.output(other).label for _, other in pairs], kind="name"),
            moves("correlation", "correlation", [found.together[pair] for pair in pairs], 2),
        ),
    )
