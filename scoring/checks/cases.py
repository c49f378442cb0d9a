"""Counter-examples that a person can type in again: rounded as far as they still refute, with names and units."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from scoring.catalogue import State
from scoring.checks.bench import Answers, Bench, Setting
from scoring.checks.findings import Case
from scoring.checks.jumps import Crossing, Met, changes_state, drawn_together
from scoring.checks.survey import Pair
from scoring.numbers.rounding import undusted

DIGITS = (2, 3, 4, 6, 9, 12)
WORDS = {State.MISSING: "missing", State.NOT_APPLICABLE: "does not apply"}


def cases(bench: Bench, output: str, settings: Sequence[Setting]) -> tuple[Case, ...]:
    """The settings, each with its own value of the output, as they are to be read."""
    return tuple(
        Case(inputs_of(bench, output, setting), float(bench.ask([setting]).values[output][0])) for setting in settings
    )


def inputs_of(bench: Bench, output: str, setting: Setting) -> tuple[tuple[str, str, str], ...]:
    """Name, text and unit of every measure, word and reference figure that an output leans on."""
    domain = bench.domain
    found = []
    leaning, sources = domain.leans_on(output), domain.read_by(output)
    for measure in domain.program.form.measures:
        state = setting.states.get(measure.name, State.VALUE)
        if state in WORDS and measure.name in sources:
            found.append((measure.name, WORDS[state], ""))
        elif measure.name in leaning:
            found.append((measure.name, text_of(setting.values[measure.name]), measure.unit))
    cone = set(domain.tape.cone([domain.outputs[output]]))
    attributes = {attribute for (attribute, _), slot in domain.words.items() if slot in cone}
    found += [(name, setting.words[name] or "no word", "") for name in bench.words if name in attributes]
    for figure, symbol in domain.program.figures.items():
        if domain.slots_of_figure(symbol) & cone:
            numbers = bench.figure(setting, figure.measure, figure.statistic, figure.share)
            share = f" {figure.share:g}" if figure.statistic == "percentile" else ""
            found.append(
                (
                    f"{figure.statistic}{share} of {figure.measure}",
                    ", ".join(text_of(float(number)) for number in undusted(np.asarray(numbers, np.float64))),
                    domain.program.form.units.get(figure.measure, "points"),
                )
            )
    return tuple(found)


def text_of(value: float) -> str:
    """A number as plain decimal text that reads back as the same number."""
    return np.format_float_positional(value, trim="-") if 1e-6 < abs(value) < 1e15 or value == 0 else repr(float(value))


def retyped(
    bench: Bench, output: str, settings: Sequence[Setting], refutes: Callable[[Answers], bool]
) -> tuple[Setting, ...]:
    """The settings with readings of as few digits as still refute; as they are where none do.

    `refutes` is asked of the kernel's answers to the settings, in their order.
    """
    for digits in DIGITS:
        rounded = tuple(shortened(bench, output, setting, digits) for setting in settings)
        if refutes(together(bench, rounded)):
            return rounded
    return tuple(settings)


def retyped_as_scored(
    bench: Bench, output: str, setting: Setting, refutes: Callable[[Answers], bool]
) -> tuple[Bench, Setting]:
    """A setting with readings of as few digits as still refute, its product being in the population that it leans on."""
    for digits in DIGITS:
        there, rounded = bench.as_scored(shortened(bench, output, setting, digits))
        if refutes(there.ask([rounded])):
            return there, rounded
    return bench.as_scored(setting)


def together(bench: Bench, settings: Sequence[Setting]) -> Answers:
    """The answers for settings that need not share a reference population."""
    found = [bench.ask([setting]) for setting in settings]
    return Answers(
        values={name: np.concatenate([each.values[name] for each in found]) for name in found[0].values},
        published={name: np.concatenate([each.published[name] for each in found]) for name in found[0].published},
        states={},
    )


def shortened(bench: Bench, output: str, setting: Setting, digits: int) -> Setting:
    """A setting with its readings to so many digits of their ranges, held within them; what does not matter stays."""
    values = dict(setting.values)
    for name in bench.domain.leans_on(output):
        values[name] = _shortened(bench, name, values[name], digits)
    return replace(setting, values=values)


def _shortened(bench: Bench, name: str, value: float, digits: int) -> float:
    low, high = bench.spans[name]
    if value in (low, high):
        return value
    decimals = digits - math.ceil(math.log10(high - low)) if high > low else digits
    interval = bench.domain.ranges[name]
    return min(max(round(value, decimals), interval.low), interval.high)


def retyped_jump(bench: Bench, output: str, met: Met) -> tuple[Setting, ...]:
    """Two near settings with a jump between them, of few digits; the nearest doubles where none will do."""
    crossing = met.crossing
    moving = crossing.pair.measure
    low, high = bench.spans[moving]
    for digits in DIGITS:
        at = crossing.pair.first.values[moving]
        base = shortened(bench, output, crossing.pair.first, digits)
        window = (high - low) / 100
        wide = Pair(moving, base.moved(moving, max(low, at - window)), base.moved(moving, min(high, at + window)), 0.0)
        pair = Crossing(crossing.name, wide)
        if not changes_state(bench, [pair])[0]:
            continue
        (drawn,), before, after = drawn_together(bench, [pair])
        size = abs(float(after.values[output][0]) - float(before.values[output][0]))
        if size < met.size / 2:
            continue
        found = _short_pair(bench, output, drawn.pair, size, digits)
        if found:
            return found
    return crossing.pair.first, crossing.pair.second


def _short_pair(bench: Bench, output: str, pair: Pair, size: float, digits: int) -> tuple[Setting, ...]:
    """The readings of so many digits on either side of a jump, if nearly all of the change between them is the jump."""
    low, high = bench.spans[pair.measure]
    decimals = max(digits, 4) - math.ceil(math.log10(high - low))
    step = 10.0**-decimals
    below = round(math.floor(pair.first.values[pair.measure] / step) * step, decimals)
    above = round(below + step, decimals)
    settings = tuple(pair.first.moved(pair.measure, reading) for reading in (below, above))
    if below < low or above > high:
        return ()
    first, second = bench.ask(settings).values[output].tolist()
    return settings if abs(abs(second - first) - size) <= size / 10 else ()
