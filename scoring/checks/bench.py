"""The bench: the real numpy kernel, fed with settings of the inputs that the search for counter-examples makes up.

Beside ratings and scores the kernel gives, for every place where an output may jump, a state: which branch is taken,
which step or multiple is reached. Two settings with different states have the jump between them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from sympy import Expr, Symbol

from scoring.catalogue import State
from scoring.catalogue.repeats import taken_by
from scoring.checks.domain import Domain
from scoring.numbers.array_types import Array, Flags
from scoring.numbers.intervals import LEAST, Interval
from scoring.program.kernel import Kernel, kernel_of
from scoring.program.program import GIVEN, Program, Step
from scoring.program.reference import statistic_of
from scoring.table.evaluate import Inputs, evaluate, population_of
from scoring.table.missing import Standing


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting of the inputs: readings, what is missing or does not apply, words, and which reference population."""

    values: Mapping[str, float]
    states: Mapping[str, State]
    words: Mapping[str, str]
    population: int

    def moved(self, measure: str, value: float) -> Setting:
        """The same setting with another reading of one measure."""
        return replace(self, values={**self.values, measure: value})


@dataclass(frozen=True, slots=True, eq=False)
class Answers:
    """What the kernel gives for a batch: outputs and states, arrays of shape (settings,).

    An output that is not published is NaN, and False in `published`.
    """

    values: Mapping[str, Array]
    published: Mapping[str, Flags]
    states: Mapping[str, Array]


@dataclass(slots=True, eq=False)
class Bench:
    """The kernel, the reference populations that it is tried with, and where readings may lie."""

    domain: Domain
    kernel: Kernel
    populations: tuple[Inputs, ...]
    hints: Mapping[str, tuple[float, ...]]
    spans: Mapping[str, tuple[float, float]]
    words: Mapping[str, tuple[str, ...]]
    turned_by: Mapping[str, tuple[str, ...]]
    asked: int = field(default=0)

    @property
    def steps(self) -> int:
        """How many steps one setting takes, about: what a search may spend goes by it."""
        return len(self.kernel.program.steps)

    def ask(self, settings: Sequence[Setting]) -> Answers:
        """The kernel's answers for settings that share one reference population."""
        measures = self.domain.program.form.measures
        values = {m.name: np.array([s.values[m.name] for s in settings]) for m in measures}
        states = {m.name: np.array([s.states.get(m.name, State.VALUE) for s in settings], np.uint8) for m in measures}
        words = {name: tuple(s.words.get(name, "") for s in settings) for name in self.words}
        return self.ask_arrays(values, states, words, settings[0].population)

    def ask_arrays(
        self,
        values: Mapping[str, Array],
        states: Mapping[str, NDArray[np.uint8]],
        words: Mapping[str, tuple[str, ...]],
        population: int,
    ) -> Answers:
        """The kernel's answers for arrays of shape (settings,)."""
        n_settings = len(next(iter(states.values()))) if states else 1
        read = {n: np.where(states[n] <= State.BELOW, v, np.nan)[None, :] for n, v in self.taken(values).items()}
        inputs = Inputs(("",) * n_settings, read, states, words)
        found = evaluate(self.kernel, inputs, reference=self.populations[population])
        self.asked += n_settings
        names = self.domain.outputs
        standing = {name: np.broadcast_to(found.presence.standing[name][0], n_settings) for name in names}
        return Answers(
            values={name: found.values[name][0] for name in names},
            published={name: standing[name] <= Standing.PARTIAL for name in names},
            states={
                n.removeprefix("gate "): v[0]
                for n, v in found.values.items()
                if n.startswith("gate ") and not n.startswith(f"gate {GIVEN}")
            },
        )

    def as_scored(self, setting: Setting) -> tuple[Bench, Setting]:
        """The bench and the setting with the product in its reference population, where scoring it puts it."""
        if not self.domain.program.figures:
            return self, setting
        population = self.populations[setting.population]
        states = {name: setting.states.get(name, State.VALUE) for name in population.values}
        read = self.taken({name: np.array([setting.values[name]]) for name in population.values})
        own = {name: read[name] if states[name] <= State.BELOW else np.array([np.nan]) for name in read}
        joined = Inputs(
            products=(*population.products, ""),
            values={
                name: np.append(array[:1], own[name][None, :], axis=1) for name, array in population.values.items()
            },
            states={name: np.append(array, np.uint8(states[name])) for name, array in population.states.items()},
            words={name: (*known, setting.words.get(name, "")) for name, known in population.words.items()},
        )
        return replace(self, populations=(*self.populations, joined)), replace(
            setting, population=len(self.populations)
        )

    def taken(self, values: Mapping[str, Array]) -> dict[str, Array]:
        """Readings as the formula takes them, name -> shape (settings,): rounded where their measures round."""
        return taken_by(self.domain.program.form, values)

    def figure(self, setting: Setting, measure: str, statistic: str, share: float) -> Array:
        """A figure of the reference population that a setting is tried with, shape (1,), or the population, (members,)."""
        population = population_of(self.domain.program, self.populations[setting.population], measure)
        return np.asarray(statistic_of(statistic, population, share)[0])


