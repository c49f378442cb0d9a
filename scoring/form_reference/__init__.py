"""The form, key by key, as a page in Markdown: made from the tables that the reader itself goes by."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from scoring.declaration import Declaration
from scoring.form import (
    ATTRIBUTE,
    BAND_LIMIT,
    ERROR_CORRELATION,
    FORM,
    GATE,
    LIMIT,
    MEASURE,
    MISSING,
    MIX_PART,
    RANKS,
    RATING,
    REFERENCE,
    ROUNDING,
    SCALE,
    SCATTER,
    SCORE,
    SYSTEMATIC,
    TAKES,
)
from scoring.form_reference.catalogue import catalogue_section, unit_section
from scoring.form_reference.curves import curve_section
from scoring.form_reference.expressions import expression_section
from scoring.form_reference.keyed import checklist_section, section, shared_section, top_section
from scoring.form_reference.recipe import recipe_section
from scoring.form_reference.schema import formula_schema
from scoring.form_reference.text import anchor, wrapped

Declarations = tuple[Declaration[Any], ...]
TITLE = "The form, key by key"
LEAD = (
    "Generated from the tables that the reader goes by: what stands here is what it takes, and it takes no other key. "
    "`steelyard schema` prints the same as a JSON Schema, by which an editor completes and explains keys as you type. A formula "
    "is YAML: `key: value`, with deeper keys indented below, or in braces on one line, as in the examples here. A key that is "
    "not marked *required* may be left out: then its default holds, where one is named, and else nothing of the kind."
)
NAMES = (
    "Measures, attributes, constants, ratings and scores have names of your own: letters, digits and `_`, at most 60, not a "
    "digit first. A name means one thing in the whole formula. Numbers are written with a point and without quotes."
)
#: Sections in the order in which somebody writes a formula.
BEFORE_CURVES: Declarations = (
    TAKES,
    SCALE,
    ROUNDING,
    RANKS,
    ATTRIBUTE,
    MEASURE,
    SCATTER,
    SYSTEMATIC,
    ERROR_CORRELATION,
    RATING,
)
AFTER_CURVES: Declarations = (REFERENCE, MIX_PART, SCORE)
OF_BOTH: Declarations = (MISSING, LIMIT, BAND_LIMIT, GATE)


def form_reference(more: Iterable[str] = ()) -> str:
    """The page: every section, key, curve, blend, function, unit and cell; then `more` blocks, which belong to other files."""
    blocks = [*_blocks(), *more]
    titles = [block.removeprefix("## ") for block in blocks if block.startswith("## ")]
    contents = wrapped(" | ".join(f"[{title}](#{anchor(title)})" for title in titles))
    return "\n\n".join([f"# {TITLE}", wrapped(LEAD), contents, *blocks]) + "\n"


def _blocks() -> Iterator[str]:
    """The blocks of the page, in the order in which somebody writes a formula."""
    schema = formula_schema()
    yield f"## {FORM.title}"
    yield wrapped(NAMES)
    yield from top_section(schema)
    for noun in BEFORE_CURVES:
        yield from section(noun, schema)
    yield from curve_section(schema)
    for noun in AFTER_CURVES:
        yield from section(noun, schema)
    yield from shared_section(schema)
    for noun in OF_BOTH:
        yield from section(noun, schema)
    yield from checklist_section()
    yield from expression_section()
    yield from unit_section()
    yield from catalogue_section()
    yield from recipe_section()


__all__ = ["form_reference"]
