"""How the bench's noise moves each score: errors of scores, drawn together for all products.

A score's error is taken as what is linear in the errors of its readings, by least squares over the draws, and an
independent normal rest. So what readings share (a session, a calibration) and how well their sizes are known stays in
the errors of scores, while the few draws in which a score jumps do not pass for a wide normal law; those are counted.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from analysis.runs import Block, Executor, Joined, blocks_of, run, serially
from analysis.study import Study
from analysis.study.study import Setting
from analysis.trials.quantities import Quantities
from analysis.trials.trials import Trials, compile_trials
from scoring.numbers.array_types import Array, Integers
from scoring.numbers.ordered_sums import covariance_of
from scoring.table.table import ScoreTable

DRAWS = 16_384
#: Draws of one block; each has a generator of its own, so that this figure is part of what a seed stands for.
BATCH = 1024
#: So many draws of a block are worked through together, that they stay in the cache.
PIECE = 256
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
    not_above: Integers
    n_draws: int

    @property
    def sd(self) -> Array:
        """The standard uncertainty of each score."""
        return self.spread if self.spread.ndim == 1 else np.sqrt(np.diag(self.spread))

    @property
    def moves(self) -> bool:
        """Whether noise moves any score."""
        return bool((self.sd > 0).any())


@dataclass(frozen=True, slots=True, eq=False)
class Noisy:
    """Some draws of the bench's noise.

    rows: which of their block; setting: what they set; errors: of readings, shape (products, measures, n).
    """

    rows: slice
    setting: Setting
    errors: Array


@dataclass(frozen=True, slots=True, eq=False)
class NoisyReadings:
    """Draws of the bench's noise.

    study: what is drawn, of the formula that the trials are of; measures: those whose readings it draws.
    """

    trials: Trials
    study: Study
    measures: tuple[str, ...]
    seed: int

    def pieces(self, block: Block) -> Iterator[Noisy]:
        """The readings of every draw."""
        draws = self.study.draws(len(block), block.stream(self.seed, 5))
        for first in range(0, len(block), PIECE):
            rows = slice(first, min(first + PIECE, len(block)))
            setting = self.study.setting(draws.rows(rows))
            yield Noisy(rows, setting, self._errors(setting))

    def _errors(self, setting: Setting) -> Array:
        """Of readings, shape (products, measures, n); of one that was not read, what is filled in, less nothing."""
        inputs, readings = self.trials.inputs, self.trials.readings_under(setting)
        errors = np.zeros((len(inputs.products), len(self.measures), setting.n_draws))
        for column, name in enumerate(self.measures):
            errors[:, column] = np.nan_to_num(readings[name] - np.nan_to_num(inputs.values[name])).T
        return errors


@dataclass(slots=True, eq=False)
class Squares:
    """Sums over draws of one score, for its least squares on the errors of readings.

    factors: of the errors and the score's move, last, shape (products, measures + 1); squares: of their products, shape
    (products, measures + 1, measures + 1); not_above: as in `BenchErrors`; n_draws: how many there were.
    """

    factors: Array
    squares: Array
    not_above: Integers
    n_draws: int = 0

    def add(self, errors: Array, moves: Array, scores: Array) -> None:
        """Take in draws: errors of readings, shape (products, measures, n); the score's moves and the score, (n, products)."""
        both = np.concatenate([errors, moves.T[:, np.newaxis]], axis=1)
        self.factors += both.sum(axis=2)
        self.squares += np.einsum("pin,pjn->pij", both, both, optimize=False)
        for product in range(scores.shape[1]):
            self.not_above[product] += (~(scores[:, [product]] > scores)).sum(axis=0)
        self.n_draws += len(scores)

    def merge(self, after: Squares) -> Squares:
        """With those of other draws."""
        self.factors += after.factors
        self.squares += after.squares
        self.not_above += after.not_above
        self.n_draws += after.n_draws
        return self


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A score's error by those of its readings: slopes, shape (products, measures); means of the readings' errors; the mean
    move and the standard deviation of what is not linear, and its share of the variance, shape (products,); not_above: as in
    `BenchErrors`."""

    slopes: Array
    means: Array
    move: Array
    rest: Array
    share: Array
    not_above: Integers


@dataclass(frozen=True, slots=True, eq=False)
class LeastSquares:
    """Every score's line, from draws of readings."""

    trials: Trials
    quantities: Mapping[str, Quantities]

    def start(self) -> dict[str, Squares]:
        """Sums over no draws."""
        return {}

    def add(self, sums: dict[str, Squares], piece: Noisy) -> dict[str, Squares]:
        """Score some draws, and take them in."""
        scores = self.trials.scores(piece.setting)
        for name, asked in self.quantities.items():
            own, errors = scores[name][:, asked.products], piece.errors[asked.products]
            moves = np.nan_to_num(own - asked.values)
            sums.setdefault(name, _no_squares(*errors.shape[:2])).add(
                errors, moves, own if _best_is_highest(asked) else -own
            )
        return sums

    def merge(self, sums: dict[str, Squares], after: dict[str, Squares]) -> dict[str, Squares]:
        """The sums of both."""
        return {name: sums[name].merge(own) if name in sums else own for name, own in after.items()}

    def finish(self, sums: dict[str, Squares]) -> dict[str, Line]:
        """The line of every score."""
        return {name: _line(own) for name, own in sums.items()}


