"""The sections on how firm the ranking is, sensitivity and stability, and what their studies vary, how far, and who said so."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from analysis.indices.precision import TARGET
from analysis.indices.sensitivity import ScoreSensitivity
from analysis.indices.verdict import SIMULATION, group_rows, sensitivity_verdict
from analysis.languages.facts import Block, Points, Run, Runs, Section, Table
from analysis.languages.writing import code, name, paragraph, runs, table
from analysis.methods_appendix.pictures import index_picture
from analysis.methods_appendix.workings import Workings
from analysis.rankings.stability import ScoreStability
from analysis.rankings.verdict import ONE_DOSE, SOURCES, compared_rankings, stability_verdict
from analysis.report.source import file_of
from analysis.study.default import ANCHORS, BLEND_MOVES, BOUNDS, EXPONENTS, FACTOR
from analysis.wording import ABSENT, counted, kind_in_words, percent, place_text
from scoring.numbers.array_types import Array


def varied(found: Workings) -> Iterator[Block]:
    """The source of the study, its notes, and one row for everything that varies."""
    study = found.study
    counts: dict[str, int] = {}
    for factor in study.factors:
        counts[factor.kind] = counts.get(factor.kind, 0) + 1
    said = ", ".join(f"{kind_in_words(kind)} ({count})" for kind, count in counts.items()) or "nothing"
    own = f"exponents{f' and {BLEND_MOVES}' if BLEND_MOVES in counts else ''} by {percent(EXPONENTS)}"
    source = (
        f"The study is derived from the formula: each weight by {percent(FACTOR)}, anchors by {percent(ANCHORS)} of their"
        f" stretch, bounds of limits by {percent(BOUNDS)} of the scale, {own}, each mean against its"
        " rival, limits on or off, and the bench's noise. These ranges are a start and no finding of the laboratory's."
    )
    first: Runs = (Run(source),)
    if study.sha256:
        first = runs(
            "The study ", name(study.name), ", a file of sha256 ", code(study.sha256), ", says what varies and how far."
        )
    notes = [found.sentences.runs(note) for note in study.notes]
    yield Points((first, runs(f"Varied: {said}."), *notes))
    if study.factors:
        yield _resolved(found)
    for first_name, second_name, value in study.correlations:
        yield paragraph("Correlated: ", code(first_name), " and ", code(second_name), f", {value:g}.")


def _resolved(found: Workings) -> Table:
    """What varies, how, in what unit, and where that was said."""
    rows = [
        (
            code(factor.name),
            kind_in_words(factor.kind),
            (name(factor.stated),) if factor.stated else ABSENT,
            found.sentences.runs(factor.says),
            (name(factor.unit),) if factor.unit else "",
            (name(file_of(factor.origin)),),
        )
        for factor in found.study.factors
    ]
    caption = runs(
        "The study, resolved: everything that varies, and how. The shares below are shares of what this brings about."
    )
    return table("varied", caption, ("what varies", "group", "stated", "how", "unit", "from"), rows)


#: So many products are listed with their places over the draws.
LISTED = 12
#: Said under a table of indices where it shows.
SCATTER = (
    "Estimates scatter about their true value: one may pass 1 or fall below 0 by its noise, and an argument's share alone may"
    " come out above its share with interactions. Sentences hold shares to 0 to 100 %."
)
#: How a sentence of the stability study begins that the section on the bench says for all scores at once.
SAID_OF_THE_BENCH = "Two neighbours in this table are told apart from"


def _anchor(one: ScoreStability | ScoreSensitivity, what: str) -> str:
    return f"{what}-{one.quantities.output.name}"


def sensitivity_section(found: Workings) -> Section:
    """What moves the ranking: Sobol' indices over what the study varies."""
    title = runs("Sensitivity: what the ranking hangs on")
    if not found.sensitivity:
        return Section(
            "sensitivity", title, (*varied(found), paragraph(f"Not worked out: {found.why_no_sensitivity}."))
        )
    held = sum(one.converged for one in found.sensitivity)
    said = (
        f"Asked for: {found.asked.draws} base points a score at most. The sample doubles until every half-width of the mean"
        f" shift's indices is at most {TARGET:g} and the order of arguments has held, or the budget ends. That was reached for"
        f" {held} of {counted(len(found.sensitivity), 'score')}; where it was not, the last sentence says so, and the figures are"
        " rough: more draws (--draws) make them finer. An index alone is the share of the variance that one argument explains by"
        f" itself; with interactions, all in which it has a part. {SIMULATION}"
    )
    return Section(
        "sensitivity",
        title,
        (*varied(found), paragraph(said)),
        tuple(_sensitivity(found, one) for one in found.sensitivity),
    )


def _sensitivity(found: Workings, one: ScoreSensitivity) -> Section:
    verdict = Points(tuple(found.sentences.runs(sentence) for sentence in sensitivity_verdict(one)))
    blocks: list[Block] = [verdict]
    if one.swaps and one.indices.reacts[one.shift]:
        blocks.append(_indices(one))
        if not one.indices.lost[one.shift]:
            blocks.append(index_picture(one, sensitivity_verdict(one)[0]))
    return Section(_anchor(one, "sensitivity"), (name(one.quantities.output.label),), tuple(blocks))


