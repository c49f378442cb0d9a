"""Two editions of a score table compared: who moves, by how much, why, and whether the bench can tell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.changes.changes import Change, changes
from analysis.comparison.attribution import Attribution, attribute
from analysis.comparison.bridging import Bridge
from analysis.comparison.cause_words import bridged_readings, spoken
from analysis.comparison.changed_readings import changed_readings
from analysis.comparison.coalitions import Coalitions, targets_of
from analysis.comparison.editions import ReadBy, differing_readings
from analysis.comparison.in_classes import of_products
from analysis.comparison.overtaking import Bench, Overtakings, benches_by_noise, benches_of, overtakings
from analysis.comparison.players import READINGS, Player, players_of, scaled_together
from analysis.comparison.shared_noise import SharedNoise, shared_noise
from analysis.rankings.agreement import kendall_tau_b, mean_shift, spearman, top_overlap
from analysis.rankings.distinguishable import noise_of
from analysis.rankings.rank_biased_overlap import rank_biased_overlap
from analysis.records.record import Finding
from analysis.runs import Executor, serially
from scoring.catalogue import ProductNames
from scoring.errors import AddressError, Place, Problem
from scoring.measurement_error import ALL_KNOWN, NoiseKnown
from scoring.numbers.array_types import Array, Flags, Indices
from scoring.table.classes import InClass
from scoring.table.table import ScoreTable

#: A score that moves by less than this is taken as the same: the dust of binary arithmetic.
DUST = 1e-9
AGREEMENTS = ("Kendall tau-b", "Spearman", "mean shift in rank", "top overlap", "rank-biased overlap")


@dataclass(frozen=True, slots=True, eq=False)
class Edition:
    """One score in one edition, over the products of both; NaN, "" or () where a product has none.

    apart: which products the bench tells apart, shape (products, products); None where no noise is known; within: places within
    classes, None where the edition counts none.
    """

    value: Array
    shown: tuple[str, ...]
    band: tuple[str, ...]
    status: tuple[str, ...]
    rank: Array
    letters: tuple[tuple[str, ...], ...]
    apart: Flags | None
    within: InClass | None = None


@dataclass(frozen=True, slots=True, eq=False)
class ScoreMoves:
    """One score in both editions.

    products: of both catalogues; u: standard uncertainty of each product's difference, from the same noise in both, NaN where
    none is known; critical: how many u a move must exceed, all products judged at once at 95 %, NaN where no noise makes a move;
    told: whether its move does; overtakings: the pairs of products that swap order; by_score, by_rank: shares of the moves among
    the causes; causes: each as a sentence about this score calls it; agreement: of the two rankings, by name; top: how
    many places the top are; noise: of which measures that the score stands on, in either edition, the noise is known.
    """

    name: str
    label: str
    products: tuple[str, ...]
    old: Edition
    new: Edition
    u: Array
    critical: float
    told: Flags
    overtakings: Overtakings
    by_score: Attribution
    by_rank: Attribution
    causes: tuple[str, ...]
    agreement: Mapping[str, float]
    top: int
    noise: NoiseKnown = ALL_KNOWN

    @property
    def is_known(self) -> bool:
        """Whether anything can be said of the moves: whether the noise of any of them is known."""
        return not np.isnan(self.u).all()

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
    """Everything that a comparison found.

    added, removed: scores that only one of the formulas has; readings_changed: each reading and word that differs, but for those
    of another method
    """

    old: ScoreTable
    new: ScoreTable
    changes: tuple[Change, ...]
    players: tuple[Player, ...]
    scores: tuple[ScoreMoves, ...]
    added: tuple[str, ...]
    removed: tuple[str, ...]
    readings_changed: tuple[Finding, ...] = ()

    @property
    def called(self) -> ProductNames:
        """What products are called, now or, where they are gone, before."""
        return self.new.catalogue.product_names.beside(self.old.catalogue.product_names)


def compare_tables(
    old: ScoreTable,
    new: ScoreTable,
    readings: ReadBy,
    *,
    only: Sequence[str] = (),
    top: int = 5,
    bridges: Sequence[Bridge] = (),
    seed: int = 0,
    execute: Executor = serially,
) -> Comparison:
    """Compare two editions.

    Parameters
    ----------
    readings : (new readings?, new formula?) to the catalogue as that formula reads it
    only : scores looked at, by their new or old names; all that both have by default
    top : how many places the top are; no more than there are products
    execute : works blocks of mixtures and of draws out
    bridges : maps by which the new readings of some measures were made

    Raises
    ------
    AddressError : no score is in both
    """
    found = scaled_together(changes(old.form, new.form), old.form, new.form)
    players = players_of(found, old.form, new.form, readings)
    if bridges:
        players = _of_another_method(players, differing_readings(readings, old.form, new.form), bridges)
    before = renamed_scores(found, new)
    targets = targets_of(old, new, only, before)
    if not targets:
        raise AddressError([Problem(Place("the two formulas"), "no score in both", "one that both formulas have")])
    came = [name for name in old.catalogue.products if name not in set(new.catalogue.products)]
    products = (*new.catalogue.products, *came)
    chosen = chosen_in(old, new, products)
    top = min(top, len(products) if chosen is None else int(chosen.sum()))
    mixtures = Coalitions(old, new, players, targets, products, readings, before, chosen)
    noise = shared_noise(
        old,
        new,
        targets,
        products,
        bridges=bridges,
        called_before=before,
        chosen=chosen,
        seed=seed,
        execute=execute,
    )
    shares = _shares(mixtures, np.random.default_rng([seed, 7]), execute)
    benches = _benches(mixtures, targets, noise, seed, is_bridged=bool(bridges))
    worked = {
        name: _Worked(noise.difference[name], noise.critical[name], benches[name], shares[name]) for name in targets
    }
    scores = tuple(_moves(mixtures, name, worked[name], top) for name in targets)
    known = {was: name for name, was in before.items()}
    names = ({known.get(c.output.name, c.output.name) for c in old.scores}, {c.output.name for c in new.scores})
    return Comparison(
        old=old,
        new=new,
        changes=found,
        players=players,
        scores=scores,
        added=tuple(sorted(names[1] - names[0])),
        removed=tuple(sorted(names[0] - names[1])),
        readings_changed=changed_readings(readings, old.form, new.form, {one.measure for one in bridges}),
    )


def chosen_in(old: ScoreTable, new: ScoreTable, products: Sequence[str]) -> Flags | None:
    """Which products of two tables are selected, shape (products,); None where the tables are of all."""
    if old.selected is None or new.selected is None:
        return None
    there = {table.catalogue.products[row] for table in (old, new) for row in table.rows.tolist()}
    return np.array([name in there for name in products], bool)


def renamed_scores(found: Sequence[Change], new: ScoreTable) -> dict[str, str]:
    """The scores and ratings that were renamed, the new name to the old one."""
    names = {column.output.address: column.output.name for column in new.scores + new.ratings}
    return {names[one.at]: one.before for one in found if one.kind == "renamed" and one.at in names}


def _of_another_method(
    players: Sequence[Player], differing: Mapping[str, Sequence[str]], bridges: Sequence[Bridge]
) -> tuple[Player, ...]:
    """The causes, the readings said to be of another method."""
    says = bridged_readings(differing, bridges)
    return tuple(replace(one, says=says) if one.kind == READINGS else one for one in players)


def _shares(
    mixtures: Coalitions, rng: np.random.Generator, execute: Executor
) -> dict[str, tuple[Attribution, Attribution]]:
    """The causes' shares of the moves of every score, and of its ranks; all of the same mixtures."""
    n_products = len(mixtures.products)
    found = attribute(mixtures.scores_and_ranks, len(mixtures.players), rng, execute=execute)

    def part(index: int) -> Attribution:
        at = slice(index * n_products, (index + 1) * n_products)
        return Attribution(found.shares[:, at], found.low[:, at], found.high[:, at], found.exact)

    return {name: (part(2 * k), part(2 * k + 1)) for k, name in enumerate(mixtures.targets)}


