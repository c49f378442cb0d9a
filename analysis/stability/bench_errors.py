"""How the bench's noise moves each score: errors of scores, drawn together for all products.

A score's error is taken as what is linear in the errors of its readings, by least squares over the draws, and an
independent normal rest. So what readings share (a session, a calibration) and how well their sizes are known stays in
the errors of scores, while the few draws in which a score jumps do not pass for a wide normal law; those are counted.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.study import Study
from analysis.study.moves import NoiseMove
from analysis.study.setting import Setting
from analysis.trials.quantities import Quantities
from analysis.trials.trials import Trials, compile_trials
from scoring.ordered_sums import covariance_of
from scoring.table import ScoreTable

Array = NDArray[np.float64]
DRAWS = 16_384
#: Draws of one batch; each has a generator of its own, so that this figure is part of what a seed stands for.
BATCH = 1024
#: A share of the draws' scatter below which it is the dust of binary arithmetic.
DUST = 1e-12
#: A share of a score's variance that least squares leave over by rounding alone.
ROUNDING = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class BenchErrors:
    """How the bench's noise moves one score; products in published order.

    errors: draws of the scores' errors, shape (products, draws), each estimated standard deviation drawn too; spread: their
    standard deviations, shape (products,), or where products share errors their covariances, shape (products, products), the
    estimated standard deviations as they stand; mean: of each score under noise; rest: the share of each score's variance
    that is not linear in its readings' errors; not_above: in how many draws the row product stands at or below the column
    one; n_draws: how many there were.
    """

    errors: Array
    spread: Array
    mean: Array
    rest: Array
    not_above: NDArray[np.int64]
    n_draws: int

    @property
    def sd(self) -> Array:
        """The standard uncertainty of each score."""
        return self.spread if self.spread.ndim == 1 else np.sqrt(np.diag(self.spread))

    @property
    def moves(self) -> bool:
        """Whether noise moves any score."""
        return bool((self.sd > 0).any())


@dataclass(slots=True, eq=False)
class _Sums:
    """Sums over draws of one score, for its least squares on the errors of readings.

    factors: of the errors and the score's move, last, shape (products, measures + 1); squares: of their products, shape
    (products, measures + 1, measures + 1); not_above: as in `BenchErrors`.
    """

    factors: Array
    squares: Array
    not_above: NDArray[np.int64]

    @classmethod
    def nothing(cls, n_products: int, n_measures: int) -> _Sums:
        """Sums over no draws."""
        shape = n_products, n_measures + 1
        counts = np.zeros((n_products, n_products), np.int64)
        return cls(np.zeros(shape), np.zeros((*shape, n_measures + 1)), counts)

    def add(self, errors: Array, moves: Array, scores: Array) -> None:
        """Take in draws: errors of readings, shape (products, measures, n); the score's moves and the score, (n, products)."""
        both = np.concatenate([errors, moves.T[:, np.newaxis]], axis=1)
        self.factors += both.sum(axis=2)
        self.squares += np.einsum("pin,pjn->pij", both, both, optimize=False)
        for product in range(scores.shape[1]):
            self.not_above[product] += (~(scores[:, [product]] > scores)).sum(axis=0)


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    """A score's error by those of its readings: slopes, shape (products, measures); means of the readings' errors; the mean
    move and the standard deviation of what is not linear, and its share of the variance, shape (products,)."""

    slopes: Array
    means: Array
    move: Array
    rest: Array
    share: Array


def bench_errors(
    study: Study,
    table: ScoreTable,
    quantities: Mapping[str, Quantities],
    *,
    seed: int,
    draws: int = DRAWS,
) -> dict[str, BenchErrors]:
    """The errors of every score, by name.

    Parameters
    ----------
    study : moves of the bench's readings alone
    quantities : of each score that is asked for
    """
    trials = compile_trials(study, table.catalogue, tuple(quantities))
    names = _moved(trials, study)
    sums = {name: _Sums.nothing(len(asked.ids), len(names)) for name, asked in quantities.items()}
    for setting in _settings(study, draws, seed):
        scores, errors = trials.scores(setting), _errors(trials, names, setting)
        for name, asked in quantities.items():
            own = scores[name][:, asked.products]
            moves = np.nan_to_num(own - asked.values)
            sums[name].add(errors[asked.products], moves, own if _best_is_highest(asked) else -own)
    lines = {name: _line(sums[name], draws) for name in quantities}
    drawn = _drawn(study, trials, names, lines, quantities, draws, seed)
    as_stated = _unscaled(study)
    plain = drawn if as_stated is None else _drawn(as_stated, trials, names, lines, quantities, draws, seed)
    found = {}
    for name, asked in quantities.items():
        spread = covariance_of(plain[name].T) if _is_shared(study) else plain[name].std(axis=1)
        line = lines[name]
        found[name] = BenchErrors(
            drawn[name], spread, asked.values + line.move, line.share, sums[name].not_above, draws
        )
    return found


