"""How far each output can jump, and where: one line a place, or a kind of place, with a bound that is proved.

A jump is what an output changes by at one place as one reading passes it, all else held. Its bound counts all that turns
there together. A place where several things turn is told under the first of them (`breaks.in_order`): a later line speaks of
the places where none of the earlier ones turns, and so these are held still in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from scoring.checks.breaks import NO_JUMP, Break, Leap, Spot, beside, in_order
from scoring.checks.choices import Choice, Held
from scoring.checks.differences import Place, changes_at, own_change, touched_by
from scoring.checks.domain import Domain, divisor
from scoring.checks.nodes import EDGE, Enclosure, Own
from scoring.checks.proving import MOST_WORK_ON_JUMPS
from scoring.numbers.intervals import EVERYWHERE, ZERO, Interval
from scoring.symbolic.rounded import Rounded
from scoring.symbolic.stairs import StairTable


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """One place, or kind of place, at which an output may jump.

    breaks: what turns there, by name; spot: the reading, where it is one; at_most: a bound of the whole jump; exact: whether
    every jump there is of that size.
    """

    kind: str
    address: str
    where: str
    breaks: tuple[str, ...]
    spot: Spot | None
    declared: bool
    at_most: float
    exact: bool


@dataclass(slots=True, eq=False)
class Sizes:
    """The lines of every output, in the order in which they are told; `unmeasured` are the outputs for which the work ran out."""

    domain: Domain
    breaks: tuple[Break, ...]
    lines: dict[str, list[Line]] = field(default_factory=dict)
    unmeasured: set[str] = field(default_factory=set)
    _there: dict[tuple[str, bool], Enclosure] = field(default_factory=dict)
    _without: dict[tuple[str, str], float] = field(default_factory=dict)
    _after: dict[int, tuple[int, ...]] = field(default_factory=dict)
    _poles: dict[bool, dict[int, int]] = field(default_factory=dict)

    def of(self, output: str) -> list[Line]:
        """The lines of one output."""
        return self.lines.get(output, [])

    def hidden(self, output: str) -> list[Break]:
        """The breaks that are not declared and that an output feels."""
        undeclared = (line.breaks for line in self.of(output) if not line.declared)
        names = set().union(*undeclared)
        return [each for each in self.breaks if each.name in names]

    def without(self, one: Break, output: str) -> float:
        """How far an output can jump where a break turns by all that may turn with it, if it does not itself."""
        if (one.name, output) not in self._without:
            self._without[one.name, output] = self._size_without(one, output)
        return self._without[one.name, output]

    def _size_without(self, one: Break, output: str) -> float:
        narrow, largest = output in self.domain.narrowed, 0.0
        for leap in one.leaps:
            for measure in self.domain.moves(one.mover):
                place = Place(self._run(leap, measure, narrow), frozenset({one.slot}), {}, self._divisors(narrow))
                largest = max(largest, self._changes(place, measure).get(output, ZERO).size)
        return largest

    def _outputs(self, narrow: bool) -> list[str]:
        return [name for name in self.domain.program.order if (name in self.domain.narrowed) == narrow]

    def _followers(self, slot: int) -> tuple[int, ...]:
        if slot not in self._after:
            self._after[slot] = self.domain.tape.after([slot])
        return self._after[slot]

    def _divisors(self, narrow: bool) -> dict[int, int]:
        """Divisions that may be by 0, with the slot of what they divide by."""
        if narrow not in self._poles:
            room = self.domain.narrow if narrow else self.domain.wide
            found = {each.slot: divisor(self.domain.tape, room.root, each.slot) for each in self.breaks}
            self._poles[narrow] = {slot: below for slot, below in found.items() if below is not None}
        return self._poles[narrow]

    def _run(self, leap: Leap, measure: str | None, narrow: bool) -> Enclosure:
        """The tape at a place, from both its sides, with the reading that passes it there."""
        domain, tape = self.domain, self.domain.tape
        room = domain.narrow if narrow else domain.wide
        if measure is not None and (measure, narrow) not in self._there:
            there = domain.there_with(measure)
            self._there[measure, narrow] = tape.run(there, tape.after(there), room.root)
        root = room.root if measure is None else self._there[measure, narrow]
        # a comparison turns anywhere among the doubles that stand for the edge's decimal, and a curve may be steep there
        pinned = beside(root, {slot: side + side.absolute() * EDGE for slot, side in leap.pinned.items()})
        slots = tape.after(pinned)
        domain.purse.on_jumps += tape.work(slots)
        return tape.run(pinned, slots, root, beside=True)

    def _changes(self, place: Place, measure: str) -> dict[str, Interval]:
        """What every output changes by at a place as a reading passes it; outputs that it does not move are left out."""
        return self._changes_after(place, self.domain.measures[measure])

    def _changes_after(self, place: Place, seed: int) -> dict[str, Interval]:
        slots = self._followers(seed)
        self.domain.purse.on_jumps += self.domain.tape.work(slots)
        changes = changes_at(self.domain.tape, place, seed, slots)
        return {name: changes.of[slot] for name, slot in self.domain.outputs.items() if slot in changes.of}


def sizes_of(domain: Domain, breaks: Sequence[Break]) -> Sizes:
    """The lines of every output, from the breaks of a domain."""
    ordered = in_order(breaks)
    sizes = Sizes(domain, ordered)
    for narrow in sorted({name in domain.narrowed for name in domain.program.order}):
        outputs = sizes._outputs(narrow)
        for group in _groups(ordered):
            moved = _outputs_after(domain, outputs, [each for each, _ in group])
            if domain.purse.on_jumps >= MOST_WORK_ON_JUMPS:
                sizes.unmeasured.update(moved)
                continue
            for line in _lines(sizes, group, moved, narrow):
                sizes.lines.setdefault(line[0], []).append(line[1])
    return sizes


#: What turns at one place, each with its leap there.
Group = Sequence[tuple[Break, Leap]]


def _groups(ordered: Iterable[Break]) -> Iterator[Group]:
    """Named readings, each with all that turns there, by measure; then every other break with its places."""
    at_spots: dict[Spot, list[tuple[Break, Leap]]] = {}
    others: list[Group] = []
    for each in ordered:
        for leap in each.leaps:
            if leap.spot is not None:
                at_spots.setdefault(leap.spot, []).append((each, leap))
        by_words: dict[str, list[tuple[Break, Leap]]] = {}
        for leap in each.leaps:
            if leap.spot is None:
                by_words.setdefault(leap.where, []).append((each, leap))
        others += by_words.values()
    yield from (at_spots[spot] for spot in sorted(at_spots, key=lambda spot: (spot.measure, spot.reading)))
    yield from others


def _outputs_after(domain: Domain, outputs: Sequence[str], breaks: Sequence[Break]) -> list[str]:
    later = {slot for each in breaks for slot in (each.slot, *domain.tape.after([each.slot]))}
    return [name for name in outputs if domain.outputs[name] in later]


def _lines(sizes: Sizes, group: Group, outputs: Sequence[str], narrow: bool) -> Iterator[tuple[str, Line]]:
    """A line for each output that feels one of the breaks by itself."""
    felt = _felt(sizes, group, narrow)
    outputs = [name for name in outputs if name in felt]
    if not outputs:
        return
    found: dict[str, list[Interval]] = {name: [] for name in outputs}
    for changes in _whole_changes(sizes, group, narrow):
        for name in outputs:
            if name in changes:
                found[name].append(changes[name])
    first, leap = group[0]
    for name, met in found.items():
        size = max((change.size for change in met), default=0.0)
        exact = all(change.width <= NO_JUMP and abs(change.size - size) <= NO_JUMP for change in met)
        if size > NO_JUMP:
            addresses = ", ".join(dict.fromkeys(each.address for each, _ in group))
            names = tuple(dict.fromkeys(each.name for each, _ in group))
            yield (
                name,
                Line(first.kind, addresses, leap.where, names, leap.spot, first.declared, size, exact),
            )


def _felt(sizes: Sizes, group: Group, narrow: bool) -> set[str]:
    """The outputs that change where one of the breaks turns and nothing else does but because of it."""
    tape, felt = sizes.domain.tape, set[str]()
    for each, leap in group:
        at = sizes._run(leap, None, narrow)
        place = Place(at, frozenset(), {each.slot: _own(tape.nodes[each.slot], at, each.slot)}, {}, alone=True)
        changes = sizes._changes_after(place, each.slot)
        felt |= {name for name, change in changes.items() if change.size > NO_JUMP}
    return felt


def _own(node: object, at: Enclosure, slot: int) -> Interval:
    """What a break itself may change by at a place, whatever turns it."""
    if isinstance(node, Choice):
        gap = at.values[node.args[1]] - at.values[node.args[2]]
        return gap.hull(-gap)
    if isinstance(node, Held):
        gap = node.gap(at)
        return gap.hull(-gap)
    if isinstance(node, Own):
        return own_change(node, at, slot)
    return EVERYWHERE


def _whole_changes(sizes: Sizes, group: Group, narrow: bool) -> Iterator[dict[str, Interval]]:
    """What outputs change by at the places of a group, one reading passing at a time, with all that may turn there."""
    domain, spot = sizes.domain, group[0][1].spot
    if spot is not None:
        at = sizes._run(group[0][1], spot.measure, narrow)
        turned = _turned_at(sizes, group, at, spot)
        yield sizes._changes(Place(at, frozenset(), turned, sizes._divisors(narrow)), spot.measure)
        return
    for each, leap in group:
        still = _still_before(sizes.breaks, each)
        for measure in domain.moves(each.mover):
            at = sizes._run(leap, measure, narrow)
            for turned in _ways(domain.tape.nodes[each.slot], at, each.slot, bool(leap.pinned)):
                yield sizes._changes(Place(at, still, turned, sizes._divisors(narrow)), measure)


def _still_before(ordered: Sequence[Break], one: Break) -> frozenset[int]:
    return frozenset(each.slot for each in ordered[: ordered.index(one)])


def _turned_at(sizes: Sizes, group: Group, at: Enclosure, spot: Spot) -> Mapping[int, Interval]:
    """What the tables at a reading, and a rounding of that reading, surely change by."""
    domain = sizes.domain
    turned = {}
    rounding = domain.tape.slots[domain.program.measures[spot.measure]]
    if rounding != domain.measures[spot.measure]:
        ends = at.values[rounding]
        turned[rounding] = Interval(ends.high, ends.high) - Interval(ends.low, ends.low)
    for each, _ in group:
        node = domain.tape.nodes[each.slot]
        if isinstance(node, Own) and isinstance(node.function, StairTable):
            touched = _stairs_beside(node, at) if rounding in turned else touched_by(node, at)
            turned[each.slot] = touched[-1] - touched[0]
    return turned


def _stairs_beside(node: Own, at: Enclosure) -> tuple[Interval, Interval]:
    """The ratings of a table before and after a rounded reading goes from one multiple to another.

    The ends of what the rounding holds are these two decimals, stepped outwards just as the edges are.
    """
    x, *values = (at.values[arg] for arg in node.args)
    edges, ratings = values[::2], values[1::2]
    first = max((i for i, edge in enumerate(edges) if edge.low <= x.low), default=0)
    last = max((i for i, edge in enumerate(edges) if edge.high <= x.high), default=0)
    return ratings[first], ratings[last]


def _ways(node: object, at: Enclosure, slot: int, pinned: bool) -> Iterator[Mapping[int, Interval]]:
    """How a break surely turns: up, and down; nothing is sure of what is not said here."""
    if isinstance(node, Own) and isinstance(node.function, Rounded):
        own, step = own_change(node, at, slot), at.values[node.args[1]]
        up = ZERO if own.is_zero else Interval(step.low, own.high)
        yield {slot: up}
        yield {slot: -up}
    elif isinstance(node, Own) and isinstance(node.function, StairTable) and pinned:
        touched = touched_by(node, at)
        yield {slot: touched[-1] - touched[0]}
        yield {slot: touched[0] - touched[-1]}
    else:
        yield {}
