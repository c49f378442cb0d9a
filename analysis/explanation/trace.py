"""The trace of a score: every step with its numbers in, as a person with a pocket calculator would key it in.

Words in square brackets say what happened and are no part of the arithmetic; `log` is the natural logarithm.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import sympy
from sympy import Expr, Symbol
from sympy.printing.str import StrPrinter

from analysis.wording import STATISTICS, some
from scoring.form import Number
from scoring.numbers.array_types import Array
from scoring.numbers.arrays import compared
from scoring.program.kernel import evaluate_expression
from scoring.program.program import Program, Step
from scoring.symbolic.arithmetic import PRODUCT, SUM, divided_by
from scoring.table.evaluate import Inputs, population_of, symbols_at

SIGNIFICANT = 7
#: Statistics of the catalogue that are the value of a product.
ENDS = ("least", "greatest")
#: So many products that share an end are named.
NAMED = 3
#: Smaller than this is the dust of binary arithmetic, and printed as 0.
DUST = 1e-12


@dataclass(frozen=True, slots=True)
class Leaning:
    """A statistic of the catalogue that a line takes: of what, which, its value, and for an end the products that have it.

    share: of a percentile, from 0 to 100, else 0.
    """

    of: str
    statistic: str
    share: float
    value: float
    products: tuple[str, ...] = ()

    @property
    def says(self) -> str:
        """The statistic in words, with who has it."""
        which = f"percentile {self.share:g}" if self.statistic == "percentile" else f"the {STATISTICS[self.statistic]}"
        if not self.products:
            return f"{which} of {self.of}"
        return f"{which} of {self.of}, that of {some(self.products, NAMED)}"


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a trace: what it works out, the arithmetic, and the value that comes out.

    leans_on: the statistics of the catalogue in it, each once; a whole population that it counts in is none of them.
    """

    output: str
    kind: str
    address: str
    source: str
    arithmetic: str
    value: float
    leans_on: tuple[Leaning, ...] = ()


def trace(program: Program, inputs: Inputs, worked: Mapping[str, Array], product: int) -> tuple[Line, ...]:
    """Every step for one product, in the order of the program; steps that give no value are left out.

    The least and the greatest of no parts at all are infinite in the arithmetic. They are no values, nor is what a limit or
    rounding would make of them.

    Parameters
    ----------
    worked : every step's values by symbol name, from `scoring.table.evaluate.stages`
    """
    found = {step.symbol: float(worked[str(step.symbol)][0, product]) for step in program.steps}
    symbols = symbols_at(program, inputs, product)
    symbols |= found
    leanings = _leanings(program, inputs, symbols)
    tracer = ProductTracer(program, symbols, leanings)
    lines, nothing = [], set[Symbol]()
    for step in program.steps:
        value = found[step.symbol]
        if math.isinf(value) or (step.kind in ("limit", "round") and step.expression.free_symbols & nothing):
            nothing.add(step.symbol)
        elif value == value and step.kind != "gate":
            text = tracer.text(step.expression)
            leans_on = tuple(said for symbol, said in leanings.items() if symbol in step.expression.free_symbols)
            source = _source(program, step)
            lines.append(Line(step.output, step.kind, step.address, source, unbracketed(text), value, leans_on))
    return tuple(lines)


def _leanings(program: Program, inputs: Inputs, symbols: Mapping[object, Array | float]) -> dict[Symbol, Leaning]:
    """What each live statistic is, by its symbol; `symbols` holds their values."""
    found = {}
    for figure, symbol in program.figures.items():
        if figure.statistic == "population":
            continue
        value, holders = float(symbols[symbol]), tuple[str, ...]()
        if figure.statistic in ENDS:
            population = population_of(program, inputs, figure.measure)[0]
            holders = tuple(
                inputs.products[at] for at in np.flatnonzero(compared(population, "==", value) == 1).tolist()
            )
        found[symbol] = Leaning(figure.measure, figure.statistic, figure.share, value, holders)
    return found


