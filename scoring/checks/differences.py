"""What changes at one place: how far each node of a tape is apart on the two sides of it, as one reading passes.

All else is held, and the reading itself moves by nothing: what is continuous in it changes by nothing, unless something
that it builds on jumps. A node that may jump adds its own jump wherever it may turn at the place, so that what turns
together is counted together. The enclosure must hold the place from both its sides.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from scoring.blends import Blend
from scoring.checks.choices import Choice, Held
from scoring.checks.conditions import Comparison, Every, Reversed, Some
from scoring.checks.nodes import Enclosure, Node, Own, Slopes
from scoring.checks.tape import Tape
from scoring.numbers.intervals import EVERYWHERE, INFINITY, ZERO, Interval
from scoring.symbolic.functions import Least, OwnFunction
from scoring.symbolic.rounded import Rounded
from scoring.symbolic.stairs import Stairs, StairTable

#: How far a number goes on at one place, as a share of the step that it is rounded to, or of its jump where that is more steps
#: than one: next to nothing, and above the dust that a rounding takes for none.
PASSING = 4e-12


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
        stands_still = isinstance(node, Own) and isinstance(node.function, Stairs)
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
        case Own(function=Stairs()):
            return _of_stairs(node, place, changes, slot)
    if _passes_a_pole(place, changes, slot):
        return EVERYWHERE
    if all(changes.at(arg).is_zero for arg in node.args):
        return ZERO
    if isinstance(node, Own) and _is_of_parts(node.function):
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


def _is_of_parts(function: OwnFunction) -> bool:
    """Whether a function is a sum of its parts, or goes up by what is added to all of them."""
    if isinstance(function, Blend):
        return function.additive or function.equivariant
    return isinstance(function, Least)


def _of_parts(node: Own, place: Place, changes: Changes) -> Interval:
    """The parts' changes times their slopes; what goes up by what is added to all changes no more than its parts do."""
    function, values = node.function, [place.at.values[arg] for arg in node.args]
    parts = slice(function.lead + 2, None, 3) if isinstance(function, Blend) else slice(None)
    total, low, high = ZERO, INFINITY, -INFINITY
    for arg, rise in zip(node.args[parts], function.slopes(values)[parts], strict=True):
        if not rise.is_zero:
            change = changes.at(arg)
            total = total + rise * change
            low, high = min(low, change.low), max(high, change.high)
    follows = not isinstance(function, Blend) or function.equivariant
    return total.meet(Interval(low, high)) if follows and low <= high else total


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
    function, inner = node.function, changes.at(node.args[0])
    assert isinstance(function, Stairs)
    if slot in place.turned and (inner.is_zero or isinstance(function, StairTable)):
        return place.turned[slot]
    if inner.is_zero:
        return ZERO if place.alone else own_change(node, place.at, slot)
    if isinstance(function, Rounded) and node.args[0] in changes.moving:
        # what is rounded jumps while it goes on with the reading, and may pass an edge of its own with that
        further = PASSING * max(place.at.values[node.args[1]].size, inner.size)
        inner = inner + Interval(-further, further)
    change = function.moved([place.at.values[arg] for arg in node.args], inner)
    return change.hull(place.turned[slot]) if slot in place.turned else change


def own_change(node: Node, at: Enclosure, slot: int) -> Interval:
    """What a node may change by where its argument passes an edge of it; 0 where there is no edge."""
    assert isinstance(node, Own)
    assert isinstance(node.function, Stairs)
    return node.function.jump([at.values[arg] for arg in node.args], at.values[slot])


def touched_by(node: Own, at: Enclosure) -> list[Interval]:
    """The values of every stair of a table that the place touches, in order."""
    assert isinstance(node.function, StairTable)
    return node.function.touched([at.values[arg] for arg in node.args])
