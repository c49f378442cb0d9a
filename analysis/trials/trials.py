"""Trials: a formula's scores under draws of what a study varies.

A choice is not a number: each combination of choices that touches an output is a program of its own, compiled once. Outputs
are worked out one after the other in their order of need, each under its own choices, so that the number of programs grows
with the choices at one output and not with all of them; an output that nothing varies is worked out once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from analysis.study.study import Move, Setting, Study
from analysis.trials.programs import (
    ReadingOptions,
    check_attributes,
    code_of,
    gaps_under,
    may_be_none,
    order_of_need,
    programs_for,
    reading_options,
    sources_of,
    touched,
    vanishing,
    with_filled,
)
from scoring.catalogue import Catalogue
from scoring.form import Output
from scoring.measurement_error import error_model
from scoring.numbers.array_types import Array, Indices
from scoring.program.kernel import Kernel, kernel_of
from scoring.program.program import Program, compile_form
from scoring.table.evaluate import Evaluation, Inputs, evaluate, inputs_of
from scoring.table.missing import Presence

Kind = TypeVar("Kind", bound=np.generic)


@dataclass(frozen=True, slots=True, eq=False)
class _Stage:
    """One output: the choices that touch it, and for each of their combinations a kernel and the numbers it varies."""

    output: Output
    choices: tuple[Move, ...]
    kernels: tuple[Kernel, ...]
    numbers: tuple[frozenset[str], ...]
    varies: bool


@dataclass(frozen=True, slots=True, eq=False)
class _Cases:
    """The inputs of each draw. Draws that differ in which readings there are, by choices about readings, are cases apart.

    inputs: one a case, of all draws; of: which case each draw is, shape (n_draws,).
    """

    inputs: tuple[Inputs, ...]
    of: Indices


@dataclass(frozen=True, slots=True, eq=False)
class Trials:
    """A study's formula, compiled for a catalogue. What is compiled does not pickle: it is compiled anew where they arrive.

    catalogue: as it was read; compiled_for: the scores that the stages lead to; inputs: the readings as stated;
    u: measure -> standard uncertainty of each value, shape (n_products,); targets: the scores worked out;
    reach: factor -> the outputs that it can move; readings: the measures that choices are about; sources: output -> what goes
    into it.
    """

    study: Study
    catalogue: Catalogue
    compiled_for: tuple[str, ...]
    inputs: Inputs
    u: Mapping[str, Array]
    targets: tuple[str, ...]
    stages: tuple[_Stage, ...]
    reach: Mapping[str, frozenset[str]]
    readings: tuple[ReadingOptions, ...]
    sources: Mapping[str, Sequence[str]]
    settled: dict[str, Evaluation] = field(default_factory=dict)

    def __reduce__(self) -> tuple[object, ...]:
        """What to compile them from."""
        return _compiled_anew, (self.study, self.catalogue, self.compiled_for, self.targets, self.u)

    def scores(self, setting: Setting) -> dict[str, Array]:
        """The scores under a setting: name to array, shape (n_draws, n_products); NaN where a product has none."""
        known = self.work_out(setting)
        return {name: self.values(known, name, setting.n_draws) for name in self.targets}

    def alone(self, target: str) -> Trials:
        """The same for one of the scores: only what it needs is worked out, by the programs that are there already."""
        needed = set(order_of_need(self.sources, (target,)))
        return replace(self, targets=(target,), stages=tuple(s for s in self.stages if s.output.name in needed))

    def values(self, known: Mapping[str, Evaluation], name: str, n_draws: int) -> Array:
        """One output's values of what was worked out, shape (n_draws, n_products)."""
        return np.broadcast_to(known[name].values[name], (n_draws, len(self.inputs.products)))

    def work_out(
        self, setting: Setting, before: Mapping[str, Evaluation] | None = None, moved: frozenset[str] = frozenset()
    ) -> dict[str, Evaluation]:
        """Every needed output under a setting.

        Parameters
        ----------
        before : outputs under a setting that differs from this one only in what moves the outputs `moved`
        """
        cases = self._cases(setting)
        known: dict[str, Evaluation] = {}
        for stage in self.stages:
            name = stage.output.name
            if not stage.varies:
                if name not in self.settled:
                    stated = _Cases((self.inputs,), np.zeros(1, np.intp))
                    self.settled[name] = _worked_out(stage, stated, Setting(1), known)
                known[name] = self.settled[name]
            elif before is not None and name not in moved:
                known[name] = before[name]
            else:
                known[name] = _worked_out(stage, cases, setting, known)
        return known

    def reaches(self, factor: str, target: str) -> bool:
        """Whether a factor can move a score at all: it stands at the score, or at something that goes into it."""
        return target in self.reach[factor]

    def _cases(self, setting: Setting) -> _Cases:
        values, codes = self.readings_under(setting), np.zeros(setting.n_draws, np.intp)
        moving = [options for options in self.readings if options.moves_states]
        for options in moving:
            codes = codes * len(options.states) + code_of(options.choices, setting)
        _, first, case = np.unique(codes, return_index=True, return_inverse=True)
        inputs = replace(self.inputs, values=values, states=with_filled(self.inputs.states, setting))
        if not moving:
            return _Cases((inputs,), case)
        cases = []
        for draw in first.tolist():
            states = {o.measure: o.states[code_of(o.choices, setting)[draw]] for o in moving}
            cases.append(replace(inputs, states=with_filled({**self.inputs.states, **states}, setting)))
        return _Cases(tuple(cases), case)

    def readings_under(self, setting: Setting) -> dict[str, Array]:
        """The readings of each draw: as chosen, or resampled, moved by noise, then what was not read, filled in.

        Returns
        -------
        dict of measure to array, shape (n_draws or 1, products)
        """
        values, u = dict(self.inputs.values), dict(self.u)
        for options in self.readings:
            code = code_of(options.choices, setting)
            values[options.measure], u[options.measure] = options.values[code], options.u[code]
        values |= setting.resampled
        for measure, errors in setting.noise.items():
            if measure in u:
                values[measure] = values[measure] + np.nan_to_num(u[measure]) * errors
        for measure, filled in setting.filled.items():
            values[measure] = np.where(np.isnan(filled), values[measure], filled)
        return values


