"""What is there and what is not: decided here, once, before any arithmetic, so that a missing reading never earns points."""

from __future__ import annotations

import enum
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from scoring.catalogue import State
from scoring.form import Number, Output
from scoring.numbers.array_types import Array, Flags
from scoring.program.program import Program

#: A share of the weight is compared with its limit to within this, so that 0.6 + 0.4 of binary fractions is 1.
DUST = 1e-9
#: What the star beside a figure means.
STARRED = "* partial: a part is missing"


class Standing(enum.IntEnum):
    """How a rating or score stands for one product."""

    RATED = 0
    PARTIAL = 1
    UNRATED = 2
    NOT_APPLICABLE = 3


@dataclass(frozen=True, slots=True, eq=False)
class Presence:
    """For each measure and output: whether it is there, whether it applies, and (outputs) how it stands.

    Each array has shape (draws or 1, products or 1): draws differ only where weights vary, and a name that is there for
    every product has one column. Attributes are among the names: one is there where its word is stated. none: for outputs whose
    expression may give no value, where it gives none though all that it names is there.
    """

    here: Mapping[str, Flags]
    applies: Mapping[str, Flags]
    standing: Mapping[str, NDArray[np.uint8]]
    none: Mapping[str, Flags] = field(default_factory=dict)


def presence_of(
    program: Program,
    states: Mapping[str, NDArray[np.uint8]],
    words: Mapping[str, Sequence[str]],
    setting: Callable[[Number], Array | float],
    *,
    outputs: Sequence[str] | None = None,
    known: Presence | None = None,
    none: Mapping[str, Flags] | None = None,
) -> Presence:
    """What is there, for every measure, attribute, constant and output of a program.

    Parameters
    ----------
    states : mapping of measure name to array of `State`, shape (products,)
    words : mapping of attribute name to a word a product, "" where none is stated
    setting : the value of a number of the form: a float, or an array of shape (draws, 1)
    outputs : the outputs to settle, in order of need; all by default
    known : what was settled before, and is taken as it stands
    none : where the expression of an output gives no value, shape (draws or 1, products)
    """
    given_none: dict[str, Flags] = {}
    here: dict[str, Flags] = {}
    applies: dict[str, Flags] = {}
    standing: dict[str, NDArray[np.uint8]] = {}
    everywhere = np.ones((1, 1), bool)
    for name, state in states.items():
        complete = state.max(initial=State.VALUE) <= State.BELOW
        here[name] = everywhere if complete else (state <= State.BELOW)[None, :]
        applies[name] = everywhere if complete else (state != State.NOT_APPLICABLE)[None, :]
    for name in {name for name, _ in program.words}:
        stated = np.array([[word != "" for word in words[name]]], bool)
        here[name], applies[name] = everywhere if stated.all() else stated, everywhere
    for name, _ in program.form.constants:
        here[name] = applies[name] = everywhere
    if known is not None:
        given_none.update(known.none)
        here.update(known.here)
        applies.update(known.applies)
        standing.update(known.standing)
    for name in program.order if outputs is None else outputs:
        output = program.form.output(name)
        found = _standing(output, here, applies, standing, setting)
        if none is not None and name in none:
            names = output.value.names if output.value is not None else ()
            there = [here[one] for one in names]  # a name that is missing is dealt with as missing
            given_none[name] = np.logical_and.reduce(np.broadcast_arrays(none[name], found < Standing.UNRATED, *there))
            found = np.where(given_none[name], np.uint8(Standing.UNRATED), found).astype(np.uint8)
        standing[name] = found
        here[name] = found <= Standing.PARTIAL
        applies[name] = found != Standing.NOT_APPLICABLE
    return Presence(here, applies, standing, given_none)


def _standing(
    output: Output,
    here: Mapping[str, Flags],
    applies: Mapping[str, Flags],
    standing: Mapping[str, NDArray[np.uint8]],
    setting: Callable[[Number], Array | float],
) -> NDArray[np.uint8]:
    """The standing of one output, shape (draws or 1, products), that of all it takes being known.

    here, applies, standing : name -> shape (draws or 1, products or 1)
    setting : the value of a number, or its draws, shape (draws, 1)
    """
    weights = _weights(output, setting)
    total = sum((weight * applies[source] for source, weight in weights), np.zeros((1, 1)))
    gone = sum((weight * (applies[source] & ~here[source]) for source, weight in weights), np.zeros((1, 1)))
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(total > 0, gone / total, 0.0)
    lowest = output.missing.otherwise.value == "lowest"
    absent = share > np.asarray(setting(output.missing.absent_above)) + DUST
    nothing = total <= 0
    if output.value is not None:
        absent = absent if lowest else gone > 0
        nothing = np.any(
            np.broadcast_arrays(*(~applies[source] for source, _ in weights), np.zeros((1, 1), bool)), axis=0
        )
    elif not lowest:
        absent = absent | (share >= 1 - DUST)
    for needed in output.missing.needs:
        absent = absent | (applies[needed] & ~here[needed])
        nothing = nothing | ~applies[needed]
    if output.missing.asks_for_all and output.value is None:
        for source, weight in weights:
            nothing = nothing | ((np.asarray(weight) > 0) & ~applies[source])
    partial = np.zeros((1, 1), bool)
    for source, weight in weights:
        partial = partial | ((np.asarray(weight) > 0) & ~(here[source]))
        if source in standing:
            partial = partial | (standing[source] == Standing.PARTIAL)
    absent, nothing, partial = np.broadcast_arrays(absent, nothing, partial)
    found = np.where(partial, Standing.PARTIAL, Standing.RATED)
    found = np.where(absent, Standing.UNRATED, found)
    return np.where(nothing, Standing.NOT_APPLICABLE, found).astype(np.uint8)


def _weights(output: Output, setting: Callable[[Number], Array | float]) -> list[tuple[str, Array | float]]:
    """Each source and its weight, a number or of shape (draws, 1).

    Every name of an expression weighs the same, and none may be left out of one.
    """
    if output.value is not None:
        return [(name, 1.0) for name in output.value.names]
    return [(part.source, setting(part.weight) if part.weight is not None else 1.0) for part in output.parts]
