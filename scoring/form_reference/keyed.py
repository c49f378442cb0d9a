"""The sections of the form: every key with what may stand there, from the schema and the key tables beside it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from scoring.form_reference.allowed import TITLES, allowed, default_of, options_of
from scoring.form_reference.text import anchor, bullet, code, listed, sentence, wrapped
from scoring.reader import keys, options
from scoring.reader.keys import Key, Keys

Schema = dict[str, Any]
ERROR_WORDS = {**options.NO_ERROR, **options.POOLED}
#: The key table of each definition, and what is to be known of it first.
SECTIONS: dict[str, tuple[Keys, str]] = {
    "takes": (keys.TAKES, "Under `takes`, for what several formulas share."),
    "scale": (keys.SCALE, "Under `scale`, of the formula or of one rating or score."),
    "rounding": (
        keys.ROUNDING,
        "Under `round`, or under `show` in a scale. Rounding is exact in decimal: 8.25 shows as 8.3 half-up, whatever "
        "binary fractions make of it.",
    ),
    "ranks": (keys.RANKS, "Under `ranks`."),
    "attribute": (keys.ATTRIBUTE, "Under `attributes`, each as `NAME: {...}`."),
    "measure": (keys.MEASURE, "Under `measures`, each as `NAME: {...}`."),
    "scatter": (
        keys.SCATTER,
        "Under `repeatability`, `between_sessions` or `between_specimens`, of a measure, where more is to be said than one "
        "figure. The components are those of ISO 5725-3 and ISO 21748 (from memory): within a run, between runs of the same "
        "bench, between specimens; each is an error of one reading, and their variances add up. The words that stand for a "
        f"figure: {'; '.join(f'{code(word)}: {says}' for word, says in ERROR_WORDS.items())}.",
    ),
    "systematic": (
        keys.SYSTEMATIC,
        "Under `systematic`, of a measure, where more is to be said than one standard uncertainty. No repeats can show it, so "
        "that it is never pooled. See the GUM (JCGM 100:2008), 4.3 (from memory).",
    ),
    "error_correlation": (
        keys.ERROR_CORRELATION,
        "Under `error_correlations`, each as `NAME: {...}`. A pair of measures that is not named is uncorrelated; the "
        "coefficients of one component must make a covariance: no eigenvalue of their matrix is below 0.",
    ),
    "rating": (
        keys.RATING,
        "Under `ratings`, each as `NAME: {...}`. A value is worked out first, then limits, then rounding.",
    ),
    "mix_part": (keys.MIX, "In the list under `mix`, of a rating."),
    "score": (keys.SCORE, "Under `scores`, each as `NAME: {...}`."),
    "missing": (
        keys.MISSING,
        "Under `missing`, of a rating or score. Left unsaid, whatever is missing makes the whole absent. What is not applicable "
        "is no gap: its weight is shared out among the rest.",
    ),
    "limit": (keys.LIMIT, "In the list under `limits`, of a rating or score."),
    "gate": (keys.GATE, "In the list under `gates`."),
    "reference": (
        keys.REFERENCE,
        "Under `reference`, of a curve that leans on a population. `steelyard check FORMULA CATALOGUE --reference` prints those "
        "of a catalogue.",
    ),
}
OF_BOTH = "Keys of ratings and scores"


def top_section(schema: Schema) -> Iterator[str]:
    """The keys of the file itself."""
    yield from _entries(schema, keys.TOP)


def section(name: str, schema: Schema) -> Iterator[str]:
    """One definition of the schema: heading, lead, keys."""
    table, lead = SECTIONS[name]
    found = schema["$defs"][name]
    own = {key: told for key, told in table.items() if key not in keys.OUTPUT or name not in ("rating", "score")}
    yield f"## {TITLES[name]}"
    shared = f" What ratings and scores share is [below](#{anchor(OF_BOTH)})." if len(own) < len(table) else ""
    ways = "".join(f" {sentence(way)}" for way in _ways(found))
    yield wrapped(f"{lead}{ways}{shared}")
    yield from _entries(found, own)


def shared_section(schema: Schema) -> Iterator[str]:
    """What ratings and scores have in common."""
    yield f"## {OF_BOTH}"
    yield from _entries(schema["$defs"]["score"], keys.OUTPUT)


def checklist_section() -> Iterator[str]:
    """The ten steps of the methods checklist, of which a formula may waive some."""
    yield f"## {TITLES['checklist']}"
    waived = keys.WAIVER["waived"]
    yield wrapped(
        "The methods appendix goes through ten steps and says of each whether it was done. Under `checklist`, a formula may "
        f"waive one, as `STEP: {{waived: why}}`. **`waived`** (required): text. {waived.says} For example "
        f"{code(waived.example)}. The steps are those of the OECD/JRC Handbook on Constructing Composite Indicators, 2008:"
    )
    yield "\n".join(bullet(f"{code(step)}: {says}.") for step, says in options.CHECKLIST.items())


def _ways(found: Schema) -> Iterator[str]:
    """What must stand beside what."""
    for rule in (found, *found.get("allOf", ())):
        if "oneOf" in rule:
            yield "one of these is needed: " + _alternatives(rule["oneOf"])
        if "anyOf" in rule:
            yield "at least one of these is needed: " + _alternatives(rule["anyOf"])


def _alternatives(options: list[Schema]) -> str:
    return listed([" with ".join(code(key) for key in option["required"]) for option in options], "or")


def _entries(found: Schema, table: Keys) -> Iterator[str]:
    required = found.get("required", ())
    yield "\n".join(_entry(name, key, found["properties"][name], name in required) for name, key in table.items())


def _entry(name: str, key: Key, schema: Schema, required: bool) -> str:
    words = options_of(schema)
    default = "" if words and "oneOf" in schema else default_of(schema)
    needed, unsaid = " (required)" if required else "", f"; {default} by default" if default else ""
    head = f"**{code(name)}**{needed}: {allowed(schema)}{unsaid}."
    lines = [bullet(f"{head} {key.says}"), bullet(f"For example {code(key.example)}", 1)]
    for word, meaning in words:
        first = " (default)" if word == schema.get("default") else ""
        lines.append(bullet(f"{code(word)}{first}: {meaning}.", 1))
    return "\n".join(lines)
