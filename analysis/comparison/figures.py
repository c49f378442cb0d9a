"""The figures of a comparison, fed from its results: file name to bytes, as SVG and PNG."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

import numpy as np
from matplotlib.figure import Figure

from analysis.comparison.cause_words import short_name
from analysis.comparison.comparison import Comparison, ScoreMoves
from analysis.comparison.verdict import changed_place, moved, told_swaps
from analysis.figures.canvas import figure_bytes
from analysis.figures.causes import causes
from analysis.figures.moves import rank_changes
from scoring.numbers.ranks import significant

KINDS = ("svg", "png")
PLACES = "places"
#: Products of each score whose causes are drawn: those that move most places, then most points.
MOST_CAUSES = 6


def comparison_figures(found: Comparison) -> dict[str, bytes]:
    """Places before and after of every score, and the causes of its largest moves."""
    files: dict[str, bytes] = {}
    for number, score in enumerate(found.scores):
        for what, figure in _figures(found, score):
            for kind in KINDS:
                files[_file_name(number, score, what, kind)] = figure_bytes(figure, kind)
    return files


def _file_name(number: int, score: ScoreMoves, what: str, kind: str) -> str:
    return f"{number + 1}-{score.name}-{what}.{kind}"


def places_among(files: Mapping[str, bytes], found: Comparison) -> dict[str, bytes]:
    """Of the figures of `comparison_figures`, those that `place_figures` would draw again."""
    names = {score.name: _file_name(number, score, PLACES, "svg") for number, score in enumerate(found.scores)}
    return {score: files[name] for score, name in names.items() if name in files}


def place_figures(found: Comparison) -> dict[str, bytes]:
    """Places before and after, as SVG by score name; scores whose places stay are left out."""
    return {score.name: figure_bytes(_places(found, score), "svg") for score in found.scores if _has_moves(score)}


def _figures(found: Comparison, score: ScoreMoves) -> Iterator[tuple[str, Figure]]:
    if _has_moves(score):
        yield PLACES, _places(found, score)
    if len(found.players) > 1:
        for i in _largest(score):
            safe = re.sub("[^A-Za-z0-9_-]+", "-", score.products[i])[:40]
            yield f"causes-{i + 1}-{safe}", _causes(found, score, i)


def _has_moves(score: ScoreMoves) -> bool:
    came = np.isnan(score.old.rank) != np.isnan(score.new.rank)
    return bool(changed_place(score).any() or came.any())


def _places(found: Comparison, score: ScoreMoves) -> Figure:
    ranked = np.flatnonzero(~np.isnan(score.old.rank) | ~np.isnan(score.new.rank))
    return rank_changes(
        [score.products[i] for i in ranked.tolist()],
        score.old.rank[ranked],
        score.new.rank[ranked],
        title=f"{score.label}: places before and after",
        old_title=f"{found.old.form.name} {found.old.form.version}".strip(),
        new_title=f"{found.new.form.name} {found.new.form.version}".strip() if _another(found) else "with the changes",
        marks=told_swaps(score, ranked),
    )


def _another(found: Comparison) -> bool:
    old, new = found.old.form, found.new.form
    return (old.name, old.version) != (new.name, new.version)


def _largest(score: ScoreMoves) -> list[int]:
    """Products with the largest moves whose causes are all known."""
    known = moved(score) & ~np.isnan(score.by_score.shares).any(axis=0) & ~np.isnan(score.move)
    order = np.lexsort((-np.abs(np.nan_to_num(significant(score.move))), -np.abs(np.nan_to_num(score.climb))))
    return [i for i in order.tolist() if known[i]][:MOST_CAUSES]


def _causes(found: Comparison, score: ScoreMoves, i: int) -> Figure:
    output = found.new.column(score.name).output
    shares = score.by_score
    return causes(
        [short_name(player.name, output) for player in found.players],
        shares.shares[:, i],
        float(score.old.value[i]),
        float(score.new.value[i]),
        title=f"{score.label}, {score.products[i]}: what its move is made of",
        unit="points",
        low=None if shares.exact else shares.low[:, i],
        high=None if shares.exact else shares.high[:, i],
    )
