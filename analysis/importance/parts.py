"""The parts of a score as its blend takes them, over the products that are published with it and lack none of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.wording import counted
from scoring.blends import Blend, Weights
from scoring.form import Output
from scoring.numbers.array_types import Array
from scoring.numbers.ordered_sums import correlation_of, matrix_product
from scoring.program.program import Program
from scoring.table.evaluate import stages
from scoring.table.table import ScoreTable

#: A score that is as near to the weighted mean as this is the weighted mean.
DUST = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class WeightedParts:
    """One score on a catalogue.

    ids: the products, in published order; names: the parts; stated: their weights as written; shares: the same, adding to 1;
    values: shape (products, parts); score, mean: the published score and the weighted mean, shape (products,); all_values,
    all_score: of every published product, NaN for a part that it lacks; left_out: which published products are not here, in
    words; linear: whether the blend is linear in its weights; besides: what acts besides
    the weighted mean, in words, "" where nothing does; best_is_high: whether the highest score is the best.
    """

    output: Output
    ids: tuple[str, ...]
    names: tuple[str, ...]
    stated: tuple[str, ...]
    shares: Array
    values: Array
    score: Array
    all_values: Array
    all_score: Array
    left_out: str
    linear: bool
    besides: str
    best_is_high: bool

    @property
    def mean(self) -> Array:
        """The weighted mean of the parts, shape (products,)."""
        return matrix_product(self.values, self.shares)

    @property
    def squared(self) -> Array:
        """What each part's share of the variance would be with equal spread and no correlation: w^2 / sum w^2, shape (parts,)."""
        return np.asarray(self.shares**2 / np.sum(self.shares**2))

    @property
    def by_spread(self) -> Array:
        """The same with the parts' own spread, and no correlation: w^2 s^2 / sum w^2 s^2; NaN where none varies."""
        own = self.shares**2 * np.var(self.values, axis=0)
        return own / own.sum() if own.sum() > 0 else np.full_like(own, np.nan)

    @property
    def agreement(self) -> float:
        """The correlation of the weighted mean with the published score; NaN where either does not vary."""
        if len(self.ids) < 2 or np.ptp(self.mean) <= DUST or np.ptp(self.score) <= DUST:
            return float("nan")
        return correlation_of(self.mean, self.score)


def has_weights(output: Output) -> bool:
    """Whether a rating or score blends two or more parts by weights (or equally, where none are written)."""
    return output.value is None and output.blend is not None and len(output.parts) > 1


def weighted_parts(program: Program, table: ScoreTable, name: str) -> WeightedParts:
    """The parts of one score, over the products published with it that lack none of them.

    Raises
    ------
    ValueError : the score is an expression, or has one part only
    """
    column = table.column(name)
    output = column.output
    if not has_weights(output):
        raise ValueError(f"{name} has no weights: it is an expression, or has one part only")
    worked = stages(program, table.inputs)
    curves = {step.address: step.symbol for step in program.steps if step.kind == "curve" and step.output == name}
    n_products = len(table.catalogue.products)
    columns, here = [], []
    for part in output.parts:
        found = table.evaluation.values[part.source] if part.curve is None else worked[str(curves[part.address])]
        columns.append(np.broadcast_to(found[0], n_products))
        here.append(np.broadcast_to(table.evaluation.presence.here[part.source][0], n_products))
    complete, published = np.all(here, axis=0), column.rank >= 1
    order = np.argsort(np.where(published, column.rank, np.inf), kind="stable")
    kept = [int(i) for i in order if complete[i] and published[i]]
    weights = np.array([part.weight.value if part.weight is not None else 1.0 for part in output.parts])
    every = np.stack(columns, axis=1)
    values = every[kept]
    shares, score = weights / weights.sum(), column.value[kept]
    blend = output.blending
    assert blend is not None  # it has weights
    factor = float(weights.sum()) if blend.additive and blend.weights is Weights.MULTIPLIERS else 1.0
    off = int(np.sum(np.abs(score - factor * matrix_product(values, shares)) > DUST))
    return WeightedParts(
        output=output,
        ids=tuple(table.catalogue.products[i] for i in kept),
        names=_told_apart([part.source for part in output.parts]),
        stated=tuple(part.weight.text if part.weight is not None else "1" for part in output.parts),
        shares=shares,
        values=values,
        score=score,
        all_values=np.where(np.stack(here, axis=1), every, np.nan)[published],
        all_score=column.value[published],
        left_out=_left_out(int(np.sum(published & ~complete)), len(table.rows) - int(published.sum())),
        linear=blend.additive,
        besides=_besides(output, blend, off, len(kept)),
        best_is_high=output.ranks.best.value == "highest",
    )


def _told_apart(names: list[str]) -> tuple[str, ...]:
    """The names of the parts; a source that is in twice is numbered."""
    return tuple(
        f"{name} ({names[: i + 1].count(name)})" if names.count(name) > 1 else name for i, name in enumerate(names)
    )


def _left_out(partial: int, absent: int) -> str:
    """Which products of the catalogue are not looked at, in words; "" where all are."""
    words = [f"{counted(partial, 'product')} that lack{'s' if partial == 1 else ''} a part"] if partial else []
    words += [f"{counted(absent, 'product')} without this score"] if absent else []
    return " and ".join(words)


def _besides(output: Output, blend: type[Blend], off: int, n_products: int) -> str:
    """What makes the published score another number than the weighted mean, in words."""
    if not blend.additive:
        return f"the score is the {blend.name} of its parts, not their weighted mean"
    acts = " and ".join(["limits"] * bool(output.limits) + ["rounding"] * (output.round is not None))
    return (
        f"{acts or 'something else'} act{'s' if acts == 'rounding' else ''} on {off} of {n_products} products"
        if off
        else ""
    )