def _moved(trials: Trials, study: Study) -> tuple[str, ...]:
    """The measures whose readings the study draws."""
    (setting,) = _settings(study, 1, 0)
    measures = setting.noise.keys() | setting.resampled.keys() | setting.filled.keys()
    return tuple(name for name in trials.inputs.values if name in measures)


def _settings(study: Study, draws: int, seed: int) -> Iterator[Setting]:
    """The draws, batch by batch: the same whenever they are asked for."""
    for start in range(0, draws, BATCH):
        rng = np.random.default_rng([seed, 5, start])
        yield study.setting(study.draws(min(BATCH, draws - start), rng))


def _errors(trials: Trials, names: Sequence[str], setting: Setting) -> Array:
    """The errors of readings, shape (products, measures, n); of one that was not read, what is filled in, less nothing."""
    readings = trials.readings_under(setting)
    shape = len(trials.inputs.products), len(names), setting.n_draws
    errors = np.zeros(shape)
    for column, name in enumerate(names):
        errors[:, column] = np.nan_to_num(readings[name] - np.nan_to_num(trials.inputs.values[name])).T
    return errors


def _line(sums: _Sums, n_draws: int) -> _Line:
    means = sums.factors / n_draws
    covariance = sums.squares / n_draws - means[:, :, np.newaxis] * means[:, np.newaxis]
    own, with_move, variance = covariance[:, :-1, :-1], covariance[:, :-1, -1], covariance[:, -1, -1]
    slopes = np.einsum("pij,pj->pi", np.linalg.pinv(own, hermitian=True), with_move, optimize=False)
    variance = np.maximum(variance, 0.0)
    rest = np.maximum(variance - (slopes * with_move).sum(axis=1), 0.0)
    rest = np.where(rest > ROUNDING * variance, rest, 0.0)
    share = np.divide(rest, variance, out=np.zeros_like(rest), where=variance > 0)
    return _Line(slopes, means[:, :-1], means[:, -1], np.sqrt(rest), share)


def _drawn(
    study: Study,
    trials: Trials,
    names: Sequence[str],
    lines: Mapping[str, _Line],
    quantities: Mapping[str, Quantities],
    draws: int,
    seed: int,
) -> dict[str, Array]:
    """The errors of every score by its line, shape (products, draws) each: one draw of the readings serves all scores."""
    errors = {name: np.empty((len(asked.ids), draws)) for name, asked in quantities.items()}
    rest = {name: np.random.default_rng([seed, 6]) for name in quantities}
    start = 0
    for setting in _settings(study, draws, seed):
        of_readings = _errors(trials, names, setting)
        at = slice(start, start + setting.n_draws)
        for name, asked in quantities.items():
            line = lines[name]
            readings = of_readings[asked.products] - line.means[:, :, np.newaxis]
            errors[name][:, at] = np.einsum("pi,pin->pn", line.slopes, readings, optimize=False)
            left = rest[name].standard_normal((setting.n_draws, len(asked.ids)))
            errors[name][:, at] += line.rest[:, np.newaxis] * left.T
        start += setting.n_draws
    for name, asked in quantities.items():
        dust = DUST * np.abs(asked.values)
        errors[name][errors[name].std(axis=1) <= dust] = 0.0
    return errors


def _unscaled(study: Study) -> Study | None:
    """The study with every estimated standard deviation as it stands; None where none is estimated."""
    moves = [replace(m, scaled=False) if isinstance(m, NoiseMove) and m.errors.is_estimated else m for m in study.moves]
    return study.of_moves(tuple(moves)) if any(a is not b for a, b in zip(moves, study.moves, strict=True)) else None


def _is_shared(study: Study) -> bool:
    """Whether products share an error: a session's, or a systematic one."""
    return any(isinstance(move, NoiseMove) and move.errors.is_shared for move in study.moves)


def _best_is_highest(asked: Quantities) -> bool:
    return asked.form.ranks.best.value == "highest"
