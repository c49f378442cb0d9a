"""Readings in, values out: presence, then the reference population's figures, then the kernel, then gaps left blank."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from scoring.catalogue import Catalogue, State
from scoring.catalogue.repeats import summarise_all
from scoring.errors import CatalogueError, Place, Problem
from scoring.form import Form, Number
from scoring.numbers.array_types import Array, Flags
from scoring.program.kernel import Kernel, kernel_of, populations
from scoring.program.program import GIVEN, Program
from scoring.program.reference import statistic_of
from scoring.table.missing import Presence, Standing, presence_of


@dataclass(frozen=True, slots=True, eq=False)
class Inputs:
    """Summarised readings of a catalogue.

    values: measure name to array, shape (draws or 1, products), NaN where there is none; states: measure name to array
    of `State`, shape (products,); words: attribute name to one word a product; reasons: measure name to why a product
    has no value, where that is said.
    """

    products: tuple[str, ...]
    values: Mapping[str, Array]
    states: Mapping[str, NDArray[np.uint8]]
    words: Mapping[str, tuple[str, ...]]
    reasons: Mapping[str, Mapping[int, str]] = field(default_factory=dict)

    def of_product(self, product: int) -> Inputs:
        """The inputs of one product; why it has no value is not kept."""
        at = slice(product, product + 1)
        return Inputs(
            products=(self.products[product],),
            values={name: values[:, at] for name, values in self.values.items()},
            states={name: states[at] for name, states in self.states.items()},
            words={name: words[at] for name, words in self.words.items()},
        )


@dataclass(frozen=True, slots=True, eq=False)
class Evaluation:
    """Values of outputs and gates, shape (draws, products); NaN where an output is absent."""

    values: Mapping[str, Array]
    presence: Presence


def inputs_of(form: Form, catalogue: Catalogue) -> Inputs:
    """The summarised readings of a catalogue, one value a product and measure.

    Raises
    ------
    CatalogueError
        An attribute that the formula leans on is not in the catalogue, or holds a word that is not among its declared ones.
    """
    _check_words(form, catalogue)
    return summed_up(form, catalogue)


def summed_up(form: Form, catalogue: Catalogue) -> Inputs:
    """The same of any catalogue, whatever its attributes say or lack: what is to be looked at and not scored."""
    summaries = summarise_all(form, catalogue)
    return Inputs(
        products=catalogue.products,
        values={name: summary.values[None, :] for name, summary in summaries.items()},
        states={name: summary.states for name, summary in summaries.items()},
        words=catalogue.attributes,
        reasons={name: summary.reasons for name, summary in summaries.items()},
    )


def _check_words(form: Form, catalogue: Catalogue) -> None:
    needed = {name for output in form.outputs for name in output.sources}
    needed.update(name for gate in form.gates for name in gate.when.names)
    needed.update(name for output in form.outputs for name in output.asked_for_bands)
    problems: list[Problem] = []
    for attribute in form.attributes:
        if attribute.name not in needed:
            continue
        if attribute.name not in catalogue.attributes:
            place = Place("the catalogue", column_name=attribute.name)
            hint = "The formula leans on it: add the column, or the file `items` beside the readings."
            problems.append(Problem(place, "no such attribute", "a word for every product", hint))
            continue
        words = catalogue.attributes[attribute.name]
        for product, word in zip(catalogue.products, words, strict=True):
            if word and attribute.values and word not in attribute.values:
                place = Place(f"the catalogue, product {product}", column_name=attribute.name)
                problems.append(Problem(place, f"`{word}`", "one of " + ", ".join(attribute.values)))
    if problems:
        raise CatalogueError(problems)


def gaps_in(program: Program, inputs: Inputs) -> tuple[str, ...]:
    """The measures and attributes that some product lacks, and the outputs that lean on one of them."""
    gaps = {name for name, states in inputs.states.items() if states.max(initial=State.VALUE) > State.BELOW}
    gaps |= {name for name, words in inputs.words.items() if "" in words}
    gaps |= {output.name for output in program.form.outputs if output.may_be_none}
    return tuple(sorted(gaps.union(program.form.dependencies.reached_from(gaps))))


def kernel_for(
    program: Program, inputs: Inputs, outputs: Iterable[str] | None = None, varying: Iterable[str] = ()
) -> Kernel:
    """The kernel that a catalogue's gaps call for: no more presence is carried than there are gaps."""
    return kernel_of(program, outputs, varying=varying, gaps=gaps_in(program, inputs))


def evaluate(
    kernel: Kernel,
    inputs: Inputs,
    settings: Mapping[str, Array] | None = None,
    *,
    reference: Inputs | None = None,
    given: Evaluation | None = None,
) -> Evaluation:
    """The kernel's outputs over a catalogue.

    Parameters
    ----------
    settings : mapping of address to array, shape (draws,)
        A value of each number that the kernel varies, for each draw.
    reference : Inputs
        The population whose statistics live references take; the catalogue itself by default. What it holds under the name
        of a rating or score is taken for that; otherwise ratings and scores of it are worked out.
    given : Evaluation
        Outputs that were worked out before, which the kernel takes as they stand (its `given`).

    Returns
    -------
    Evaluation
        Arrays of shape (draws, products); the presence of readings, of the kernel's outputs and of what they stand on.
    """
    program = kernel.program
    drawn = {address: np.asarray(values, float).reshape(-1, 1) for address, values in (settings or {}).items()}

    def setting(number: Number) -> Array | float:
        return drawn.get(number.address, number.value)

    own = tuple(name for name in kernel.outputs if name in program.outputs)
    needed = _needed_outputs(kernel) if given is None else own
    none = _none_given(
        kernel, needed, lambda one: evaluate(one, inputs, settings, reference=reference, given=given), given
    )
    known = None if given is None else given.presence
    presence = presence_of(program, inputs.states, inputs.words, setting, outputs=needed, known=known, none=none)
    population = dict((reference or inputs).values)
    if given is not None and reference is None:
        population |= given.values
    for name in kernel.leant_on:
        if name not in population:
            population[name] = evaluate(kernel.leant_on[name], reference or inputs, settings).values[name]
    symbols = _symbols(program, kernel, inputs, presence, drawn, population)
    if given is not None:
        symbols |= {program.outputs[name]: values for name, values in given.values.items()}
    lengths = [len(array) for array in symbols.values() if isinstance(array, np.ndarray) and array.ndim == 2]
    lengths += [len(standing) for standing in presence.standing.values()]
    n_draws = max([*lengths, *(len(array) for array in drawn.values()), *(len(a) for a in inputs.values.values()), 1])
    results = kernel(symbols, (n_draws, len(inputs.products)))
    for name, standing in presence.standing.items():
        if name in results and np.any(standing >= Standing.UNRATED):
            results[name] = np.where(standing >= Standing.UNRATED, np.nan, results[name])
    return Evaluation(results, presence)


