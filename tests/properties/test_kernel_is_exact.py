"""The kernel gives what sympy gives, worked out point by point in 30 digits from the same program."""

from __future__ import annotations

import math

import numpy as np
import pytest
import sympy
from extent import examples
from generated_forms import Drawn, scored_forms
from hypothesis import given, settings
from numpy.typing import NDArray
from sympy import Expr, Float, Symbol
from sympy.core.relational import Relational
from written_forms import inputs_of_arrays

from scoring.curves.leaning import Standing
from scoring.curves.steps import Steps
from scoring.numbers.arrays import standing
from scoring.program.kernel import kernel_of
from scoring.program.program import Program, compile_form
from scoring.program.reference import statistic_of
from scoring.symbolic.conditions import Both, Denied
from scoring.symbolic.functions import OwnFunction
from scoring.symbolic.rounded import Rounded
from scoring.table.evaluate import Inputs, evaluate, kernel_for, stages
from scoring.table.missing import presence_of

DIGITS = 30
#: What a missing reading is taken to be in the exact working; nothing may depend on it.
ANYTHING = 41.37


class NearJump(Exception):
    """The point lies so near to a jump that doubles may fall to the other side."""


def near(a: Expr, b: Expr) -> bool:
    """Whether two numbers are equal but for the dust of doubles."""
    return abs(float(a - b)) <= 1e-9 * max(1.0, abs(float(a)), abs(float(b)))


class Exactly:
    """Works out a program for one product, step by step."""

    def __init__(self, program: Program, inputs: Inputs, product: int) -> None:
        self.values: dict[Symbol, Expr] = {}
        presence = presence_of(program, inputs.states, inputs.words, lambda number: number.value)
        for name, symbol in program.measures.items():
            reading = float(inputs.values[name][0, product])
            self.values[symbol] = Float(ANYTHING if math.isnan(reading) else reading, DIGITS)
        for symbols, flags in ((program.here, presence.here), (program.applies, presence.applies)):
            for name, symbol in symbols.items():
                there = np.broadcast_to(flags[name][0], len(inputs.products))
                self.values[symbol] = sympy.Integer(int(there[product]))
        for symbol, number in program.parameters.values():
            self.values[symbol] = Float(number.value, DIGITS)
        self.populations: dict[Symbol, NDArray[np.float64]] = {}
        for figure, symbol in program.figures.items():
            found = statistic_of(figure.statistic, inputs.values[figure.measure], figure.share)
            if figure.statistic == "population":
                self.populations[symbol] = found
            else:
                self.values[symbol] = Float(found.item(), DIGITS)
        for symbol, members in program.populations.values():
            self.populations[symbol] = np.array([members])
            if len(members) == 1:
                self.values[symbol] = Float(members[0], DIGITS)
        for step in program.steps:
            self.values[step.symbol] = self.of(step.expression)

    def of(self, expression: Expr) -> Expr:
        """One expression, exactly."""
        if isinstance(expression, Symbol):
            return self.values[expression]
        if isinstance(expression, Standing):
            return self._standing(expression)
        if not expression.args:
            return expression
        args = [self.of(arg) for arg in expression.args]
        if isinstance(expression, Relational):
            if sympy.nan in args:
                return sympy.S.false
            if near(args[0], args[1]) and expression.args[1] != 0:  # presence is compared with 0, and is 0 or 1
                raise NearJump
            return expression.func(*args)
        if isinstance(expression, Steps) and any(near(args[0], edge) and args[0] != edge for edge in args[1::2]):
            raise NearJump
        if isinstance(expression, Rounded) and args[0] is not sympy.nan:
            self._check_tie(args[0], args[1])
        if isinstance(expression, Both | Denied):
            return expression.func(*args, evaluate=False).elementary()
        if isinstance(expression, OwnFunction):
            return self._own(expression.func(*args, evaluate=False))
        return expression.func(*args).evalf(DIGITS)

    def _own(self, expression: OwnFunction) -> Expr:
        """One of our functions of numbers; of what is not a number sympy takes no least or greatest."""
        try:
            return expression.elementary().evalf(DIGITS)
        except (TypeError, ValueError):
            assert sympy.nan in expression.args
            return sympy.nan

    def _check_tie(self, x: Expr, step: Expr) -> None:
        halves = float(2 * x / step)
        if abs(halves - round(halves)) < 1e-8:
            raise NearJump

    def _standing(self, expression: Standing) -> Expr:
        x, population, ties = expression.args
        sign = -1.0 if population.could_extract_minus_sign() else 1.0
        (symbol,) = population.free_symbols
        word = ("mean", "lowest", "highest")[int(ties)]
        share = standing([[float(self.of(x))]], sign * self.populations[symbol], word)
        return Float(share.item(), DIGITS)


