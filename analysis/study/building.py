"""Moves for the parts of a form: what a study file asks for, or what is derived from the formula, comes through here."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.study.consistency import moved_anchors
from analysis.study.distributions import Distribution, says_options
from analysis.study.moves import BootstrapMove, ChoiceMove, LeaveOutMove, NoiseMove, NumberMove, UnreadMove, WeightsMove
from analysis.study.study import Factor, Move
from analysis.study.weight_rules import WeightRule
from analysis.wording import counted
from scoring.addresses.addresses import addresses, written
from scoring.addresses.number_units import number_units
from scoring.catalogue import Catalogue, Readings, State
from scoring.form import Curve, Form, Number, Output
from scoring.measurement_error import error_model
from scoring.measurement_error.unread import unread_law
from scoring.numbers.array_types import Flags, Integers

NOISE, RESAMPLED, UNREAD = "bench noise", "resampled repeats", "what was not read"
#: The seed of the correlations that stand for how little is known of them: part of the law, and of no run.
LAW_SEED = 13


@dataclass(frozen=True, slots=True)
class Wording:
    """What the resolved table says of where a move comes from, and the group it was put into ("" for its own kind)."""

    origin: str
    group: str = ""


def weights_of(output: Output) -> tuple[Number, ...]:
    """The weights of a rating's or score's parts, where it has two or more."""
    weights = tuple(part.weight for part in output.parts if part.weight is not None)
    return weights if len(weights) == len(output.parts) > 1 else ()


def weights_move(output: Output, rule: WeightRule, wording: Wording) -> WeightsMove:
    """All weights of an output by a rule."""
    weights = weights_of(output)
    total = sum(weight.value for weight in weights)
    kind = wording.group or ("weights" if output.section == "scores" else "shares of parts")
    sds = getattr(rule, "sds", (float("nan"),) * len(weights))
    rows = [(w.address, f"{w.text} ({100 * w.value / total:.3g} %)", sd) for w, sd in zip(weights, sds, strict=True)]
    if not rule.separate:
        shares = ", ".join(f"{100 * w.value / total:.3g} %" for w in weights)
        rows = [(f"{output.address}.weights", shares, float("nan"))]
    factors = tuple(
        Factor(
            name,
            kind,
            output.section,
            output.name,
            stated,
            rule.says,
            "",
            wording.origin,
            columns=1 if rule.separate else rule.columns,
            sd=sd,
        )
        for name, stated, sd in rows
    )
    return WeightsMove(factors, tuple(w.address for w in weights), rule, tuple(w.value for w in weights))


def anchor_moves(form: Form, output: Output, share: float, wording: Wording) -> Iterator[NumberMove]:
    """Every number of an output's curves that lies along a measure, moved by up to a share of the curve's stretch."""
    for part in output.parts:
        if part.curve is not None:
            for number, distribution in moved_anchors(part.curve, share):
                yield number_move(form, number, distribution, wording, kind="anchors")


def number_move(
    form: Form,
    number: Number,
    distribution: Distribution,
    wording: Wording,
    *,
    kind: str = "numbers",
) -> NumberMove:
    """One number by a distribution."""
    output = form.output_at(number.address)
    factor = Factor(
        number.address,
        wording.group or kind,
        _section(number.address),
        output.name if output else "",
        number.text,
        distribution.says,
        number_units(form)[number.address].unit,
        wording.origin,
        sd=distribution.sd,
    )
    return NumberMove(factor, number.address, distribution, number.value)


def _section(address: str) -> str:
    return address.split(".", 1)[0]


def choice_move(
    form: Form, address: str, options: Sequence[str], chances: tuple[float, ...], wording: Wording
) -> ChoiceMove:
    """A choice among values at one address; the value that stands there is the formula as it is."""
    noun = addresses(form)[address]
    stated = written(form, noun)
    settings = tuple(() if option == stated else ((address, option),) for option in options)
    output = form.output_at(address)
    kind = wording.group or _kind_of_choice(noun, address)
    says = says_options([" ".join(option.split()) for option in options], chances)
    name = output.name if output else ""
    factor = Factor(address, kind, _section(address), name, stated, says, "", wording.origin)
    return ChoiceMove(factor, settings, chances)


def _kind_of_choice(noun: object, address: str) -> str:
    if isinstance(noun, Curve):
        return "choice of curve"
    if address.endswith(".blend"):
        return "choice of mean"
    if ".missing." in address:
        return "missing rule"
    return "limits" if ".limits." in address else "other choices"


def limits_move(output: Output, wording: Wording) -> ChoiceMove:
    """All limits of an output on as stated, or all off."""
    off = tuple((limit.apply.address, "never") for limit in output.limits)
    says = says_options(["as stated", "off"], (0.5, 0.5))
    name = f"{output.address}.limits"
    stated = f"{len(output.limits)} limit{'s' if len(output.limits) != 1 else ''}"
    factor = Factor(name, wording.group or "limits", output.section, output.name, stated, says, "", wording.origin)
    return ChoiceMove(factor, ((), off), (0.5, 0.5))


def leave_out_move(output: Output, wording: Wording) -> LeaveOutMove:
    """One part of an output left out at a time, or none."""
    weights = weights_of(output)
    says = f"none, or one of its {counted(len(weights), 'part')} at weight 0, equal chances"
    name = f"{output.address}.leave_out"
    kind = wording.group or "part left out"
    factor = Factor(name, kind, output.section, output.name, "none", says, "", wording.origin)
    return LeaveOutMove(factor, tuple(w.address for w in weights), tuple(w.value for w in weights))


def noise_move(form: Form, catalogue: Catalogue, wording: Wording) -> tuple[Move | None, tuple[str, ...]]:
    """The bench's noise on every value, as one factor; and what is to be said of measures that it cannot move."""
    errors = error_model(form, catalogue)
    moved = tuple(name for name, u in errors.u.items() if (u > 0).any())
    still = [name for name in errors.u if name not in moved]
    notes = (f"No repeatability is known of {', '.join(still)}: the bench's noise does not move it.",) if still else ()
    if not moved:
        return None, notes
    says = "by the declared components of each reading's error, repeats summed up by the measure's rule"
    stated = _measures_by_products(len(moved), catalogue)
    factor = Factor(
        "readings", wording.group or NOISE, "readings", "", stated, says, "each its own", wording.origin, columns=0
    )
    return NoiseMove(factor, errors), notes


