"""The score table: every rating and score of every product, as it is published, and what the table remarks on a product.

Remarks are what is missing of a figure, why there is none, and which limit holds it or which part alone it is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from analysis.languages.facts import Block, Paragraph, Run, Runs, Section, Table
from analysis.languages.writing import Head, figures_of, labels, link, name, paragraph, runs, table, words_of
from analysis.methods_appendix.workings import Workings
from analysis.rankings.distinguishable import Distinguishable
from analysis.scores.class_firsts import firsts_table
from analysis.wording import ABSENT, counted, listed, place_text
from scoring.form import Limit, Output
from scoring.numbers.array_types import Array, Flags
from scoring.program.program import Step
from scoring.table.evaluate import stages
from scoring.table.table import Column

#: How the score table's remarks on a source begin, after its name.
SAID = ("is missing", "does not apply", "is itself partial", "has readings below the reporting limit")
#: A limit that moves a figure by less than this is the dust of binary arithmetic.
DUST = 1e-9
UNEVEN = "noise lies unevenly"


def remarks_on(
    found: Workings, column: Column, worked: Mapping[str, Array], told: Distinguishable | None
) -> dict[int, str]:
    """Product to everything that is remarked on its figure.

    Parameters
    ----------
    worked : every step of the arithmetic by its symbol, arrays of shape (1, products)
    told : what the bench tells apart in this column; None for nothing
    """
    known = labels(found.form)
    held = held_by(found, column.output, worked)
    uneven = _uneven(found, column.output.name, told)
    made: dict[int, str] = {}
    for product in range(len(column.status)):
        said = [labelled(remark, known) for remark in column.remarks.get(product, ())]
        if column.status_text(product) == "unrated":
            said += why_none(found, column.output, product)
        if column.rank[product] >= 1:
            said += [held[product]] if product in held else _decided(found, column, product, known)
            said += [UNEVEN] if product in uneven else []
        if said:
            made[product] = "; ".join(said)
    return made


def _decided(found: Workings, column: Column, product: int, known: Mapping[str, str]) -> list[str]:
    """The parts that are the figure, where one part alone is."""
    parts = [known.get(part, part) for part in found.table.decided_by(column, product)]
    return [f"decided by {listed(parts)}"] if parts else []


def labelled(remark: str, known: Mapping[str, str]) -> str:
    """A remark that begins with a source's name, with its label instead."""
    source, _, rest = remark.partition(" ")
    return f"{known[source]} {rest}" if source in known and rest.startswith(SAID) else remark


def why_none(found: Workings, output: Output, product: int) -> Iterator[str]:
    """Which rule leaves a product without a figure: what is needed, or the gap against the most that may be missing."""
    known, presence = labels(found.form), found.table.evaluation.presence
    weights = {part.source: part.weight.value if part.weight is not None else 1.0 for part in output.parts}
    if output.value is not None:
        weights = dict.fromkeys(output.value.names, 1.0)

    def at(flags: Flags) -> bool:
        return bool(flags[0, product if flags.shape[1] > 1 else 0])

    gone = {s for s in (*weights, *output.missing.needs) if at(presence.applies[s]) and not at(presence.here[s])}
    for needed in output.missing.needs:
        if needed in gone:
            yield f"no figure without {known.get(needed, needed)}"
    asked = [*output.missing.needs, *(name for name in weights if output.missing.asks_for_all and weights[name] > 0)]
    for source in dict.fromkeys(asked):
        if not at(presence.applies[source]):
            yield f"no figure where {known.get(source, source)} does not apply"
    total = sum(weight for source, weight in weights.items() if at(presence.applies[source]))
    share = sum(weights.get(source, 0.0) for source in gone) / total if total > 0 else 0.0
    most = output.missing.absent_above.value
    if output.value is not None and output.missing.otherwise.value != "lowest":
        if gone - set(output.missing.needs):
            yield "no figure without all of its expression"
    elif share > most + DUST:
        yield f"gap of {100 * share:.3g} % > {100 * most:.6g} %"


