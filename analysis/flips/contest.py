"""A contest of products under one rating or score: who is to be at least equal to whom, and by how much one is ahead."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.trials.quantities import as_ranked
from scoring.catalogue import Catalogue, State
from scoring.errors import Place, Problem, StudyError
from scoring.form import Form, Measure, Output
from scoring.numbers.array_types import Array, Flags
from scoring.program.kernel import Kernel
from scoring.program.program import Program
from scoring.table.evaluate import Inputs, evaluate, kernel_for
from scoring.table.table import Column, ScoreTable

#: A tie is a difference of at least this: what lies below 0 is the dust of binary arithmetic.
TIE = -1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Contest:
    """One product that is to be at least equal to others, under one rating or score.

    table: the scores as they stand; subject: its column in `inputs`
    rivals: the columns it must be at least equal to, of those that have a value; published: which columns have one now
    """

    table: ScoreTable
    inputs: Inputs
    output: Output
    subject: int
    rivals: tuple[int, ...]
    published: Flags

    @property
    def program(self) -> Program:
        """What the scores are worked out by."""
        return self.table.program

    @property
    def catalogue(self) -> Catalogue:
        """The readings as they stand."""
        return self.table.catalogue

    @property
    def form(self) -> Form:
        """The formula as it stands."""
        return self.program.form

    @property
    def sign(self) -> float:
        """1 where the highest score is best, -1 where the lowest is."""
        return 1.0 if self.output.ranks.best.value == "highest" else -1.0

    def values(
        self,
        numbers: Mapping[str, Array] | None = None,
        readings: Mapping[str, Array] | None = None,
        *,
        gated: bool = True,
    ) -> Array:
        """Values as they are ranked, shape (n_draws, n_products); NaN where a product has none (a
        division by 0 gives none), or a gate withholds it.

        numbers : address -> values, shape (n_draws,); readings : measure -> values, shape (n_draws, n_products)
        """
        numbers = numbers or {}
        inputs = replace(self.inputs, values={**self.inputs.values, **(readings or {})})
        varying = tuple(address for address in numbers if address in self.program.parameters)
        found = evaluate(self._kernel(varying), inputs, numbers).values
        values = np.where(np.isfinite(found[self.output.name]), found[self.output.name], np.nan)
        if gated:
            for gate in self._gates():
                values = np.where(found[gate] > 0.5, np.nan, values)
        return as_ranked(self.output, values)

    def margins(self, numbers: Mapping[str, Array] | None = None, readings: Mapping[str, Array] | None = None) -> Array:
        """How far the subject is ahead of the best of its rivals, in points, shape (n_draws,); -inf where one of those
        that are published now would not be."""
        return margin_of(self.values(numbers, readings), self)

    def _gates(self) -> list[str]:
        gates = (gate for gate in self.form.gates if gate.withhold)
        return [f"gate {gate.name}" for gate in gates if not gate.scores or self.output.name in gate.scores]

    def _kernel(self, varying: tuple[str, ...]) -> Kernel:
        return kernel_for(self.program, self.inputs, [self.output.name, *self._gates()], varying)


def margin_of(values: Array, contest: Contest) -> Array:
    """The subject's lead over the best of its rivals, row by row: shape (n_draws,), from values (n_draws, n_products)."""
    rivals = list(contest.rivals)
    leads = contest.sign * (values[:, [contest.subject]] - values[:, rivals])
    gone = np.where(contest.published[rivals], -np.inf, np.inf)  # one that has no value now may go on having none
    leads = np.where(np.isnan(values[:, rivals]), gone, leads)
    leads = np.where(np.isnan(values[:, [contest.subject]]), -np.inf, leads)
    return np.asarray(leads.min(axis=1, initial=np.inf))


def contest_of(table: ScoreTable, column: Column, subject: int, rival: int | None) -> Contest:
    """The contest of one product against another (of the two alone, where no live reference leans on the rest), or all."""
    published = ~np.isnan(column.value)
    if rival is None:
        rivals = tuple(product for product in table.rows.tolist() if product != subject)
        return Contest(table, table.inputs, column.output, subject, rivals, published)
    if table.program.figures:
        return Contest(table, table.inputs, column.output, subject, (rival,), published)
    two = [subject, rival]
    return Contest(table, only(table.inputs, two), column.output, 0, (1,), published[two])


def only(inputs: Inputs, products: Sequence[int]) -> Inputs:
    """The inputs of some products, in the order given."""
    at = list(products)
    return Inputs(
        products=tuple(inputs.products[product] for product in at),
        values={name: values[:, at] for name, values in inputs.values.items()},
        states={name: states[at] for name, states in inputs.states.items()},
        words={name: tuple(words[product] for product in at) for name, words in inputs.words.items()},
    )


def compared_products(contest: Contest) -> tuple[int, ...]:
    """The subject and, where one rival alone stands above it, that one."""
    leads = contest.sign * (contest.values()[0] - contest.values()[0, contest.subject])
    ahead = [rival for rival in contest.rivals if leads[rival] > -TIE]
    return (contest.subject, *(ahead if len(ahead) == 1 else ()))


def missing_of(contest: Contest) -> Iterator[tuple[Measure, int]]:
    """Each measure that the score leans on and that was not read of a product that is compared."""
    for product in compared_products(contest):
        for name in contest.program.measures_under(contest.output.name):
            if contest.inputs.states[name][product] == State.MISSING and name in contest.catalogue.readings:
                yield contest.form.measure(name), product


def check_published(table: ScoreTable, column: Column, products: Sequence[int]) -> None:
    """A fault for each product without a published value, with the reason.

    Raises
    ------
    StudyError : at least one
    """
    problems = [
        Problem(
            Place(f"the catalogue, product {table.catalogue.products[product]}"),
            f"no published {column.output.name}: {reason(column, product)}",
            "a product with a value that is published",
        )
        for product in products
        if np.isnan(column.value[product])
    ]
    if problems:
        raise StudyError(problems)


def reason(column: Column, product: int) -> str:
    """Why a product has no value, in words."""
    return "; ".join((column.status_text(product), *column.remarks.get(product, ())))