def bootstrap_move(form: Form, catalogue: Catalogue, wording: Wording) -> tuple[Move, tuple[str, ...]]:
    """Every product's repeats resampled, as one factor; and the cautions about few repeats and single readings."""
    both = {m.name: (m, catalogue.readings[m.name]) for m in form.measures if m.name in catalogue.readings}
    alone = sum(int((_counts(readings) == 1).sum()) for _, readings in both.values())
    repeated = sum(int((_counts(readings) > 1).sum()) for _, readings in both.values())
    says = "each product's repeats drawn again from themselves, with replacement"
    stated = _measures_by_products(len(both), catalogue)
    group = wording.group or RESAMPLED
    factor = Factor("readings", group, "readings", "", stated, says, "each its own", wording.origin, columns=0)
    note = (
        "Resampling n repeats understates their scatter by the factor sqrt((n - 1) / n), a lot where repeats are few."
    )
    notes: tuple[str, ...] = (note,)
    if alone:
        notes += (f"{alone} of {alone + repeated} values rest on a single reading, which resampling cannot move.",)
    return BootstrapMove(factor, both), notes


def unread_move(
    form: Form, catalogue: Catalogue, products: Flags, wording: Wording
) -> tuple[UnreadMove | None, tuple[str, ...]]:
    """What was not read of some products filled in, as one factor; and how each measure is drawn, or why it is not.

    Parameters
    ----------
    products : bool, shape (n_products,): whose gaps are filled in
    """
    law = unread_law(form, catalogue, np.random.default_rng(LAW_SEED))
    if not any(law.reaches(products)):
        return None, ()
    stated = ", ".join(name for name in law.reaches(products))
    says = "by what the product's other readings say of it; below a reporting limit, below it"
    factor = Factor(
        "unread", wording.group or UNREAD, "readings", "", stated, says, "each its own", wording.origin, columns=0
    )
    return UnreadMove(factor, law, products), law.says


def _measures_by_products(measures: int, catalogue: Catalogue) -> str:
    """How many readings are moved, by what they are of."""
    return f"{counted(measures, 'measure')} x {counted(len(catalogue.products), 'product')}"


def _counts(readings: Readings) -> Integers:
    """How many readings each product has, shape (n_products,)."""
    return np.asarray(((readings.states == State.VALUE) | (readings.states == State.BELOW)).sum(axis=1), np.int64)
