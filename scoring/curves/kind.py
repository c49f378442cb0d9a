"""What a kind of curve must say of itself: its fields, its faults, and its symbolic form."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from sympy import Expr

from scoring.declaration import Key, NumberKey, kinds
from scoring.errors import Problem
from scoring.form import Curve, Number
from scoring.symbolic.functions import Greatest, Least
from scoring.units.role import UnitRole

HELD, EXTENDED, ERROR = "held", "extended", "error"
#: The ends of a scale.
LOW, HIGH = "low", "high"
#: What fields say that several kinds share.
WORST = "the reading that gets the low end of the scale"
BEST = "the reading that gets the high end of the scale"
BETTER = "whether higher or lower readings are better"


@dataclass(frozen=True, slots=True)
class CurveInputs:
    """The symbols that a curve is built from.

    `x` is the measure; `low` and `high` are the scale's ends; `figure` gives a statistic of the reference population.
    """

    curve: Curve
    x: Expr
    low: Expr
    high: Expr
    symbol: Callable[[Number], Expr]
    figure: Callable[[str], Expr]

    def number(self, name: str) -> Expr:
        """The symbol of the curve's number called `name`."""
        return self.symbol(self.curve.number(name))

    @property
    def anchors(self) -> tuple[Expr, ...]:
        """x1, y1, x2, y2, ... as symbols."""
        return tuple(self.symbol(number) for pair in self.curve.anchors for number in pair)

    @property
    def carried_on(self) -> tuple[bool, bool]:
        """Whether the line is carried on below and above the anchors."""
        below, above = (choice.value == EXTENDED for choice in self.curve.outside)
        return below, above

    def held_at(self, x: Expr, ends: tuple[Expr, Expr]) -> Expr:
        """A place, held at that one of the two ends, which come in any order, beyond which the line is not carried on."""
        below, above = self.carried_on
        if below == above:
            return x
        return Least(x, Greatest(*ends)) if below else Greatest(x, Least(*ends))


@dataclass(frozen=True, slots=True)
class Keep:
    """What numbers must keep: the sum of `terms` (factor, number) and `constant` stands in `relation` (>, >= or !=) to 0."""

    terms: tuple[tuple[float, Number], ...]
    relation: str
    says: str
    constant: float = 0.0

    @property
    def above_zero(self) -> Number | None:
        """The number that it says no more of than that it is above 0; None where it says something else."""
        if self.relation != ">" or self.constant != 0.0 or len(self.terms) != 1:
            return None
        ((factor, number),) = self.terms
        return number if factor > 0 else None


