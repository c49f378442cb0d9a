"""The kinds of curve, each with its fields, what its numbers must keep, and a line that is read."""

from __future__ import annotations

from collections.abc import Iterator

from scoring.curves import KINDS, CurveKind
from scoring.declaration.kinds import Schema
from scoring.form import CURVE, OUTSIDE, Curve
from scoring.form_reference.allowed import allowed, default_of
from scoring.form_reference.text import bullet, code, listed, sentence, wrapped
from scoring.reader import read_sources
from scoring.texts.source import Source

FIGURES = {"population": "values"}
LEAD = (
    "Under `curve`, of a rating or a part of a mix, or as a bound that goes by a part. Each curve has one kind, and `outside` "
    "or `reference` beside it where its kind has these. The direction follows from the anchors, or from `better` where a kind "
    "has none."
)


def example_curve(kind: CurveKind) -> Curve:
    """The kind's own example, read as part of a small formula."""
    text = f'formula: f\nmeasures: {{m: {{unit: "1"}}}}\nratings: {{r: {{measure: m, curve: {{{kind.example}}}}}}}\n'
    curve = read_sources([Source("example", text)]).ratings[0].parts[0].curve
    assert curve is not None  # a rating of a measure has one
    return curve


def curve_section(schema: Schema) -> Iterator[str]:
    """Every kind of curve, then what several kinds share."""
    yield f"## {CURVE.title}"
    yield wrapped(LEAD)
    for kind, found in zip(KINDS.values(), schema["$defs"]["curve"]["oneOf"], strict=True):
        yield f"### {code(kind.name)}"
        yield wrapped(sentence(kind.says))
        yield "\n".join(
            [bullet(f"For example {code(f'curve: {{{kind.example}}}')}"), *_fields(found["properties"][kind.name])]
        )
        needs = [*_needs(kind)]
        if needs:
            yield wrapped(" ".join(sentence(need) for need in needs))
    yield "### Beyond the anchors"
    meanings = [bullet(f"{code(word)}: {meaning}.") for word, meaning in OUTSIDE.items()]
    yield wrapped(
        f"{CURVE.keys['outside'].says} For example {code('curve: {line: {worst: 46, best: 22}, outside: error}')}. Each "
        f"end's word has an address, as {code('ratings.quiet.curve.outside.above')}; an end that is left out is `held`."
    )
    yield "\n".join(meanings)
    yield "### The population a curve leans on"
    leaning = next(kind for kind in KINDS.values() if {"mean", "sd"} <= set(kind.figures))
    example = f"curve: {{{leaning.example}, {CURVE.keys['reference'].example}}}"
    yield wrapped(f"{CURVE.keys['reference'].says} {code('reference')} is `live` by default. For example:")
    yield f"```yaml\n{example}\n```"


def _fields(body: Schema) -> list[str]:
    required = body.get("required", ())
    return [
        bullet(
            f"{code(name)}{' (required)' if name in required else ''}: {allowed(field)}"
            f"{f'; {default_of(field)} by default' if default_of(field) else ''}; {field['description']}."
        )
        for name, field in body.get("properties", {}).items()
    ]


def _needs(kind: CurveKind) -> Iterator[str]:
    """What else must hold, or may be written, with a curve of this kind."""
    rules = list(dict.fromkeys(keep.says for keep in kind.kept(example_curve(kind))))
    if kind.anchored:
        yield "two or more anchors"
    if rules:
        yield f"what must hold: {listed(rules)}"
    if kind.outside:
        first, *rest = (code(word) for word in kind.outside)
        yield f"`outside` is {first} by default, or {listed(rest, 'or')}"
    if kind.figures:
        figures = [code(FIGURES.get(name, name)) for name in kind.figures]
        instead = "" if "population" in kind.figures else ", or the `values` of its members"
        yield f"it leans on a population: a frozen `reference` gives its {listed(figures)}{instead}"
    if kind.ratio_scaled:
        yield "it needs a unit whose zero means none"
    if kind.needs_top:
        yield "it needs a scale with a high end"
