"""Robustness to the catalogue: drop a product, clone one, add a middling one, add a dominated one, and see who moves."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from analysis.trials.quantities import Quantities
from scoring.catalogue import State
from scoring.form import Form
from scoring.numbers.array_types import Array, Indices
from scoring.numbers.ranks import rank
from scoring.program.kernel import kernel_of
from scoring.program.program import Program
from scoring.table.evaluate import Inputs, evaluate

#: A score that changes by less is the same: the dust of binary arithmetic.
DUST = 1e-9


@dataclass(frozen=True, slots=True)
class CatalogueChange:
    """One kind of change to the catalogue, made in turn with every product (or once).

    tried: how many times; scores_moved: how many of those changed the score of any other product; ranks_moved: how many
    changed the order among the others; lost: how many left another product without a score, which counts as both; most: the
    largest change of a score, in points; who: products that changed places among the others, with the most places each; by:
    the product that was dropped, cloned or added where most moved.
    """

    what: str
    tried: int
    scores_moved: int
    ranks_moved: int
    lost: int
    most: float
    who: tuple[tuple[str, float], ...]
    by: str


@dataclass(frozen=True, slots=True)
class CatalogueRobustness:
    """What changes to the catalogue do to one score; leans: whether anything in the formula leans on the live catalogue."""

    leans: bool
    changes: tuple[CatalogueChange, ...]


def leans_on_catalogue(program: Program) -> bool:
    """Whether anything in a formula takes figures of the live catalogue."""
    return bool(program.figures)


def catalogue_robustness(
    program: Program, inputs: Inputs, asked: Mapping[str, Quantities]
) -> dict[str, CatalogueRobustness]:
    """Re-score the catalogue with every change, and compare the order among the products that were there.

    Notes
    -----
    Dropped and cloned: every product in turn; none is dropped of one or two, which leaves no order. Middling: the median
    reading of every measure. Dominated: the last placed product with the worst reading of every measure that says which way
    is better. Gates are not asked.
    """
    kernel = kernel_of(program, list(asked))
    found: dict[str, list[CatalogueChange]] = {name: [] for name in asked}
    for what in ("drop one", "clone one", "add a middling one"):
        results = [(by, gone, evaluate(kernel, changed).values) for by, gone, changed in _changes(inputs, what)]
        for name, quantities in asked.items():
            found[name].append(
                _compared(what, quantities, [(by, gone, values[name][0]) for by, gone, values in results])
            )
    for name, quantities in asked.items():
        worst = _with_one_more(inputs, int(quantities.products[-1]), _worst(program.form, inputs))
        values = evaluate(kernel, worst).values[name][0]
        found[name].append(_compared("add a dominated one", quantities, [("a dominated one", -1, values)]))
    leans = leans_on_catalogue(program)
    return {name: CatalogueRobustness(leans, tuple(changes)) for name, changes in found.items()}


def _changes(inputs: Inputs, what: str) -> Iterator[tuple[str, int, Inputs]]:
    """Who is dropped, cloned or added; the index of the one that is gone, -1 for none; and the changed readings."""
    everyone = np.arange(len(inputs.products))
    if what == "drop one":
        for gone, name in enumerate(inputs.products if len(everyone) > 2 else ()):
            yield name, gone, taken(inputs, np.delete(everyone, gone))
    elif what == "clone one":
        for index, name in enumerate(inputs.products):
            yield name, -1, taken(inputs, np.append(everyone, index))
    else:
        yield "a middling one", -1, _with_one_more(inputs, 0, _middling(inputs))


def _with_one_more(inputs: Inputs, like: int, figures: Mapping[str, float]) -> Inputs:
    """The readings with one more product: like another, but for some figures."""
    return _with(taken(inputs, np.append(np.arange(len(inputs.products)), like)), figures)


def taken(inputs: Inputs, index: Indices) -> Inputs:
    """The readings of some products, in the given order; one may be taken twice."""
    names = [inputs.products[i] for i in index.tolist()]
    return replace(
        inputs,
        products=tuple(names),
        values={name: values[:1, index] for name, values in inputs.values.items()},
        states={name: states[index] for name, states in inputs.states.items()},
        words={name: tuple(words[i] for i in index.tolist()) for name, words in inputs.words.items()},
        reasons={},
    )


def _with(inputs: Inputs, last: Mapping[str, float]) -> Inputs:
    """The readings with figures of the last product set."""
    values, states = dict(inputs.values), dict(inputs.states)
    for name, figure in last.items():
        values[name], states[name] = values[name].copy(), states[name].copy()
        values[name][:, -1], states[name][-1] = figure, State.VALUE
    return replace(inputs, values=values, states=states)


def _middling(inputs: Inputs) -> dict[str, float]:
    """The median reading of every measure."""
    return {n: float(np.nanmedian(v[0])) for n, v in inputs.values.items() if not np.isnan(v[0]).all()}


def _worst(form: Form, inputs: Inputs) -> dict[str, float]:
    """The worst reading of every measure that says which way is better."""
    found = {}
    for measure in form.measures:
        values = inputs.values[measure.name][0]
        if not np.isnan(values).all() and measure.better.value in ("higher", "lower"):
            found[measure.name] = float(np.nanmin(values) if measure.better.value == "higher" else np.nanmax(values))
    return found


def _compared(what: str, quantities: Quantities, results: list[tuple[str, int, Array]]) -> CatalogueChange:
    """What the changes of one kind did to the products that were there before."""
    rules = quantities.output.ranks
    best, ties = rules.best.value, rules.ties.value
    scores_moved = ranks_moved = n_lost = 0
    most, worst, by = 0.0, np.zeros(len(quantities.ids)), ""
    for name, gone, values in results:
        kept = quantities.products != gone
        index = quantities.products[kept] - ((quantities.products[kept] > gone) & (gone >= 0))
        change = np.abs(values[index] - quantities.values[kept])
        before = rank(quantities.values[kept], best, ties)
        moves = np.abs(rank(values[index], best, ties) - before)
        lost = np.isnan(change)
        n_lost += bool(lost.any())
        change, moves = np.where(lost, 0.0, change), np.where(lost | np.isnan(moves), 0.0, moves)
        scores_moved += bool((change > DUST).any() or lost.any())
        ranks_moved += bool(moves.any() or lost.any())
        most = max(most, float(change.max(initial=0.0)))
        if moves.max(initial=0.0) > worst.max(initial=0.0):
            by = name
        worst[kept] = np.maximum(worst[kept], moves)
    who = tuple((quantities.ids[i], float(worst[i])) for i in np.argsort(-worst, kind="stable") if worst[i] > 0)
    return CatalogueChange(what, len(results), scores_moved, ranks_moved, n_lost, most, who, by)
