"""The pictures of a comparison: places before and after, and what the largest moves are made of."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import partial

import numpy as np
from matplotlib.figure import Figure

from analysis.comparison.cause_words import short_name
from analysis.comparison.comparison import Comparison, ScoreMoves
from analysis.comparison.verdict import came_or_went, changed_place, comparison_verdict, moved, told_swaps
from analysis.figures.causes import causes
from analysis.figures.moves import rank_changes
from analysis.report.pictures import Picture
from analysis.wording import fixed, signed
from scoring.numbers.ranks import significant

#: Products of each score whose causes are drawn: those that move most places, then most points.
MOST_CAUSES = 6
#: Of a product's id as many characters as stand in the name of a file.
LONGEST = 40


def comparison_pictures(found: Comparison, number: int) -> tuple[Picture, ...]:
    """Those of one score, by its number: places, where any changes, and the causes of its largest moves."""
    score = found.scores[number]
    return tuple(_pictures(found, score, f"{number + 1}-{score.name}"))


def _pictures(found: Comparison, score: ScoreMoves, begins: str) -> Iterator[Picture]:
    if changed_place(score).any() or came_or_went(score).any():
        title = f"{score.label}: places before and after"
        draw = partial(_places, found, score, title)
        yield Picture(f"{begins}-places", title, comparison_verdict(score, found.players)[0], draw)
    if len(found.players) < 2:
        return
    for i in _largest(score):
        product = re.sub("[^A-Za-z0-9_-]+", "-", score.products[i])[:LONGEST]
        title = f"{score.label}, {found.called.in_words(score.products[i])}: what its move is made of"
        draw = partial(_causes, found, score, i, title)
        yield Picture(f"{begins}-causes-{i + 1}-{product}", title, _made_of(found, score, i), draw)


def _places(found: Comparison, score: ScoreMoves, title: str) -> Figure:
    ranked = np.flatnonzero(~np.isnan(score.old.rank) | ~np.isnan(score.new.rank))
    return rank_changes(
        [found.called.label(score.products[i]) for i in ranked.tolist()],
        score.old.rank[ranked],
        score.new.rank[ranked],
        title=title,
        old_title=f"{found.old.form.name} {found.old.form.version}".strip(),
        new_title=f"{found.new.form.name} {found.new.form.version}".strip() if _another(found) else "with the changes",
        marks=told_swaps(score, ranked),
        caveat=f"told apart {score.noise.caveat}" if score.noise.unknown else "",
    )


def _another(found: Comparison) -> bool:
    old, new = found.old.form, found.new.form
    return (old.name, old.version) != (new.name, new.version)


def _largest(score: ScoreMoves) -> list[int]:
    """Products with the largest moves whose causes are all known."""
    known = moved(score) & ~np.isnan(score.by_score.shares).any(axis=0) & ~np.isnan(score.move)
    order = np.lexsort((-np.abs(np.nan_to_num(significant(score.move))), -np.abs(np.nan_to_num(score.climb))))
    return [i for i in order.tolist() if known[i]][:MOST_CAUSES]


def _names(found: Comparison, score: ScoreMoves) -> list[str]:
    output = found.new.column(score.name).output
    return [short_name(player.name, output) for player in found.players]


def _made_of(found: Comparison, score: ScoreMoves, i: int) -> str:
    """A move and the largest of what it is made of, in a sentence."""
    shares = score.by_score.shares[:, i]
    largest = int(np.argmax(np.abs(significant(shares))))
    return (
        f"{score.label}: {score.products[i]} goes from {fixed(score.old.value[i], 3)} to {fixed(score.new.value[i], 3)}, by"
        f" {signed(score.move[i], 3)} points; most of it comes of {_names(found, score)[largest]}"
        f" ({signed(shares[largest], 3)})."
    )


def _causes(found: Comparison, score: ScoreMoves, i: int, title: str) -> Figure:
    shares = score.by_score
    return causes(
        _names(found, score),
        shares.shares[:, i],
        float(score.old.value[i]),
        float(score.new.value[i]),
        title=title,
        unit="points",
        low=None if shares.exact else shares.low[:, i],
        high=None if shares.exact else shares.high[:, i],
    )
