"""The recipe: how files that a laboratory keeps anyway are read as readings; its nouns, their reader and their JSON Schema."""

from scoring.recipe.columns import ColumnOfAttribute, ColumnsOfMeasure, LongTable, Sessions, Words
from scoring.recipe.nouns import DECLARED, LAYOUT, RECIPE, TABLE, Database, Layout, Recipe, Table
from scoring.recipe.reader import NAMES, is_recipe, load_recipe, read_recipe
from scoring.recipe.schema import recipe_schema

__all__ = [
    "DECLARED",
    "LAYOUT",
    "NAMES",
    "RECIPE",
    "TABLE",
    "ColumnOfAttribute",
    "ColumnsOfMeasure",
    "Database",
    "Layout",
    "LongTable",
    "Recipe",
    "Sessions",
    "Table",
    "Words",
    "is_recipe",
    "load_recipe",
    "read_recipe",
    "recipe_schema",
]