def bench_of(
    domain: Domain,
    states: Mapping[str, Expr],
    catalogue: Inputs | None,
    rng: np.random.Generator,
    turned_by: Mapping[str, tuple[str, ...]] | None = None,
) -> Bench:
    """The bench for a domain; `states` are the expressions to watch, by name, and `turned_by` those that a measure turns."""
    program = domain.program
    hints = domain.hints
    spans = {name: span_of(interval, hints[name]) for name, interval in domain.ranges.items()}
    words = _words_of(program)
    populations = [
        _population_inputs(taken_by(program.form, _population(spans, rng, lean)), words) for lean in (0.0, -1.0, 1.0)
    ]
    if catalogue is not None:
        populations = [_population_inputs(_filled(catalogue, populations[0]), words), *populations[1:]]
    kernel = kernel_of(_watched(program, states))
    turned = turned_by if turned_by is not None else dict.fromkeys(program.measures, tuple(states))
    return Bench(domain, kernel, tuple(populations), hints, spans, words, turned)


def _watched(program: Program, states: Mapping[str, Expr]) -> Program:
    """The program with a gate for every state."""
    symbols = {name: Symbol(f"watched{index}", real=True) for index, name in enumerate(states)}
    steps = [Step(symbols[name], states[name], "gate", "", "") for name in states]
    givens = {name: symbol for name, symbol in program.gates.items() if name.startswith(GIVEN)}
    return replace(program, steps=(*program.steps, *steps), gates=givens | symbols)


def span_of(interval: Interval, hints: Sequence[float]) -> tuple[float, float]:
    """A bounded range to try: the interval, or, where it has no end, well beyond the hints."""
    if math.isfinite(interval.low) and math.isfinite(interval.high):
        return interval.low, interval.high
    low, high = (min(hints), max(hints)) if hints else (0.0, 10.0)
    width = max(high - low, abs(low), abs(high), 1.0)
    if interval.low == LEAST:
        return (low if low > 0 else width) / 100, high + 2 * width
    return low - 2 * width, high + 2 * width


def _words_of(program: Program) -> dict[str, tuple[str, ...]]:
    """The words to try of each attribute: those declared, those that the formula names, and none at all."""
    found: dict[str, tuple[str, ...]] = {}
    for attribute in program.form.attributes:
        named = tuple(word for name, word in program.words if name == attribute.name)
        found[attribute.name] = tuple(dict.fromkeys((*attribute.values, *named, "")))
    return found


def _population_inputs(values: Mapping[str, Array], words: Mapping[str, tuple[str, ...]]) -> Inputs:
    """A reference population of the given readings, shape (1, members), each with the first word of every attribute."""
    size = max((array.shape[1] for array in values.values()), default=1)
    states = {name: np.where(np.isnan(a[0]), State.MISSING, State.VALUE).astype(np.uint8) for name, a in values.items()}
    return Inputs(("",) * size, values, states, {name: (known[0],) * size for name, known in words.items()})


def _population(spans: Mapping[str, tuple[float, float]], rng: np.random.Generator, lean: float) -> dict[str, Array]:
    """The readings of nine made-up products, measure -> shape (1, 9).

    Evenly spread, or crowded towards one end of the range and touching it.
    """
    shares = np.linspace(0.05, 0.95, 9) if lean == 0 else np.concatenate([[0.0], np.sort(rng.uniform(0, 0.3, 8))])
    shares = 1 - shares if lean > 0 else shares
    return {name: _rounded(low + (high - low) * shares, low, high)[None, :] for name, (low, high) in spans.items()}


def _rounded(values: Array, low: float, high: float) -> Array:
    """Readings of few digits, of the same shape, for they may stand in a counter-example; ends stay what they are."""
    short = np.round(values, 3 - math.ceil(math.log10(high - low)))
    return np.where((values == low) | (values == high), values, np.clip(short, low, high))


def _filled(catalogue: Inputs, made_up: Inputs) -> dict[str, Array]:
    """The catalogue's readings, measure -> shape (1, members); a measure of which it has fewer than two is made up."""
    return {
        name: catalogue.values[name][:1]
        if name in catalogue.values and np.isfinite(catalogue.values[name][:1]).sum() > 1
        else values
        for name, values in made_up.values.items()
    }
