"""A project file for its writers: its JSON Schema, and the section of the reference page, from the declaration it is read by."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.project.nouns import NAME, PROJECT
from scoring.declaration.kinds import Schema
from scoring.form_reference.keyed import entry
from scoring.form_reference.schema import DIALECT
from scoring.form_reference.text import wrapped

_LEAD = (
    f"A file `{NAME}` in a folder, or the one after `steelyard --project FILE`, says what commands take there that are not told "
    "otherwise. Its files lie as seen from its own folder. `steelyard schema --project` prints the JSON Schema. Its keys:"
)


def project_schema() -> Schema:
    """The JSON Schema (2020-12) of a project file."""
    return {"$schema": DIALECT, "title": "A steelyard project", **PROJECT.schema()}


def project_section() -> Iterator[str]:
    """The blocks of the section."""
    yield f"## {PROJECT.title}"
    yield wrapped(_LEAD)
    schema = PROJECT.schema()["properties"]
    yield "\n".join(entry(key, schema[key.name], key.required) for key in PROJECT.fields.values())
