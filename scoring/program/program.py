"""From a form to a symbolic program: steps in the order in which they need each other, every number a symbol of its own.

The program is the one thing that every face is printed from: the numpy kernel, the proofs, the trace of a score.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import sympy
from sympy import Expr, Integer, Symbol

from scoring.blends import blend
from scoring.curves import KINDS, CurveInputs
from scoring.form import BandLimit, Curve, Expression, Form, Gate, Limit, Number, Output, Part, Term
from scoring.program.operators import OPERATORS, STATISTICS
from scoring.program.reference import statistic_of
from scoring.symbolic.arithmetic import Over
from scoring.symbolic.branches import Counted, Limited, Present, Unless, Where
from scoring.symbolic.conditions import Both, Denied
from scoring.symbolic.functions import Greatest, Least
from scoring.symbolic.rounded import rounded

#: What stands before the name of an output whose expression may give no value, among the conditions of gates: whether it does.
GIVEN = "given "
#: The branch of a `where` that gives no value, as a term.
NONE = "none"


@dataclass(frozen=True, slots=True)
class Figure:
    """A statistic over the live catalogue: mean, sd, median, percentile, least, greatest, or the whole population.

    measure: the measure, or the rating or score, that it is a statistic of.
    """

    measure: str
    statistic: str
    share: float = 0.0


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the arithmetic: `symbol` stands for `expression` from here on.

    kind: "curve" (a part through its curve), "blend", "value", "limit", "round" or "gate"; `output` is the rating, score
    or gate that it belongs to, and `address` the place in the form that it comes from.
    """

    symbol: Symbol
    expression: Expr
    kind: str
    output: str
    address: str


@dataclass(frozen=True, slots=True)
class KernelKey:
    """What a kernel is asked for.

    outputs: names of ratings, scores and `gate NAME`, None for all; varying: addresses of numbers that stay arguments, all
    others being worked in at their stated values; gaps: names of measures and outputs that may be missing, None for all,
    the others being taken as present; given: names of outputs whose values come in from outside instead of being worked
    out; stages: whether to give every step instead, named by its symbol.
    """

    outputs: tuple[str, ...] | None = None
    varying: tuple[str, ...] = ()
    gaps: frozenset[str] | None = None
    given: tuple[str, ...] = ()
    stages: bool = False


@dataclass(frozen=True, slots=True)
class Program:
    """A form as symbols and steps.

    measures, here, applies, words, figures and parameters give the symbols that come in from outside: readings, whether a
    measure or output is there (0 or 1), whether it applies to the product at all, whether an attribute is a word,
    statistics of the catalogue, and the form's own numbers. `kernels` keeps what was compiled of it, by what was asked for:
    `scoring.program.kernel.kernel_of` alone reads and fills it, and a changed program (`replace`) starts with none.
    """

    form: Form
    measures: Mapping[str, Symbol]
    here: Mapping[str, Symbol]
    applies: Mapping[str, Symbol]
    words: Mapping[tuple[str, str], Symbol]
    figures: Mapping[Figure, Symbol]
    parameters: Mapping[str, tuple[Symbol, Number]]
    populations: Mapping[str, tuple[Symbol, tuple[float, ...]]]
    steps: tuple[Step, ...]
    outputs: Mapping[str, Symbol]
    gates: Mapping[str, Symbol]
    order: tuple[str, ...]
    kernels: dict[KernelKey, object] = field(default_factory=dict, init=False, repr=False, compare=False)

    def __reduce__(self) -> tuple[object, ...]:
        """Compiled anew from its form where it arrives: kernels do not pickle, and sympy would simplify the steps."""
        return _compiled_anew, (self.form, len(self.steps))

    def measures_under(self, *names: str) -> tuple[str, ...]:
        """The measures that outputs stand on and the arithmetic takes, through other outputs too, the nearest first."""
        return tuple(name for name in self.form.dependencies.under(*names) if name in self.measures)


def compile_form(form: Form) -> Program:
    """The symbolic program of a form: every expression as it is written, nothing simplified.

    sympy takes `x - x` for 0 and `x/x` for 1, also where x has no value, and puts sums into an order of its own, so that
    figures would differ from those worked out by hand in their last digits.

    Raises
    ------
    FormulaError
        Outputs that need each other in a circle, with the circle named.
    """
    order = form.dependencies.order
    with sympy.evaluate(False):
        build = _Build(form)
        for name in order:
            build.add_output(form.output(name))
        for gate in form.gates:
            build.add_gate(gate)
        for limit in (limit for output in form.outputs for limit in output.band_limits):
            build.add_band_limit(limit)
    return Program(
        form=form,
        measures=build.measures,
        here=build.here,
        applies=build.applies,
        words=build.words,
        figures=build.figures,
        parameters=build.parameters,
        populations=build.populations,
        steps=tuple(build.steps),
        outputs=build.outputs,
        gates=build.gates,
        order=order,
    )


