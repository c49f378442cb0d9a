"""Shapley effects of a study's groups, correlated or not: the variance of each quantity shared out among them, adding to 1."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from analysis.indices.design import group_of
from analysis.indices.local import local_sensitivity
from analysis.indices.shapley_effects import ShapleyEffects, linear_gaussian_effects, shapley_effects
from analysis.runs import Executor, serially
from analysis.study import Draws, Study
from analysis.study.distributions import normal_scores
from analysis.study.gaussian_copula import GaussianCopula
from analysis.study.study import Factor, Move
from analysis.trials.quantities import Quantities, quantities_of
from analysis.trials.trials import Trials, compile_trials
from scoring.errors import Place, Problem, StudyError
from scoring.numbers.array_types import Array
from scoring.table.table import ScoreTable

Progress = Callable[[int, int], None]
MOST_GROUPS = 12
#: For the linear shares every set of groups is gone through for every product, so that there may be no more than these.
MOST_LINEAR = 8
#: Runs of the model that the default number of base points is chosen for.
RUNS = 1 << 16
BLOCKS = 32


@dataclass(frozen=True, slots=True, eq=False)
class ScoreShapley:
    """One score's Shapley effects: groups of factors by quantities; members: the factors of each group.

    linear: shares of each product's score at the stated setting, exact for a linear score of normal numbers, shape (groups,
    published products), in published order; NaN where there is none.
    """

    quantities: Quantities
    members: tuple[tuple[str, ...], ...]
    effects: ShapleyEffects
    correlations: tuple[tuple[str, str, float], ...]
    linear: Array


def shapley_study(
    study: Study,
    table: ScoreTable,
    *,
    by: str = "kind",
    points: int | None = None,
    seed: int = 0,
    progress: Progress | None = None,
    execute: Executor = serially,
) -> tuple[ScoreShapley, ...]:
    """Shapley effects of every score of a study.

    Parameters
    ----------
    by : the groups: "kind", "rating", "section", or "factor" for each by itself
    points : base points; by default as many as make about 65,536 runs of the model, 256 or more
    execute : works the blocks of points out

    Raises
    ------
    StudyError
        More than 12 groups reach a score, or a factor draws from a generator in a way that columns cannot say.
    """
    _check_streams(study)
    sampling = _Sampling(by, points, seed, execute)
    found = []
    for number, target in enumerate(study.scores):
        found.append(_one(study, table, target, sampling))
        if progress is not None:
            progress(number + 1, len(study.scores))
    return tuple(found)


def as_published(study: Study) -> Study:
    """A derived study with what was not read as it is published: its draws come from no columns. A study from a file stays."""
    moves = tuple(move for move in study.moves if not move.fills)
    if study.sha256 or len(moves) == len(study.moves):
        return study
    note = "What was not read counts as published: Shapley effects take every draw from columns."
    return replace(study.of_moves(moves), notes=(*study.notes, note))


def _check_streams(study: Study) -> None:
    problems = [
        Problem(
            Place("the study"),
            f"{move.factors[0].name}: {move.factors[0].says}",
            "noise by `readings: repeatability`, and weights by any rule but `between`",
            "Shapley effects take every draw from columns.",
        )
        for move in study.moves
        if move.n_normals is None
    ]
    if problems:
        raise StudyError(problems)


@dataclass(frozen=True, slots=True)
class _Sampling:
    """How every score is sampled, as of `shapley_study`."""

    by: str
    points: int | None
    seed: int
    execute: Executor


def _groups(trials: Trials, target: str, by: str) -> dict[str, list[Factor]]:
    """The factors that reach a score, by group; refused where there are too many for all subsets, or none."""
    groups: dict[str, list[Factor]] = {}
    for factor in trials.study.factors:
        if trials.reaches(factor.name, target):
            groups.setdefault(factor.name if by == "factor" else group_of(factor, by), []).append(factor)
    if not 1 <= len(groups) <= MOST_GROUPS:
        expected = f"1 to {MOST_GROUPS}: every set of groups is gone through"
        hint = "Take `--by kind`, or put factors together by `group` in the study file."
        raise StudyError([Problem(Place("the study"), f"{len(groups)} groups that reach {target}", expected, hint)])
    return groups


def _one(study: Study, table: ScoreTable, target: str, sampling: _Sampling) -> ScoreShapley:
    trials = compile_trials(study, table.catalogue, [target])
    asked = quantities_of(study.form, table.column(target), table.catalogue.products, study.top, study.pairs)
    groups = _groups(trials, target, sampling.by)
    layout = _Layout(trials, study)
    columns = [layout.columns_of(members) for members in groups.values()]
    left = sorted(set(range(layout.width)).difference(*columns))
    if left:  # what does not reach the score goes with the first group, where it changes nothing, being independent
        columns[0] = sorted([*columns[0], *left])
    copula = GaussianCopula(layout.correlation(left), columns)
    base = sampling.points or max(256, RUNS >> len(groups))
    effects = shapley_effects(
        _Asked(asked, layout, target),
        copula,
        tuple(groups),
        base_points=max(base, 2 * BLOCKS),
        blocks=BLOCKS,
        rng=np.random.default_rng([sampling.seed, 6]),
        rows=layout.rows,
        execute=sampling.execute,
    )
    members = tuple(tuple(factor.name for factor in own) for own in groups.values())
    linear = linear_shares(trials, target, members)[:, asked.products]
    return ScoreShapley(asked, members, effects, study.correlations, linear)


def linear_shares(trials: Trials, target: str, groups: Sequence[Sequence[str]]) -> Array:
    """Each group's share of the variance of each product's score at the stated setting, exact for a linear score of normals.

    Parameters
    ----------
    groups : the factors of each group; those that are no single number, as choices and noise, have no part in it

    Returns
    -------
    ndarray, shape (groups, products); NaN for a product without a score or on a jump or corner, and throughout where more
    than eight groups hold numbers. The shares of a product add up to 1.
    """
    local = local_sensitivity(trials, target)
    index = {name: place for place, name in enumerate(local.names)}
    columns = [[index[name] for name in group if name in index] for group in groups]
    held = [place for place, own in enumerate(columns) if own]
    shares = np.full((len(groups), local.per_sd.shape[1]), np.nan)
    if not 1 <= len(held) <= MOST_LINEAR:
        return shares
    order = [column for place in held for column in columns[place]]
    correlation = np.eye(len(local.names))
    for first, second, value in trials.study.correlations:
        if first in index and second in index:
            correlation[index[first], index[second]] = correlation[index[second], index[first]] = value
    correlation = correlation[np.ix_(order, order)]
    starts = np.cumsum([0, *(len(columns[place]) for place in held)])
    own = [list(range(a, b)) for a, b in pairwise(starts.tolist())]
    for product in range(shares.shape[1]):
        slopes = local.per_sd[order, product]
        if np.isfinite(slopes).all() and (slopes != 0).any():
            shares[:, product] = 0.0
            shares[held, product] = linear_gaussian_effects(slopes, correlation, own).effects
    return shares


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """Every quantity of a score at points of a layout's columns."""

    quantities: Quantities
    layout: _Layout
    target: str

    def __call__(self, unit: Array) -> Array:
        return self.quantities.of(self.layout.scores(unit, self.target))


