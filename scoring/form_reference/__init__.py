"""The form, key by key, as a page in Markdown: made from the tables that the reader itself goes by."""

from __future__ import annotations

from collections.abc import Iterator

from scoring.form_reference.catalogue import catalogue_section, unit_section
from scoring.form_reference.curves import curve_section
from scoring.form_reference.expressions import expression_section
from scoring.form_reference.keyed import checklist_section, section, shared_section, top_section
from scoring.form_reference.text import anchor, wrapped
from scoring.schema import formula_schema

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


def form_reference() -> str:
    """The page: every section, key, curve, blend, function, unit and cell."""
    blocks = list(_blocks())
    titles = [block.removeprefix("## ") for block in blocks if block.startswith("## ")]
    contents = wrapped(" | ".join(f"[{title}](#{anchor(title)})" for title in titles))
    return "\n\n".join([f"# {TITLE}", wrapped(LEAD), contents, *blocks]) + "\n"


def _blocks() -> Iterator[str]:
    """The blocks of the page, in the order in which somebody writes a formula."""
    schema = formula_schema()
    yield "## The file"
    yield wrapped(NAMES)
    yield from top_section(schema)
    for name in (
        "takes",
        "scale",
        "rounding",
        "ranks",
        "attribute",
        "measure",
        "scatter",
        "systematic",
        "error_correlation",
        "rating",
    ):
        yield from section(name, schema)
    yield from curve_section(schema)
    for name in ("reference", "mix_part", "score"):
        yield from section(name, schema)
    yield from shared_section(schema)
    for name in ("missing", "limit", "gate"):
        yield from section(name, schema)
    yield from checklist_section()
    yield from expression_section()
    yield from unit_section()
    yield from catalogue_section()


__all__ = ["form_reference"]