def _where(there: Flags, found: Attribution) -> Attribution:
    """Shares where there is something to share out, else NaN."""
    shares, low, high = (np.where(there, array, np.nan) for array in (found.shares, found.low, found.high))
    return Attribution(shares, low, high, found.exact)


def _benches(
    mixtures: Coalitions, targets: Sequence[str], noise: SharedNoise, seed: int, *, is_bridged: bool
) -> dict[str, tuple[Bench | None, Bench | None]]:
    """What the bench tells apart of each score before and now. Readings that a bridge mapped err as `noise` has it."""
    before = {name: mixtures.name_in(name, is_new=False) for name in targets}
    old = benches_of(mixtures.old, tuple(before.values()), seed)
    if is_bridged:
        at = [mixtures.products.index(product) for product in mixtures.new.catalogue.products]
        new = benches_by_noise(mixtures.new, {name: noise.new[name][at] for name in targets}, seed)
    else:
        new = benches_of(mixtures.new, targets, seed)
    return {name: (old.get(before[name]), new.get(name)) for name in targets}


@dataclass(frozen=True, slots=True, eq=False)
class _Worked:
    """What was worked out of one score on the way to its moves.

    u, critical: as of `ScoreMoves`; benches: before and now; shares: of the score's moves, and of its ranks'
    """

    u: Array
    critical: float
    benches: tuple[Bench | None, Bench | None]
    shares: tuple[Attribution, Attribution]

    def of(self, rows: Indices) -> _Worked:
        """The same of some of the products; the benches are of whole catalogues."""
        by_score, by_rank = (
            Attribution(one.shares[:, rows], one.low[:, rows], one.high[:, rows], one.exact) for one in self.shares
        )
        return _Worked(self.u[rows], self.critical, self.benches, (by_score, by_rank))