def _none_given(
    kernel: Kernel, outputs: Iterable[str], work_out: Callable[[Kernel], Evaluation], given: Evaluation | None
) -> dict[str, Flags]:
    """Where the expressions of some outputs give no value, shape (draws, products): worked out before what takes them."""
    program, found = kernel.program, dict[str, Flags]()
    taken = () if given is None else tuple(given.values)
    for name in outputs:
        called = f"{GIVEN}{name}"
        if called in program.gates:
            asked = kernel_of(program, [f"gate {called}"], varying=kernel.varying, given=taken)
            found[name] = work_out(asked).values[f"gate {called}"] == 0
    return found


def _needed_outputs(kernel: Kernel) -> tuple[str, ...]:
    """The ratings and scores whose presence a kernel takes or gives, and what they stand on, in order of need."""
    program, taken = kernel.program, set(kernel.inputs)
    presences = (*program.here.items(), *program.applies.items())
    asked = {name for name, symbol in presences if symbol in taken}
    return program.form.dependencies.needed_for(asked.union(kernel.outputs))


def _symbols(
    program: Program,
    kernel: Kernel,
    inputs: Inputs,
    presence: Presence,
    drawn: Mapping[str, Array],
    population: Mapping[str, Array],
) -> dict[object, Array | float]:
    """A value for each symbol that the kernel takes; `population` is the population that figures are worked out of.

    drawn : address -> shape (draws, 1); population : name -> shape (draws or 1, products). Values are numbers or of shape
    (draws or 1, products or 1), those of a population of shape (draws or 1, members).
    """
    wanted = set(kernel.inputs)
    symbols: dict[object, Array | float] = {
        program.parameters[address][0]: values for address, values in drawn.items() if address in program.parameters
    }
    symbols |= {symbol: inputs.values[name] for name, symbol in program.measures.items() if symbol in wanted}
    symbols |= {symbol: presence.here[name] for name, symbol in program.here.items() if symbol in wanted}
    symbols |= {symbol: presence.applies[name] for name, symbol in program.applies.items() if symbol in wanted}
    for (name, word), symbol in program.words.items():
        if symbol in wanted:
            symbols[symbol] = np.array([[found == word for found in inputs.words[name]]], float)
    for figure, symbol in program.figures.items():
        if symbol in wanted:
            symbols[symbol] = statistic_of(figure.statistic, population[figure.measure], figure.share)
    symbols |= {symbol: np.array([values]) for symbol, values in program.populations.values() if symbol in wanted}
    return symbols


def symbols_at(program: Program, inputs: Inputs, product: int) -> dict[object, Array | float]:
    """The value of each symbol that comes in from outside, for one product.

    Numbers, but for a population: that is an array of its members, shape (1, members).
    """
    kernel = kernel_of(program, stages=True)
    # one statistic of a frozen population is worked into a kernel as a number, and asks for no input
    found: dict[object, Array | float] = {
        symbol: values[0] for symbol, values in program.populations.values() if len(values) == 1
    }
    for symbol, value in _stated_symbols(program, kernel, inputs).items():
        row = np.atleast_2d(np.asarray(value, float))
        if symbol in populations(program):
            found[symbol] = row
        else:
            found[symbol] = float(row[0, product if row.shape[1] > 1 else 0])
    return found


def stages(program: Program, inputs: Inputs) -> dict[str, Array]:
    """Every step of the arithmetic, by its symbol: arrays of shape (draws or 1, products)."""
    kernel = kernel_of(program, stages=True)
    n_draws = max([len(a) for a in inputs.values.values()] + [1])
    return kernel(_stated_symbols(program, kernel, inputs), (n_draws, len(inputs.products)))


def _stated_symbols(program: Program, kernel: Kernel, inputs: Inputs) -> dict[object, Array | float]:
    """A value for each symbol that the kernel takes, every number of the form being as stated; shapes as in `_symbols`."""
    none = _none_given(kernel_of(program), program.order, lambda one: evaluate(one, inputs), None)
    presence = presence_of(program, inputs.states, inputs.words, lambda number: number.value, none=none)
    population = {
        **inputs.values,
        **{name: evaluate(one, inputs).values[name] for name, one in kernel.leant_on.items()},
    }
    return _symbols(program, kernel, inputs, presence, {}, population)


def population_of(program: Program, inputs: Inputs, name: str) -> Array:
    """The population that a live reference takes: a measure's readings, or the values of a rating or score, NaN where none.

    Returns
    -------
    ndarray, shape (draws or 1, products)
    """
    if name in inputs.values:
        return inputs.values[name]
    return evaluate(kernel_of(program, [name]), inputs).values[name]
