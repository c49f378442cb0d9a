"""Readings that were not made, or lie below what the bench can report: what they may be, in draws.

A missing reading is drawn from what the product's other readings say of it over the catalogue (`conditional_scores`), through how
its measure is distributed over the products (`smoothed_marginal`), and within the measure's plausible range. It stands for what
the bench would have read, its noise included. A reading below the reporting limit is drawn from the same law under the limit,
down to the plausible low end; what is published for it does not change. What does not apply to a product is not drawn.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from scoring.catalogue import Catalogue
from scoring.form import Form
from scoring.measurement_error.conditional_scores import ConditionalScores, conditional_scores, truncated_normal
from scoring.measurement_error.gaps import Gaps, gaps_of, plausible_ends
from scoring.measurement_error.smoothed_marginal import Marginal, marginal_of
from scoring.numbers.array_types import Array, Flags, Indices
from scoring.numbers.rounding import round_to
from scoring.units.role import in_unit

#: A measure that fewer products have is drawn by itself: so few say nothing of how it goes with the others.
FEW = 8
#: A measure with fewer different readings has no law of its own, and is drawn evenly over its plausible range.
FEWEST = 3


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """products: indices, shape (k,); values: what each would have read, shape (n, k), in the measure's unit."""

    products: Indices
    values: Array


@dataclass(frozen=True, slots=True, eq=False)
class UnreadMeasure:
    """One measure: the readings that are missing, those below the reporting limit, and how both were drawn, in words."""

    missing: Drawn
    below: Drawn
    says: str


@dataclass(frozen=True, slots=True, eq=False)
class Unread:
    """n draws of all that was not read.

    measures: by name, those with something drawn; undrawn: measure -> why its missing readings cannot be drawn
    """

    n_products: int
    measures: Mapping[str, UnreadMeasure]
    undrawn: Mapping[str, str]

    def filled(self) -> dict[str, Array]:
        """The drawn readings by measure, shape (n, n_products), NaN where a reading stays as it is."""
        found = {}
        for name, one in self.measures.items():
            values = np.full((len(one.missing.values), self.n_products), np.nan)
            for drawn in (one.missing, one.below):
                values[:, drawn.products] = drawn.values
            found[name] = values
        return found


@dataclass(frozen=True, slots=True, eq=False)
class _Law:
    """How one measure is drawn: by its column of the joint law, by its marginal alone (-1), or evenly (no marginal)."""

    gaps: Gaps
    marginal: Marginal | None
    column: int


