"""The section on recipes of readings: every key with what may stand there, from the declarations that the reader goes by."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from scoring.form_reference.keyed import entries
from scoring.form_reference.text import wrapped
from scoring.recipe import DECLARED, LAYOUT, RECIPE, TABLE, recipe_schema


def recipe_section() -> Iterator[str]:
    """The recipe, then each of its nouns under a heading of its own."""
    schema = recipe_schema()
    yield f"## {RECIPE.title}"
    yield wrapped(f"{RECIPE.lead} `steelyard schema --recipe` prints the same as a JSON Schema.")
    yield entries(schema, RECIPE.keys)
    for found in DECLARED:
        yield f"### {found.title}"
        yield wrapped(found.lead)
        own = {name: key for name, key in found.keys.items() if found is not TABLE or name not in LAYOUT}
        yield entries(schema["$defs"][found.name], {name: replace(key, name=name) for name, key in own.items()})
