"""Two editions of a score table compared: who moves, by how much, why, and whether the bench can tell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.changes.changes import Change, changes
from analysis.comparison.attribution import Attribution, attribute
from analysis.comparison.bridging import Bridge
from analysis.comparison.cause_words import bridged_readings, spoken
from analysis.comparison.coalitions import Coalitions, targets_of
from analysis.comparison.players import READINGS, Player, differing_readings, players_of
from analysis.comparison.scaled_weights import scaled_together
from analysis.comparison.shared_noise import SharedNoise, shared_noise
from analysis.stability.agreement import kendall_tau_b, mean_shift, spearman, top_overlap
from analysis.stability.rank_biased_overlap import rank_biased_overlap
from analysis.stability.rank_groups import rank_groups
from analysis.stability.rank_sets import rank_sets
from scoring.catalogue import Catalogue
from scoring.errors import AddressError, Place, Problem
from scoring.form import Form
from scoring.table import Column, ScoreTable

Array = NDArray[np.float64]
#: A move is told from none where it is larger than this many standard uncertainties of the difference, at 95 %.
TELLS = 1.96
AGREEMENTS = ("Kendall tau-b", "Spearman", "mean shift in rank", "top overlap", "rank-biased overlap")


@dataclass(frozen=True, slots=True, eq=False)
class Edition:
    """One score in one edition, over the products of both; NaN, "" or () where a product has none."""

    value: Array
    shown: tuple[str, ...]
    band: tuple[str, ...]
    status: tuple[str, ...]
    rank: Array
    letters: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True, eq=False)
class ScoreMoves:
    """One score in both editions.

    products: of both catalogues; u: standard uncertainty of each product's difference, from the same noise in both, NaN where
    none is known; told: whether its move is more than the bench's noise makes; by_score, by_rank: shares of the moves among
    the causes; causes: each as a sentence about this score calls it; agreement: of the two rankings, by name; top: how
    many places the top are.
    """

    name: str
    label: str
    products: tuple[str, ...]
    old: Edition
    new: Edition
    u: Array
    told: NDArray[np.bool_]
    by_score: Attribution
    by_rank: Attribution
    causes: tuple[str, ...]
    agreement: Mapping[str, float]
    top: int

    @property
    def move(self) -> Array:
        """New score less the old one."""
        return np.asarray(self.new.value - self.old.value)

    @property
    def climb(self) -> Array:
        """Places gained: old rank less the new one."""
        return np.asarray(self.old.rank - self.new.rank)


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """Everything that a comparison found; added, removed: scores that only one of the formulas has."""

    old: ScoreTable
    new: ScoreTable
    changes: tuple[Change, ...]
    players: tuple[Player, ...]
    scores: tuple[ScoreMoves, ...]
    added: tuple[str, ...]
    removed: tuple[str, ...]


def compare_tables(
    old: ScoreTable,
    new: ScoreTable,
    readings: Mapping[tuple[bool, bool], Catalogue],
    *,
    only: Sequence[str] = (),
    top: int = 5,
    bridges: Sequence[Bridge] = (),
    seed: int = 0,
) -> Comparison:
    """Compare two editions.

    Parameters
    ----------
    readings : (new readings?, new formula?) to the catalogue as that formula reads it
    only : scores looked at, by their new or old names; all that both have by default
    top : how many places the top are; no more than there are products
    bridges : maps by which the new readings of some measures were made

    Raises
    ------
    AddressError : no score is in both
    """
    found = scaled_together(changes(old.form, new.form), old.form, new.form)
    players = _players(found, old.form, new.form, readings, bridges)
    before = renamed_scores(found, new)
    targets = targets_of(old, new, only, before)
    if not targets:
        raise AddressError([Problem(Place("the two formulas"), "no score in both", "one that both formulas have")])
    came = [name for name in old.catalogue.products if name not in set(new.catalogue.products)]
    products = (*new.catalogue.products, *came)
    top = min(top, len(products))
    mixtures = Coalitions(old, new, players, targets, products, readings, before)
    noise = shared_noise(old, new, targets, products, bridges=bridges, called_before=before, seed=seed)
    shares = _shares(mixtures, np.random.default_rng([seed, 7]))
    scores = tuple(_moves(mixtures, name, noise, shares[name], top, seed) for name in targets)
    known = {was: name for name, was in before.items()}
    names = ({known.get(c.output.name, c.output.name) for c in old.scores}, {c.output.name for c in new.scores})
    return Comparison(
        old, new, found, players, scores, tuple(sorted(names[1] - names[0])), tuple(sorted(names[0] - names[1]))
    )


def renamed_scores(found: Sequence[Change], new: ScoreTable) -> dict[str, str]:
    """The scores and ratings that were renamed, the new name to the old one."""
    names = {column.output.address: column.output.name for column in new.scores + new.ratings}
    return {names[one.at]: one.before for one in found if one.kind == "renamed" and one.at in names}


def _players(
    found: Sequence[Change],
    old: Form,
    new: Form,
    readings: Mapping[tuple[bool, bool], Catalogue],
    bridges: Sequence[Bridge],
) -> tuple[Player, ...]:
    """The causes; where readings were bridged, the readings are said to be of another method."""
    players = players_of(found, old, new, readings)
    if not bridges:
        return players
    says = bridged_readings(differing_readings(readings, old, new), bridges)
    return tuple(replace(one, says=says) if one.kind == READINGS else one for one in players)


def _shares(mixtures: Coalitions, rng: np.random.Generator) -> dict[str, tuple[Attribution, Attribution]]:
    """The causes' shares of the moves of every score, and of its ranks; all of the same mixtures."""
    n_products = len(mixtures.products)

    def game(members: NDArray[np.bool_]) -> Array:
        scores = mixtures.scores(members)
        both = [(scores[name], mixtures.ranks(name, scores[name], members)) for name in mixtures.targets]
        return np.concatenate([one for pair in both for one in pair], axis=1)

    found = attribute(game, len(mixtures.players), rng)

    def part(index: int) -> Attribution:
        at = slice(index * n_products, (index + 1) * n_products)
        return Attribution(found.shares[:, at], found.low[:, at], found.high[:, at], found.exact)

    return {name: (part(2 * k), part(2 * k + 1)) for k, name in enumerate(mixtures.targets)}


