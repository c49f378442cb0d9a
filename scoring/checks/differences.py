"""What changes at one place: how far each node of a tape is apart on the two sides of it, as one reading passes.

All else is held, and the reading itself moves by nothing: what is continuous in it changes by nothing, unless something
that it builds on jumps. A node that may jump adds its own jump wherever it may turn at the place, so that what turns
together is counted together. The enclosure must hold the place from both its sides.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from scoring.blends.extremes import Minimum
from scoring.blends.means import WeightedMean
from scoring.checks.choices import Choice, Held
from scoring.checks.conditions import Comparison, Every, Reversed, Some
from scoring.checks.nodes import Enclosure, Node, Own, Slopes
from scoring.checks.tape import Tape
from scoring.curves.leaning import Standing
from scoring.curves.steps import Steps
from scoring.functions import Least
from scoring.intervals import EVERYWHERE, INFINITY, ONE, ZERO, Interval
from scoring.rounded import Rounded

#: Binary dust in a count of steps, as a share of the count.
DUST = 1e-12
BOTH_WAYS = Interval(-1.0, 1.0)
#: How far a number goes on at one place, as a share of the step that it is rounded to: next to nothing, and above DUST.
PASSING = Interval(4e-12, 4e-12)


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """One place of a tape: what it holds there from both sides, which nodes do not turn, and which surely do.

    still: slots that keep their state; turned: slots whose change is known; poles: divisions by what may be 0, with the slot
    of what they divide by; alone: whether nothing turns but what is made to by the jump that it is all about.
    """

    at: Enclosure
    still: frozenset[int]
    turned: Mapping[int, Interval]
    poles: Mapping[int, int]
    alone: bool = False


@dataclass(slots=True, eq=False)
class Changes:
    """Changes of numbers by slot, and whether conditions may turn; a slot that the place cannot move is absent.

    moving: slots that go on with the reading between its jumps.
    """

    of: dict[int, Interval] = field(default_factory=dict)
    turning: dict[int, bool] = field(default_factory=dict)
    moving: set[int] = field(default_factory=set)

    def at(self, slot: int) -> Interval:
        """The change of one node."""
        return self.of.get(slot, ZERO)


def changes_at(tape: Tape, place: Place, seed: int, slots: Iterable[int]) -> Changes:
    """The change of every node among `slots` (in order) that builds on `seed`, whose own change is in `place.turned` or none."""
    changes = Changes({seed: place.turned.get(seed, ZERO)}, moving={seed})
    for slot in slots:
        node = tape.nodes[slot]
        if slot == seed or not any(arg in changes.of or arg in changes.turning for arg in node.args):
            continue
        stands_still = isinstance(node, Own) and type(node.function) in STAIRS
        if not stands_still and any(arg in changes.moving for arg in node.args):
            changes.moving.add(slot)
        if isinstance(node, Comparison | Every | Some | Reversed):
            changes.turning[slot] = _turns(node, place, changes, slot)
        else:
            width = place.at.values[slot].width
            change = _change(node, place, changes, slot)
            changes.of[slot] = change.meet(Interval(-width, width)) if math.isfinite(width) else change
    return changes


def _turns(node: Node, place: Place, changes: Changes, slot: int) -> bool:
    """Whether a condition may turn at the place."""
    if place.at.truths[slot] is not None:
        return False
    if not isinstance(node, Comparison):
        return any(changes.turning.get(arg, False) for arg in node.args)
    moved = [changes.of[arg] for arg in node.args if arg in changes.of]
    return not place.alone or any(not change.is_zero for change in moved)


def _change(node: Node, place: Place, changes: Changes, slot: int) -> Interval:
    match node:
        case Choice():
            return _of_choice(node, place, changes, slot)
        case Held():
            return _of_limit(node, place, changes, slot)
        case Own() if type(node.function) in STAIRS:
            return _of_stairs(node, place, changes, slot)
    if _passes_a_pole(place, changes, slot):
        return EVERYWHERE
    if all(changes.at(arg).is_zero for arg in node.args):
        return ZERO
    if isinstance(node, Own) and isinstance(node.function, Least | Minimum | WeightedMean):
        return _of_parts(node, place, changes)
    return _by_slope(node, place, changes, slot)


def _passes_a_pole(place: Place, changes: Changes, slot: int) -> bool:
    """Whether a node may divide by 0 at the place."""
    below = place.poles.get(slot)
    return below in changes.of and slot not in place.still and not place.alone and place.at.values[below].contains(0)


def _by_slope(node: Node, place: Place, changes: Changes, slot: int) -> Interval:
    """Difference quotients times what the arguments change by."""
    passed = Slopes(changes.of)
    node.pass_on(place.at, slot, passed)
    return passed.of[slot]


def _of_parts(node: Own, place: Place, changes: Changes) -> Interval:
    """The least, the greatest or the mean of parts changes by no more than the part that changes most."""
    values = [place.at.values[arg] for arg in node.args]
    rises = node.function.slopes(values)
    total, low, high = ZERO, INFINITY, -INFINITY
    parts = node.args if isinstance(node.function, Least) else node.args[2::3]
    counted = rises if isinstance(node.function, Least) else rises[2::3]
    for arg, rise in zip(parts, counted, strict=True):
        if not rise.is_zero:
            change = changes.at(arg)
            total = total + rise * change
            low, high = min(low, change.low), max(high, change.high)
    plain = type(node.function) is WeightedMean or not isinstance(node.function, WeightedMean)
    return total.meet(Interval(low, high)) if plain and low <= high else total


def _of_choice(node: Choice, place: Place, changes: Changes, slot: int) -> Interval:
    """The change of either branch; where the condition may turn, from one branch to the other."""
    condition, a, b = node.args
    truth = place.at.truths[condition]
    if truth is not None:
        return changes.at(a if truth else b)
    change = changes.at(a).hull(changes.at(b))
    if slot in place.still or not changes.turning.get(condition, False) or slot in node.meets:
        return change
    gap = place.at.values[a] - place.at.values[b]
    return change.hull(gap).hull(-gap)


def _of_limit(node: Held, place: Place, changes: Changes, slot: int) -> Interval:
    """The change of the value and of what is held; where the condition may turn, with what the limit adds or takes off."""
    condition, value, bound = node.args
    truth, off = place.at.truths[condition], changes.at(value)
    on = off.hull(changes.at(bound)) if bound in changes.of else off.hull(ZERO)
    gap = node.gap(place.at)
    if gap.is_zero:
        return off
    if truth is not None:
        return on if truth else off
    change = on.hull(off)
    if slot in place.still or not changes.turning.get(condition, False):
        return change
    return change.hull(off + gap).hull(off - gap)


def _of_stairs(node: Own, place: Place, changes: Changes, slot: int) -> Interval:
    """A table, a rounding or a standing: what stays still on its stair, or goes from one to another."""
    if slot in place.still:
        return ZERO
    inner = changes.at(node.args[0])
    if slot in place.turned and (inner.is_zero or isinstance(node.function, Steps)):
        return place.turned[slot]
    if inner.is_zero:
        return ZERO if place.alone else own_change(node, place.at, slot)
    if isinstance(node.function, Rounded) and node.args[0] in changes.moving:
        # what is rounded jumps while it goes on with the reading, and may pass an edge of its own with that
        inner = inner + BOTH_WAYS * place.at.values[node.args[1]] * PASSING
    change = STAIRS[type(node.function)][1](node, place.at, inner)
    return change.hull(place.turned[slot]) if slot in place.turned else change


def own_change(node: Node, at: Enclosure, slot: int) -> Interval:
    """What a node may change by where its argument passes an edge of it; 0 where there is no edge."""
    assert isinstance(node, Own)
    return STAIRS[type(node.function)][0](node, at, slot)


def _table_itself(node: Own, at: Enclosure, slot: int) -> Interval:  # noqa: ARG001
    touched = touched_by(node, at)
    changes = [after - before for before, after in pairwise(touched)]
    return _both_ways(changes)


def _table_moved(node: Own, at: Enclosure, inner: Interval) -> Interval:
    """From any stair that is touched to any other, in the order in which the argument goes."""
    touched = touched_by(node, at)
    ups = [touched[j] - touched[i] for i in range(len(touched)) for j in range(i + 1, len(touched))]
    found = ZERO
    for up in ups:
        if inner.high > 0:
            found = found.hull(up)
        if inner.low < 0:
            found = found.hull(-up)
    return found


def touched_by(node: Own, at: Enclosure) -> list[Interval]:
    """The ratings of every step of a table that the place touches, in order."""
    assert isinstance(node.function, Steps)
    return node.function.touched([at.values[arg] for arg in node.args])


def _both_ways(changes: Sequence[Interval]) -> Interval:
    found = ZERO
    for change in changes:
        found = found.hull(change).hull(-change)
    return found


def _rounding_itself(node: Own, at: Enclosure, slot: int) -> Interval:
    step = at.values[node.args[1]]
    if at.values[slot].width < step.low / 2:
        return ZERO
    return BOTH_WAYS * step * _stairs_at_nought(node, at)


def _stairs_at_nought(node: Own, at: Enclosure) -> Interval:
    """How many stairs a rounding may take at one place: away from 0, it takes two at 0."""
    value = at.values[node.args[0]]
    twice = rule_of(node) == "up" and value.low < 0 < value.high
    return Interval(2.0, 2.0) if twice else ONE


def _rounding_moved(node: Own, at: Enclosure, inner: Interval) -> Interval:
    """Whole steps, as many as the argument's change can be rounded to.

    Floor and ceiling, and on one side of 0 every rule but half-even, are the floor or the ceiling of the number moved by a
    constant: the change is rounded outwards. A half may go either way, so that the change is rounded by a step at most.
    Across 0, towards 0 takes a step less, and away from 0 a step more.
    """
    step, value, rule = at.values[node.args[1]], at.values[node.args[0]], rule_of(node)
    counts = inner / step
    if not (math.isfinite(counts.low) and math.isfinite(counts.high)):
        return EVERYWHERE
    fewest, most = _whole_below(counts.low), _whole_above(counts.high)
    across = value.low < 0 < value.high
    if rule == "half-even" or (rule == "half-up" and across):
        fewest, most = _whole_above(counts.low - 1), _whole_below(counts.high + 1)
    elif across and rule == "down":
        fewest, most = fewest - (counts.low > 0), most + (counts.high < 0)
    elif across and rule == "up":
        fewest, most = fewest - (counts.low < 0), most + (counts.high > 0)
    fewest = max(fewest, 0) if counts.low >= 0 else fewest
    most = min(most, 0) if counts.high <= 0 else most
    return Interval(float(fewest), float(most)) * step


def _whole_above(count: float) -> int:
    """The least whole number at or above a count, but for dust."""
    nearest = round(count)
    return nearest if abs(count - nearest) <= DUST * max(abs(count), 1.0) else math.ceil(count)


def _whole_below(count: float) -> int:
    return -_whole_above(-count)


def rule_of(node: Own) -> str:
    """The rule of a rounding."""
    assert isinstance(node.function, Rounded)
    return node.function.rule


def _standing_itself(node: Own, at: Enclosure, slot: int) -> Interval:  # noqa: ARG001
    return BOTH_WAYS


def _standing_moved(node: Own, at: Enclosure, inner: Interval) -> Interval:  # noqa: ARG001
    return BOTH_WAYS


#: Of each function that stands still but for its stairs: its change where it passes an edge, and where its argument jumps.
STAIRS: Mapping[
    type, tuple[Callable[[Own, Enclosure, int], Interval], Callable[[Own, Enclosure, Interval], Interval]]
] = {
    Steps: (_table_itself, _table_moved),
    Rounded: (_rounding_itself, _rounding_moved),
    Standing: (_standing_itself, _standing_moved),
}
