"""The JSON Schema of a recipe, from the declarations that the reader goes by."""

from __future__ import annotations

from scoring.declaration.kinds import Schema
from scoring.recipe.nouns import DECLARED, RECIPE

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def recipe_schema() -> Schema:
    """The JSON Schema (2020-12) of a recipe."""
    top = {"$schema": DIALECT, "title": "A steelyard recipe of readings"}
    return {**top, **RECIPE.schema(), "$defs": {found.name: found.schema() for found in DECLARED}}
