"""Which ratings and scores stand on what, and what reaches them: the one graph that everything asks.

An output stands on the names that it takes its value from (`Output.sources`: measures, attributes, constants, other outputs),
and on what those stand on in turn. A name reaches every output that stands on it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from scoring.errors import FormulaError, Place, Problem


@dataclass(frozen=True, eq=False)
class Dependencies:
    """The sources of every output, and what follows from them.

    sources: output -> the names that it takes its value from, each once, in reading order; places: where each output is
    written, for the fault of a circle. What is worked out of them is kept with the graph, which never changes.
    """

    sources: Mapping[str, tuple[str, ...]]
    places: Mapping[str, Place] = field(default_factory=dict)

    @cached_property
    def order(self) -> tuple[str, ...]:
        """The outputs such that each comes after those that it stands on.

        Raises
        ------
        FormulaError : outputs need each other in a circle; its members are named
        """
        done: dict[str, None] = {}
        for start in self.sources:
            trail: list[str] = []
            stack: list[tuple[str, int]] = [(start, 0)] if start not in done else []
            while stack:
                name, index = stack.pop()
                if index == 0:
                    trail.append(name)
                wanted = self.outputs_of(name)
                if index == len(wanted):
                    done[name] = None
                    trail.pop()
                    continue
                stack.append((name, index + 1))
                following = wanted[index]
                if following in trail:
                    raise self._circle([*trail[trail.index(following) :], following])
                if following not in done:
                    stack.append((following, 0))
        return tuple(done)

    def _circle(self, members: list[str]) -> FormulaError:
        found, expected = f"the circle {' -> '.join(members)}", "outputs that do not need each other in a circle"
        place = self.places.get(members[0], Place("the formula"))
        return FormulaError([Problem(place, found, expected, "Break it at one of them.")])

    def outputs_of(self, name: str) -> tuple[str, ...]:
        """The other outputs that an output takes its value from at once, in reading order."""
        return tuple(source for source in self.sources[name] if source in self.sources)

    def takers(self, name: str) -> tuple[str, ...]:
        """The outputs that take a name at once, in the order of the form."""
        return tuple(output for output, sources in self.sources.items() if name in sources)

    def under(self, *names: str) -> tuple[str, ...]:
        """All that outputs stand on, through other outputs too: each once, the nearest first; not the outputs themselves.

        names : outputs; what is none stands on nothing
        """
        found: dict[str, None] = {}
        waiting = [source for name in names for source in self.sources.get(name, ())]
        for name in waiting:  # grows while it is walked
            if name not in found:
                waiting += self.sources.get(name, ())
            found[name] = None
        return tuple(found)

    def with_under(self, *names: str) -> frozenset[str]:
        """The names themselves and all that they stand on."""
        return frozenset((*names, *self.under(*names)))

    def inputs_under(self, *names: str) -> tuple[str, ...]:
        """The measures, attributes and constants among what outputs stand on, the nearest first."""
        return tuple(name for name in self.under(*names) if name not in self.sources)

    def reached_from(self, names: Iterable[str]) -> tuple[str, ...]:
        """The outputs that some names reach, in order of need; outputs among the names are reached too."""
        moved = set(names)
        found = []
        for output in self.order:
            if output in moved or not moved.isdisjoint(self.sources[output]):
                moved.add(output)
                found.append(output)
        return tuple(found)

    def needed_for(self, targets: Iterable[str]) -> tuple[str, ...]:
        """The outputs that lead to some of them, and they themselves, in order of need."""
        wanted = self.with_under(*targets)
        return tuple(output for output in self.order if output in wanted)
