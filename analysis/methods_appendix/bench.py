"""The section on what the bench can tell apart: what u and places rest on, and from how many points on two products differ."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.languages.facts import Block, Points, Run, Runs, Section, Table
from analysis.languages.writing import ABSENT, link, listed_runs, name, paragraph, runs, table
from analysis.methods_appendix.pictures import drawn
from analysis.methods_appendix.repeatability_used import refuted_in_words, used_in_words
from analysis.methods_appendix.workings import Workings
from analysis.noise_in_words import noise_in_words
from analysis.rankings.stability import ScoreStability
from analysis.rankings.told_apart import ToldApart
from analysis.scores.figures import uncertainty_picture

SAID = (
    "In the score table, u is the standard uncertainty of a score: how it scatters when every reading is drawn again with the"
    " declared components of its error. The noise is that of {noise}. The places that a product may hold form one joint 95 %"
    " confidence statement for the whole table: all of them hold together, as far as those components are right. Where one is"
    " estimated, its degrees of freedom are reckoned with. That is said of each table by itself: where several scores are"
    " published, all their statements hold at once less often. Products that share a letter are not told apart; those that share"
    " none are."
)


def bench_section(found: Workings) -> Section:
    """What the bench can tell apart, score by score."""
    title = runs("What the bench can tell apart")
    if not found.benches:
        said = "No repeatability is known for what the scores lean on, so nothing is said of what the bench can tell apart."
        return Section("bench", title, (paragraph(said),))
    there = [one for one in found.stability if one.quantities.output.name in found.benches]
    rests: tuple[Runs, ...] = ((Run(used_in_words(found)),), *refuted_in_words(found))
    blocks = (paragraph(SAID.format(noise=noise_in_words(found.form))), Points(rests), _apart(found, there))
    return Section("bench", title, blocks, tuple(_bench(found, one) for one in there))


def _apart(found: Workings, there: list[ScoreStability]) -> Table:
    """From how many points on two neighbours are told apart, and whose noise is uneven."""
    rows: list[tuple[str | Run | Runs, ...]] = []
    for one in there:
        told = found.benches[one.quantities.output.name]
        rows.append(
            (
                link(one.quantities.output.label, f"table-{one.quantities.output.name}"),
                str(len(one.quantities.ids)),
                *apart_in_words(told),
                listed_runs(_uneven(one, told)) or "none",
            )
        )
    heads = ("score", "products #", "all pairs at once #", "one pair alone #", "uneven noise")
    caption = runs(
        "From how many points on two neighbours in a table are told apart: the median over neighbours, at 95 %, by"
        f" {noise_in_words(found.form)}."
    )
    note = runs("A table of two products has one pair, and a table of one has nothing to tell apart.")
    few = any(len(one.quantities.ids) < 3 for one in there)
    return table("apart", caption, heads, rows, note if few else ())


def apart_in_words(told: ToldApart) -> tuple[str, str]:
    """The distance over all pairs at once and for one pair alone; a dash where there are not several pairs, or no pair.

    Of two products the smaller critical value that is left once the one order is rejected is that of the other order alone,
    and no distance from which they are told apart.
    """
    n_products = len(told.sd)
    alone = f"{told.distance(alone=True):.2g}" if n_products > 1 else ABSENT
    return (f"{told.distance():.2g}" if n_products > 2 else ABSENT), alone


def _uneven(one: ScoreStability, told: ToldApart) -> list[Run]:
    return [name(one.quantities.ids[i]) for i in told.uneven]


def _bench(found: Workings, one: ScoreStability) -> Section:
    output, told = one.quantities.output, found.benches[one.quantities.output.name]
    picture = uncertainty_picture(found.table, output.name, told, tried=found.tried)
    blocks = (*_said(one, told), drawn(picture, f"uncertainty-{output.name}"))
    return Section(f"bench-{output.name}", (name(output.label),), blocks)


def _said(one: ScoreStability, told: ToldApart) -> Iterator[Block]:
    if len(one.quantities.ids) == 1:
        yield paragraph("Only ", name(one.quantities.ids[0]), " is published: there is nothing to tell apart.")
    uneven = _uneven(one, told)
    if uneven:
        yield paragraph(
            "The noise of ",
            *listed_runs(uneven),
            " does not lie evenly about the figure (a limit or the end of a curve is near): they are told from another only where"
            " hardly a draw puts the two in the other order.",
        )