def compile_trials(
    study: Study, catalogue: Catalogue, targets: Sequence[str] | None = None, program: Program | None = None
) -> Trials:
    """Compile what a study needs to work out its scores; with `program`, the form's own is taken from there.

    Raises
    ------
    StudyError
        Choices at one output that make too many combinations.
    SteelyardError
        A combination of choices that is no formula, or a catalogue that lacks what the formula needs.
    """
    form = study.form
    inputs = inputs_of(form, catalogue)
    wanted = tuple(study.scores if targets is None else targets)
    program = program or compile_form(form)
    choices = [move for move in study.moves if move.options]
    sources = sources_of(form, choices)
    needed = order_of_need(sources, wanted)
    touches = {move.factors[0].name: touched(move, form, needed) for move in choices}
    at = {name: tuple(move for move in choices if name in touches[move.factors[0].name]) for name in needed}
    programs = programs_for(form, program, at)
    check_attributes(program, programs, catalogue)
    readings = tuple(reading_options(choices, form, catalogue))
    emptied = vanishing(study) | may_be_none(programs)
    gaps = gaps_under(inputs, readings, emptied, sources, needed)
    moved = {address for move in study.moves for address in move.numbers}
    reach = _reach(study, {name: sources[name] for name in needed}, touches)
    stages = tuple(_stage(name, at[name], programs[name], gaps, moved, _is_moved(name, reach)) for name in needed)
    return Trials(
        study=study,
        catalogue=catalogue,
        compiled_for=wanted,
        inputs=inputs,
        u=error_model(form, catalogue).u,
        targets=wanted,
        stages=stages,
        reach=reach,
        readings=readings,
        sources=sources,
    )


def _compiled_anew(
    study: Study,
    catalogue: Catalogue,
    compiled_for: tuple[str, ...],
    targets: tuple[str, ...],
    u: Mapping[str, Array],
) -> Trials:
    """The trials that were pickled."""
    whole = replace(compile_trials(study, catalogue, compiled_for), u=u)
    if targets == compiled_for:
        return whole
    (target,) = targets
    return whole.alone(target)


def _reach(
    study: Study, sources: Mapping[str, Sequence[str]], touches: Mapping[str, frozenset[str]]
) -> dict[str, frozenset[str]]:
    """Which of the needed outputs each factor can move; `sources` of the needed outputs, in order of need."""
    found = {}
    for move in study.moves:
        for factor in move.factors:
            if touches.get(factor.name):
                starts = set(touches[factor.name])
            elif factor.output:
                starts = {factor.output}
            else:
                starts = set(sources)
            found[factor.name] = frozenset(_downstream(sources, starts))
    return found


