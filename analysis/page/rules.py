"""What the numbers of a formula must keep, so that a page refuses what the reader would refuse."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations
from typing import Any

from scoring.blends import NUMBERS
from scoring.curves import KINDS
from scoring.curves.kind import Keep
from scoring.declaration import NumberKey
from scoring.form import Band, Curve, Form, Number, Output, Rounding, Scale


def rule_documents(form: Form, place: Callable[[Number], int]) -> list[dict[str, Any]]:
    """Every rule as numbers by their place, with the label of what it is about."""
    return [
        {
            "of": of,
            "terms": [[factor, place(number)] for factor, number in keep.terms],
            "constant": keep.constant,
            "relation": keep.relation,
            "says": keep.says,
        }
        for of, keep in _keeps(form)
    ]


def _keeps(form: Form) -> Iterator[tuple[str, Keep]]:
    yield from (("The scale", keep) for keep in _of_scale(form.scale))
    yield from (("Bands", keep) for keep in _of_bands(form.bands))
    for output in form.outputs:
        yield from ((output.label, keep) for keep in _of_output(form, output))
    for gate in form.gates:
        if gate.guard is not None:
            yield f"Gate {gate.name}", Keep(((1.0, gate.guard),), ">=", "its guard is 0 or more")


def _of_bands(bands: Sequence[Band]) -> Iterator[Keep]:
    for below, above in combinations(bands, 2):
        says = f"`{below.name}` and `{above.name}` start at different figures"
        yield Keep(((1.0, above.edge), (-1.0, below.edge)), "!=", says)


def _of_scale(scale: Scale) -> Iterator[Keep]:
    if scale.high is not None:
        yield Keep(((1.0, scale.high), (-1.0, scale.low)), ">", "`to` is above `from`")
    yield _step(scale.show)


def _step(rounding: Rounding) -> Keep:
    return Keep(((1.0, rounding.step),), ">", "a rounding step is above 0")


def _of_output(form: Form, output: Output) -> Iterator[Keep]:
    if output.scale != form.scale:
        yield from _of_scale(output.scale)
    if not output.bands.inherited:
        yield from _of_bands(output.bands.edges)
    if output.round is not None:
        yield _step(output.round)
    yield from _within(output.missing.absent_above, 0.0, 1.0, "the share that may be missing is from 0 to 1")
    for name, number in output.numbers:
        yield from _of_blend(NUMBERS[name], number)
    weights = [part.weight for part in output.parts if part.weight is not None]
    yield from (Keep(((1.0, weight),), ">=", "no weight is below 0") for weight in weights)
    if weights:
        yield Keep(tuple((1.0, weight) for weight in weights), ">", "some weight is above 0")
    for curve in _curves(output):
        yield from KINDS[curve.kind].kept(curve)


def _of_blend(declared: NumberKey, number: Number) -> Iterator[Keep]:
    """What a number of a blend keeps: it is not what it may never be, and within its bounds."""
    # whole bounds are made floats: a page's JSON writes them as it does the others
    kind, its = declared.kind, f"its {declared.words} is"
    if kind.never is not None:
        yield Keep(((1.0, number),), "!=", f"{its} not {kind.never:g}", 0.0 - kind.never)
    if kind.above is not None:
        yield Keep(((1.0, number),), ">", f"{its} above {kind.above:g}", 0.0 - kind.above)
    if kind.least is not None and kind.most is not None:
        yield from _within(number, float(kind.least), float(kind.most), f"{its} from {kind.least:g} to {kind.most:g}")
    elif kind.least is not None:
        yield Keep(((1.0, number),), ">=", f"{its} {kind.least:g} or more", 0.0 - kind.least)
    elif kind.most is not None:
        yield Keep(((-1.0, number),), ">=", f"{its} {kind.most:g} or less", float(kind.most))


def _within(number: Number, least: float, most: float, says: str) -> Iterator[Keep]:
    yield Keep(((1.0, number),), ">=", says, -least)
    yield Keep(((-1.0, number),), ">=", says, most)


def _curves(output: Output) -> Iterator[Curve]:
    yield from (part.curve for part in output.parts if part.curve is not None)
    yield from (limit.curve for limit in output.limits if limit.curve is not None)
