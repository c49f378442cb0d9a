"""The programs that a study's choices make: as few as will do, each compiled once; and readings under choices about them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import product as combinations
from math import prod

import numpy as np
from numpy.typing import NDArray

from analysis.study.moves import ChoiceMove
from scoring.addresses import set_addresses, set_together
from scoring.catalogue import Catalogue
from scoring.catalogue.reporting_floor import recount
from scoring.errors import AddressError, Place, Problem, StudyError
from scoring.form import Form
from scoring.program import Program, compile_form
from scoring.repeats import standard_uncertainty, summarise

Array = NDArray[np.float64]
MOST_COMBINATIONS = 256


def touched(move: ChoiceMove, form: Form, needed: Sequence[str]) -> frozenset[str]:
    """The outputs whose own arithmetic a choice changes: those it stands at, or all; none where it is about readings."""
    found: set[str] = set()
    by_address = {output.address + ".": output.name for output in form.outputs}
    for address, _ in (setting for option in move.options for setting in option):
        if address.startswith("measures."):
            continue
        own = [name for start, name in by_address.items() if address.startswith(start)]
        found.update(own or needed)
    return frozenset(found)


def programs_for(
    form: Form, stated: Program, at: Mapping[str, tuple[ChoiceMove, ...]]
) -> dict[str, tuple[Program, ...]]:
    """For every output a program for each combination of its own choices.

    The k-th combinations of all outputs share a program where their choices do not meet, so that there are few.
    """
    most = max((prod(len(move.options) for move in moves) for moves in at.values()), default=1)
    if most > MOST_COMBINATIONS:
        crowded = [name for name, moves in at.items() if prod(len(m.options) for m in moves) > MOST_COMBINATIONS]
        expected = f"at most {MOST_COMBINATIONS} combinations of choices at one output"
        raise StudyError([Problem(Place("the study"), f"{most} at {crowded[0]}", expected, "Vary fewer at a time.")])
    found: dict[str, list[Program]] = {name: [] for name in at}
    for number in range(most):
        for settings, names in _shared(at, number):
            program = compile_form(_set(form, settings)) if settings else stated
            for name in names:
                found[name].append(program)
    return {name: tuple(programs) for name, programs in found.items()}


def _shared(at: Mapping[str, tuple[ChoiceMove, ...]], number: int) -> list[tuple[dict[str, str], list[str]]]:
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


def _combination(moves: Sequence[ChoiceMove], number: int) -> tuple[tuple[tuple[str, str], ...], ...]:
    every = list(combinations(*(move.options for move in moves)))
    return every[number % len(every)]


def _set(form: Form, settings: Mapping[str, str]) -> Form:
    """The form with settings made, all in one reading where they do not meet."""
    written = [f"{address}={value}" for address, value in settings.items()]
    try:
        return set_together(form, settings)
    except AddressError:
        return set_addresses(form, written)


def reading_options(
    move: ChoiceMove, form: Form, catalogue: Catalogue
) -> Iterator[tuple[str, list[tuple[Array, Array]]]]:
    """For each measure that a choice is about: its values and their uncertainty under each option."""
    names = dict.fromkeys(address.split(".")[1] for option in move.options for address, _ in option)
    forms = [_set(form, dict(option)) if option else form for option in move.options]
    for name in names:
        found = []
        for changed in forms:
            measure = next(m for m in changed.measures if m.name == name)
            readings = recount(measure, catalogue.readings[name])
            summary = summarise(measure, readings)
            found.append((summary.values, standard_uncertainty(measure, readings, summary)))
        yield name, found
