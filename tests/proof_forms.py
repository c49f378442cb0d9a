"""Forms made by chance for the campaign of proofs: what jumps, and what turns together, in small formulas."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

import numpy as np

T = TypeVar("T")
RULES = ("half-up", "half-even", "down", "up")
BLENDS = (
    "weighted mean",
    "weighted mean",
    "geometric mean",
    "harmonic mean",
    "power mean",
    "minimum",
    "maximum",
    "sum",
    "product",
)
#: Few places, so that edges of one thing often lie on those of another.
SHARES = (0.1, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.7, 0.75, 0.8, 0.9)
SPANS = ((0.0, 100.0), (0.0, 10.0), (-20.0, 20.0), (1.0, 50.0), (0.0, 1.0))


class Chance:
    """Choices by chance, from one seed."""

    def __init__(self, *seed: int) -> None:
        self.rng = np.random.default_rng(seed)

    def of(self, options: Sequence[T]) -> T:
        """One of the options."""
        return options[int(self.rng.integers(0, len(options)))]

    def happens(self, share: float) -> bool:
        """Whether something happens that does in this share of cases."""
        return bool(self.rng.random() < share)

    def places(self, count: int, low: float, high: float) -> list[float]:
        """So many different places of a span, rising."""
        shares = sorted(self.rng.choice(SHARES, count, replace=False).tolist())
        return [round(low + (high - low) * share, 6) for share in shares]

    def heights(self, count: int) -> list[float]:
        """So many ratings: mostly one way, now and then both."""
        found = (self.rng.integers(0, 21, count) / 2).tolist()
        if self.happens(0.75):
            found = sorted(found, reverse=self.happens(0.5))
        return [float(height) for height in found]


def rounding(chance: Chance, steps: tuple[float, ...]) -> str:
    """A rounding by any rule."""
    return f"{{step: {chance.of(steps):g}, rule: {chance.of(RULES)}}}"


def curve(chance: Chance, low: float, high: float) -> str:
    """A curve over a span: tables most often."""
    count = int(chance.rng.integers(2, 5))
    places, heights = chance.places(count, low, high), chance.heights(count)
    anchors = ", ".join(f"{x:g}: {y:g}" for x, y in zip(places, heights, strict=True))
    first, last = f"{places[0]:g}", f"{places[-1]:g}"
    worst, best = (first, last) if chance.happens(0.5) else (last, first)
    three = [f"{place:g}" for place in chance.places(3, low, high)]
    ways = [f"steps: {{{anchors}}}"] * 4 + [
        f"points: {{{anchors}}}",
        f"points: {{{anchors}}}",
        f"smooth: {{{anchors}}}",
        f"line: {{worst: {worst}, best: {best}}}",
        f"power: {{worst: {worst}, best: {best}, exponent: {chance.of((0.5, 2, 1.7))}}}",
        f"target: {{low: {three[0]}, best: {three[1]}, high: {three[2]}}}",
        f"logistic: {{middle: {three[1]}, spread: {(high - low) / 10:g}}}",
    ]
    if low >= 0:
        ways.append(f"log: {{worst: {worst}, best: {best}}}")
    return f"{{{chance.of(ways)}}}"


def condition(chance: Chance, sources: dict[str, tuple[float, float]]) -> str:
    """A condition on readings or ratings: one comparison, or two of them."""

    def comparison() -> str:
        name = chance.of(tuple(sources))
        sign = chance.of(("<", "<=", ">", ">=", "<", ">", "==", "!="))
        if chance.happens(0.15) and len(sources) > 1:
            return f"{name} {sign} {chance.of(tuple(sources))}"
        return f"{name} {sign} {chance.places(1, *sources[name])[0]:g}"

    way = chance.rng.random()
    if way < 0.65:
        return comparison()
    if way < 0.75:
        return f"not ({comparison()})"
    return f"{comparison()} {chance.of(('and', 'or'))} {comparison()}"


def expression(chance: Chance, sources: dict[str, tuple[float, float]], deep: int = 0) -> str:
    """A value from 0 to 10, mostly: pieces with choices, roundings and divisions inside a clamp."""
    name = chance.of(tuple(sources))
    low, high = sources[name]
    share = f"({name} - {low:g})/{high - low:g}" if low else f"{name}/{high:g}"
    inner = expression(chance, sources, deep + 1) if deep < 2 else f"10*{share}"
    other = expression(chance, sources, deep + 1) if deep < 2 else f"{chance.of((0, 3, 5, 7.5, 10))}"
    three = ", ".join(f"{x:g}, {y:g}" for x, y in zip(chance.places(2, low, high), chance.heights(2), strict=True))
    ways = [
        f"10*{share}",
        f"10 - 10*{share}",
        f"where({condition(chance, sources)}, {inner}, {other})",
        f"where({condition(chance, sources)}, {inner}, {other})",
        f"where({condition(chance, sources)}, {chance.of((0, 2, 4, 5))}, {chance.of((5, 6, 8, 10))})",
        f"round({inner}, {chance.of((0.5, 1, 2))})",
        f"floor({inner})",
        f"ceil({inner})",
        f"0.5*({inner}) + 0.5*({other})",
        f"min({inner}, {other})",
        f"max({inner}, {other})",
        f"abs({inner} - {other})",
        f"sqrt({inner})",
        f"clamp(3*log({inner} + 1), 0, 10)",
        f"clamp(({inner})/({name} + {abs(low) + 1:g}), 0, 10)",
        f"clamp(5 + 1/({inner} - {chance.of((2, 4, 5))}), 0, 10)",
        f"({inner})*({other})/10",
        f"10*(({inner})/10)**{chance.of((2, 0.5, 3))}",
        f"interp({name}, {three})",
    ]
    return chance.of(ways)


def or_none(chance: Chance, value: str, sources: dict[str, tuple[float, float]]) -> str:
    """A value, now and then one that is not given under a condition, or under two."""
    if not chance.happens(0.25):
        return value
    ways = (
        f"where({condition(chance, sources)}, none, {value})",
        f"where({condition(chance, sources)}, {value}, none)",
        f"where({condition(chance, sources)}, where({condition(chance, sources)}, none, {value}), {chance.of((2, 7))})",
    )
    return chance.of(ways)


def limits(chance: Chance, sources: dict[str, tuple[float, float]]) -> str:
    """Now and then a limit or two: stepped, or smooth."""
    found = []
    while chance.happens(0.35) and len(found) < 2:
        sense = chance.of(("at_most", "at_most", "at_least"))
        if chance.happens(0.75):
            found.append(f'{{when: "{condition(chance, sources)}", {sense}: {chance.of((2, 3, 5, 6, 8))}}}')
        else:
            name = chance.of(tuple(sources))
            places, heights = chance.places(2, *sources[name]), chance.heights(2)
            kind = chance.of(("points", "steps"))
            anchors = ", ".join(f"{x:g}: {y:g}" for x, y in zip(places, heights, strict=True))
            found.append(f"{{on: {name}, {sense}: {{{kind}: {{{anchors}}}}}}}")
    return f", limits: [{', '.join(found)}]" if found else ""


def missing(chance: Chance, parts: list[str]) -> str:
    """A missing rule, or the one by default."""
    ways = [
        "",
        f", missing: {{needs: [{', '.join(dict.fromkeys(parts))}]}}",
        ", missing: {absent_above: 0.5}",
        ", missing: {otherwise: lowest}",
    ]
    return chance.of(ways)


def rounded(chance: Chance, share: float = 0.4) -> str:
    """Now and then a rounding of an output."""
    return f", round: {rounding(chance, (0.1, 0.5, 1.0, 2.0, 0.25))}" if chance.happens(share) else ""


def applied(chance: Chance, body: str) -> str:
    """What a rating or score says, now and then with what is done with a part that does not apply."""
    if chance.happens(0.5) or not ("mix: [" in body or "weights: {" in body):
        return body
    words = ["absent", "reweight"] + ["left out"] * 3 * ("blend: sum" in body or "blend: product" in body)
    said = f"not_applicable: {chance.of(words)}"
    return (
        body.replace("missing: {", f"missing: {{{said}, ") if "missing: {" in body else f"{body}, missing: {{{said}}}"
    )


def published(chance: Chance, *, is_expression: bool) -> str:
    """Now and then a direction or bands of its own, and jumps at stated thresholds."""
    said = f", ranks: {{best: {chance.of(('highest', 'lowest'))}}}" if chance.happens(0.4) else ""
    said += ", jumps: stated" if is_expression and chance.happens(0.5) else ""
    if chance.happens(0.5):
        edges = chance.places(int(chance.rng.integers(1, 4)), 0, chance.of((4, 10)))
        own = ", ".join(f"o{i}: {edge:g}" for i, edge in enumerate(sorted(set(edges))))
        said += f", bands: {chance.of((f'{{{own}}}', f'{{{own}}}', 'none', 'formula'))}"
    return said


def form_by_chance(seed: int, index: int) -> str:
    """The text of a form: one to three measures, two or three ratings, one or two scores that may build on each other."""
    chance = Chance(seed, index)
    own = Chance(seed, index, 1)  # of its own, so that what a seed draws besides stays what it was
    lines = [
        "formula: chance",
        f"ranks: {{best: {chance.of(('highest', 'highest', 'lowest'))}}}",
        "scale: {from: 0, to: 10}",
        "bands: {low: 0, middle: 4, high: 7.5}",
        f"bands_on: {own.of(('shown', 'unrounded'))}",
    ]
    lines.append("measures:")
    measures: dict[str, tuple[float, float]] = {}
    for name in ("a", "b", "c")[: int(chance.rng.integers(1, 4))]:
        low, high = chance.of(SPANS)
        measures[name] = (low, high)
        step = (
            ""
            if chance.happens(0.75)
            else f", round: {rounding(chance, tuple((high - low) * s for s in (0.01, 0.1, 0.05)))}"
        )
        better = chance.of(("higher", "lower", "neither", "unstated"))
        lines.append(f'  {name}: {{unit: "1", better: {better}, plausible: [{low:g}, {high:g}]{step}}}')
    lines.append("ratings:")
    ratings: dict[str, tuple[float, float]] = {}
    for name in ("r1", "r2", "r3")[: int(chance.rng.integers(1, 4))]:
        body = applied(own, _rating(chance, measures, ratings))
        tail = f"{limits(chance, measures | ratings)}{rounded(chance)}"
        lines.append(f"  {name}: {{{body}{tail}{published(own, is_expression='value: ' in body)}}}")
        ratings[name] = (0.0, 10.0)
    lines.append("scores:")
    for name in ("s1", "s2")[: int(chance.rng.integers(1, 3))]:
        body = applied(own, _score(chance, ratings))
        tail = f"{limits(chance, ratings | measures)}{rounded(chance)}"
        lines.append(f"  {name}: {{{body}{tail}{published(own, is_expression='value: ' in body)}}}")
        ratings[name] = (0.0, 10.0)
    return "\n".join(lines) + "\n"


def _rating(chance: Chance, measures: dict[str, tuple[float, float]], ratings: dict[str, tuple[float, float]]) -> str:
    names = list(measures)
    name = chance.of(names)
    way = chance.rng.random()
    if way < 0.45:
        return f"measure: {name}, curve: {curve(chance, *measures[name])}"
    if way < 0.75:
        sources = measures | (ratings if chance.happens(0.4) else {})
        return f'value: "{or_none(chance, expression(chance, sources), sources)}"'
    parts = []
    sources = []
    for _ in range(2):
        if ratings and chance.happens(0.3):
            source = chance.of(list(ratings))
            bent = f", curve: {curve(chance, 0, 10)}" if chance.happens(0.6) else ""
            parts.append(f"{{rating: {source}, weight: {chance.of((1, 2, 0.5))}{bent}}}")
        else:
            source = chance.of(names)
            parts.append(
                f"{{measure: {source}, weight: {chance.of((1, 2, 3))}, curve: {curve(chance, *measures[source])}}}"
            )
        sources.append(source)
    return f"mix: [{', '.join(parts)}]{missing(chance, sources)}"


def _score(chance: Chance, ratings: dict[str, tuple[float, float]]) -> str:
    if chance.happens(0.2):
        return f'value: "{expression(chance, ratings)}"'
    names = list(ratings)
    parts = [
        str(name) for name in chance.rng.choice(names, min(len(names), int(chance.rng.integers(1, 4))), replace=False)
    ]
    blend = chance.of(BLENDS)
    if blend == "power mean":
        blend = f"power mean, exponent: {chance.of((0.5, 2, -1))}"
    weights = ", ".join(f"{name}: {chance.of((1, 1, 2, 0.5, 3))}" for name in parts)
    scale = ", scale: {from: 0, to: 200}" if blend in ("sum", "product") and chance.happens(0.8) else ""
    return f"blend: {blend}, weights: {{{weights}}}{scale}{missing(chance, parts)}"