def _moves(mixtures: Coalitions, name: str, worked: _Worked, top: int) -> ScoreMoves:
    rows = np.flatnonzero(np.ones(len(mixtures.products), bool) if mixtures.chosen is None else mixtures.chosen)
    products, worked = tuple(mixtures.products[row] for row in rows.tolist()), worked.of(rows)
    was = mixtures.name_in(name, is_new=False)
    old = _edition(mixtures.old, was, products, worked.benches[0])
    new = _edition(mixtures.new, name, products, worked.benches[1])
    move = new.value - old.value
    output = mixtures.new.column(name).output
    return ScoreMoves(
        name=name,
        label=output.label,
        products=products,
        old=old,
        new=new,
        u=worked.u,
        critical=worked.critical,
        told=_told(move, worked),
        overtakings=overtakings(old.rank, new.rank, (old.apart, new.apart)),
        by_score=_where(~np.isnan(move), worked.shares[0]),
        by_rank=_where(~np.isnan(old.rank - new.rank), worked.shares[1]),
        causes=tuple(spoken(player, mixtures.new.form, output) for player in mixtures.players),
        agreement=_agreement(old.rank, new.rank, top),
        top=top,
        noise=noise_of(mixtures.old, was).beside(noise_of(mixtures.new, name)),
    )


def _told(move: Array, worked: _Worked) -> Flags:
    """Which moves are beyond the bench's noise, shape (products,); none where no noise is known."""
    beyond = np.nan_to_num(worked.critical) * worked.u + DUST
    return np.asarray(np.abs(np.nan_to_num(move)) > np.where(np.isnan(worked.u), np.inf, beyond))


def _edition(table: ScoreTable, name: str, products: Sequence[str], bench: Bench | None) -> Edition:
    column = table.column(name)
    index = [table.catalogue.products.index(p) if p in table.catalogue.products else -1 for p in products]
    apart = None
    if bench is not None:  # the last row and column stand for products that are not in the catalogue
        apart = np.pad(bench.apart, (0, 1))[np.ix_(index, index)]
    return Edition(
        value=np.array([column.value[i] if i >= 0 else np.nan for i in index]),
        shown=tuple(column.shown_text(i) if i >= 0 else "" for i in index),
        band=tuple(table.band_name(column, i) if i >= 0 else "" for i in index),
        status=tuple(column.status_text(i) if i >= 0 else "not in the catalogue" for i in index),
        rank=np.array([column.rank[i] if i >= 0 else np.nan for i in index]),
        letters=tuple(bench.letters[i] if bench is not None and i >= 0 else () for i in index),
        apart=apart,
        within=of_products(column.within, index),
    )


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
