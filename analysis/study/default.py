"""The study that is made where none is written: every weight, anchor, bound, mean, limit and rule, and the bench's noise."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from analysis.study.building import (
    Wording,
    anchor_moves,
    choice_move,
    limits_move,
    noise_move,
    number_move,
    unread_move,
    weights_move,
    weights_of,
)
from analysis.study.distributions import Uniform
from analysis.study.study import Move, Study
from analysis.study.weight_rules import ByFactor
from scoring.blends import BLENDS, NUMBERS
from scoring.catalogue import Catalogue, State
from scoring.curves import KINDS
from scoring.form import Curve, Form, Number, Output
from scoring.program.program import compile_form
from scoring.table.evaluate import inputs_of
from scoring.table.missing import Standing, presence_of
from scoring.units.role import UnitRole

#: How far the derived study moves things; each is said in its resolved table.
FACTOR = 0.25
ANCHORS = 0.05
BOUNDS = 0.05
EXPONENTS = 0.2
TOP = 5
#: What moved numbers of blends and powers of curves are called.
EXPONENT_MOVES, BLEND_MOVES = "exponents", "numbers of blends"


def default_study(form: Form, catalogue: Catalogue, scores: tuple[str, ...] = (), top: int = TOP) -> Study:
    """The study derived from a formula.

    Parameters
    ----------
    scores : the outputs looked at; all scores by default, or all ratings where there are no scores

    Notes
    -----
    Weights times 0.75 to 1.25, anchors by 5 % of their curve's stretch, bounds of limits by 5 % of the scale, exponents and
    the numbers of blends by 20 %, each mean against its rival, limits on or off, what a missing part counts as where some
    product lacks one, bench noise by the declared components of errors, and what was not read by what the other readings say
    of it. These are a neighbourhood to start from, not a finding: a laboratory writes down its own ranges in a study file.
    """
    targets = scores or tuple(output.name for output in form.scores or form.ratings)
    needed = set(form.dependencies.needed_for(targets))
    moves: list[Move] = []
    for output in form.outputs:
        if output.name in needed:
            moves.extend(moves_of(form, output))
    moves.extend(_missing_rules(form, catalogue, needed))
    noise, notes = noise_move(form, catalogue, Wording("default: repeatability"))
    if noise is not None:
        moves.append(noise)
    everything = np.ones(len(catalogue.products), bool)
    unread, how = unread_move(form, catalogue, everything, Wording("default: what other readings say of it"))
    if unread is not None:
        moves.append(unread)
    return Study("default", "derived from the formula", form, tuple(moves), targets, top, (), (), "", (*notes, *how))


def moves_of(form: Form, output: Output) -> Iterator[Move]:
    """What a study derived from the formula moves at one output."""
    if weights_of(output):
        stated = tuple(weight.value for weight in weights_of(output))
        rule = ByFactor(stated, 1 - FACTOR, 1 + FACTOR)
        yield weights_move(output, rule, Wording(f"default: weights by {100 * FACTOR:g} %"))
    yield from anchor_moves(form, output, ANCHORS, Wording(f"default: anchors by {100 * ANCHORS:g} % of their stretch"))
    yield from _own_numbers(form, output)
    yield from _bounds(form, output)
    rival = BLENDS[output.blend.value].rival if output.blend is not None and weights_of(output) else ""
    if output.blend is not None and rival and BLENDS[rival].least_value <= output.scale.low.value:
        options = (output.blend.value, rival)
        yield choice_move(form, output.blend.address, options, (0.5, 0.5), Wording("default: the mean and its rival"))
    if any(limit.apply.value == "always" for limit in output.limits):
        yield limits_move(output, Wording("default: limits on or off"))


def _missing_rules(form: Form, catalogue: Catalogue, needed: set[str]) -> Iterator[Move]:
    """What a missing part counts as, at every rating or score that some product has in spite of one."""
    inputs = inputs_of(form, catalogue)
    if all(states.max(initial=State.VALUE) <= State.BELOW for states in inputs.states.values()):
        return
    presence = presence_of(compile_form(form), inputs.states, inputs.words, lambda number: number.value)
    for output in form.outputs:
        lacks = [presence.applies[part.source] & ~presence.here[part.source] for part in output.parts]
        partial = presence.standing[output.name] == Standing.PARTIAL
        if output.name in needed and any((partial & one).any() for one in lacks):
            rule = output.missing.otherwise
            options = (rule.value, *(option for option in rule.options if option != rule.value))
            chances = (1 / len(options),) * len(options)
            yield choice_move(form, rule.address, options, chances, Wording("default: what a missing part counts as"))


def _own_numbers(form: Form, output: Output) -> Iterator[Move]:
    """The numbers that the output's blend has of its own, and the exponents of its curves."""
    for name, number in output.numbers:
        declared = NUMBERS[name].kind
        what = EXPONENT_MOVES if declared.role is UnitRole.EXPONENT else BLEND_MOVES
        yield from _number(form, number, declared.ends, what)
    for part in output.parts:
        for number in _exponents_of(part.curve) if part.curve is not None else ():
            yield from _number(form, number, (-math.inf, math.inf), EXPONENT_MOVES)


def _number(form: Form, number: Number, room: tuple[float, float], what: str) -> Iterator[Move]:
    """One number by a share of itself, within its room; nothing where it cannot move."""
    ends = sorted((number.value * (1 - EXPONENTS), number.value * (1 + EXPONENTS)))
    low, high = max(ends[0], room[0]), min(ends[1], room[1])
    if low < high:
        yield number_move(
            form, number, Uniform(low, high), Wording(f"default: {what} by {100 * EXPONENTS:g} %"), kind=what
        )


def _exponents_of(curve: Curve) -> list[Number]:
    kind = KINDS[curve.kind]
    return [number for name, number in curve.numbers if kind.role_of(name) is UnitRole.EXPONENT]


def _bounds(form: Form, output: Output) -> Iterator[Move]:
    low, high = output.scale.low.value, output.scale.high.value if output.scale.high is not None else None
    for limit in output.limits:
        if limit.bound is None or high is None or limit.apply.value != "always":
            continue
        if low <= limit.bound.value <= high:
            reach = BOUNDS * (high - low)
            ends = Uniform(max(low, limit.bound.value - reach), min(high, limit.bound.value + reach))
            origin = Wording(f"default: bounds by {100 * BOUNDS:g} % of the scale")
            yield number_move(form, limit.bound, ends, origin, kind="limits")
