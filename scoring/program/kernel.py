"""From a program to numpy: one compiled function for a chosen set of outputs, varied numbers and possible gaps.

The generated code names nothing but private symbols and the array functions of `kernel_code`. It is compiled anew in each
process.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import sympy
from numpy.typing import ArrayLike
from sympy import Expr, Float, Integer, Symbol

from scoring.numbers.array_types import Array
from scoring.program.kernel_code import FUNCTIONS, KernelPrinter
from scoring.program.program import KernelKey, Program
from scoring.program.settling import settled

CHUNK = 1 << 15


@dataclass(frozen=True, slots=True, eq=False)
class Kernel:
    """A compiled function: `inputs` name the symbols it takes, in order; `outputs` what it gives.

    leant_on: for each rating or score of whose population it takes a statistic, a kernel that gives that output alone.
    """

    program: Program
    inputs: tuple[Symbol, ...]
    outputs: tuple[str, ...]
    varying: tuple[str, ...]
    function: Callable[..., Sequence[ArrayLike]]
    leant_on: Mapping[str, Kernel] = field(default_factory=dict)

    def __call__(self, values: Mapping[Symbol, Array | float], shape: tuple[int, int]) -> dict[str, Array]:
        """The outputs for the given symbols.

        Parameters
        ----------
        values : mapping of symbol to array
            Each of shape (draws or 1, products or 1), or a number.
        shape : (n_draws, n_products)

        Returns
        -------
        dict of output name to ndarray, shape (n_draws, n_products)
        """
        n_draws, n_products = shape
        results = {name: np.empty(shape) for name in self.outputs}
        whole = populations(self.program)
        rows = max(1, CHUNK // max(n_products, 1))
        columns = min(n_products, CHUNK) or 1
        for top in range(0, n_draws, rows):
            for left in range(0, n_products, columns):
                at = slice(top, min(top + rows, n_draws)), slice(left, min(left + columns, n_products))
                pieces = [_piece(values[symbol], at, symbol in whole) for symbol in self.inputs]
                for name, piece in zip(self.outputs, self._run(pieces), strict=True):
                    results[name][at] = piece
        return results

    def _run(self, pieces: Sequence[Array | float]) -> Sequence[ArrayLike]:
        """One call under one error state.

        Branches that are not taken are computed all the same, and logarithms of 0 are wanted (they give the limit 0 in a
        geometric mean): the warnings say nothing. What is not finite in the result is looked at by the caller.
        """
        with np.errstate(all="ignore"):
            return self.function(*pieces)


def evaluate_expression(expression: Expr, values: Mapping[Symbol, Array | float]) -> float:
    """One expression's value, by the same printing as the kernel's.

    Parameters
    ----------
    values : mapping of symbol to number; a population is an array, shape (1, members)
    """
    symbols = sorted((symbol for symbol in expression.free_symbols if symbol in values), key=str)
    function = sympy.lambdify(symbols, expression, modules=[FUNCTIONS, "numpy"], printer=KernelPrinter())
    with np.errstate(all="ignore"):
        return float(
            np.asarray(function(*(np.asarray(values[symbol], float) for symbol in symbols)), float).reshape(-1)[0]
        )


def populations(program: Program) -> set[Symbol]:
    """The symbols that stand for a whole population, whose columns are members and not the products being worked out."""
    live = {symbol for figure, symbol in program.figures.items() if figure.statistic == "population"}
    return live | {symbol for symbol, _ in program.populations.values()}


def _piece(value: Array | float, at: tuple[slice, slice], whole: bool) -> Array | float:
    """The part of a value, shape (draws or 1, products or 1), that a piece of the work is about; all columns of a population."""
    if not isinstance(value, np.ndarray) or value.ndim == 0:
        return value
    rows, columns = value.shape
    return value[at[0] if rows > 1 else slice(None), at[1] if columns > 1 and not whole else slice(None)]


def kernel_of(
    program: Program,
    outputs: Iterable[str] | None = None,
    *,
    varying: Iterable[str] = (),
    gaps: Iterable[str] | None = None,
    given: Iterable[str] = (),
    stages: bool = False,
) -> Kernel:
    """The kernel that is asked for, by the fields of `KernelKey`: compiled the first time, and kept with the program."""
    asked = KernelKey(
        outputs=None if outputs is None else tuple(outputs),
        varying=tuple(varying),
        gaps=None if gaps is None else frozenset(gaps),
        given=tuple(given),
        stages=stages,
    )
    if asked not in program.kernels:
        program.kernels[asked] = compile_kernel(program, asked)
    kernel = program.kernels[asked]
    assert isinstance(kernel, Kernel)  # nothing else is kept there
    return kernel


def compile_kernel(program: Program, asked: KernelKey) -> Kernel:
    """The numpy kernel of a program, compiled anew; `kernel_of` keeps what it was asked for.

    Raises
    ------
    KeyError
        An address that is not among the program's numbers.
    """
    known = {"gate " + name: symbol for name, symbol in program.gates.items()} | dict(program.outputs)
    names = tuple(known) if asked.outputs is None else asked.outputs
    finals = {name: known[name] for name in names}
    if asked.stages:
        finals = {str(step.symbol): step.symbol for step in program.steps}
    fixed = _fixed(program, asked)
    taken = tuple(program.outputs[name] for name in asked.given)
    written = [(step.symbol, step.expression) for step in program.steps if step.symbol not in taken]
    # settling is slow, and may let a step go that a condition led to: what is needed is looked for before it, and after it
    led_to = _needed(written, set(finals.values()))
    steps = _needed([(symbol, settled(expression, fixed)) for symbol, expression in led_to], set(finals.values()))
    results = [settled(symbol, fixed) for symbol in finals.values()]
    inputs = _inputs(program, asked.varying, taken, [*(e for _, e in steps), *results])
    function = sympy.lambdify(
        inputs,
        results,
        modules=[FUNCTIONS, "numpy"],
        printer=KernelPrinter(),
        cse=lambda exprs: (steps, exprs),
    )
    taken_from = {figure.measure for figure, symbol in program.figures.items() if symbol in inputs}
    leant = [name for name in program.order if name in taken_from]
    leant_on = {name: kernel_of(program, [name], varying=asked.varying) for name in leant}
    return Kernel(program, inputs, tuple(finals), asked.varying, function, leant_on)


def _fixed(program: Program, asked: KernelKey) -> dict[Symbol, Expr]:
    """Numbers that do not vary, at full double precision, and presence that is certain."""
    for address in asked.varying:
        if address not in program.parameters:
            raise KeyError(address)
    fixed = {
        symbol: Float(number.value)
        for address, (symbol, number) in program.parameters.items()
        if address not in asked.varying
    }
    if asked.gaps is not None:
        for presence in (program.here, program.applies):
            fixed |= {symbol: Integer(1) for name, symbol in presence.items() if name not in asked.gaps}
    fixed |= {symbol: Float(values[0]) for symbol, values in program.populations.values() if len(values) == 1}
    return fixed


def _needed(steps: list[tuple[Symbol, Expr]], wanted: set[Symbol]) -> list[tuple[Symbol, Expr]]:
    """The steps that the wanted symbols lead back to, in order."""
    kept = []
    wanted = set(wanted)
    for symbol, expression in reversed(steps):
        if symbol in wanted:
            kept.append((symbol, expression))
            wanted |= expression.free_symbols
    return kept[::-1]


def _inputs(
    program: Program, varying: tuple[str, ...], given: tuple[Symbol, ...], expressions: Sequence[Expr]
) -> tuple[Symbol, ...]:
    used = set().union(*(expression.free_symbols for expression in expressions))
    outside = [
        *program.measures.values(),
        *program.here.values(),
        *program.applies.values(),
        *program.words.values(),
        *program.figures.values(),
        *(symbol for symbol, _ in program.populations.values()),
        *(program.parameters[address][0] for address in varying),
        *given,
    ]
    return tuple(symbol for symbol in outside if symbol in used)