class _Layout:
    """Every draw as columns: the study's own, then one for each error that noise is made of, of the sizes that are stated."""

    def __init__(self, trials: Trials, study: Study) -> None:
        self.trials, self.study = trials, study
        self.columns = {name: list(range(at.start, at.stop)) for name, at in study.columns.items()}
        self.noise: dict[str, tuple[Move, slice]] = {}
        self.width = study.n_columns
        for move in study.moves:
            if move.n_normals:
                own = slice(self.width, self.width + move.n_normals)
                self.noise[move.factors[0].name] = move, own
                self.columns[move.factors[0].name] += range(own.start, own.stop)
                self.width = own.stop
        self.rows = max(64, (1 << 21) // max(1, self.width))

    def columns_of(self, factors: Sequence[Factor]) -> list[int]:
        """The columns of some factors, in their order."""
        return [column for factor in factors for column in self.columns[factor.name]]

    def correlation(self, left: Sequence[int]) -> Array:
        """Of the normal scores of all columns; noise is independent, and so is made what is left out."""
        whole = np.eye(self.width)
        own = self.study.n_columns
        if own:
            whole[:own, :own] = self.study.copula.correlation
        whole[left, :] = whole[:, left] = 0.0
        whole[left, left] = 1.0
        return whole

    def scores(self, unit: Array, target: str) -> Array:
        """One score under columns of draws."""
        streams = {factor: move.from_normals(normal_scores(unit[:, own])) for factor, (move, own) in self.noise.items()}
        setting = self.study.setting(Draws(unit[:, : self.study.n_columns], streams))
        return self.trials.scores(setting)[target]