def agree(found: float, exact: Expr) -> bool:
    """Equal to 1e-12, relative and absolute."""
    return abs(found - float(exact)) <= 1e-12 * (1.0 + abs(float(exact)))


@settings(max_examples=examples(60))
@given(drawn=scored_forms(count=3))
def test_every_step_of_the_kernel_is_what_sympy_works_out(drawn: tuple[Drawn, dict[str, list[float]]]) -> None:
    """Each step by itself; points next to a jump are left out, and each step is looked at in at least one product."""
    program = compile_form(drawn[0].form)
    inputs = inputs_of_arrays(drawn[1])
    found = stages(program, inputs)
    for product in range(3):
        try:
            exact = Exactly(program, inputs, product)
        except NearJump:
            continue
        for step in program.steps:
            value = float(found[step.symbol.name][0, product])
            assert agree(value, exact.values[step.symbol]), (
                f"{step.kind} of {step.output}: {value}, {exact.values[step.symbol]}"
            )


@settings(max_examples=examples(60))
@given(drawn=scored_forms(count=3, missing=True))
def test_outputs_with_gaps_are_what_sympy_works_out_whatever_stands_in_the_gap(
    drawn: tuple[Drawn, dict[str, list[float]]],
) -> None:
    """The exact working takes a missing reading for some number: nothing that is published may depend on it."""
    program = compile_form(drawn[0].form)
    inputs = inputs_of_arrays(drawn[1])
    found = evaluate(kernel_for(program, inputs), inputs).values
    for product in range(3):
        try:
            exact = Exactly(program, inputs, product)
        except NearJump:
            continue
        for name, symbol in program.outputs.items():
            value = float(found[name][0, product])
            assert math.isnan(value) or agree(value, exact.values[symbol]), f"{name}: {value}, {exact.values[symbol]}"


@settings(max_examples=examples(40))
@given(drawn=scored_forms(count=4, missing=True))
def test_a_kernel_of_arguments_gives_what_a_kernel_of_numbers_gives(
    drawn: tuple[Drawn, dict[str, list[float]]],
) -> None:
    """Every number an argument at its stated value: other code (segments for interpolation, and so on), the same values."""
    program = compile_form(drawn[0].form)
    inputs = inputs_of_arrays(drawn[1])
    fixed = evaluate(kernel_for(program, inputs), inputs).values
    stated = {address: np.full(2, number.value) for address, (_, number) in program.parameters.items()}
    varied = evaluate(kernel_of(program, varying=list(stated)), inputs, stated).values
    jumps = ("steps", "where", "round", "floor", "when")
    if not any(word in drawn[0].text for word in jumps):
        for name, values in fixed.items():
            np.testing.assert_allclose(varied[name], np.broadcast_to(values, (2, 4)), rtol=1e-12, atol=1e-12)
    for name, values in fixed.items():
        np.testing.assert_array_equal(np.isnan(varied[name][0]), np.isnan(values[0]))


def test_the_exact_working_sees_a_difference() -> None:
    """A figure that is off in the twelfth digit does not pass."""
    assert agree(8.25, Float("8.25", DIGITS))
    assert not agree(8.25 + 1e-10, Float("8.25", DIGITS))
    with pytest.raises(NearJump, match=r"^$"):
        Exactly.of(
            Exactly.__new__(Exactly),
            sympy.Lt(Float("0.3", DIGITS), Float(0.1, DIGITS) + Float(0.2, DIGITS), evaluate=False),
        )
