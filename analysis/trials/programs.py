"""The programs that a study's choices make: as few as will do, each compiled once; and readings under choices about them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from graphlib import CycleError, TopologicalSorter
from itertools import product as combinations
from math import prod

import numpy as np
from numpy.typing import NDArray

from analysis.study.study import Move, Setting, Study
from scoring.addresses.addresses import addresses, set_address, set_all
from scoring.catalogue import Catalogue, State
from scoring.catalogue.repeats import summarise
from scoring.catalogue.reporting_limit import recount
from scoring.errors import Place, Problem, StudyError
from scoring.form import Expression, Form
from scoring.measurement_error import value_uncertainty
from scoring.numbers.array_types import Array, Indices
from scoring.program.program import Program, compile_form
from scoring.table.evaluate import Inputs, inputs_of

MOST_COMBINATIONS = 256


def sources_of(form: Form, choices: Sequence[Move]) -> dict[str, tuple[str, ...]]:
    """What each output takes its value from, under any option of any choice: an expression may name other things."""
    found = {output.name: dict.fromkeys(output.sources) for output in form.outputs}
    nouns = addresses(form)
    for move in choices:
        for address, value in (setting for option in move.options for setting in option):
            if isinstance(nouns[address], Expression):
                for output in set_address(form, address, value).outputs:
                    found[output.name].update(dict.fromkeys(output.sources))
    return {name: tuple(sources) for name, sources in found.items()}


def order_of_need(sources: Mapping[str, Sequence[str]], targets: Sequence[str]) -> tuple[str, ...]:
    """The outputs that lead to the targets, each after those that it needs under any choice.

    Raises
    ------
    StudyError
        Choices among expressions by which outputs need each other in a circle.
    """
    needs = {name: [source for source in found if source in sources] for name, found in sources.items()}
    try:
        order = tuple(TopologicalSorter(needs).static_order())
    except CycleError as fault:
        circle = " -> ".join(reversed(fault.args[1]))
        expected = "choices by which outputs do not need each other in a circle"
        raise StudyError([Problem(Place("the study"), f"the circle {circle}", expected)]) from None
    wanted = set(targets)
    for name in reversed(order):
        if name in wanted:
            wanted.update(needs[name])
    return tuple(name for name in order if name in wanted)


def touched(move: Move, form: Form, needed: Sequence[str]) -> frozenset[str]:
    """The outputs whose own arithmetic a choice changes: those it stands at, or all; none where it is about readings."""
    found: set[str] = set()
    by_address = {output.address + ".": output.name for output in form.outputs}
    for address, _ in (setting for option in move.options for setting in option):
        if address.startswith("measures."):
            continue
        own = [name for start, name in by_address.items() if address.startswith(start)]
        found.update(own or needed)
    return frozenset(found)


def programs_for(form: Form, stated: Program, at: Mapping[str, tuple[Move, ...]]) -> dict[str, tuple[Program, ...]]:
    """For every output a program for each combination of its own choices.

    The k-th combinations of all outputs share a program where their choices do not meet, so that there are few.
    """
    most = max((_count(moves, name) for name, moves in at.items()), default=1)
    found: dict[str, list[Program]] = {name: [] for name in at}
    for number in range(most):
        for settings, names in _shared(at, number):
            program = compile_form(set_all(form, settings)) if settings else stated
            for name in names:
                found[name].append(program)
    return {name: tuple(programs[: _count(at[name], name)]) for name, programs in found.items()}


def _count(moves: Sequence[Move], where: str) -> int:
    """How many combinations choices have; a fault where they are too many."""
    count = prod(len(move.options) for move in moves)
    if count > MOST_COMBINATIONS:
        expected = f"at most {MOST_COMBINATIONS} combinations of choices at one of them"
        raise StudyError([Problem(Place("the study"), f"{count} at {where}", expected, "Vary fewer at a time.")])
    return count


def _shared(at: Mapping[str, tuple[Move, ...]], number: int) -> list[tuple[dict[str, str], list[str]]]:
    """Groups of outputs whose settings of one number do not contradict each other."""
    groups: list[tuple[dict[str, str], list[str]]] = []
    for name, moves in at.items():
        own = dict(setting for option in _combination(moves, number) for setting in option)
        for settings, names in groups:
            if all(settings.get(address, value) == value for address, value in own.items()):
                settings.update(own)
                names.append(name)
                break
        else:
            groups.append((own, [name]))
    return groups


def _combination(moves: Sequence[Move], number: int) -> tuple[tuple[tuple[str, str], ...], ...]:
    every = list(combinations(*(move.options for move in moves)))
    return every[number % len(every)]


def code_of(choices: Sequence[Move], setting: Setting) -> Indices:
    """Which combination of choices each draw has, counted as `_combination` does; shape (n_draws,)."""
    code = np.zeros(setting.n_draws, np.intp)
    for move in choices:
        code = code * len(move.options) + setting.choices[move.factors[0].name]
    return code


def vanishing(study: Study) -> set[str]:
    """Outputs whose weights may all come to be 0: by a part left out beside weights that vary, or one by one."""
    single = {address for move in study.moves for address in move.ranges}
    found = {move.leaves_out for move in study.moves if move.leaves_out}
    for output in study.form.outputs:
        if any(part.weight is not None and part.weight.address in single for part in output.parts):
            found.add(output.name)
    return found


def may_be_none(programs: Mapping[str, Sequence[Program]]) -> set[str]:
    """Outputs whose expression gives no value somewhere, under any of their choices."""
    return {name for name, own in programs.items() if any(program.form.output(name).may_be_none for program in own)}


def gaps_under(
    inputs: Inputs,
    readings: Sequence[ReadingOptions],
    emptied: set[str],
    sources: Mapping[str, Sequence[str]],
    needed: Sequence[str],
) -> tuple[str, ...]:
    """All that some product may lack in some draw: measures and attributes, and the outputs that lean on one of them.

    Parameters
    ----------
    emptied : outputs that may lose all their weight, or give no value by their expression
    needed : in order of need
    """
    gaps = {name for name, states in inputs.states.items() if states.max(initial=State.VALUE) > State.BELOW}
    gaps |= {one.measure for one in readings if one.states.max(initial=State.VALUE) > State.BELOW}
    gaps |= {name for name, words in inputs.words.items() if "" in words} | emptied
    for name in needed:
        if gaps.intersection(sources[name]):
            gaps.add(name)
    return tuple(sorted(gaps))


def check_attributes(stated: Program, programs: Mapping[str, Sequence[Program]], catalogue: Catalogue) -> None:
    """The attributes that an option alone leans on are in the catalogue.

    Raises
    ------
    CatalogueError
        One is not, or holds a word that is not among its declared ones.
    """
    known = {name for name, _ in stated.words}
    for program in {id(program): program for own in programs.values() for program in own}.values():
        if not {name for name, _ in program.words} <= known:
            inputs_of(program.form, catalogue)


@dataclass(frozen=True, slots=True, eq=False)
class ReadingOptions:
    """One measure under every combination of the choices about its readings.

    values, u: its values and their standard uncertainties, states: their `State`; each of shape (combinations, products).
    """

    measure: str
    choices: tuple[Move, ...]
    values: Array
    u: Array
    states: NDArray[np.uint8]

    @property
    def moves_states(self) -> bool:
        """Whether a product has a value under some combinations and none under others."""
        return bool((self.states != self.states[0]).any())


def reading_options(choices: Sequence[Move], form: Form, catalogue: Catalogue) -> Iterator[ReadingOptions]:
    """For each measure that choices are about: its readings under each of their combinations."""
    about: dict[str, dict[str, Move]] = {}
    for move in choices:
        for address, _ in (setting for option in move.options for setting in option):
            if address.startswith("measures."):
                about.setdefault(address.split(".")[1], {})[move.factors[0].name] = move
    for name, by_factor in about.items():
        moves = tuple(by_factor.values())
        found = []
        for number in range(_count(moves, name)):
            settings = dict(setting for option in _combination(moves, number) for setting in option)
            changed = set_all(form, settings) if settings else form
            measure = changed.measure(name)
            readings = recount(measure, catalogue.readings[name])
            summary = summarise(measure, readings)
            recounted = replace(catalogue, readings={**catalogue.readings, name: readings})
            found.append((summary.values, value_uncertainty(measure, recounted), summary.states))
        values, u, states = (np.stack(arrays) for arrays in zip(*found, strict=True))
        yield ReadingOptions(name, moves, values, u, states)


def with_filled(states: Mapping[str, NDArray[np.uint8]], setting: Setting) -> dict[str, NDArray[np.uint8]]:
    """The states of all draws, measure -> shape (n_products,): what one draw fills in, every draw does."""
    found = dict(states)
    for measure, filled in setting.filled.items():
        found[measure] = np.where(np.isnan(filled[0]), states[measure], State.VALUE).astype(np.uint8)
    return found
