"""Which part alone decided a figure: the part that is a minimum or maximum, or the last limit that moved the value.

An expression has no parts that could decide, nor has a mean: all of them count.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from scoring.form import Limit, Output, Part
from scoring.numbers.array_types import Array, Flags, Texts
from scoring.numbers.arrays import compared
from scoring.program.program import Program, Step
from scoring.table.evaluate import Evaluation, Inputs, stages

#: What stands before a limit's name.
LIMIT = "limit "


def can_be_decided(output: Output) -> bool:
    """Whether one part, or a limit, can alone make the figure of an output."""
    blend = output.blending
    alone = blend is not None and blend.alone and len(output.parts) > 1
    return alone or any(limit.apply.value == "always" for limit in output.limits)


def deciders_of(program: Program, inputs: Inputs, evaluation: Evaluation) -> dict[str, Texts]:
    """What decided each figure that one thing alone can decide.

    Returns
    -------
    dict of output name to ndarray of tuples of words, shape (products,): the parts that have the value (several where they are
        equal in 13 significant digits), or the limit that moved it last; none where no one thing decided, or nothing is there
    """
    outputs = [output for output in program.form.outputs if can_be_decided(output)]
    if not outputs:
        return {}
    worked = stages(program, inputs)
    return {output.name: _Deciding(program, output, evaluation, worked).found() for output in outputs}


@dataclass(frozen=True, slots=True, eq=False)
class _Deciding:
    """One output, with every step of the arithmetic by its symbol, arrays of shape (1, products)."""

    program: Program
    output: Output
    evaluation: Evaluation
    worked: Mapping[str, Array]

    def found(self) -> Texts:
        """The words of every product, shape (products,)."""
        standing = self.evaluation.values[self.output.name][0]
        limits = [limit for limit in self.output.limits if limit.apply.value == "always"]
        names = [_last(part.address) for part in self.output.parts]
        names += [LIMIT + _last(limit.address) for limit in limits]
        flags = np.zeros((len(names), len(standing)), bool)
        flags[: len(self.output.parts)] = self._by_parts(len(standing))
        for place, moved in enumerate(self._moved_by(limits), start=len(self.output.parts)):
            flags[:, moved] = False
            flags[place, moved] = True
        flags[:, np.isnan(standing)] = False
        return _worded(names, flags)

    def _by_parts(self, n_products: int) -> Flags:
        """Whether each part alone is the value of an extreme, shape (parts, products); of another blend none is."""
        output, blend = self.output, self.output.blending
        if blend is None or not blend.alone or len(output.parts) < 2:
            return np.zeros((len(output.parts), n_products), bool)
        (step,) = (step for step in self._steps() if step.kind == "blend")
        blended = self._values(step)
        rows = [np.broadcast_to(self._is_it(part, blended), n_products) for part in output.parts]
        return np.stack(rows)

    def _is_it(self, part: Part, blended: Array) -> Flags:
        """Whether a part counts and has the value of the whole, shape (products,)."""
        presence, output = self.evaluation.presence, self.output
        here = presence.here[part.source][0]
        value, counts = self._value_of(part), here
        if output.missing.otherwise.value == "lowest":
            value, counts = np.where(here, value, output.scale.low.value), presence.applies[part.source][0]
        weight = part.weight.value if part.weight is not None else 1.0
        return np.asarray(counts & (weight > 0) & (compared(value, "==", blended) == 1))

    def _value_of(self, part: Part) -> Array:
        """What a part gives, through its curve where it has one, shape (products,)."""
        if part.curve is None:
            values: Array = self.evaluation.values[part.source][0]
            return values
        (step,) = (step for step in self._steps() if step.kind == "curve" and step.address == part.address)
        return self._values(step)

    def _moved_by(self, limits: list[Limit]) -> Iterator[Flags]:
        """Whether each limit moved the value, shape (products,), in the order in which they are worked out."""
        steps = [step for step in self._steps() if step.kind != "round"]
        at = {step.address: place for place, step in enumerate(steps) if step.kind == "limit"}
        for limit in limits:
            before, after = (self._values(steps[at[limit.address] - back]) for back in (1, 0))
            yield np.asarray(compared(after, "==", before) == 0)

    def _steps(self) -> list[Step]:
        return [step for step in self.program.steps if step.output == self.output.name]

    def _values(self, step: Step) -> Array:
        """What a step comes to, shape (products,)."""
        values: Array = self.worked[str(step.symbol)][0]
        return values


def _last(address: str) -> str:
    """A part's or limit's own name in its address."""
    return address.rpartition(".")[2]


def _worded(names: list[str], flags: Flags) -> Texts:
    """The names that hold for each product, as a tuple: flags of shape (names, products) to shape (products,)."""
    patterns, which = np.unique(flags, axis=1, return_inverse=True)
    words = np.empty(patterns.shape[1], object)
    for column in range(patterns.shape[1]):
        words[column] = tuple(name for name, holds in zip(names, patterns[:, column], strict=True) if holds)
    found: Texts = words[which.reshape(-1)]
    return found