def _compiled_anew(form: Form, n_steps: int) -> Program:
    """The program that was pickled; one with steps of its own, beyond its form's, is refused."""
    program = compile_form(form)
    if len(program.steps) != n_steps:
        raise TypeError(f"a program of {n_steps} steps, of which its form makes {len(program.steps)}, does not pickle")
    return program


@dataclass
class _Build:
    """The symbols and steps gathered while a form is walked."""

    form: Form
    measures: dict[str, Symbol] = field(default_factory=dict)
    here: dict[str, Symbol] = field(default_factory=dict)
    applies: dict[str, Symbol] = field(default_factory=dict)
    words: dict[tuple[str, str], Symbol] = field(default_factory=dict)
    figures: dict[Figure, Symbol] = field(default_factory=dict)
    parameters: dict[str, tuple[Symbol, Number]] = field(default_factory=dict)
    populations: dict[str, tuple[Symbol, tuple[float, ...]]] = field(default_factory=dict)
    steps: list[Step] = field(default_factory=list)
    outputs: dict[str, Symbol] = field(default_factory=dict)
    gates: dict[str, Symbol] = field(default_factory=dict)
    #: Whether a name has no value where what it names is missing, in the expression that is worked out now.
    blank: bool = False

    def __post_init__(self) -> None:
        self.constants = dict(self.form.constants)
        self.nothing: Expr = Integer(0)
        self.known_measures = {measure.name for measure in self.form.measures}

    # symbols: the letter tells the kind, the count makes it private; no text of a formula gets into a symbol's name

    def parameter(self, number: Number) -> Expr:
        if number.address not in self.parameters:
            self.parameters[number.address] = (Symbol(f"p{len(self.parameters)}", real=True), number)
        return self.parameters[number.address][0]

    def name(self, name: str) -> Expr:
        if name in self.constants:
            return self.parameter(self.constants[name])
        if name in self.outputs:
            return self.where_there(name, self.outputs[name])
        measured = self.measures.setdefault(name, Symbol(f"m{len(self.measures)}", real=True))
        return self.where_there(name, measured)

    def where_there(self, name: str, value: Symbol) -> Expr:
        """A value, which is none where its name is missing and that is asked for."""
        return Present(self.presence(name), value, Over(Integer(0), Integer(0))) if self.blank else value

    def presence(self, name: str) -> Expr:
        if name in self.constants:
            return Integer(1)
        return self.here.setdefault(name, Symbol(f"h{len(self.here)}", real=True))

    def application(self, name: str) -> Expr:
        return self.applies.setdefault(name, Symbol(f"a{len(self.applies)}", real=True))

    def figure(self, figure: Figure) -> Expr:
        return self.figures.setdefault(figure, Symbol(f"f{len(self.figures)}", real=True))

    def step(self, expression: Expr, kind: str, output: str, address: str) -> Symbol:
        symbol = Symbol(f"s{len(self.steps)}", real=True)
        self.steps.append(Step(symbol, expression, kind, output, address))
        return symbol

    # outputs

    def add_output(self, output: Output) -> None:
        if output.value is not None:
            self.nothing = self.parameter(output.scale.low)
            value = self.expression(output.value)
            if output.may_be_none:
                given = self.given(output.value.term, output.value.numbers)
                called = f"{GIVEN}{output.name}"
                self.gates[called] = self.step(given, "gate", f"gate {called}", output.value.address)
            for name in output.value.names:
                if output.missing.otherwise.value == "lowest":
                    value = Present(self.presence(name), value, self.parameter(output.scale.low))
            symbol = self.step(value, "value", output.name, output.value.address)
        else:
            symbol = self.add_blend(output)
        for limit in output.limits:
            if limit.apply.value == "always":
                symbol = self.step(self.limited(symbol, limit, output), "limit", output.name, limit.address)
        if output.round is not None:
            step = self.parameter(output.round.step)
            symbol = self.step(rounded(symbol, step, output.round.rule.value), "round", output.name, output.address)
        self.outputs[output.name] = symbol

    def add_blend(self, output: Output) -> Symbol:
        lowest = output.missing.otherwise.value == "lowest"
        triples = []
        for part in output.parts:
            value, here = self.part(part, output), self.presence(part.source)
            if lowest:
                value = Present(here, value, self.parameter(output.scale.low))
                here = self.application(part.source)
            weight = self.parameter(part.weight) if part.weight is not None else Integer(1)
            if output.missing.leaves_out:
                weight = Counted(self.application(part.source), weight, Integer(0))
            triples.append((weight, here, value))
        if output.blend is not None:
            numbers = {name: self.parameter(number) for name, number in output.numbers}
            blended = blend(output.blend.value, triples, numbers)
        else:
            ((_, _, blended),) = triples  # one measure through a curve
            if isinstance(blended, Symbol):
                return blended
        return self.step(blended, "blend", output.name, output.address)

    def part(self, part: Part, output: Output) -> Expr:
        if part.curve is None:
            return self.name(part.source)
        value = self.curve(part.curve, part.source, output)
        return self.step(value, "curve", output.name, part.address)

    def curve(self, curve: Curve, source: str, output: Output) -> Expr:
        high = output.scale.high
        inputs = CurveInputs(
            curve=curve,
            x=self.name(source),
            low=self.parameter(output.scale.low),
            high=self.parameter(high) if high is not None else sympy.oo,
            symbol=self.parameter,
            figure=lambda statistic: self.reference_figure(curve, source, statistic),
        )
        return KINDS[curve.kind].build(inputs)

    def reference_figure(self, curve: Curve, source: str, statistic: str) -> Expr:
        reference = curve.reference
        assert reference is not None  # every kind that leans has one, live by default
        if reference.live:
            return self.figure(Figure(source, statistic))
        written = dict(reference.figures)
        if statistic in written:
            return self.parameter(written[statistic])
        key = f"{reference.address}.{statistic}"
        values = tuple(number.value for number in reference.values)
        symbol = Symbol(f"r{len(self.populations)}", real=True)
        return self.populations.setdefault(key, (symbol, _frozen(statistic, values)))[0]

    def limited(self, value: Symbol, limit: Limit, output: Output) -> Expr:
        at_most = limit.sense == "at_most"
        if limit.when is not None and limit.bound is not None:
            sense = Integer(1 if at_most else -1)
            return Limited(self.condition(limit.when), value, self.parameter(limit.bound), sense)
        assert limit.curve is not None  # the reader lets no third way through
        assert limit.on is not None
        bound = self.curve(limit.curve, limit.on, output)
        free = sympy.oo if at_most else -sympy.oo
        return (Least if at_most else Greatest)(value, Present(self.presence(limit.on), bound, free))

    def condition(self, expression: Expression) -> Expr:
        """The condition, false where something that it names is missing."""
        here = [self.presence(name) > 0 for name in expression.names if name not in self.constants]
        return Both(self.expression(expression), *here)

    def add_gate(self, gate: Gate) -> None:
        met = Where(self.condition(gate.when), Integer(1), Integer(0))
        self.gates[gate.name] = self.step(met, "gate", f"gate {gate.name}", gate.address)

    def add_band_limit(self, limit: BandLimit) -> None:
        """Its condition, among those of gates; it has no value where it hangs on what is missing."""
        self.blank = True
        met = Where(self.expression(limit.when), Integer(1), Integer(0))
        self.blank = False
        self.gates[limit.condition] = self.step(met, "gate", f"gate {limit.condition}", limit.address)

    # expressions

    def expression(self, expression: Expression) -> Expr:
        return self.term(expression.term, expression.numbers)

    def given(self, term: Term, numbers: tuple[Number, ...]) -> Expr:
        """1 where an expression gives a value, 0 where a `none` is what its conditions lead to."""
        if term.op != "where":
            return Integer(0 if term.op == NONE else 1)
        condition, a, b = (arg for arg in term.args if isinstance(arg, Term))
        return Where(self.term(condition, numbers), self.given(a, numbers), self.given(b, numbers))

    def term(self, term: Term, numbers: tuple[Number, ...]) -> Expr:
        match term:
            case Term("where", (Term() as condition, Term(op="none"), Term() as b)):
                return Unless(self.term(condition, numbers), self.term(b, numbers), self.nothing)
            case Term("where", (Term() as condition, Term() as a, Term(op="none"))):
                return Unless(Denied(self.term(condition, numbers)), self.term(a, numbers), self.nothing)
            case Term("number", (int() as index,)):
                return self.parameter(numbers[index])
            case Term("name", (str() as name,)):
                return self.name(name)
            case Term("text==", (str() as name, str() as word)):
                symbol = self.words.setdefault((name, word), Symbol(f"w{len(self.words)}", real=True))
                return self.where_there(name, symbol) > 0
            case Term("mean" | "sd" | "median" | "minimum" | "maximum" as statistic, (str() as measure,)):
                return self.figure(Figure(measure, STATISTICS.get(statistic, statistic)))
            case Term("percentile", (str() as measure, Term() as share)):
                return self.figure(Figure(measure, "percentile", _literal(share, numbers)))
        return OPERATORS[term.op](*(self.term(arg, numbers) for arg in term.args if isinstance(arg, Term)))


def _literal(term: Term, numbers: tuple[Number, ...]) -> float:
    """The value of a written number."""
    inner = term.args[0]
    if isinstance(inner, Term):
        return -_literal(inner, numbers)
    assert isinstance(inner, int)  # the walk lets only numbers and their negatives through
    return numbers[inner].value


def _frozen(statistic: str, values: tuple[float, ...]) -> tuple[float, ...]:
    """A statistic of frozen values, as a tuple of one; for "population" the values themselves."""
    if statistic == "population":
        return values
    return (statistic_of(statistic, values).item(),)
