"""What the studies of sensitivity and stability vary, how far, and who said so: the resolved table of the study."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.languages.facts import Block, Points, Run, Runs, Table
from analysis.languages.writing import ABSENT, code, name, paragraph, runs, table
from analysis.methods_appendix.workings import Workings
from analysis.report.studied import file_of
from analysis.study.default import ANCHORS, BLEND_MOVES, BOUNDS, EXPONENTS, FACTOR
from analysis.wording import kind_in_words, percent


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
