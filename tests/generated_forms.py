"""Forms drawn at random: measures, curves of every kind, mixes, blends, limits, missing rules and expressions, as YAML text."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from hypothesis import strategies as st
from written_forms import own_numbers

from scoring.blends import BLENDS
from scoring.curves import KINDS
from scoring.form import Form
from scoring.reader import read_sources
from scoring.texts.source import Source

Draw = Callable[[st.SearchStrategy], object]
#: Names that mean something else to somebody.
NAMES = ("x", "E", "I", "N", "S", "pi", "beta", "lambda", "sit_drop", "m0")
SCALES = (("1", "10"), ("1", "100"), ("0.5", "5"))
#: Thresholds that no rating meets by chance of round figures.
ODD_SHARES = (0.137, 0.4139, 0.7193)
#: Blends that keep to the scale of their parts.
MEANS = tuple(name for name, blend in BLENDS.items() if blend.internal)


@dataclass(frozen=True, slots=True)
class Drawn:
    """A form's text, and what it reads."""

    text: str
    measures: tuple[str, ...]

    @property
    def form(self) -> Form:
        """The form that the text holds."""
        return read_sources([Source("drawn.yaml", self.text)])


def decimals(low: float, high: float, places: int = 2) -> st.SearchStrategy[str]:
    """Plain decimal figures between two bounds, as text."""
    step = 10**places
    whole = st.integers(int(np.ceil(low * step - 1e-9)), int(np.floor(high * step + 1e-9)))
    return whole.map(lambda n: f"{n / step:.{places}f}")


def readings(count: int, *, missing: bool = False) -> st.SearchStrategy[list[float]]:
    """Positive readings from 1 to 100, some of them missing if that is allowed."""
    reading = decimals(1, 100).map(float)
    if missing:
        reading = st.one_of(reading, reading, reading, st.just(float("nan")))
    return st.lists(reading, min_size=count, max_size=count)


@st.composite
def rising(draw: Draw, count: int) -> list[str]:
    """Figures from about 1 to about 100, each greater than the one before by 1 or more."""
    steps = draw(st.lists(st.integers(100, 1900), min_size=count, max_size=count))
    return [f"{total / 100:.2f}" for total in np.cumsum(steps)]


@st.composite
def anchors(draw: Draw, low: str, high: str) -> str:
    """Two to five anchors `measure: rating`, the ratings on the scale."""
    xs = draw(rising(draw(st.integers(2, 5))))
    ys = [draw(decimals(float(low), float(high))) for _ in xs]
    return "{" + ", ".join(f"{x}: {y}" for x, y in zip(xs, ys, strict=True)) + "}"


@st.composite
def worst_and_best(draw: Draw) -> str:
    """Two anchors in either order."""
    pair = draw(rising(2))
    worst, best = pair if draw(st.booleans()) else pair[::-1]
    return f"worst: {worst}, best: {best}"


def better() -> st.SearchStrategy[str]:
    """Which way is up."""
    return st.sampled_from(["higher", "lower"])


@st.composite
def curves(draw: Draw, kind: str, low: str, high: str) -> str:
    """A curve of one kind that keeps to the scale, without its braces; raises KeyError for a kind that it does not know."""
    population = st.lists(decimals(1, 100), min_size=3, max_size=8, unique=True).map(", ".join)
    written: dict[str, Callable[[], str]] = {
        "line": lambda: f"line: {{{draw(worst_and_best())}}}",
        "log": lambda: f"log: {{{draw(worst_and_best())}}}",
        "power": lambda: f"power: {{{draw(worst_and_best())}, exponent: {draw(decimals(0.2, 4))}}}",
        "points": lambda: f"points: {draw(anchors(low, high))}",
        "smooth": lambda: f"smooth: {draw(anchors(low, high))}",
        "steps": lambda: f"steps: {draw(anchors(low, high))}",
        "logistic": lambda: (
            f"logistic: {{middle: {draw(decimals(5, 90))}, spread: {draw(decimals(1, 30))}, better: {draw(better())}}}"
        ),
        "target": lambda: "target: {{low: {}, best: {}, high: {}, within: {}}}".format(
            *draw(rising(3)), draw(decimals(0, 0.9))
        ),
        "standing": lambda: (
            f"standing: {{better: {draw(better())}, ties: {draw(st.sampled_from(['mean', 'lowest', 'highest']))}}}"
            + draw(st.sampled_from(["", f", reference: {{values: [{draw(population)}]}}"]))
        ),
        "z": lambda: (
            f"z: {{centre: {draw(decimals(float(low), float(high)))}, per_sd: {draw(decimals(0.1, 3))}, better: {draw(better())}}}, "
            f"reference: {{mean: {draw(decimals(10, 90))}, sd: {draw(decimals(1, 30))}}}"
        ),
        "minmax": lambda: f"minmax: {{better: {draw(better())}}}, reference: {{values: [{draw(population)}]}}",
        "ratio": lambda: f"ratio: {{better: {draw(better())}}}, reference: {{values: [{draw(population)}]}}",
    }
    return written[kind]()


