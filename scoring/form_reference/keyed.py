"""The sections of the form: every key with what may stand there, from the schema and the key tables beside it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from scoring.declaration import Declaration, Key
from scoring.declaration.kinds import Schema
from scoring.form import CHECKLIST, FORM, RATING, SCORE, WAIVER, Output
from scoring.form_reference.allowed import allowed, default_of, options_of
from scoring.form_reference.text import anchor, bullet, code, listed, sentence, wrapped

OF_BOTH = "Keys of ratings and scores"
#: What ratings and scores share stands in a section of its own.
SHARED = RATING.keys.keys() & SCORE.keys.keys()


def top_section(schema: Schema) -> Iterator[str]:
    """The keys of the file itself."""
    yield entries(schema, FORM.keys)


def section(found: Declaration[Any], schema: Schema) -> Iterator[str]:
    """One noun: heading, lead, keys."""
    own = {name: key for name, key in found.keys.items() if found.noun is not Output or name not in SHARED}
    held = schema["$defs"][found.name]
    yield f"## {found.title}"
    shared = f" What ratings and scores share is [below](#{anchor(OF_BOTH)})." if len(own) < len(found.keys) else ""
    ways = "".join(f" {sentence(way)}" for way in _ways(held))
    yield wrapped(f"{found.lead}{ways}{shared}")
    yield entries(held, own)


def shared_section(schema: Schema) -> Iterator[str]:
    """What ratings and scores have in common."""
    yield f"## {OF_BOTH}"
    yield entries(schema["$defs"]["score"], {name: key for name, key in SCORE.keys.items() if name in SHARED})


def checklist_section() -> Iterator[str]:
    """The ten steps of the methods checklist, of which a formula may waive some."""
    yield f"## {WAIVER.title}"
    waived = WAIVER.keys["waived"]
    yield wrapped(
        "The methods appendix goes through ten steps and says of each whether it was done. Under `checklist`, a formula may "
        f"waive one, as `STEP: {{waived: why}}`. **`waived`** (required): text. {waived.says} For example "
        f"{code(waived.example)}. The steps are those of the OECD/JRC Handbook on Constructing Composite Indicators, 2008:"
    )
    yield "\n".join(bullet(f"{code(step)}: {says}.") for step, says in CHECKLIST.items())


def _ways(found: Schema) -> Iterator[str]:
    """What must stand beside what."""
    for rule in (found, *found.get("allOf", ())):
        if "oneOf" in rule:
            yield "one of these is needed: " + _alternatives(rule["oneOf"])
        if "anyOf" in rule:
            yield "at least one of these is needed: " + _alternatives(rule["anyOf"])


def _alternatives(options: list[Schema]) -> str:
    return listed([" with ".join(code(key) for key in option["required"]) for option in options], "or")


def entries(found: Schema, table: Mapping[str, Key]) -> str:
    """Keys in their order, each with what a schema says of it."""
    required = found.get("required", ())
    schemas = found["properties"]
    return "\n".join(entry(replace(key, name=name), schemas[name], name in required) for name, key in table.items())


def entry(key: Key, schema: Schema, required: bool, depth: int = 0) -> str:
    """A key by its name: what may stand there, what it is, an example, and its words."""
    words = options_of(schema)
    default = "" if words and "oneOf" in schema else default_of(schema)
    needed, unsaid = " (required)" if required else "", f"; {default} by default" if default else ""
    head = f"**{code(key.name)}**{needed}: {allowed(schema)}{unsaid}."
    lines = [bullet(f"{head} {key.says}", depth), bullet(f"For example {code(key.example)}", depth + 1)]
    for word, meaning in words:
        first = " (default)" if word == schema.get("default") else ""
        lines.append(bullet(f"{code(word)}{first}: {meaning}.", depth + 1))
    return "\n".join(lines)
