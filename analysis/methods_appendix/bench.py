"""The section on what the bench can tell apart, and which repeatability that rests on.

What u and places rest on, from how many points on two products differ, and where repeats scatter otherwise than declared.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import reduce

from analysis.languages.facts import Block, Points, Run, Runs, Section, Table
from analysis.languages.writing import link, listed_runs, name, paragraph, runs, table
from analysis.methods_appendix.pictures import drawn
from analysis.methods_appendix.workings import Workings
from analysis.rankings.distinguishable import Distinguishable
from analysis.rankings.stability import ScoreStability
from analysis.repeats.notes import amount_of
from analysis.repeats.repeatability import Precision
from analysis.scores.figures import uncertainty_picture
from analysis.wording import ABSENT, counted, listed, noise_in_words
from scoring.form import Measure
from scoring.measurement_error import NoiseKnown

#: The kind of a factor by which a study draws readings again from the repeats themselves.
RESAMPLED = "resampled repeats"


def used_in_words(found: Workings) -> str:
    """Whether u rests on what the formula declares, on what it pools, or on nothing; one sentence."""
    declared = [m for m in found.form.measures if m.repeatability is not None and not _pools(m)]
    pooled = [m for m in found.form.measures if m.repeatability is not None and _pools(m)]
    none = [m for m in found.form.measures if m.repeatability is None]
    if not declared and not pooled:
        return "The formula declares no repeatability, so that no u is worked out."
    said = []
    if declared:
        said.append(f"declared in the formula ({counted(len(declared), 'measure')})")
    if pooled:
        said.append(f"pooled from this catalogue's repeats ({counted(len(pooled), 'measure')})")
    text = f"u rests on the repeatability {listed(said)}"
    if none:
        verbs = ("has", "adds") if len(none) == 1 else ("have", "add")
        text += f"; {counted(len(none), 'measure')} {verbs[0]} none and {verbs[1]} nothing to u"
    if any(factor.kind == RESAMPLED for factor in found.study.factors):
        text += "; in the studies of sensitivity and stability repeats are drawn again from the repeats themselves"
    return f"{text}."


def _pools(measure: Measure) -> bool:
    rule = measure.repeatability
    return rule is not None and (rule.amount is None or "pooled" in rule.kind.value)


def outside(found: Workings) -> tuple[tuple[Measure, Precision], ...]:
    """The measures whose declared repeatability lies outside the 95 % interval of all repeats."""
    return tuple((found.form.measure(one.measure), one) for one in found.precisions if one.declared_inside is False)


def refuted_in_words(found: Workings) -> tuple[Runs, ...]:
    """A sentence for what scatters more than declared, one for what scatters less, and one for each measure where s_r alone
    says so: the robust value does not, so that neither does the sentence."""
    said = []
    for is_more, word, stated in ((True, "more", "understated"), (False, "less", "overstated")):
        there = [(m, one) for m, one in outside(found) if one.refuted and (one.sd > (one.declared or 0.0)) == is_more]
        if there:
            names = [Run(f"{m.label} ({_factors(one, is_more)})", "name") for m, one in there]
            said.append(
                runs(
                    f"The repeats scatter {word} than declared for ",
                    *listed_runs(names),
                    f". The declared value is used all the same, so that what {'it adds' if len(there) == 1 else 'they add'} to u"
                    f" is {stated}, by about the factors in brackets.",
                )
            )
    said += [_not_carried(m, one) for m, one in outside(found) if not one.refuted]
    return tuple(said)


def _not_carried(measure: Measure, one: Precision) -> Runs:
    """s_r and the robust value beside what is declared, where they do not agree, and the products that s_r owes it to."""
    carriers = [name(product) for product in one.made_by]
    parts: list[str | Run] = [
        "The repeats of ",
        name(measure.label),
        f" pool to {amount_of(one, one.sd)}, where {amount_of(one, one.declared)} is declared; ",
    ]
    if carriers:
        verb = "carry" if len(carriers) > 1 else "carries"
        without = f" {verb} it: without those readings it is {amount_of(one, one.sd_without)}; "
        parts += [*listed_runs(carriers), without]
    robust = amount_of(one, one.robust_sd)
    parts.append(
        f"the robust value, which single wild readings hardly move, is {robust} and agrees with the declared one, which is used."
    )
    return runs(*parts)


def _factors(one: Precision, is_more: bool) -> str:
    """How many times the greater is the less, of s_r and of the robust value."""
    return f"{_factor(one.sd, one, is_more)} by s_r, {_factor(one.robust_sd, one, is_more)} by the robust value"


def _factor(sd: float, one: Precision, is_more: bool) -> str:
    declared = one.declared or 0.0
    above, below = (sd, declared) if is_more else (declared, sd)
    return f"{above / below:.2f} times" if below > 0 else "from none"


def compared(found: Workings) -> bool:
    """Whether any declared repeatability could be held against the catalogue's own repeats."""
    return any(one.declared_inside is not None for one in found.precisions)


def refuted_names(found: Workings) -> Runs:
    """The labels of the measures that both s_r and the robust value refute, in a sentence."""
    return listed_runs([name(measure.label) for measure, one in outside(found) if one.refuted])


def outside_names(found: Workings) -> Runs:
    """The labels of the measures whose declared value lies outside the interval, in a sentence."""
    return listed_runs([name(measure.label) for measure, _ in outside(found)])


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
    said = noise_of_all(found).at_best(SAID.format(noise=noise_in_words(found.form)))
    blocks = (paragraph(said), Points(rests), _apart(found, there))
    return Section("bench", title, blocks, tuple(_bench(found, one) for one in there))


def noise_of_all(found: Workings) -> NoiseKnown:
    """Of which measures that the tables stand on the noise is known."""
    return reduce(NoiseKnown.beside, (told.noise for told in found.benches.values()), NoiseKnown())


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
    caption = noise_of_all(found).at_best(
        "From how many points on two neighbours in a table are told apart: the median over neighbours, at 95 %, by"
        f" {noise_in_words(found.form)}."
    )
    note = runs("A table of two products has one pair, and a table of one has nothing to tell apart.")
    few = any(len(one.quantities.ids) < 3 for one in there)
    return table("apart", runs(caption), heads, rows, note if few else ())


def apart_in_words(told: Distinguishable) -> tuple[str, str]:
    """The distance over all pairs at once and for one pair alone; a dash where there are not several pairs, or no pair.

    Of two products the smaller critical value that is left once the one order is rejected is that of the other order alone,
    and no distance from which they are told apart.
    """
    n_products = len(told.sd)
    alone = f"{told.distance(alone=True):.2g}" if n_products > 1 else ABSENT
    return (f"{told.distance():.2g}" if n_products > 2 else ABSENT), alone


def _uneven(one: ScoreStability, told: Distinguishable) -> list[Run]:
    return [name(one.quantities.ids[i]) for i in told.uneven]


def _bench(found: Workings, one: ScoreStability) -> Section:
    output, told = one.quantities.output, found.benches[one.quantities.output.name]
    picture = uncertainty_picture(found.table, output.name, told, tried=found.tried)
    blocks = (*_said(one, told), drawn(picture, f"uncertainty-{output.name}"))
    return Section(f"bench-{output.name}", (name(output.label),), blocks)


def _said(one: ScoreStability, told: Distinguishable) -> Iterator[Block]:
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
