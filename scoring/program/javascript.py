"""From a program to JavaScript: each step of the arithmetic as one function of a page's registers.

The steps are those that the numpy kernel is printed from, and our own functions print the same calls: a page that holds them
needs only array functions of the same names. Nothing of a formula's text gets into the code, save numbers.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field

from sympy import Expr, Symbol

from scoring.form import Number
from scoring.program.kernel_code import KernelPrinter
from scoring.program.program import Program, Step
from scoring.symbolic.branches import Limited

#: A step by what it stands for: the output, the step's kind and its address.
StepKey = tuple[str, str, str]
#: Steps that take the running value of their output and give it back.
CHAINED = ("limit", "round")


class JavaScriptPrinter(KernelPrinter):
    """Prints as the kernel's printer does, with symbols as registers and JavaScript's own operators."""

    def __init__(self, registers: dict[Symbol, str]) -> None:
        super().__init__()
        self.registers = registers

    def row(self, codes: Sequence[str]) -> str:
        """Several printed values as one array."""
        return f"[{', '.join(codes)}]"

    def population_code(self, population: Expr) -> str:
        """A population of many values: JavaScript turns no sign of a whole array."""
        if isinstance(population, Symbol):
            return self.registers[population]
        (symbol,) = population.free_symbols
        return f"opposite({self.registers[symbol]})"

    def _print_Symbol(self, expr: Symbol) -> str:
        return self.registers[expr]

    def _print_Pow(self, expr: Expr, rational: bool = False) -> str:  # noqa: ARG002
        base, exponent = (self._print(arg) for arg in expr.args)
        return f"pow({base}, {exponent})"

    def _print_BooleanTrue(self, expr: Expr) -> str:  # noqa: ARG002
        return "true"

    def _print_BooleanFalse(self, expr: Expr) -> str:  # noqa: ARG002
        return "false"


@dataclass
class Registers:
    """Where each thing stands in a page's arrays; a place is given when it is first asked for.

    `x.m` measures, `x.h` whether a measure, attribute or output is there, `x.a` whether it applies, `x.w` whether an
    attribute is a word, `x.f` figures of the catalogue, `x.r` frozen populations, `x.p` the form's numbers, `x.o` outputs,
    `x.s` curves.
    """

    places: dict[str, dict[Hashable, int]] = field(default_factory=dict)

    def at(self, array: str, thing: Hashable) -> int:
        """The place of a thing in an array."""
        return self.places.setdefault(array, {}).setdefault(thing, len(self.places[array]))

    def of(self, array: str) -> tuple[Hashable, ...]:
        """What stands in an array, in order of place."""
        return tuple(self.places.get(array, {}))

    def number(self, number: Number) -> int:
        """The place of a number of the form."""
        return self.at("p", number.address)


def print_steps(program: Program, registers: Registers) -> dict[StepKey, str]:
    """Every step as JavaScript, in order of need: an expression in the registers.

    A curve's step stands for itself and goes to `x.s`; each output's other steps pass its running value `x.v` on, the first
    of them ("take") making it.
    """
    printer = JavaScriptPrinter(_registers_of(program, registers))
    found: dict[StepKey, str] = {}
    for name in program.order:
        found |= _output_steps(program, name, printer, registers)
    for step in program.steps:
        if step.kind == "gate":
            found[step.output, "take", step.address] = printer.doprint(step.expression)
    return found


def _output_steps(program: Program, name: str, printer: JavaScriptPrinter, registers: Registers) -> dict[StepKey, str]:
    """The steps of one output, whose own symbol the printer knows from here on."""
    result, steps = program.outputs[name], [step for step in program.steps if step.output == name]
    found: dict[StepKey, str] = {}
    for step in steps:
        if step.kind == "curve":
            key = (name, "curve", step.address)
            printer.registers[step.symbol] = f"x.s[{registers.at('s', key)}]"
            found[key] = printer.doprint(step.expression)
    chain = [step for step in steps if step.kind != "curve"]
    takes = not chain or chain[0].kind in CHAINED
    taken = chain[0].symbol if chain else result
    if chain and takes:
        taken = _taken_by(chain[0])
    found[name, "take", name] = printer.doprint(taken if takes else chain[0].expression)
    for step in chain if takes else chain[1:]:
        before = printer.registers.get(taken)
        printer.registers[taken] = "x.v"
        found[name, step.kind, step.address] = printer.doprint(step.expression)
        if before is not None:
            printer.registers[taken] = before
        taken = step.symbol
    printer.registers[result] = f"x.o[{registers.at('o', name)}]"
    return found


def _taken_by(step: Step) -> Symbol:
    """What a limit or rounding that comes first works on."""
    return step.expression.args[1 if isinstance(step.expression, Limited) else 0]


def _registers_of(program: Program, registers: Registers) -> dict[Symbol, str]:
    """The register of every symbol that comes in from outside."""
    found = {symbol: f"x.m[{registers.at('m', name)}]" for name, symbol in program.measures.items()}
    found |= {symbol: f"x.h[{registers.at('h', name)}]" for name, symbol in program.here.items()}
    found |= {symbol: f"x.a[{registers.at('h', name)}]" for name, symbol in program.applies.items()}
    found |= {symbol: f"x.w[{registers.at('w', pair)}]" for pair, symbol in program.words.items()}
    found |= {symbol: f"x.f[{registers.at('f', figure)}]" for figure, symbol in program.figures.items()}
    found |= {symbol: f"x.r[{registers.at('r', key)}]" for key, (symbol, _) in program.populations.items()}
    found |= {symbol: f"x.p[{registers.number(number)}]" for symbol, number in program.parameters.values()}
    return found
