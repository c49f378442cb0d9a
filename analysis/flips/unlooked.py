"""The numbers and choices under a rating or score that a search for the smallest change passes over, and why."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from analysis.flips.contest import Contest, missing_of
from analysis.flips.ways import SHARE, outputs_under, shares_of_percentiles, ways_of, weighed_together
from scoring.addresses.addresses import addressed
from scoring.addresses.publication import is_of_publication
from scoring.form import Choice, Curve, Expression, Measure, Number, Output


@dataclass(frozen=True, slots=True)
class Unlooked:
    """A kind of number (or choice) that is not looked at: what it is called, where it stands, and why."""

    what: str
    addresses: tuple[str, ...]
    why: str


def unlooked_of(contest: Contest) -> tuple[Unlooked, ...]:
    """What is not looked at of all that an output leans on, kind by kind, each address once; no kind without an address."""
    looked = {way.number.address for way in ways_of(contest)}
    if weighed_together(contest.output):
        looked |= {part.weight.address for part in contest.output.parts if part.weight is not None}
    found = []
    for what, nouns, why in _kinds(contest):
        addresses = tuple(dict.fromkeys(noun.address for noun in nouns if noun.address not in looked))
        looked.update(addresses)
        if addresses:
            found.append(Unlooked(what, addresses, why))
    return tuple(found)


def _kinds(contest: Contest) -> Iterator[tuple[str, Iterable[Number | Choice | Measure], str]]:
    """Every kind with its reason; the last takes in whatever none before it named."""
    outputs = outputs_under(contest)
    names = set(contest.program.measures_under(contest.output.name))
    measures = [measure for measure in contest.form.measures if measure.name in names]
    numbers = [number for output in outputs for number in _numbers_in(output)]
    yield "switched-off limits", _switched_off(outputs), "`apply: never`, so that nothing leans on them as they stand"
    yield (
        "ends of a scale",
        _ends(outputs),
        "they say what a point is: with another end every score means something else",
    )
    yield "rounding steps", _steps(contest, outputs, measures), "a coarser step levels products by hiding what differs"
    yield "what is done to readings", _treatments(measures), "it comes before the formula; the readings are looked at"
    yield (
        "missing readings",
        (measure for measure, _ in missing_of(contest) if measure.plausible is None),
        "no plausible range says where they may lie",
    )
    yield "gates", _gates(contest), "a gate withholds a score or remarks on it, and moves none"
    yield (
        "shares that may be missing",
        [output.missing.absent_above for output in outputs],
        f"none of these products lacks a part; else it is looked at, as a {SHARE}",
    )
    yield "shares of a percentile", _percentiles(outputs), "the percentile is settled before the arithmetic"
    yield "frozen populations", _frozen(outputs), "each is one of many readings, which are replaced as a whole"
    yield "choices", _choices(outputs, measures), "they are no numbers, so that none is nearest; `--set` tries one"
    yield (
        "other numbers",
        (number for number in numbers if not is_of_publication(number.address)),
        "no kind that is looked at",
    )


def _switched_off(outputs: list[Output]) -> Iterator[Number]:
    for output in outputs:
        off = tuple(limit for limit in output.limits if limit.apply.value != "always")
        yield from _numbers_in(off)


def _numbers_in(noun: object) -> Iterator[Number]:
    yield from (one for one in addressed(noun) if isinstance(one, Number))


def _ends(outputs: list[Output]) -> Iterator[Number]:
    for output in outputs:
        yield from (end for end in (output.scale.low, output.scale.high) if end is not None)


def _steps(contest: Contest, outputs: list[Output], measures: list[Measure]) -> Iterator[Number]:
    roundings = [*(output.round for output in outputs), *(measure.round for measure in measures)]
    yield from (rounding.step for rounding in roundings if rounding is not None)
    if contest.output.ranks.on.value == "shown":
        yield contest.output.scale.show.step


def _treatments(measures: list[Measure]) -> Iterator[Number]:
    for measure in measures:
        if measure.repeats.value == "trimmed":
            yield measure.trim
        if measure.reporting_limit is not None:
            yield measure.reporting_limit


def _gates(contest: Contest) -> Iterator[Number]:
    for gate in contest.form.gates:
        if not gate.scores or contest.output.name in gate.scores:
            yield from _numbers_in(gate)


def _percentiles(outputs: list[Output]) -> Iterator[Number]:
    for output in outputs:
        for noun in addressed(output):
            if isinstance(noun, Expression):
                yield from shares_of_percentiles(noun)


def _frozen(outputs: list[Output]) -> Iterator[Number]:
    for output in outputs:
        for noun in addressed(output):
            if isinstance(noun, Curve) and noun.reference is not None:
                yield from noun.reference.values


def _choices(outputs: list[Output], measures: list[Measure]) -> Iterator[Choice]:
    for output in outputs:
        choices = (noun for noun in addressed(output) if isinstance(noun, Choice))
        yield from (choice for choice in choices if not is_of_publication(choice.address))
    for measure in measures:
        yield measure.repeats
        if measure.reporting_limit is not None:
            yield measure.below_limit
