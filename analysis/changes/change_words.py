"""What stands at an address, said in a few words, and a change of it in one line."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from scoring.addresses.number_units import number_units
from scoring.curves import KINDS
from scoring.form import (
    ENDS,
    Bands,
    Curve,
    ErrorComponent,
    ErrorCorrelation,
    Expression,
    Form,
    Gate,
    Limit,
    Measure,
    Output,
    Ranks,
    Rounding,
    Scale,
)
from scoring.reader.wording import clip
from scoring.units.role import in_unit

#: Decimals up to which the shorter of two figures is filled up with zeros.
MOST_DECIMALS = 3


Subjects = Iterator[tuple[str, str]]


def units_of(*forms: Form) -> dict[str, str]:
    """The unit of every number by its address, "" for a plain one; of one that several forms have, as the last says."""
    return {address: one.unit for form in forms for address, one in number_units(form).items()}


def subjects(form: Form, thing: object, units: Mapping[str, str]) -> dict[str, str]:
    """What stands at each address of a thing of the form, or, of any other thing, at the form's own, in words."""
    match thing:
        case Measure():
            found = _of_measure(thing)
        case ErrorCorrelation():
            found = _of_correlation(thing)
        case Output():
            found = _of_output(thing, units)
        case Gate():
            found = _of_gate(thing)
        case _:
            found = _of_form(form)
    return dict(found)


def shares(output: Output) -> dict[str, float]:
    """The share of each weight in the sum of the output's weights, by its address; empty where they sum to nothing."""
    weights = {part.weight.address: part.weight.value for part in output.parts if part.weight is not None}
    total = sum(weights.values())
    return {address: weight / total for address, weight in weights.items()} if total > 0 else {}


def from_to(before: str, after: str, unit: str = "", share: tuple[float, float] | None = None) -> str:
    """`before -> after` in one line: figures to the same decimals, then the unit, then shares in percent."""
    first, second = _same_decimals(before, after)
    if _is_figure(after):
        second = in_unit(second, unit)
    return f"{first} -> {second}{_in_percent(*share) if share is not None else ''}"


def _in_percent(before: float, after: float) -> str:
    texts = percent(before), percent(after)
    return f" (still {texts[1]})" if texts[0] == texts[1] else f" ({' -> '.join(texts)})"


def percent(share: float) -> str:
    """A share in percent, to three figures."""
    return f"{100 * share:.3g} %"


def who(section: str, thing: object) -> str:
    """A thing as the beginning of a line about it."""
    if isinstance(thing, Output):
        return thing.label
    name = thing[0] if isinstance(thing, tuple) else getattr(thing, "name", "")
    return (
        f"{NOUNS[section]} `{name}`"
        if section in ("bands", "gates", "error_correlations")
        else f"{NOUNS[section]} {name}"
    )


#: Each section's things, one by one.
NOUNS: Mapping[str, str] = {
    "bands": "band",
    "constants": "constant",
    "attributes": "attribute",
    "measures": "measure",
    "error_correlations": "correlation of errors",
    "ratings": "rating",
    "scores": "score",
    "gates": "gate",
}


#: What the components of a measure's errors are called.
ERRORS: Mapping[str, str] = {
    "repeatability": "repeatability",
    "between_sessions": "error between sessions",
    "between_specimens": "error between specimens",
    "systematic": "systematic error",
}


def _is_figure(text: str) -> bool:
    return re.fullmatch(r"[+-]?[0-9.]+([eE][+-]?\d+)?", text) is not None


def _same_decimals(before: str, after: str) -> tuple[str, str]:
    figures = [re.fullmatch(r"[+-]?\d+(?:\.(\d*))?", text) for text in (before, after)]
    if None in figures:
        return before, after
    decimals = [len(figure[1] or "") for figure in figures if figure is not None]
    if max(decimals) > MOST_DECIMALS or decimals[0] == decimals[1]:
        return before, after
    first, second = (
        f"{text}{'' if '.' in text else '.'}{'0' * (max(decimals) - count)}"
        for text, count in zip((before, after), decimals, strict=True)
    )
    return first, second


def _of_form(form: Form) -> Subjects:
    yield from _of_scale(form.scale, "scale")
    yield from _of_ranks(form.ranks)
    yield form.bands_on.address, "bands: figures they stand on"
    for band in form.bands:
        yield band.edge.address, "lower edge"
    for _, number in form.constants:
        yield number.address, ""


def _of_ranks(ranks: Ranks) -> Subjects:
    yield ranks.on.address, "ranks: figures they stand on"
    yield ranks.ties.address, "ranks: ties"
    yield ranks.best.address, "ranks: best end"
    yield ranks.within.address, "ranks: places within"


def _of_bands(bands: Bands) -> Subjects:
    if bands.chosen is not None:
        yield bands.chosen.address, "bands"
    for band in bands.edges:
        yield band.edge.address, f"lower edge of `{band.name}`"


def _of_scale(scale: Scale, words: str) -> Subjects:
    yield scale.low.address, f"{words}: low end"
    if scale.high is not None:
        yield scale.high.address, f"{words}: high end"
    yield from _of_rounding(scale.show, f"{words}: what is shown, its")


def _of_rounding(rounding: Rounding | None, words: str) -> Subjects:
    if rounding is not None:
        yield rounding.step.address, f"{words} rounding step"
        yield rounding.rule.address, f"{words} rounding rule"