def _source(program: Program, step: Step) -> str:
    """The name of the measure or output that a curve step takes."""
    names = {symbol: name for name, symbol in {**program.measures, **program.outputs}.items()}
    found = [names[symbol] for symbol in step.expression.free_symbols if symbol in names]
    return found[0] if step.kind == "curve" and found else ""


def unbracketed(text: str) -> str:
    """`text` without brackets that enclose it whole."""
    while text.startswith("(") and _closing(text) == len(text) - 1:
        text = text[1:-1]
    return text


def _closing(text: str) -> int:
    """Where the bracket that opens `text` closes."""
    depth = 0
    for index, letter in enumerate(text):
        depth += {"(": 1, ")": -1}.get(letter, 0)
        if depth == 0:
            return index
    return -1


class ProductTracer(StrPrinter):  # type: ignore[misc]
    """Prints an expression with one product's numbers in it, and works its value out."""

    printmethod = "trace"

    def __init__(
        self, program: Program, values: Mapping[Symbol, Array | float], leanings: Mapping[Symbol, Leaning]
    ) -> None:
        super().__init__()
        self.values = dict(values)
        self.leanings = leanings
        self.numbers: dict[Symbol, Number] = dict(program.parameters.values())
        self.printmethod = "trace"

    def text(self, expr: Expr) -> str:
        """The expression with its numbers in."""
        return str(self.doprint(expr))

    def value(self, expr: Expr) -> float:
        """The expression's value."""
        return evaluate_expression(expr, self._known())

    def holds(self, condition: Expr) -> bool:
        """Whether a condition holds."""
        return evaluate_expression(condition, self._known()) > 0

    def figure(self, value: float) -> str:
        """A number with enough digits to be keyed in."""
        if np.isnan(value):
            return "missing"
        return "0" if abs(value) < DUST else f"{value:.{SIGNIFICANT}g}"

    def _known(self) -> dict[Symbol, Array | float]:
        return {**{symbol: number.value for symbol, number in self.numbers.items()}, **self.values}

    def _print_Symbol(self, expr: Symbol) -> str:
        if expr in self.numbers:
            number = self.numbers[expr]
            text = number.text if not number.text.endswith("%") else self.figure(number.value)
        else:
            found = self.values[expr]
            text = "[the reference population]" if np.ndim(found) else self.figure(float(found))
        said = f" [{self.leanings[expr].says}]" if expr in self.leanings else ""
        return (f"({text})" if text.startswith("-") else text) + said

    def is_presence(self, condition: Expr) -> bool:
        """Whether a condition asks only if something is there."""
        return bool(condition.free_symbols <= {symbol for symbol in self.values if symbol.name.startswith("h")})

    def tighter(self, expr: Expr, than: int) -> str:
        """The expression, in brackets unless it binds tighter than `than`."""
        return str(self.parenthesize(expr, than))

    def _print_Abs(self, expr: Expr) -> str:
        return f"abs({self.doprint(expr.args[0])})"

    def _print_Add(self, expr: Expr, order: object = None) -> str:
        """From left to right, as written; what is taken away after a minus sign."""
        del order
        first, *rest = expr.args
        text = str(self.doprint(first))
        for term in rest:
            taken = term.is_Mul and term.args[0] == -1
            part = sympy.Mul(*term.args[1:], evaluate=False) if taken else term
            text += f" - {self.tighter(part, SUM)}" if taken else f" + {self.doprint(part)}"
        return text

    def _print_Mul(self, expr: Expr) -> str:
        """From left to right, as written, with divisions where they stand."""
        text = ""
        for factor in expr.args:
            part, divides = divided_by(factor)
            if divides:
                text += f"/{self.tighter(part, PRODUCT)}" if text else f"1/{self.tighter(part, PRODUCT)}"
            elif part == -1 and not text:
                text = "-"
            else:
                text += f"{'*' if text not in ('', '-') else ''}{self.tighter(part, SUM)}"
        return text