def _indices(one: ScoreSensitivity) -> Table:
    i, q = one.indices, one.shift
    order = sorted(group_rows(one), key=lambda row: -float(np.nan_to_num(i.total[row, q])))
    rows: list[tuple[str, ...]] = []
    for row in order:
        alone = _index(i.first[row, q], i.first_low[row, q], i.first_high[row, q])
        together = _index(i.total[row, q], i.total_low[row, q], i.total_high[row, q])
        rows.append((kind_in_words(one.swaps[row].name), *alone, *together))
    caption = runs(name(one.quantities.output.label), ": shares of the variance of the mean shift in rank.")
    heads = ("what varies", "alone #", "95 % interval #", "with interactions #", "95 % interval #")
    scatters = estimates_scatter(i.first[order, q], i.total[order, q])
    return table(f"shares-{one.quantities.output.name}", caption, heads, rows, runs(SCATTER) if scatters else ())


def estimates_scatter(first: Array, total: Array) -> bool:
    """Whether some index lies where no true one can: above 1, below 0, or alone above what it is with interactions."""
    shown = np.round([first, total], 3)
    return bool((shown > 1).any() or (shown < 0).any() or (shown[0] > shown[1]).any())


def _index(value: float, low: float, high: float) -> tuple[str, str]:
    if np.isnan(value):
        return "–", "–"
    return f"{value:z.3f}", f"{low:z.3f} to {high:z.3f}"


def stability_section(found: Workings) -> Section:
    """How firm the ranking is."""
    title = runs("Stability: how firm the ranking is")
    if not found.stability:
        return Section("stability", title, (paragraph("No score is published, so there is no ranking to test."),))
    draws = max((s.n_draws for one in found.stability for s in one.by_source.values()), default=0)
    said = (
        f"Every ranking is drawn {draws} times from each source: judgement (all that the study varies but the bench), the bench's"
        f" noise ({ONE_DOSE}), and both. A re-test is a second table beside the published one, both with that noise. Shares of"
        " draws say how often something happened under these ranges; they are no probabilities that it is so."
    )
    return Section("stability", title, (paragraph(said),), tuple(_stability(found, one) for one in found.stability))


def _stability(found: Workings, one: ScoreStability) -> Section:
    output = one.quantities.output
    verdict = stability_verdict(one, found.benches.get(output.name), found.robustness.get(output.name))
    said = [sentence for sentence in verdict if not sentence.startswith(SAID_OF_THE_BENCH)]
    blocks: list[Block] = [Points(tuple(found.sentences.runs(sentence) for sentence in said))]
    if one.by_source and len(one.quantities.ids) > 1:
        blocks.append(_agreement(one))
        source = list(one.by_source)[-1]
        blocks.append(_places(one, source, found.called))
    return Section(_anchor(one, "stability"), (name(output.label),), tuple(blocks))


def _agreement(one: ScoreStability) -> Table:
    rows = []
    for source, spread in compared_rankings(one):
        cells = [
            f"{s.mean:.2f} ({s.low:.2f} to {s.high:.2f})" if not np.isnan(s.mean) else "–"
            for s in spread.agreement.values()
        ]
        rows.append((source, *cells))
    names = [
        f"top {one.quantities.top} overlap" if n == "top overlap" else n
        for n in next(iter(one.by_source.values())).agreement
    ]
    caption = runs(
        name(one.quantities.output.label), ": drawn rankings against the published one, mean (5 % to 95 % of draws)."
    )
    return table(f"agreement-{one.quantities.output.name}", caption, ("source", *(f"{n} #" for n in names)), rows)


def _places(one: ScoreStability, source: str, called: Sequence[Run]) -> Table:
    """Every product's places over the draws of one source; `called` are all of the catalogue, as cells say them."""
    spread, names = one.by_source[source], one.quantities
    rows = [
        (
            called[product],
            place_text(names.published[i]),
            place_text(spread.median[i]),
            f"{place_text(spread.low[i])} to {place_text(spread.high[i])}",
            percent(float(spread.first[i])),
            percent(float(spread.top[i])),
            percent(float(spread.absent[i])),
        )
        for i, product in enumerate(names.products[:LISTED].tolist())
    ]
    rest = len(names.ids) - len(rows)
    note = runs(f"The first {len(rows)} of {len(names.ids)}; steelyard stability lists all.") if rest > 0 else ()
    caption = runs(name(names.output.label), f": places over {spread.n_draws} draws. {SOURCES[source]}.")
    heads = (
        "product",
        "published #",
        "median #",
        "nine draws of ten #",
        "first in #",
        f"in the first {names.top} in #",
        "without a score in #",
    )
    return table(f"places-{names.output.name}", caption, heads, rows, note)