def _of_measure(measure: Measure) -> Subjects:
    yield measure.better.address, "which end is better"
    for word, number in zip(("from", "to"), measure.plausible or (), strict=False):
        yield number.address, f"plausible {word}"
    yield measure.repeats.address, "repeats taken by"
    yield measure.trim.address, "share of repeats trimmed at each end"
    for key, error in measure.errors.items():
        yield from _of_error(error, ERRORS[key])
    if measure.reporting_limit is not None:
        yield measure.reporting_limit.address, "reporting limit"
    yield measure.below_limit.address, "a reading below the reporting limit counts as"
    if measure.round is not None:
        yield measure.round.step.address, "rounding step"
        yield measure.round.rule.address, "rounding rule"


def _of_error(error: ErrorComponent, words: str) -> Subjects:
    yield error.address, words
    yield error.kind.address, words
    if error.in_braces and error.amount is not None:
        yield error.amount.address, f"{words}: {error.amount.address.rpartition('.')[2].replace('_', ' ')}"
    if error.freedom is not None:
        yield error.freedom.address, f"{words}: degrees of freedom"
    if error.is_half_width:
        yield error.distribution.address, f"{words}: distribution"


def _of_correlation(correlation: ErrorCorrelation) -> Subjects:
    yield correlation.component.address, "component"
    for noun in (correlation.coefficient, correlation.estimated):
        if noun is not None:
            yield noun.address, "coefficient"


def _of_output(output: Output, units: Mapping[str, str]) -> Subjects:
    if output.blend is not None:
        yield output.blend.address, "blend"
    for name, number in output.numbers:
        yield number.address, f"{name.replace('_', ' ')} of the blend"
    for part in output.parts:
        called = part.address.rpartition(".")[2] if part.weight is not None else part.source
        if part.weight is not None:
            yield part.weight.address, f"weight of {called}"
        yield from _of_curve(part.curve, called, units)
    yield from _of_expression(output.value, "")
    if output.jumps is not None:
        yield output.jumps.address, "jumps"
    for limit in output.limits:
        yield from _of_limit(limit, limit.address.removeprefix(f"{output.address}.limits."), units)
    yield output.missing.absent_above.address, "share that may be missing"
    yield output.missing.otherwise.address, "where parts are missing"
    if output.missing.not_applicable is not None:
        yield output.missing.not_applicable.address, "where parts do not apply"
    yield from _of_rounding(output.round, "its")
    yield from _of_scale(output.scale, "its scale")
    for held in output.band_limits:
        label = held.address.removeprefix(f"{output.address}.band_limits.")
        yield from _of_expression(held.when, f" of limit {label} of its bands")
        yield held.no_better_than.address, f"best band under `{clip(held.when.text)}`"
    for address, words in (*_of_ranks(output.ranks), *_of_bands(output.bands)):
        if address.startswith(f"{output.address}."):
            yield address, words


def _of_limit(limit: Limit, label: str, units: Mapping[str, str]) -> Subjects:
    sense = limit.sense.replace("_", " ")
    yield limit.apply.address, f"limit {label} applied"
    yield from _of_expression(limit.when, f" of limit {label}")
    if limit.bound is not None and limit.when is not None:
        yield limit.bound.address, f"limit `{clip(limit.when.text)}`, {sense}"
    yield from _of_curve(limit.curve, f"{limit.on} in limit {label}", units)


def _of_expression(expression: Expression | None, of: str) -> Subjects:
    if expression is None:
        return
    kind = "condition" if expression.is_condition else "expression"
    yield expression.address, f"{kind}{of}:"
    for index, number in enumerate(expression.numbers, start=1):
        nth = f"number {index}" if len(expression.numbers) > 1 else "the number"
        yield number.address, f"{nth} in the {kind}{of}, `{clip(expression.text)}`:"


#: What stands beyond the anchors of a curve, and beyond each of its ends.
OUTSIDE = {"outside": "outside the anchors"} | {f"outside.{end}": says for end, says in ENDS.items()}


def _of_curve(curve: Curve | None, source: str, units: Mapping[str, str]) -> Subjects:
    if curve is None:
        return
    yield curve.address, f"curve of {source}"
    along = KINDS[curve.kind].along
    for name, number in curve.numbers:
        noun = "anchor" if name in along else "curve's"
        yield number.address, f"{noun} `{name}` of {source}"
    for index, (at, gives) in enumerate(curve.anchors, start=1):
        stands = in_unit(at.text, units.get(at.address, ""))
        yield at.address, f"anchor {index} of {source}, rated {gives.text},"
        yield gives.address, f"rating at anchor {index} of {source}, {stands},"
    for name, choice in curve.choices:
        words = OUTSIDE.get(name, f"curve's `{name}`")
        yield choice.address, f"{words} of {source}"
    if curve.reference is not None:
        yield curve.reference.address, f"reference of {source}"
        for name, number in curve.reference.figures:
            yield number.address, f"reference {name} of {source}"
        for index, number in enumerate(curve.reference.values, start=1):
            yield number.address, f"member {index} of the reference of {source}"


def _of_gate(gate: Gate) -> Subjects:
    yield from _of_expression(gate.when, "")
    if gate.guard is not None:
        yield gate.guard.address, "guard"