@dataclass(frozen=True, slots=True)
class CurveKind:
    """One kind of curve.

    says: the kind in a sentence; example: the kind as it is written; keys: its numbers, then its choices (`number`, `choice`);
    anchored: whether it is written as anchors `x: rating`; outside: what may hold outside the anchors, the first being the
    default; figures: the statistics of a reference population that it leans on; ratio_scaled: whether it needs a unit whose
    zero means none; needs_top: whether it needs a scale that is closed at the top; in_ratios: whether distances along the
    measure are ratios; span: the stretch of the measure over which it does its work, where that is not from end to end;
    bends: where it bends or jumps, beside its numbers along the measure; stepped: whether it is constant from each anchor up
    to the next; clamped: the ends of the scale at which it is cut off without an anchor that says from which reading on;
    works_out: whether its formula has numbers in it that are worked out from those written.
    """

    name: str
    says: str
    example: str
    build: Callable[[CurveInputs], Expr]
    keys: tuple[Key, ...] = ()
    anchored: bool = False
    outside: tuple[str, ...] = ()
    figures: tuple[str, ...] = ()
    ratio_scaled: bool = False
    needs_top: bool = True
    faults: Callable[[Curve], Iterator[Problem]] = lambda _: iter(())
    ends: Callable[[Curve], tuple[Number, Number]] | None = None
    in_ratios: bool = False
    span: Callable[[Curve], tuple[float, float]] | None = None
    keeps: Callable[[Curve], tuple[Keep, ...]] = lambda _: ()
    bends: Callable[[Curve], tuple[float, ...]] = lambda _: ()
    stepped: bool = False
    clamped: tuple[str, ...] = ()
    works_out: bool = False

    @property
    def numbers(self) -> tuple[NumberKey, ...]:
        """Its numbers that have names."""
        return tuple(key for key in self.keys if isinstance(key, NumberKey))

    @property
    def choices(self) -> tuple[Key, ...]:
        """Its choices."""
        return tuple(key for key in self.keys if not isinstance(key, NumberKey))

    @property
    def along(self) -> tuple[str, ...]:
        """The named numbers that lie along the measure."""
        return tuple(key.name for key in self.numbers if key.kind.role is UnitRole.ALONG)

    def kept(self, curve: Curve) -> tuple[Keep, ...]:
        """All that the curve's numbers must keep."""
        places = [at for at, _ in curve.anchors]
        rising = tuple(
            Keep(((1.0, after), (-1.0, before)), ">", "its anchors rise") for before, after in pairwise(places)
        )
        return rising + self.keeps(curve)

    def above_zero(self, curve: Curve) -> tuple[Number, ...]:
        """The numbers of a curve that must be above 0 by themselves: factors and powers, which change by ratios."""
        kept = (keep.above_zero for keep in self.kept(curve))
        return tuple(number for number in kept if number is not None)

    def role_of(self, name: str) -> UnitRole:
        """What its number called `name` is a number of."""
        roles = {key.name: key.kind.role for key in self.numbers}
        return roles.get(name) or UnitRole.PLAIN

    def positions(self, curve: Curve) -> tuple[Number, ...]:
        """The numbers of a curve that lie along its measure."""
        return tuple(at for at, _ in curve.anchors) or tuple(curve.number(name) for name in self.along)

    def refused_beyond(self, curve: Curve) -> tuple[float, float]:
        """Below and above which places on the measure a reading is refused; infinite where none is."""
        if self.ends is None or not curve.outside:
            return -math.inf, math.inf
        (low, high), (below, above) = self.ends(curve), curve.outside
        return low.value if below.value == ERROR else -math.inf, high.value if above.value == ERROR else math.inf

    def stretch(self, curve: Curve) -> tuple[float, float] | None:
        """From where to where on the measure the curve does its work; None where it has no such numbers."""
        if self.span is not None:
            return self.span(curve)
        if self.ends is None:
            return None
        low, high = self.ends(curve)
        return low.value, high.value


def number(name: str, says: str, role: UnitRole, default: float | None = None) -> NumberKey:
    """A number of a kind of curve, which must be written where it has no default."""
    return NumberKey(kinds.Number(role, default=default), says, "", required=default is None, name=name)


def choice(name: str, says: str, words: tuple[str, ...]) -> Key:
    """A choice of a kind of curve among words, the first being the default."""
    return Key(kinds.BareWord(dict.fromkeys(words, "")), says, "", name=name)


def share_of_span(inputs: CurveInputs, worst: Expr, best: Expr, x: Expr) -> Expr:
    """The scale's low end plus the share of the way from worst to best, not held."""
    return inputs.low + (inputs.high - inputs.low) * (x - worst) / (best - worst)


def two_differ(curve: Curve, first: str, second: str) -> Iterator[Problem]:
    """A problem where two anchors are equal."""
    a, b = curve.number(first), curve.number(second)
    if a.value == b.value:
        found = f"`{first}` and `{second}` both {a.text}"
        yield Problem(b.place, found, "two different anchors", f"At {curve.address}.")


def above_zero(curve: Curve, *names: str) -> Iterator[Problem]:
    """A problem for each number that is not above 0."""
    for name in names:
        number = curve.number(name)
        if number.value <= 0:
            yield Problem(number.place, f"`{name}: {number.text}`", f"a number above 0 for {curve.kind}")


def differing(curve: Curve, first: str, second: str) -> Keep:
    """What `two_differ` holds two numbers to."""
    terms = ((1.0, curve.number(first)), (-1.0, curve.number(second)))
    return Keep(terms, "!=", f"`{first}` and `{second}` are different")


def positive(curve: Curve, name: str) -> Keep:
    """What `above_zero` holds a number to."""
    return Keep(((1.0, curve.number(name)),), ">", f"`{name}` is above 0")


def between(first: str, second: str) -> Callable[[Curve], tuple[Number, Number]]:
    """The two named numbers as the curve's ends, the lesser first."""

    def ends(curve: Curve) -> tuple[Number, Number]:
        a, b = curve.number(first), curve.number(second)
        return (a, b) if a.value <= b.value else (b, a)

    return ends


def anchor_ends(curve: Curve) -> tuple[Number, Number]:
    """The first and last anchor's place."""
    return curve.anchors[0][0], curve.anchors[-1][0]