@dataclass(frozen=True, slots=True, eq=False)
class UnreadLaw:
    """What the unread readings of a catalogue may be: worked out once, to be drawn from many times."""

    n_products: int
    laws: tuple[_Law, ...]
    joint: ConditionalScores | None
    undrawn: Mapping[str, str]

    def draw(self, n: int, rng: np.random.Generator) -> Unread:
        """n draws of everything."""
        scores = self.joint.draw(n, rng) if self.joint is not None else np.empty((n, 0, 0))
        found = {}
        for law in self.laws:
            missing, below = (self._drawn(law, at, scores, n, rng) for at in (law.gaps.missing, law.gaps.below))
            found[law.gaps.measure.name] = UnreadMeasure(missing, below, self._says(law))
        return Unread(self.n_products, found, self.undrawn)

    def reaches(self, products: Flags) -> tuple[str, ...]:
        """The measures that something is drawn of for any of some products, given as bool, shape (n_products,)."""
        drawn = ((law.gaps.measure.name, np.concatenate([law.gaps.missing, law.gaps.below])) for law in self.laws)
        return tuple(name for name, at in drawn if products[at].any())

    @property
    def says(self) -> tuple[str, ...]:
        """How each measure is drawn, and what cannot be, a sentence each."""
        drawn = [self._says(law) for law in self.laws]
        return (*drawn, *(f"{name}: {why}" for name, why in self.undrawn.items()))

    def _drawn(self, law: _Law, products: Indices, scores: Array, n: int, rng: np.random.Generator) -> Drawn:
        """n draws of one measure's readings of some products.

        products : shape (k,), indices; scores : shape (n, rows, columns), the joint draws of normal scores
        """
        gaps, measure = law.gaps, law.gaps.measure
        low, high = gaps.low[products], gaps.high[products]
        if law.marginal is None:
            values = low + rng.random((n, len(products))) * (high - low)
        else:
            if law.column < 0 or self.joint is None:
                bounds = law.marginal.scores_of(low), law.marginal.scores_of(high)
                own = truncated_normal(np.zeros((n, len(products))), np.ones(1), *bounds, rng)
            else:
                own = scores[:, np.searchsorted(self.joint.rows, products), law.column]
            values = np.clip(law.marginal.readings(own), low, high)
        if measure.round is not None:
            values = round_to(values, measure.round.step.value, measure.round.rule.value)
        return Drawn(products, values)

    def _says(self, law: _Law) -> str:
        gaps = law.gaps
        said = []
        if len(gaps.missing):
            said.append(f"{_readings(len(gaps.missing))} missing, drawn {self._how(law)}")
        if len(gaps.below):
            by = "by the same law" if len(gaps.missing) else self._how(law)
            said.append(f"{_readings(len(gaps.below))} below the reporting limit, drawn below it {by}")
        return f"{gaps.measure.name}: {'; '.join(said)}"

    def _how(self, law: _Law) -> str:
        low, high = plausible_ends(law.gaps.measure)
        within = f" within {low:g} to {in_unit(f'{high:g}', law.gaps.measure.unit)}" if high < math.inf else ""
        others = f"{law.gaps.n} product{'s' if law.gaps.n != 1 else ''}"
        if law.marginal is None:
            return f"evenly{within}, for {others} with it are too few to say more"
        if law.column < 0 or self.joint is None:
            return f"from {others} that have it, with wide tails and by itself, for they are few{within}"
        share = 100 * float(self.joint.explained[law.column])
        return f"from the product's other readings, which explain {share:.0f} % of it over {others}{within}"


def unread_draws(form: Form, catalogue: Catalogue, n: int, rng: np.random.Generator) -> Unread:
    """Draws of every reading that is missing, and of every one below the reporting limit.

    Parameters
    ----------
    n : how many draws; the draws of one number belong together, over products and measures

    Returns
    -------
    Unread : by measure, product indices and values of shape (n, k), and how they were drawn

    Notes
    -----
    A measure that fewer than 8 products have is drawn from its own readings alone; one with fewer than 3 different readings
    evenly over its plausible range, or not at all where it has none.
    """
    return unread_law(form, catalogue, rng).draw(n, rng)


def unread_law(form: Form, catalogue: Catalogue, rng: np.random.Generator) -> UnreadLaw:
    """What `unread_draws` draws from; `rng` draws the correlations that stand for how little is known of them."""
    every = list(gaps_of(form, catalogue))
    if not any(gaps.wanted for gaps in every):
        return UnreadLaw(len(catalogue.products), (), None, {})
    laws, undrawn = list[_Law](), dict[str, str]()
    table, floors, ceilings = list[Array](), list[Array](), list[Array]()
    for gaps in every:
        column = -1
        if gaps.different < FEWEST:
            if gaps.wanted and gaps.bounded:
                laws.append(_Law(gaps, None, column))
            elif gaps.wanted:
                undrawn[gaps.measure.name] = (
                    f"what was not read is not drawn: {_readings(gaps.n)} are too few, and no `plausible` range is declared"
                )
            continue
        marginal, own = marginal_of(gaps.values[gaps.read], gaps.high[gaps.censored], gaps.plausible_low)
        if gaps.n >= FEW:
            column = len(table)
            scores = np.full(len(catalogue.products), np.nan)
            scores[gaps.read] = own
            bounds = marginal.scores_of(gaps.low), marginal.scores_of(gaps.high)
            table.append(scores)
            floors.append(bounds[0])
            ceilings.append(bounds[1])
        if gaps.wanted:
            laws.append(_Law(gaps, marginal, column))
    joint = None
    if any(law.column >= 0 for law in laws):
        joint = conditional_scores(np.stack(table, 1), np.stack(floors, 1), np.stack(ceilings, 1), rng)
    return UnreadLaw(len(catalogue.products), tuple(laws), joint, undrawn)


def _readings(count: int) -> str:
    return f"{count} reading{'s' if count != 1 else ''}"
