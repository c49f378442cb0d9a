"""Why a step of the arithmetic has no value for a product, in words: what was divided by 0, of what a logarithm was asked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import sympy
from sympy import Expr, Symbol

from scoring.numbers.array_types import Array
from scoring.program.kernel import evaluate_expression
from scoring.program.program import Figure, Program, Step
from scoring.symbolic.arithmetic import Ln
from scoring.symbolic.branches import Present, Unless, Where
from scoring.symbolic.functions import OwnFunction
from scoring.table.evaluate import Inputs, stages, symbols_at


@dataclass(frozen=True, slots=True)
class Lack:
    """Where a value is lost, as an address, and why: `0 is divided by 0`."""

    address: str
    why: str

    def __str__(self) -> str:
        return f"{self.why} at {self.address}"


def lack_of(program: Program, inputs: Inputs, product: int, name: str) -> Lack | None:
    """Why an output (or `gate NAME`) has no value for one product; None where nothing in it is undefined.

    Parameters
    ----------
    inputs : one value a product and measure; the first draw counts
    """
    known = {"gate " + gate: symbol for gate, symbol in program.gates.items()} | dict(program.outputs)
    worked = stages(program, inputs)
    values = symbols_at(program, inputs, product)
    values |= {symbol: number.value for symbol, number in program.parameters.values()}
    values |= {step.symbol: float(worked[str(step.symbol)][0, product]) for step in program.steps}
    figures = {symbol: figure for figure, symbol in program.figures.items()}
    return _Search(values, {step.symbol: step for step in program.steps}, figures).through(known[name], "")


@dataclass(frozen=True, slots=True)
class _Search:
    """The values of all symbols for one product, and the steps and the statistics of the catalogue among them.

    values : a number each, but for a population: that is an array of its members, shape (1, members)
    """

    values: Mapping[Symbol, Array | float]
    steps: Mapping[Symbol, Step]
    figures: Mapping[Symbol, Figure]

    def through(self, expression: Expr, address: str) -> Lack | None:
        """The first thing undefined in an expression of the step at `address`, inner ones first."""
        step = self.steps.get(expression)
        if step is not None:
            return self.through(step.expression, step.address) if np.isnan(self.values[expression]) else None
        for arg in self._taken(expression):
            found = self.through(arg, address)
            if found is not None:
                return found
        why = ""
        if expression in self.figures and np.all(np.isnan(self.values[expression])):
            figure = self.figures[expression]
            why = f"too few products have {figure.measure} for its {figure.statistic}"
        elif isinstance(expression, OwnFunction):
            why = expression.lack([self._value(arg) for arg in expression.args])
        elif isinstance(expression, sympy.log):
            why = Ln(*expression.args).lack([self._value(expression.args[0])])
        return Lack(address, why) if why else None

    def _taken(self, expression: Expr) -> tuple[Expr, ...]:
        """The arguments that count: of a branch only the one that is taken."""
        if isinstance(expression, Unless):
            return tuple(expression.args[:2])
        if not isinstance(expression, Where | Present):
            return tuple(expression.args)
        condition, a, b = expression.args
        holds = self._value(condition)
        if np.isnan(holds):
            return (condition,)
        return (condition, a) if holds > 0 else (condition, b)

    def _value(self, expression: Expr) -> float:
        return evaluate_expression(expression, self.values)
