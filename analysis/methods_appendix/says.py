"""The section on what the scores say, and what they do not."""

from __future__ import annotations

from analysis.cautions import cautions
from analysis.languages.facts import Block, Points, Run, Runs, Section
from analysis.languages.writing import link, listed_runs, name, paragraph, runs, table
from analysis.methods_appendix.bench import noise_of_all, refuted_in_words, used_in_words
from analysis.methods_appendix.ratings import anchor_of
from analysis.methods_appendix.workings import Workings
from analysis.wording import counted

NEIGHBOURS = " From how many points on the bench tells two neighbours apart"


def says_section(found: Workings) -> Section:
    """What a figure stands for, and what it does not."""
    form = found.form
    blocks: list[Block] = [paragraph(found.nothing_published)] if found.nothing_published else []
    blocks += [paragraph(name(form.note))] if form.note else []
    word = "score" if found.table.scores else "rating"
    n_products = len(found.table.catalogue.products)
    blocks += [
        paragraph(
            f"This appendix states how {counted(len(found.headline), word)} of {counted(n_products, 'product')} came about,"
            " so that every published figure can be worked out again from the readings: workings.csv, beside this document, holds"
            " of every product the value of each measure, and each rating and score unrounded and as shown; repeats.csv holds"
            " every reading as it was written down, and what was made of it. Everything in it follows from one formula file and"
            " one catalogue of readings, which ",
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
            )
        )
    heads = (word, "for", "scale", "products published #")
    return table("purposes", runs(f"What each {word} is for."), heads, rows)


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
    if found.benches:
        said.append(
            runs(
                used_in_words(found) + noise_of_all(found).at_best(NEIGHBOURS) + ": ",
                link("What the bench can tell apart", "bench"),
                ".",
            )
        )
        said += refuted_in_words(found)
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
