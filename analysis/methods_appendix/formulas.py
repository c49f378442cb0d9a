"""The formula of one rating or score, line by line, as notation: names for what comes in, numbers as they are written."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sympy import Symbol

from analysis.wording import STATISTICS
from scoring.curves import KINDS
from scoring.form import Curve, Form, Measure, Output
from scoring.program.program import Figure, Program, Step
from scoring.program.typesetting import SIGNIFICANT, Setter, figure, number
from scoring.symbolic.notation import Name, Notation

__all__ = ["FormulaLine", "Notation", "formulas_of", "names_in"]

#: A label longer than this stands in the tables; in a formula the name stands for it.
LONGEST_LABEL = 32


@dataclass(frozen=True, slots=True)
class FormulaLine:
    """One line of a formula: `left = right`.

    output: the rating or score that it belongs to; address: the place in the form that it comes from; kind: the kind of
    step, as in `scoring.program.program.Step`; words: a short remark, "" if there is none.
    """

    output: str
    left: Notation
    right: Notation
    address: str
    kind: str
    words: str


def formulas_of(program: Program, output: Output) -> tuple[FormulaLine, ...]:
    """The lines of one rating or score, in the order of the arithmetic, for a product that has every part.

    Parameters
    ----------
    program : the compiled form
    output : one of its ratings or scores

    Returns
    -------
    tuple of FormulaLine; the left of the last is the name of the output
    """
    called = names_in(program.form)
    steps = [step for step in program.steps if step.output == output.name]
    own = {step.symbol: Name(_left(step, steps, program, called)) for step in steps}
    setter = _setter(program, called, own)
    if not steps:
        right = setter.set(program.outputs[output.name])
        return (FormulaLine(output.name, Name(called[output.name]), right, output.address, "blend", "as it stands"),)
    lines = []
    for step in steps:
        words = _remark(step, output, program.form, called)
        right = setter.set(step.expression)
        lines.append(FormulaLine(output.name, own[step.symbol], right, step.address, step.kind, words))
    return tuple(lines)


def names_in(form: Form) -> dict[str, str]:
    """What each measure, rating and score is called in formulas: its label, if that is short and no other's, else its name.

    A name is read as words, `edge_sink_mm` as "edge sink mm", unless two names would then read alike.
    """
    nouns: tuple[Measure | Output, ...] = (*form.measures, *form.outputs)
    labels = [_plainly(noun.label) for noun in nouns]
    names = [_plainly(noun.name.replace("_", " ")) for noun in nouns]
    everything = labels + [name for name, label in zip(names, labels, strict=True) if name != label]
    found = {}
    for noun, label, name in zip(nouns, labels, names, strict=True):
        is_own = everything.count(label) == 1 and len(noun.label) <= LONGEST_LABEL
        words = noun.name.replace("_", " ") if names.count(name) == 1 else noun.name
        found[noun.name] = noun.label if is_own else words
    return found


def _plainly(text: str) -> str:
    return " ".join(text.casefold().split())


def _setter(program: Program, called: Mapping[str, str], own: Mapping[Symbol, Notation]) -> Setter:
    """What every symbol of the program stands for; `own` are the steps of the output that is shown."""
    names: dict[Symbol, Notation] = {}
    for name in reversed(program.order):  # an output that is another as it stands goes by the other's name
        names[program.outputs[name]] = Name(called[name])
    names |= own
    names |= {symbol: Name(called.get(name, name)) for name, symbol in program.measures.items()}
    names |= {symbol: Name(_figure_name(of, called)) for of, symbol in program.figures.items()}
    for address, (symbol, values) in program.populations.items():
        is_population = address.endswith(".population")
        names[symbol] = Name("reference value") if is_population else figure(values[0])
    for symbol, of in program.parameters.values():
        names[symbol] = number(of.text)
    return Setter(
        names=names,
        values={symbol: of.value for symbol, of in program.parameters.values()},
        there=frozenset({*program.here.values(), *program.applies.values()}),
        words={symbol: (_attribute(program.form, name), word) for (name, word), symbol in program.words.items()},
        unsaid=frozenset(symbol for symbol, of in program.parameters.values() if of.spot.raw),
    )


def _attribute(form: Form, name: str) -> str:
    attribute = form.attributes_by_name.get(name)
    label = attribute.label if attribute is not None else name
    return name.replace("_", " ") if label == name or len(label) > LONGEST_LABEL else label


def _figure_name(of: Figure, called: Mapping[str, str]) -> str:
    measure = called.get(of.measure, of.measure)
    if of.statistic == "population":
        return f"tested {measure}"
    if of.statistic == "percentile":
        return f"percentile {of.share:g} of tested {measure}"
    return f"{STATISTICS[of.statistic]} of tested {measure}"


def _left(step: Step, steps: list[Step], program: Program, called: Mapping[str, str]) -> str:
    """What a step works out: the output itself if it is the last, else what comes before."""
    name = called[step.output]
    if step is steps[-1]:
        return name
    if step.kind == "curve":
        source = _source(step, program)
        alike = [other for other in steps if other.kind == "curve" and _source(other, program) == source]
        return f"rating {alike.index(step) + 1 if len(alike) > 1 else ''} by {called[source]}".replace("  ", " ")
    limits = [other for other in steps if other.kind == "limit"]
    following = steps[steps.index(step) + 1]
    if following.kind == "round":
        return f"{name} before rounding"
    return f"{name} before limits" if step not in limits else f"{name} after limit {limits.index(step) + 1}"


def _source(step: Step, program: Program) -> str:
    """The measure, rating or score that a curve takes."""
    part = program.form.output(step.output).part_at(step.address)
    assert part is not None  # the step is its curve
    return part.source


def _remark(step: Step, output: Output, form: Form, called: Mapping[str, str]) -> str:
    """What a line cannot say in signs."""
    if step.kind == "curve":
        part = output.part_at(step.address)
        assert part is not None  # the step is its curve
        assert part.curve is not None
        return "; ".join(_curve_remarks(part.curve, part.source, form, called))
    if step.kind == "blend" and output.blend is not None:
        return output.blend.value
    return ""


def _curve_remarks(curve: Curve, source: str, form: Form, called: Mapping[str, str]) -> Iterator[str]:
    """What goes in and its unit, what the formula leans on, and how far its digits reach."""
    measure = form.measures_by_name.get(source)
    if measure is not None:
        label = "" if measure.label in (called[source], source) else f": {measure.label}"
        unit = "" if measure.unit == "1" else f", in {measure.unit}"
        if label or unit:
            yield f"{called[source]}{label}{unit}"
    if curve.reference is not None and KINDS[curve.kind].figures:
        yield "against the products tested" if curve.reference.live else "against a frozen reference"
    if KINDS[curve.kind].works_out:
        largest = max(abs(gives.value) for _, gives in curve.anchors)
        decimals = max(0, SIGNIFICANT - 2 - len(str(int(largest))))
        yield f"coefficients to {SIGNIFICANT} significant digits: keep {decimals} decimals of the result"