def _where(there: NDArray[np.bool_], found: Attribution) -> Attribution:
    """Shares where there is something to share out, else NaN."""
    shares, low, high = (np.where(there, array, np.nan) for array in (found.shares, found.low, found.high))
    return Attribution(shares, low, high, found.exact)


def _moves(
    mixtures: Coalitions, name: str, noise: SharedNoise, shares: tuple[Attribution, Attribution], top: int, seed: int
) -> ScoreMoves:
    old = _edition(mixtures.old, mixtures.name_in(name, is_new=False), mixtures.products, noise.old[name], seed)
    new = _edition(mixtures.new, name, mixtures.products, noise.new[name], seed)
    move, u = new.value - old.value, noise.difference[name]
    by_score, by_rank = _where(~np.isnan(move), shares[0]), _where(~np.isnan(old.rank - new.rank), shares[1])
    told = np.abs(move) > TELLS * np.where(np.isnan(u), np.inf, u)
    agreement = _agreement(old.rank, new.rank, top)
    output = mixtures.new.column(name).output
    causes = tuple(spoken(player, mixtures.new.form, output) for player in mixtures.players)
    return ScoreMoves(
        name, output.label, mixtures.products, old, new, u, told, by_score, by_rank, causes, agreement, top
    )


def _edition(table: ScoreTable, name: str, products: Sequence[str], sd: Array, seed: int) -> Edition:
    column = table.column(name)
    index = [table.catalogue.products.index(p) if p in table.catalogue.products else -1 for p in products]
    letters = _letters(
        table, column, [p for p in index if p >= 0], sd[[i for i, p in enumerate(index) if p >= 0]], seed
    )
    there = dict(zip([i for i, p in enumerate(index) if p >= 0], letters, strict=True))
    return Edition(
        value=np.array([column.value[i] if i >= 0 else np.nan for i in index]),
        shown=tuple(column.shown_text(i) if i >= 0 else "" for i in index),
        band=tuple(table.band_name(column, i) if i >= 0 else "" for i in index),
        status=tuple(column.status_text(i) if i >= 0 else "not in the catalogue" for i in index),
        rank=np.array([column.rank[i] if i >= 0 else np.nan for i in index]),
        letters=tuple(there.get(i, ()) for i in range(len(products))),
    )


def _letters(table: ScoreTable, column: Column, index: Sequence[int], sd: Array, seed: int) -> list[tuple[str, ...]]:
    """The letters of the rank groups, () where a product is not ranked or no noise is known."""
    rank = column.rank[list(index)]
    published = np.flatnonzero(~np.isnan(rank))
    found: list[tuple[str, ...]] = [()] * len(index)
    if len(published) < 2 or not (sd[published] > 0).any():
        return found
    values = column.value[list(index)][published]
    best = table.form.ranks.best.value
    sets = rank_sets(values, np.nan_to_num(sd[published]), rng=np.random.default_rng([seed, 5]), best=best)
    for place, letters in zip(published.tolist(), rank_groups(rank[published], sets.beats).letters, strict=True):
        found[place] = letters
    return found


def _agreement(old: Array, new: Array, top: int) -> dict[str, float]:
    if not (~np.isnan(old) & ~np.isnan(new)).any():
        return dict.fromkeys(AGREEMENTS, float("nan"))
    row = new[np.newaxis]
    found = (
        kendall_tau_b(old, row),
        spearman(old, row),
        mean_shift(old, row),
        top_overlap(old, row, top),
        rank_biased_overlap(old, row),
    )
    return {name: float(values[0]) for name, values in zip(AGREEMENTS, found, strict=True)}