def held_by(found: Workings, output: Output, worked: Mapping[str, Array]) -> dict[int, str]:
    """Product to the limit that its figure stands at: the last that moved it."""
    limits = {limit.address: (number, limit) for number, limit in enumerate(output.limits, start=1)}
    held: dict[int, str] = {}
    before: Array | None = None
    for step in found.program.steps:
        if step.output != output.name or not _carries(step, output):
            continue
        value = np.broadcast_to(worked[str(step.symbol)], (1, len(found.table.catalogue.products)))[0]
        if step.kind == "limit" and before is not None and step.address in limits:
            for product in np.flatnonzero(np.abs(value - before) > DUST).tolist():
                held[product] = _held(*limits[step.address])
        before = value
    return held


def _carries(step: Step, output: Output) -> bool:
    """Whether a step's result is the output's own value so far, and not a bound or one part of several."""
    if step.kind == "curve":
        return len(output.parts) == 1 and step.address == output.parts[0].address
    return step.kind in ("blend", "value", "limit")


def _held(number: int, limit: Limit) -> str:
    sense = "at most" if limit.sense == "at_most" else "at least"
    bound = f"{sense} {limit.bound.text}" if limit.bound is not None else f"{sense} a bound that follows {limit.on}"
    return f"held by limit {number} ({bound})"


def _uneven(found: Workings, score: str, told: Distinguishable | None) -> set[int]:
    one = next((one for one in found.stability if one.quantities.output.name == score), None)
    if told is None or one is None:
        return set()
    return {int(one.quantities.products[i]) for i in told.uneven}


def published_section(found: Workings) -> Section:
    """All figures that are published."""
    said = (
        "Shown figures; * marks a partial one, of which a part is missing. A dash, “withheld” and “not"
        " applicable” stand where there is no figure, and the remarks say which rule leaves it out. A part that is itself partial"
        " counts as whole in the share of what is missing. workings.csv, beside this document, holds what no table here has room"
        " for: of every product the value of each measure, its state and its repeats, and each rating and score unrounded and as"
        " shown."
    )
    ratings = (_ratings(found),) if found.table.ratings else ()
    worked = stages(found.program, found.table.inputs)
    scores = tuple(
        Section(f"table-{column.output.name}", (name(column.output.label),), _blocks(found, column, worked))
        for column in tabled(found)
    )
    return Section("published", runs("The score table"), (paragraph(said), *ratings), scores)


def _blocks(found: Workings, column: Column, worked: Mapping[str, Array]) -> tuple[Block, ...]:
    """A score's table, and under it whether its first place stands on a missing part."""
    said = [one.says for one in found.first_places if one.name == column.output.name]
    paragraphs = [Paragraph(found.sentences.runs(sentence)) for sentence in said]
    return (_score(found, column, worked), *paragraphs, *_first_in_classes(found, column))


def _first_in_classes(found: Workings, column: Column) -> Iterator[Table]:
    """Who is first in each class, and whether the bench tells them apart from the others of it; nothing without classes."""
    firsts = firsts_table(found.table, column, lambda: found.benches)
    if firsts is None:
        return
    heads: list[Head] = [figures_of(one.heading) if one.numeric else words_of(one.heading) for one in firsts.columns]
    rows = [tuple((name(cell),) for cell in row) for row in firsts.cells()]
    note = found.sentences.runs(" ".join(firsts.notes))
    yield table(f"classes-{column.output.name}", runs(name(firsts.title)), heads, rows, note)


def _class_of(column: Column, product: int) -> tuple[Runs, ...]:
    """A product's class and its place there, in the one cell that there is where places are counted within classes."""
    if column.within is None:
        return ()
    word, text = column.within.classes.words[product], column.within.text(product) or ABSENT
    return ((name(f"{word}: {text}" if word else text),),)


def tabled(found: Workings) -> tuple[Column, ...]:
    """The columns that get a table of their own: the headline, and whatever else a study looks at."""
    names = [one.quantities.output.name for one in found.stability]
    return (
        *found.headline,
        *(c for c in found.table.ratings + found.table.scores if c.output.name in names and c not in found.headline),
    )


