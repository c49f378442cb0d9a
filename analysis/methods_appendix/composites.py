"""The section on scores as composites: what each blends, with what stated and what effective importance."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from analysis.importance.study import ScoreWeights
from analysis.importance.verdict import signed_percent, span, weight_percent, weights_verdict
from analysis.languages.facts import Block, Points, Run, Runs, Section, Table
from analysis.languages.writing import (
    Head,
    code,
    figure,
    figures_of,
    labels,
    link,
    name,
    paragraph,
    runs,
    table,
)
from analysis.methods_appendix.own_rules import own_rules_in_words
from analysis.methods_appendix.pictures import drawn
from analysis.methods_appendix.ratings import about, anchor_of, curves, equations
from analysis.methods_appendix.rules import limits_in_words, missing_in_words, rounding_in_words
from analysis.methods_appendix.workings import Workings
from analysis.scores.figures import contribution_picture
from analysis.wording import ABSENT, counted
from scoring.blends import BLENDS
from scoring.form import Output

WORTH = (
    "part",
    "weight #",
    "share #",
    "squared share #",
    "effective share #",
    "95 % interval #",
    "Shapley share #",
    "95 % interval #",
    "address",
)
#: So many of the best placed products are split into their parts in a picture; all scores stand in the score table.
MOST_SPLIT = 20


def composites_section(found: Workings) -> Section:
    """Every score."""
    if not found.form.scores:
        said = "This formula has no composite scores: its ratings are what is published."
        return Section("composites", runs("Scores"), (paragraph(said),))
    said = (
        "A score blends ratings. Its stated weights say how it is worked out. How much each part sets the products of this"
        " catalogue apart is another thing, and stands beside them: the effective share is the part's share of the variance of"
        " the weighted mean over the catalogue, cov(y, w x) / var(y), which adds to 100 % and may be negative where a part goes"
        " against the rest; the Shapley share is never negative. Both change with the catalogue. With equal spread and no"
        " correlation of the parts both would be the squared share, the weight's square over the sum of squares: what differs"
        " from it comes of how far the parts spread and of how they go together."
    )
    weights = {one.name: one for one in found.weights}
    parts = tuple(_score(found, output, weights.get(output.name)) for output in found.form.scores)
    return Section("composites", runs("Scores"), (paragraph(said),), parts)


def _score(found: Workings, output: Output, weights: ScoreWeights | None) -> Section:
    return Section(f"score-{anchor_of(output)}", (name(output.label),), tuple(_blocks(found, output, weights)))


def _blocks(found: Workings, output: Output, weights: ScoreWeights | None) -> Iterator[Block]:
    yield paragraph(*about(output))
    if output.blend is not None:
        says = BLENDS[output.blend.value].says
        address = (" [", code(output.blend.address), "].")
        yield paragraph(f"Blend: {output.blend.value}" + (f"; {says}" if says else ""), *address)
    yield equations(found, output)
    yield from curves(found, output)
    if output.parts:
        yield _worth(found, output, weights)
    rules = [*limits_in_words(found.form, output), missing_in_words(found.form, output), rounding_in_words(output)]
    yield Points((*rules, *own_rules_in_words(found.form, output)))
    if weights is not None:
        yield Points(tuple(found.sentences.runs(sentence) for sentence in weights_verdict(labelled(weights, found))))
        if weights.redundancy is not None and weights.parts is not None:
            yield _together(found, weights)
    column = found.table.column(output.name)
    if (column.rank >= 1).any() and (output.parts or output.value is not None):
        split = contribution_picture(found.table, output.name, found.program, tried=found.tried, most=MOST_SPLIT)
        yield drawn(split, f"parts-{output.name}")


def labelled(weights: ScoreWeights, found: Workings) -> ScoreWeights:
    """What weights are worth with parts under their labels, as every table here has them."""
    known = labels(found.form)
    if weights.parts is None:
        return weights
    parts = replace(weights.parts, names=tuple(known[source] for source in weights.parts.names))
    return replace(weights, parts=parts, named=tuple(known[source] for source in weights.named))


def _worth(found: Workings, output: Output, weights: ScoreWeights | None) -> Table:
    """Each part's weight, its share, and what it is worth on the catalogue."""
    known = labels(found.form)
    stated = np.array([part.weight.value if part.weight is not None else 1.0 for part in output.parts])
    importance = weights.importance if weights is not None else None
    ends = {kind: importance.of(kind) for kind in ("effective", "shapley")} if importance is not None else {}
    rows: list[tuple[str | Run | Runs, ...]] = []
    for index, part in enumerate(output.parts):
        cells: list[str] = []
        for kind in ("effective", "shapley"):
            value, low, high = (a[index] for a in ends[kind]) if kind in ends else (np.nan, np.nan, np.nan)
            cells += [signed_percent(value), span(low, high) or ABSENT]
        text = part.weight.text if part.weight is not None else "1 (equal)"
        address = code(part.weight.address if part.weight is not None else part.address)
        target = _target(found, part.source)
        source = (link(known[part.source], target),) if target else (name(known[part.source]),)
        rows.append(
            (
                source,
                text,
                weight_percent(float(stated[index] / stated.sum())) if stated.sum() else ABSENT,
                weight_percent(float(stated[index] ** 2 / np.sum(stated**2))) if stated.sum() else ABSENT,
                *cells,
                address,
            )
        )
    caption = runs("What the parts of ", name(output.label), " weigh, and what they are worth on this catalogue.")
    return table(f"weights-{output.name}", caption, WORTH, rows)


def _target(found: Workings, source: str) -> str:
    """The anchor of the section about a part, "" for a measure."""
    for output in found.form.outputs:
        if output.name == source:
            return f"{'rating' if output.section == 'ratings' else 'score'}-{anchor_of(output)}"
    return ""


def _together(found: Workings, weights: ScoreWeights) -> Table:
    """How the parts go together over the products: the multivariate look."""
    assert weights.redundancy is not None  # only asked where it is there
    assert weights.parts is not None
    known, parts = labels(found.form), weights.parts
    rows: list[tuple[str | Run | Runs, ...]] = []
    for i, source in enumerate(parts.names):
        correlations = [figure(value, 2) for value in weights.redundancy.spearman[i]]
        rows.append(((name(known[source]),), *correlations, figure(weights.redundancy.inflation[i], 3)))
    heads: list[Head] = ["part", *(figures_of(known[source]) for source in parts.names), "variance inflation #"]
    caption = runs(
        "Rank correlation (Spearman) of the parts of ",
        name(weights.label),
        f" over {counted(len(parts.ids), 'product')}, and variance inflation.",
    )
    note = runs(f"Cronbach's alpha of the standardised parts: {figure(weights.redundancy.alpha, 2)}.")
    return table(f"correlations-{weights.name}", caption, heads, rows, note)
