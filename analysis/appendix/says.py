"""The section on what the scores say, and what they do not."""

from __future__ import annotations

from analysis.appendix.facts import Block, Points, Run, Runs, Section
from analysis.appendix.ratings import anchor_of
from analysis.appendix.workings import Workings
from analysis.appendix.writing import ABSENT, figure, link, listed_runs, name, paragraph, runs, table
from analysis.scores.document import cautions
from analysis.wording import counted


def says_section(found: Workings) -> Section:
    """What a figure stands for, and what it does not."""
    form = found.form
    blocks: list[Block] = [paragraph(name(form.note))] if form.note else []
    word = "score" if found.table.scores else "rating"
    n_products = len(found.table.catalogue.products)
    blocks += [
        paragraph(
            f"This appendix states how {counted(len(found.headline), word)} of {counted(n_products, 'product')} came about,"
            " so that every published figure can be worked out again from the readings. Everything in it follows from"
            " one formula file and one catalogue of readings, which ",
            link("Provenance", "provenance"),
            " names by their hashes.",
        ),
        _what_each_is_for(found, word),
        Points(tuple(_does_not_say(found, word))),
    ]
    return Section("says", runs(f"What the {word}s say and do not say"), tuple(blocks))


def _what_each_is_for(found: Workings, word: str) -> Block:
    rows: list[tuple[str | Run | Runs, ...]] = []
    for column in found.headline:
        output = column.output
        kind = "score" if output.section == "scores" else "rating"
        high = output.scale.high.text if output.scale.high is not None else "no top"
        rows.append(
            (
                link(output.label, f"{kind}-{anchor_of(output)}"),
                (name(output.note),) if output.note else "not stated",
                f"{output.scale.low.text} to {high}",
                str(int((column.rank >= 1).sum())),
                _distance(found, output.name),
            )
        )
    caption = runs(
        f"What each {word} is for, and from how many points on the bench tells two neighbours in its table apart."
    )
    note = runs(
        "Told apart from: the median over neighbours in the table, all pairs at once, at 95 %; by the noise of repeats alone."
    )
    return table("purposes", caption, (word, "for", "scale", "products published #", "told apart from #"), rows, note)


def _distance(found: Workings, score: str) -> str:
    """From how many points on two neighbours in a score's table are told apart."""
    told = found.benches.get(score)
    return ABSENT if told is None else figure(told.distance(), 2)


def _does_not_say(found: Workings, word: str) -> list[Runs]:
    """What must not be read into the figures, each from a fact of this formula and catalogue."""
    said = [
        runs(
            f"A {word} compares the specimens that were tested, under the conditions, anchors and weights stated here. With other"
            " weights or anchors there is another order: ",
            link("Sensitivity", "sensitivity"),
            " and ",
            link("Stability", "stability"),
            " say how far.",
        )
    ]
    neutral = [name(output.label) for output in found.form.outputs if output.neutral]
    if neutral:
        said.append(
            runs(
                *listed_runs(neutral),
                " describe"
                + ("s" if len(neutral) == 1 else "")
                + " and do"
                + ("es" if len(neutral) == 1 else "")
                + " not judge: more is not better in itself.",
            )
        )
    said.append(runs("Figures under another formula or version must not be put beside these."))
    return said


def cautions_section(found: Workings) -> Section:
    """The cautions that every publication of these figures carries."""
    items = tuple((name(caution),) for caution in cautions(found.form))
    said = paragraph("These go with every publication of the figures.")
    return Section("cautions", runs("Cautions"), (said, Points(items)))