def shown(column: Column, product: int) -> str:
    """The figure as it is published, or what stands in its place."""
    status = column.status_text(product)
    text = column.shown_text(product)
    if text:
        return f"{text}*" if status == "partial" else text
    return ABSENT if status == "unrated" else status


def _ratings(found: Workings) -> Table:
    columns = found.table.ratings
    rows: list[tuple[str | Run | Runs, ...]] = [
        (product, *(shown(column, i) for column in columns)) for i, product in enumerate(found.called)
    ]
    heads: list[Head] = ["product", *(figures_of(column.output.label) for column in columns)]
    return table("ratings", runs("Ratings of every product, in the order of the catalogue."), heads, rows)


def _score(found: Workings, column: Column, worked: Mapping[str, Array]) -> Table:
    """One score: place, product, figure, band, what the bench leaves open, remarks."""
    bench = _bench(found, column.output.name)
    remarks = remarks_on(found, column, worked, found.benches.get(column.output.name))
    order = np.argsort(np.where(np.isnan(column.rank), np.inf, column.rank), kind="stable").tolist()
    rows: list[tuple[str | Run | Runs, ...]] = []
    called = found.called
    for i in order:
        band = found.table.band_name(column, i)
        rows.append(
            (
                called[i],
                place_text(column.rank[i]),
                *_class_of(column, i),
                shown(column, i),
                (name(band),) if band else ABSENT,
                *(bench.get(i, (ABSENT,) * 3) if bench else ()),
                (name(remarks[i]),) if i in remarks else "",
            )
        )
    word = "score" if column.output.section == "scores" else "rating"
    count = int((~np.isnan(column.rank)).sum())
    own = () if column.within is None else (words_of(f"in {column.within.classes.label}"),)
    open_places = ("u #", "may hold #", "group") if bench else ()
    heads: list[Head] = ["product", "place #", *own, f"{word} #", "band", *open_places, "remarks"]
    caption = runs(
        name(column.output.label),
        f": {count} of {counted(len(order), 'product')} {'is' if count == 1 else 'are'} published.",
    )
    return table(f"scores-{column.output.name}", caption, heads, rows, _note(found, column.output.name, remarks))


def _bench(found: Workings, score: str) -> dict[int, tuple[str, str, str]]:
    """Product to u, the places that it may hold, and the letters of its groups; empty where the bench says nothing."""
    told = found.benches.get(score)
    one = next((one for one in found.stability if one.quantities.output.name == score), None)
    if told is None or one is None:
        return {}
    return {
        int(product): (f"{told.sd[i]:.3f}", may_hold(told, i), " ".join(told.groups.letters[i]))
        for i, product in enumerate(one.quantities.products.tolist())
    }


def may_hold(told: Distinguishable, i: int) -> str:
    """The places that the bench leaves open to a product."""
    low, high = int(told.sets.low[i]), int(told.sets.high[i])
    marks = "~" if told.sets.low_unsure[i] else "", "~" if told.sets.high_unsure[i] else ""
    return f"{low}{marks[0]}" if low == high and not any(marks) else f"{low}{marks[0]} to {high}{marks[1]}"


def _note(found: Workings, score: str, remarks: Mapping[int, str]) -> Runs:
    told = found.benches.get(score)
    if told is None:
        return ()
    said: list[str | Run] = ["u, may hold and group: see ", link("What the bench can tell apart", "bench"), "."]
    if any("held by limit" in remark for remark in remarks.values()):
        said.append(
            " Where a limit holds a figure, u is that of the figure as held: the bound makes it small, and not the bench."
        )
    if any(UNEVEN in remark for remark in remarks.values()):
        said.append(
            f" {UNEVEN.capitalize()}: a limit or the end of a curve is near, and the places given rest on a normal law that holds"
            " badly there."
        )
    if not told.groups.exact:
        said.append(
            told.noise.at_best(" Groups are runs of the table here; products that share no letter are told apart.")
        )
    if (told.sets.low_unsure | told.sets.high_unsure).any():
        said.append(" ~ marks a bound within the simulation's own error: another seed may move it.")
    return runs(*said)