@st.composite
def expressions(draw: Draw, names: tuple[str, ...], depth: int = 3) -> str:
    """Arithmetic over names that stays finite for positive readings."""
    if depth == 0 or draw(st.integers(0, 4)) == 0:
        return draw(st.one_of(st.sampled_from(names), decimals(0, 20, 3)))
    a, b, c = (draw(expressions(names, depth - 1)) for _ in range(3))
    return draw(
        st.sampled_from(
            [f"({a} + {b})", f"({a} - {b})", f"({a} * {b} / 50)", f"({a} / (1 + abs({b})))", f"min({a}, {b}, {c})", f"max({a}, {b})",
             f"clamp({a}, 1.03, 7.7)", f"sqrt(abs({a}))", f"log(1.5 + abs({a}))", f"log10(2 + abs({a}))", f"exp(-abs({a}) / 40)",
             f"abs({a}) ** 1.5", f"-({a})", f"where({a} < {b}, {c}, 1.23)", f"where({a} > {b} and not {c} <= 3.317, 2.5, {a})",
             f"where({a} > 1.1317 or {b} > 2.7193, {c}, {b})", f"interp({a}, 0, 1, 7.31, 5, 21, -3)", f"round({a}, 0.5)", f"floor({a})",
             f"(mean({names[0]}) + {a})", f"(percentile({names[0]}, 30) - {a})"]
        )
    )  # fmt: skip


@st.composite
def missing_rules(draw: Draw, sources: tuple[str, ...]) -> str:
    """A missing rule over some parts, or none."""
    if draw(st.booleans()):
        return ""
    share = draw(st.sampled_from(["0", "0.25", "0.5", "0.9", "1"]))
    otherwise = draw(st.sampled_from(["reweight", "lowest"]))
    needs = draw(st.sampled_from(["", f"needs: [{sources[0]}], "]))
    return f", missing: {{{needs}absent_above: {share}, otherwise: {otherwise}}}"


@st.composite
def limit_lists(draw: Draw, sources: tuple[str, ...], low: str, high: str) -> str:
    """No limit, or one or two on ratings, stepped or smooth, their bounds on the scale."""
    span = float(high) - float(low)
    limits = []
    for _ in range(draw(st.integers(0, 2))):
        on, sense = draw(st.sampled_from(sources)), draw(st.sampled_from(["at_most", "at_least"]))
        edge = float(low) + span * draw(st.sampled_from(ODD_SHARES))
        bound = draw(decimals(float(low), float(high)))
        smooth = f"{{points: {{{low}: {bound}, {high}: {draw(decimals(float(low), float(high)))}}}}}"
        sign = draw(st.sampled_from(["<", ">", "<=", ">="]))
        stepped = f"{{when: {on} {sign} {edge:.6f}, {sense}: {bound}}}"
        limits.append(draw(st.sampled_from([stepped, f"{{on: {on}, {sense}: {smooth}}}"])))
    return f", limits: [{', '.join(limits)}]" if limits else ""


@st.composite
def blend_words(draw: Draw) -> str:
    """A blend that keeps to the scale, with its exponent where it needs one."""
    blend = draw(st.sampled_from(MEANS))
    exponent = draw(st.sampled_from(["-2", "-0.5", "0.5", "1", "3"]))
    return f"blend: {blend}{own_numbers(blend, exponent=exponent)}"


@st.composite
def ratings(draw: Draw, name: str, measures: tuple[str, ...], low: str, high: str) -> str:
    """One rating: a measure through a curve, a mix, or an expression held to the scale."""

    def curve() -> str:
        return "{" + draw(curves(draw(st.sampled_from(tuple(KINDS))), low, high)) + "}"

    way = draw(st.sampled_from(["curve", "curve", "mix", "value"]))
    if way == "curve":
        measure = draw(st.sampled_from(measures))
        body = f"measure: {measure}, curve: {curve()}{draw(missing_rules((measure,)))}"
    elif way == "mix":
        chosen = tuple(draw(st.lists(st.sampled_from(measures), min_size=1, max_size=3)))
        parts = ", ".join(f"{{measure: {m}, weight: {draw(decimals(0.1, 3))}, curve: {curve()}}}" for m in chosen)
        body = f"mix: [{parts}], {draw(blend_words())}{draw(missing_rules(chosen))}"
    else:
        # every name is used, so that what is needed may be named
        expression = f"{draw(expressions(measures))} + 0.01 * {measures[0]}"
        body = f"value: 'clamp({expression}, {low}, {high})'{draw(missing_rules(measures[:1]))}"
    return f"  {name}: {{{body}}}"


@st.composite
def forms(draw: Draw) -> Drawn:
    """A whole form: one to three measures, one to three ratings, one or two scores, the second over the first."""
    low, high = draw(st.sampled_from(SCALES))
    measures = tuple(draw(st.lists(st.sampled_from(NAMES), min_size=1, max_size=3, unique=True)))
    names = tuple(f"r{i}" for i in range(draw(st.integers(1, 3))))
    rated = [draw(ratings(name, measures, low, high)) for name in names]
    scores, sources = [], names
    for score in ("s", "t")[: draw(st.integers(1, 2))]:
        weights = ", ".join(f"{name}: {draw(decimals(0.1, 3))}" for name in sources)
        limits = draw(limit_lists(sources, low, high))
        scores.append(
            f"  {score}: {{{draw(blend_words())}, weights: {{{weights}}}{limits}{draw(missing_rules(sources))}}}"
        )
        sources = (*sources, score)
    units = ", ".join(f'{name}: {{unit: "1"}}' for name in measures)
    lines = [
        "formula: drawn",
        f"scale: {{from: {low}, to: {high}}}",
        f"measures: {{{units}}}",
        "ratings:",
        *rated,
        "scores:",
        *scores,
    ]
    return Drawn("\n".join(lines) + "\n", measures)


@st.composite
def scored_forms(draw: Draw, *, missing: bool = False, count: int = 5) -> tuple[Drawn, dict[str, list[float]]]:
    """A form and readings for it."""
    drawn = draw(forms())
    return drawn, {name: draw(readings(count, missing=missing)) for name in drawn.measures}