def _no_squares(n_products: int, n_measures: int) -> Squares:
    shape = n_products, n_measures + 1
    counts = np.zeros((n_products, n_products), np.int64)
    return Squares(np.zeros(shape), np.zeros((*shape, n_measures + 1)), counts)


def _line(sums: Squares) -> Line:
    means = sums.factors / sums.n_draws
    covariance = sums.squares / sums.n_draws - means[:, :, np.newaxis] * means[:, np.newaxis]
    own, with_move, variance = covariance[:, :-1, :-1], covariance[:, :-1, -1], covariance[:, -1, -1]
    slopes = np.einsum("pij,pj->pi", np.linalg.pinv(own, hermitian=True), with_move, optimize=False)
    variance = np.maximum(variance, 0.0)
    rest = np.maximum(variance - (slopes * with_move).sum(axis=1), 0.0)
    rest = np.where(rest > ROUNDING * variance, rest, 0.0)
    share = np.divide(rest, variance, out=np.zeros_like(rest), where=variance > 0)
    return Line(slopes, means[:, :-1], means[:, -1], np.sqrt(rest), share, sums.not_above)


@dataclass(frozen=True, slots=True, eq=False)
class ErrorsOfScores:
    """Draws of the errors of scores: what each line makes of draws of readings, and an independent normal rest."""

    readings: NoisyReadings
    lines: Mapping[str, Line]
    quantities: Mapping[str, Quantities]

    def pieces(self, block: Block) -> Iterator[dict[str, Array]]:
        """By score, shape (products, n) each: one draw of the readings serves all scores."""
        left = {name: self._left(asked, block) for name, asked in self.quantities.items()}
        for noisy in self.readings.pieces(block):
            yield {name: self._of(name, noisy.errors, left[name][:, noisy.rows]) for name in self.quantities}

    def _left(self, asked: Quantities, block: Block) -> Array:
        """The normal values that the rests of one score are made of, shape (products, n)."""
        return block.stream(self.readings.seed, 6).standard_normal((len(block), len(asked.ids))).T

    def _of(self, name: str, of_readings: Array, left: Array) -> Array:
        line = self.lines[name]
        readings = of_readings[self.quantities[name].products]
        readings -= line.means[:, :, np.newaxis]
        errors = np.einsum("pi,pin->pn", line.slopes, readings, optimize=False)
        errors += line.rest[:, np.newaxis] * left
        return np.asarray(errors)


def bench_errors(
    study: Study,
    table: ScoreTable,
    quantities: Mapping[str, Quantities],
    *,
    seed: int,
    draws: int = DRAWS,
    execute: Executor = serially,
) -> dict[str, BenchErrors]:
    """The errors of every score, by name.

    Parameters
    ----------
    study : moves of the bench's readings alone
    quantities : of each score that is asked for
    execute : works the blocks of draws out
    """
    trials, blocks = compile_trials(study, table.catalogue, tuple(quantities)), blocks_of(draws, BATCH)
    readings = NoisyReadings(trials, study, _moved(trials), seed)
    lines = run(readings, LeastSquares(trials, quantities), blocks, execute=execute)

    def drawn_by(own: NoisyReadings) -> dict[str, Array]:
        errors = run(ErrorsOfScores(own, lines, quantities), Joined(axis=1), blocks, execute=execute)
        return {name: _without_dust(drawn, quantities[name]) for name, drawn in errors.items()}

    drawn = drawn_by(readings)
    as_stated = _unscaled(study)
    plain = drawn if as_stated is None else drawn_by(replace(readings, study=as_stated))
    found = {}
    for name, asked in quantities.items():
        spread = covariance_of(plain[name].T) if _is_shared(study) else plain[name].std(axis=1)
        line = lines[name]
        found[name] = BenchErrors(drawn[name], spread, asked.values + line.move, line.share, line.not_above, draws)
    return found


def _moved(trials: Trials) -> tuple[str, ...]:
    """The measures whose readings the study draws."""
    setting = trials.study.setting(trials.study.draws(1, np.random.default_rng(0)))
    measures = setting.noise.keys() | setting.resampled.keys() | setting.filled.keys()
    return tuple(name for name in trials.inputs.values if name in measures)


def _without_dust(errors: Array, asked: Quantities) -> Array:
    """Errors of scores, shape (products, draws), 0 where they are the dust of binary arithmetic."""
    errors[errors.std(axis=1) <= DUST * np.abs(asked.values)] = 0.0
    return errors


def _unscaled(study: Study) -> Study | None:
    """The study with every estimated standard deviation as it stands; None where none is estimated."""
    moves = tuple(move.with_stated_sizes() for move in study.moves)
    return study.of_moves(moves) if any(a is not b for a, b in zip(moves, study.moves, strict=True)) else None


def _is_shared(study: Study) -> bool:
    """Whether products share an error: a session's, or a systematic one."""
    return any(move.shares_errors for move in study.moves)


def _best_is_highest(asked: Quantities) -> bool:
    return asked.output.ranks.best.value == "highest"
