"""The pictures of a study of stability."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from analysis.figures.ranks import acceptability_areas, pairwise_matrix, rank_ranges
from analysis.rankings.stability import RankStability
from analysis.rankings.study import RankingFound
from analysis.rankings.verdict import source_in_words, surest_firsts_in_words, swaps_in_words
from analysis.report.pictures import Picture

#: What varies, as a title calls it.
VARIES = {"judgement": "judgement alone", "bench": "bench noise alone", "both": "judgement and bench noise"}


def stability_pictures(found: RankingFound) -> tuple[Picture, ...]:
    """The places of each product and the chance of each place under each source; then who stands above whom."""
    return tuple(_pictures(found))


def _pictures(found: RankingFound) -> Iterator[Picture]:
    sources = list(found.drawn.by_source.values())
    for one in sources:
        yield _ranges(found, one)
        yield _chances(found, one)
        if len(found.quantities.ids) > 1 and one is sources[-1]:
            yield _pairs(found, one)


def _ranges(found: RankingFound, one: RankStability) -> Picture:
    """Every product's places, with the sets and groups of the bench's noise."""
    title = f"{found.label}: places over {one.n_draws} draws, {VARIES[one.source]}"
    title += "; sets and groups: bench noise alone, joint" if found.bench is not None else ""
    draw = partial(
        rank_ranges,
        found.labels,
        found.quantities.published,
        one.median,
        one.low,
        one.high,
        one.lowest,
        one.highest,
        title=title,
        sets=None if found.bench is None else (found.bench.sets.low, found.bench.sets.high),
        groups=None if found.bench is None else found.bench.groups.letters,
        caveat="" if found.bench is None else found.bench.noise.caveat,
    )
    return Picture(f"{found.name}-ranks-{one.source}", title, source_in_words(found.drawn, one), draw)


def _chances(found: RankingFound, one: RankStability) -> Picture:
    """The chance of each place."""
    title = f"{found.label}: chance of each place, {VARIES[one.source]}"
    draw = partial(acceptability_areas, found.labels, one.acceptability, title=title)
    return Picture(f"{found.name}-places-{one.source}", title, surest_firsts_in_words(found.quantities, one), draw)


def _pairs(found: RankingFound, one: RankStability) -> Picture:
    """The chance that one product stands above another."""
    title = f"{found.label}: chance that the row stands above the column, {VARIES[one.source]}"
    draw = partial(pairwise_matrix, found.quantities.ids, one.beats, lacking=one.lacking, title=title)
    return Picture(f"{found.name}-pairs-{one.source}", title, swaps_in_words(found.quantities, one), draw)
