"""How a whole vector of weights is drawn, each rule with its declaration: its key in a study file, and what stands there.

Every rule keeps the sum that the stated weights have.

Sources: uniform on the simplex by normalised exponentials, and a Dirichlet vector by normalised gamma variables: Devroye,
Non-Uniform Random Variate Generation, 1986, chapters V and XI (from memory). Normalised uniforms are not uniform there.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from scipy.special import gammaincinv, gammaln

from analysis.study.distributions import EDGE
from analysis.study.keys import NAME, Amount, Figures, Law, Listed, OneWord
from scoring.declaration import Key
from scoring.declaration.kinds import Either, Just, Kind, Named, Schema, list_of
from scoring.numbers.array_types import Array
from scoring.reader.fields import Fields
from scoring.texts.document import Scalar, Sequence
from scoring.units.role import UnitRole

#: Rejection gives up after so many times the draws that are wanted.
MOST_TRIES = 10_000
#: So many vectors of each proposal are drawn to see which falls into the intervals most often.
PILOT = 4096
#: A gamma quantile below this is taken from its leading term, in logarithms.
TINY = 1e-100
#: The least shape of a gamma variable: with all of them there, one weight has everything already.
LEAST_SHAPE = 1e-9


class WeightRule(Protocol):
    """One way to draw a vector of m weights."""

    separate: bool
    """Whether each column is an independent argument of its own: a factor for every weight."""

    @property
    def columns(self) -> int:
        """How many uniform columns it takes; 0 where it draws from a generator."""
        ...

    @property
    def says(self) -> str:
        """The rule in words."""
        ...

    def weights(self, unit: Array) -> Array:
        """Weights of shape (n, m) from uniform columns, shape (n, columns)."""
        ...


def _rescaled(weights: Array, stated: tuple[float, ...]) -> Array:
    """Rows, shape (n, m), with the sum of the stated weights; a row of nothing but 0 is the stated weights."""
    greatest = weights.max(axis=1, keepdims=True)
    nothing = greatest < np.finfo(float).tiny  # what is smaller than that cannot be divided by
    weights = np.where(nothing, stated, weights / np.where(nothing, 1.0, greatest))
    return np.asarray(weights * (sum(stated) / weights.sum(axis=1, keepdims=True)))


@dataclass(frozen=True, slots=True)
class ByFactor:
    """Each weight times a factor of its own, uniform from `low` to `high`; then all rescaled."""

    stated: tuple[float, ...]
    low: float
    high: float
    separate = True

    @property
    def columns(self) -> int:
        return len(self.stated)

    @property
    def says(self) -> str:
        return f"times a factor, uniform {self.low:g} to {self.high:g}, then rescaled to the stated sum"

    @property
    def sds(self) -> tuple[float, ...]:
        """The standard deviation of each weight before rescaling."""
        return tuple(weight * (self.high - self.low) / math.sqrt(12) for weight in self.stated)

    def weights(self, unit: Array) -> Array:
        moved = np.array(self.stated) * (self.low + (self.high - self.low) * unit)
        return _rescaled(moved, self.stated)


@dataclass(frozen=True, slots=True)
class PlusMinus:
    """Each share moved by up to `width` (of a sum of 1), uniformly, not below 0; then all rescaled."""

    stated: tuple[float, ...]
    width: float
    separate = True

    @property
    def columns(self) -> int:
        return len(self.stated)

    @property
    def says(self) -> str:
        return f"share plus or minus up to {self.width:g}, uniform, not below 0, then rescaled to the stated sum"

    @property
    def sds(self) -> tuple[float, ...]:
        """The standard deviation of each weight before rescaling."""
        total = sum(self.stated)
        return tuple(total * self._sd(weight / total) for weight in self.stated)

    def _sd(self, share: float) -> float:
        top = share + self.width
        if share >= self.width:
            return self.width / math.sqrt(3)
        above = top / (2 * self.width)  # the chance of not being held at 0
        return math.sqrt(above * top**2 / 3 - (above * top / 2) ** 2)

    def weights(self, unit: Array) -> Array:
        total = sum(self.stated)
        shares = np.array(self.stated) / total
        moved = np.maximum(shares + self.width * (2 * unit - 1), 0.0)
        return _rescaled(moved, self.stated)


@dataclass(frozen=True, slots=True)
class Dirichlet:
    """A Dirichlet vector about the stated shares: the larger the concentration, the nearer."""

    stated: tuple[float, ...]
    concentration: float
    separate = False

    @property
    def columns(self) -> int:
        return len(self.stated)

    @property
    def says(self) -> str:
        return f"Dirichlet about the stated shares, concentration {self.concentration:g}"

    def weights(self, unit: Array) -> Array:
        """Gamma quantiles, rescaled; in logarithms, since those of a small shape are too small for a double.

        Near 0 the distribution function of a gamma variable of shape a is x**a / Gamma(a + 1) to first order.
        """
        shapes = self.concentration * np.array(self.stated) / sum(self.stated)
        here = shapes > 0
        inner, shapes = np.clip(unit[:, here], EDGE, 1 - EDGE), np.maximum(shapes[here], LEAST_SHAPE)
        gammas = gammaincinv(shapes, inner)
        logs = np.where(gammas > TINY, np.log(np.maximum(gammas, TINY)), (np.log(inner) + gammaln(shapes + 1)) / shapes)
        weights = np.zeros(unit.shape)
        weights[:, here] = np.exp(logs - logs.max(axis=1, keepdims=True))
        return _rescaled(weights, self.stated)


@dataclass(frozen=True, slots=True)
class Simplex:
    """Every weight vector alike: uniform on the simplex, optionally in a stated order, heaviest first."""

    total: float
    parts: int
    order: tuple[int, ...] = ()
    separate = False

    @property
    def columns(self) -> int:
        return self.parts

    @property
    def says(self) -> str:
        return "uniform on the simplex" + (", in the stated order of weight" if self.order else "")

    def weights(self, unit: Array) -> Array:
        drawn = -np.log(np.clip(unit, EDGE, 1 - EDGE))
        drawn *= self.total / drawn.sum(axis=1, keepdims=True)
        if not self.order:
            return drawn
        placed = np.empty(drawn.shape)
        placed[:, self.order] = np.sort(drawn, axis=1)[:, ::-1]
        return placed


@dataclass(frozen=True, slots=True)
class Intervals:
    """Every weight vector alike among those whose shares lie within stated intervals."""

    total: float
    low: tuple[float, ...]
    high: tuple[float, ...]
    separate = False

    @property
    def columns(self) -> int:
        return 0

    @property
    def says(self) -> str:
        ends = ", ".join(f"{100 * a:.3g}-{100 * b:.3g} %" for a, b in zip(self.low, self.high, strict=True))
        return f"uniform on the simplex with shares within {ends}"

    def weights(self, unit: Array) -> Array:
        raise NotImplementedError("intervals are drawn by rejection, from a generator")

    def draw(self, n: int, rng: np.random.Generator) -> Array:
        """n weight vectors, shape (n, m), by rejection.

        Raises
        ------
        ValueError : the intervals leave so little room that almost every draw is rejected

        Notes
        -----
        Shares are proposed uniformly on three sets that hold all that is wanted: the simplex at the intervals' low ends, the
        one at their high ends, and the box of all intervals but the widest. The one that is rejected least is used; what
        is kept is uniform whichever it is, since each proposal has a constant density in all shares but one.
        """
        proposal = max(self._proposals(), key=lambda propose: len(self._kept(propose(PILOT, rng))))
        kept, held, tries = [np.empty((0, len(self.low)))], 0, 0
        while held < n:
            if tries > MOST_TRIES * max(n, 100):
                raise ValueError("the intervals leave so little room that draws do not fall into it")
            kept.append(self._kept(proposal(4 * n + PILOT, rng)))
            held += len(kept[-1])
            tries += 4 * n + PILOT
        return np.concatenate(kept)[:n] * self.total

    def _kept(self, shares: Array) -> Array:
        """The rows of shares, shape (n, m), that lie within all intervals."""
        low, high = np.array(self.low), np.array(self.high)
        return shares[((shares >= low) & (shares <= high)).all(axis=1)]

    def _proposals(self) -> tuple[Callable[[int, np.random.Generator], Array], ...]:
        """Three ways to propose n rows of shares, shape (n, m); see `draw`."""
        low, high = np.array(self.low), np.array(self.high)
        widest = int(np.argmax(high - low))

        def gaps(n: int, rng: np.random.Generator) -> Array:
            drawn = rng.standard_exponential((n, len(low)))
            return np.asarray(drawn / drawn.sum(axis=1, keepdims=True))

        def box(n: int, rng: np.random.Generator) -> Array:
            shares = low + (high - low) * rng.random((n, len(low)))
            shares[:, widest] = 0.0
            shares[:, widest] = 1 - shares.sum(axis=1)
            return np.asarray(shares)

        return (
            lambda n, rng: np.asarray(low + (1 - low.sum()) * gaps(n, rng)),
            lambda n, rng: np.asarray(high - (high.sum() - 1) * gaps(n, rng)),
            box,
        )


STATED = "stated"


@dataclass(frozen=True, slots=True)
class Weighed:
    """What a rule is made for: a rating or score, its parts as addresses call them, and their stated weights."""

    name: str
    parts: tuple[str, ...]
    stated: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class ShareInterval(Kind):
    """The lowest and the highest share of a part, each as `10%` or 0.1."""

    def schema(self) -> Schema:
        title = "`[lowest, highest]` share, as `[10%, 30%]`"
        return list_of(SHARE_END.schema(), title) | {"minItems": 2, "maxItems": 2}

    def read(self, fields: Fields, part: str) -> tuple[float, float] | None:
        """The ends of one part, 0 and 1 where none are written; None, and a fault, where they are none."""
        node = fields.node_of(part)
        if node is None:
            return 0.0, 1.0
        path = fields.path(part)
        nodes = fields.reader.items(node, path, "a lowest and a highest share")
        ends = [fields.reader.number(one, path, least=0, most=1, percent=True) for one in nodes]
        values = [number.value for number in ends if number is not None]
        if len(values) < len(ends) or not isinstance(node, Sequence):
            return None
        if len(values) != 2 or not values[0] < values[1]:
            found = f"{', '.join(f'{value:g}' for value in values) or 'nothing'} for {path}"
            fields.reader.fault(node.place, found, "two shares that rise, as [10%, 30%]")
            return None
        return values[0], values[1]


FACTOR = Figures(("low", "high"), UnitRole.PLAIN, least=0)
PLUS_MINUS = Amount(UnitRole.SHARE, above=0, most=1, percent=True)
CONCENTRATION = Amount(UnitRole.PLAIN, above=0)
SIMPLEX = OneWord({"uniform": "every weight vector alike"})
ORDER = Either(
    (Just(STATED), Listed(NAME, "a list of parts", fewest=2, once=True)),
    "`stated`, or a list of every part, heaviest first",
)
SHARE_END = Amount(UnitRole.SHARE, least=0, most=1, percent=True)
INTERVAL = ShareInterval()
BETWEEN = Named(INTERVAL, "`[lowest, highest]` shares by part, as `{edge: [10%, 30%]}`", any_text=True)


def _factor(item: Fields, about: Weighed) -> WeightRule | None:
    ends = FACTOR.read(item, "factor")
    return ByFactor(about.stated, *ends) if ends is not None else None


def _plus_minus(item: Fields, about: Weighed) -> WeightRule | None:
    share = PLUS_MINUS.read(item, "plus_minus")
    return PlusMinus(about.stated, share.value) if share is not None else None


def _dirichlet(item: Fields, about: Weighed) -> WeightRule | None:
    concentration = CONCENTRATION.read(item, "dirichlet")
    return Dirichlet(about.stated, concentration.value) if concentration is not None else None


def _simplex(item: Fields, about: Weighed) -> WeightRule | None:
    order = _order(item, about) if "order" in item else ()
    if SIMPLEX.read(item, "simplex") is None or order is None:
        return None
    return Simplex(sum(about.stated), len(about.stated), order)


def _order(item: Fields, about: Weighed) -> tuple[int, ...] | None:
    """Parts from the heaviest: as their stated weights go, or as listed."""
    node = item.node_of("order")
    if isinstance(node, Scalar) and node.text == STATED:
        return tuple(sorted(range(len(about.parts)), key=lambda part: -about.stated[part]))
    names = item.words("order")
    if sorted(names) != sorted(about.parts):
        place = node.place if node is not None else item.place
        found = f"the order {', '.join(names) or 'of nothing'}"
        expected = f"`stated`, or every part of {about.name} once, heaviest first"
        item.reader.fault(place, found, expected, f"They are {', '.join(about.parts)}.")
        return None
    return tuple(about.parts.index(name) for name in names)


def _between(item: Fields, about: Weighed) -> WeightRule | None:
    node = item.node_of("between")
    fields = item.reader.fields(node, item.path("between"), about.parts, "shares by part")
    if fields is None or node is None:
        return None
    ends = [INTERVAL.read(fields, part) for part in about.parts]
    if None in ends:
        return None
    low, high = (tuple(pair[end] for pair in ends if pair is not None) for end in (0, 1))
    rule = Intervals(sum(about.stated), low, high)
    if not sum(low) < 1 < sum(high):
        found = f"lowest shares that add to {sum(low):g}, highest to {sum(high):g}"
        item.reader.fault(node.place, found, "room for shares that add to 1")
        return None
    try:
        rule.draw(1, np.random.default_rng(0))
    except ValueError as fault:
        item.reader.fault(node.place, str(fault), "wider intervals")
        return None
    return rule


#: Every rule by its key. What one draws must be in `weight_rules`, or in a file of its own.
WEIGHT_RULES: dict[str, Law[Weighed, WeightRule]] = {
    "factor": Law(
        Key(
            FACTOR,
            "Each weight times a factor of its own, uniform between the two; then all are rescaled to the stated sum.",
            "{weights: every score, factor: [0.7, 1.3]}",
        ),
        read=_factor,
    ),
    "plus_minus": Law(
        Key(
            PLUS_MINUS,
            "Each share moved by up to so much, uniformly and not below 0; then all are rescaled.",
            "{weights: edge, plus_minus: 0.15}",
        ),
        read=_plus_minus,
    ),
    "dirichlet": Law(
        Key(
            CONCENTRATION,
            "Whole weight vectors about the stated one, by a Dirichlet distribution: the larger the figure, the nearer.",
            "{weights: two_abed, dirichlet: 60}",
        ),
        read=_dirichlet,
    ),
    "simplex": Law(
        Key(SIMPLEX, "Weight vectors that do not lean on the stated one.", "{weights: two_abed, simplex: uniform}"),
        {
            "order": Key(
                ORDER,
                "Keeps only vectors in which the parts stand in this order of weight.",
                "{weights: two_abed, simplex: uniform, order: stated}",
            )
        },
        read=_simplex,
    ),
    "between": Law(
        Key(
            BETWEEN,
            "Every weight vector alike whose shares lie within these intervals; a part that is not named may have any.",
            "{weights: two_abed, between: {edge: [10%, 30%], quiet: [5%, 25%]}}",
        ),
        read=_between,
    ),
}