def _downstream(sources: Mapping[str, Sequence[str]], starts: set[str]) -> Iterator[str]:
    moved = set(starts)
    for name, own in sources.items():
        if name in moved or moved.intersection(own):
            moved.add(name)
            yield name


def _is_moved(name: str, reach: Mapping[str, frozenset[str]]) -> bool:
    return any(name in names for names in reach.values())


def _stage(
    name: str,
    moves: tuple[Move, ...],
    programs: Sequence[Program],
    gaps: Sequence[str],
    moved: set[str],
    varies: bool,
) -> _Stage:
    kernels, numbers = [], []
    for program in programs:
        own = _own_numbers(program, name, moved)
        given = [source for source in program.form.output(name).sources if source in program.outputs]
        varying = [address for address in own if address in program.parameters]
        kernels.append(kernel_of(program, [name], varying=varying, gaps=gaps, given=given))
        numbers.append(own)
    return _Stage(kernels[0].program.form.output(name), moves, tuple(kernels), tuple(numbers), varies)


def _own_numbers(program: Program, name: str, moved: set[str]) -> frozenset[str]:
    """The varied numbers that stand at an output, or at none (constants, the scale)."""
    starts = [output.address + "." for output in program.form.outputs]
    own = program.form.output(name).address + "."
    return frozenset(a for a in moved if a.startswith(own) or not any(a.startswith(start) for start in starts))


def _worked_out(stage: _Stage, cases: _Cases, setting: Setting, known: Mapping[str, Evaluation]) -> Evaluation:
    """One output under a setting, each group of draws by its own program and case."""
    code = code_of(stage.choices, setting) * len(cases.inputs) + cases.of
    found = np.unique(code)
    both = [divmod(int(number), len(cases.inputs)) for number in found]
    if len(found) == 1:
        ((kernel, case),) = both
        return _by_kernel(stage, kernel, cases.inputs[case], setting, known, slice(None))
    groups = [np.flatnonzero(code == number) for number in found]
    pieces = [
        _by_kernel(stage, kernel, cases.inputs[case], setting, known, rows)
        for (kernel, case), rows in zip(both, groups, strict=True)
    ]
    return _joined(stage.output.name, pieces, groups, (setting.n_draws, len(cases.inputs[0].products)))


def _by_kernel(
    stage: _Stage,
    number: int,
    inputs: Inputs,
    setting: Setting,
    known: Mapping[str, Evaluation],
    rows: slice | Indices,
) -> Evaluation:
    """One output for some of the draws, given by their rows, shape (k,) or all, by one of its kernels."""
    kernel, name = stage.kernels[number], stage.output.name
    output = kernel.program.form.output(name)
    numbers = {a: setting.numbers[a][rows] for a in stage.numbers[number] if a in setting.numbers}
    before = {source: known[source] for source in output.sources if source in known}
    presence = Presence(
        {s: _at(e.presence.here[s], rows) for s, e in before.items()},
        {s: _at(e.presence.applies[s], rows) for s, e in before.items()},
        {s: _at(e.presence.standing[s], rows) for s, e in before.items()},
    )
    given = Evaluation({s: _at(e.values[s], rows) for s, e in before.items()}, presence)
    leant_on = {*output.sources, *(figure.measure for figure in kernel.program.figures)}
    own = {s: _at(array, rows) if s in leant_on else array[:1] for s, array in inputs.values.items()}
    return evaluate(kernel, replace(inputs, values=own), numbers, given=given)


def _at(array: NDArray[Kind], rows: slice | Indices) -> NDArray[Kind]:
    """Some of the draws of an array, shape (draws or 1, products); one row stands for all."""
    return array if len(array) == 1 else array[rows]


def _joined(name: str, pieces: Sequence[Evaluation], groups: Sequence[Indices], shape: tuple[int, int]) -> Evaluation:
    """Groups of draws, the rows of each of shape (k,), in one array of shape (n_draws, n_products) again."""
    values = np.empty(shape)
    standing = np.empty(shape, np.uint8)
    here, applies = np.empty(shape, bool), np.empty(shape, bool)
    for piece, rows in zip(pieces, groups, strict=True):
        values[rows] = piece.values[name]
        standing[rows] = piece.presence.standing[name]
        here[rows] = piece.presence.here[name]
        applies[rows] = piece.presence.applies[name]
    return Evaluation({name: values}, Presence({name: here}, {name: applies}, {name: standing}))
